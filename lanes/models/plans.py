"""What is kept of a plan for a client's gear."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from clients.models import Client, Job, User
from lanes import access


class NewBallPlan(models.Model):
    """Which ball would fill a client's gap, as it stood with what went in; never changed.

    The same input finds the same plan; another one is a new row.
    """

    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="new_ball_plans")
    job = models.OneToOneField(
        Job, null=True, on_delete=models.SET_NULL, related_name="new_ball_plan"
    )
    version = models.CharField("model version", max_length=20)
    input_hash = models.CharField(max_length=64)
    data = models.JSONField()
    made_at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")

    objects = access.NewBallPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["client", "version", "input_hash"], name="same_input_planned_once"
            )
        ]

    def __str__(self) -> str:
        return f"new-ball plan for {self.client}"
