"""The ledger: advice as it was sent, when it was taken, and what the coach overruled."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from clients.models import User
from lanes import access
from lanes.models.reports import Suggestion
from lanes.models.sessions import Session, Shot


class Advice(models.Model):
    """An option as a report offered it when it was sent, to be scored by the shots that follow.

    The prediction itself stands in the suggestion, which is frozen with its report.
    """

    suggestion = models.OneToOneField(Suggestion, on_delete=models.CASCADE, related_name="advice")
    coach = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    is_recommended = models.BooleanField(default=False, help_text="The first one of its report.")
    # Staying as it is, as predicted at the time: what a change was weighed against.
    stay_strike = models.FloatField(null=True)
    stay_pocket = models.FloatField(null=True)
    head_pin = models.FloatField(null=True, help_text="The board predicted for the usual throw.")
    after_shot = models.PositiveIntegerField(help_text="The last shot that its reading saw.")
    given_at = models.DateTimeField(default=timezone.now)
    not_taken_at = models.DateTimeField(null=True, blank=True)

    objects = access.AdviceQuerySet.as_manager()

    class Meta:
        ordering = ["-given_at", "suggestion__position", "pk"]
        verbose_name_plural = "advice"

    def __str__(self) -> str:
        return self.suggestion.title


class TakenAdvice(models.Model):
    """From this shot of this session on the student did it; the coach says so."""

    advice = models.ForeignKey(Advice, on_delete=models.CASCADE, related_name="taken")
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="advice_taken")
    # A number and not a shot: "from the next shot on" is said before that shot is thrown.
    from_shot = models.PositiveIntegerField()
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    marked_at = models.DateTimeField(default=timezone.now)

    objects = access.OfCoachedClientQuerySet.as_manager()

    class Meta:
        ordering = ["session", "from_shot"]
        verbose_name_plural = "taken advice"
        constraints = [
            # From one shot on one thing is done, and a piece of advice is taken once a session.
            models.UniqueConstraint(fields=["session", "from_shot"], name="one_advice_from_a_shot"),
            models.UniqueConstraint(fields=["session", "advice"], name="advice_taken_once"),
        ]

    def __str__(self) -> str:
        return f"{self.advice} from shot {self.from_shot} on"


class Overruling(models.Model):
    """What the coach says against a reading's verdict. Kept when it is withdrawn or replaced."""

    class Kind(models.TextChoices):
        THROW = "throw", "the throw"
        CAUSE = "cause", "the cause"
        LANE = "lane", "the lane's change"
        OPTION = "option", "the first option"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="overrulings")
    kind = models.CharField(max_length=6, choices=Kind)
    shot = models.ForeignKey(
        Shot, null=True, blank=True, on_delete=models.CASCADE, related_name="overrulings"
    )
    # good or off; throw, lane, ball or chance; no, front, mid, back or ball; an option's title.
    value = models.CharField(max_length=160)
    from_shot = models.PositiveIntegerField(null=True, blank=True)
    hooks = models.CharField(max_length=12, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = access.OverrulingQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "shot__number", "made_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "kind"],
                condition=models.Q(withdrawn_at=None, shot=None),
                name="session_overruled_once",
            ),
            models.UniqueConstraint(
                fields=["kind", "shot"],
                condition=models.Q(withdrawn_at=None),
                name="shot_overruled_once",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.value}"
