"""Shots that were read once more, to tell how closely a coach reads boards."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from clients.models import User
from lanes import access
from lanes.models.sessions import Session, Shot


class Rereading(models.Model):
    """One sitting in which some of a session's shots were read again. The log stays as it is."""

    class How(models.TextChoices):
        CLIP = "clip", "again, from the clip"
        OTHER = "other", "by somebody else, on their own"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="rereadings")
    how = models.CharField(max_length=5, choices=How, default=How.CLIP)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.OfCoachedClientQuerySet.as_manager()

    class Meta:
        ordering = ["created_at"]

    def __str__(self) -> str:
        return f"second reading of {self.session}"


class RereadShot(models.Model):
    """A shot's second reading, and what the log said then.

    Both are kept, since a log that is put right afterwards would hide the error that is looked for.
    """

    rereading = models.ForeignKey(Rereading, on_delete=models.CASCADE, related_name="shots")
    shot = models.ForeignKey(Shot, on_delete=models.CASCADE, related_name="rereadings")
    first = models.JSONField(help_text="Check-point to what the log said at the time.")
    again = models.JSONField(help_text="Check-point to the second reading.")

    objects = access.OfRereadingQuerySet.as_manager()

    class Meta:
        ordering = ["rereading", "shot__number"]
        constraints = [
            models.UniqueConstraint(fields=["rereading", "shot"], name="shot_reread_once")
        ]

    def __str__(self) -> str:
        return f"second reading of {self.shot}"
