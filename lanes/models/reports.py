"""The transition report that a coach sends, its suggestions and homework, and what comes back."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import models
from django.utils import timezone

from clients.models import User
from lanes import access
from lanes.models.sessions import Reading, Session


class Frozen(Exception):
    """The report has been sent: it can be revised, not changed."""


class Report(models.Model):
    """One version of a session's report. Once sent it is frozen; a change makes a new version."""

    class State(models.TextChoices):
        DRAFT = "draft", "draft"
        SENT = "sent", "sent"

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="reports")
    version = models.PositiveSmallIntegerField(default=1)
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="reports")
    state = models.CharField(max_length=5, choices=State, default=State.DRAFT)
    # The student sees one thing well done, one to change, one to practise.
    headline = models.CharField(max_length=140)
    went_well = models.TextField(blank=True)
    to_change = models.TextField(blank=True)
    to_practise = models.TextField(blank=True)
    coach_words = models.TextField("words to the student", blank=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    edited_at = models.DateTimeField(auto_now=True)
    sent_at = models.DateTimeField(null=True, blank=True)
    sent_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")

    objects = access.ReportQuerySet.as_manager()

    class Meta:
        ordering = ["-session__block__starts_at", "-version"]
        constraints = [
            models.UniqueConstraint(fields=["session", "version"], name="report_version_once"),
            # Two drafts of one session would overwrite each other's words.
            models.UniqueConstraint(
                fields=["session"], condition=models.Q(state="draft"), name="one_draft_per_session"
            ),
        ]

    def __str__(self) -> str:
        return f"report {self.version} of {self.session}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        refuse_if_sent(self.pk)
        super().save(*args, **kwargs)

    @property
    def is_sent(self) -> bool:
        return self.state == self.State.SENT


def refuse_if_sent(report_id: int | None) -> None:
    """Raise `Frozen` for a report that has been sent, as the database has it and not as held here.

    The last line of defence, below the functions of `lanes.reports`.
    """
    if report_id and Report.objects.filter(pk=report_id, state=Report.State.SENT).exists():
        raise Frozen


class OfDraft(models.Model):
    """A part of a report, frozen with it."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        refuse_if_sent(self.report_id)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> tuple[int, dict[str, int]]:
        refuse_if_sent(self.report_id)
        return super().delete(*args, **kwargs)


class Suggestion(OfDraft):
    """One option with its prediction, kept so that what happens next can score it."""

    class Kind(models.TextChoices):
        STAY = "stay", "stay"
        MOVE = "move", "feet and eyes"
        RELEASE = "release", "release"
        BALL = "ball", "another ball"
        SURFACE = "surface", "surface"
        BOTH = "both", "two changes"

    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="suggestions")
    position = models.PositiveSmallIntegerField()
    dropped = models.BooleanField(default=False)
    kind = models.CharField(max_length=8, choices=Kind)
    title = models.CharField(max_length=160)
    why = models.TextField()
    detail = models.JSONField(default=dict)
    strike = models.FloatField(null=True)
    strike_low = models.FloatField(null=True)
    strike_high = models.FloatField(null=True)
    pocket = models.FloatField(null=True)
    room_boards = models.FloatField(null=True)
    tied = models.BooleanField(default=False)
    model_version = models.CharField(max_length=20)

    objects = access.OfReportQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.title


class Homework(OfDraft):
    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="homework")
    position = models.PositiveSmallIntegerField(default=0)
    text = models.CharField(max_length=300)
    amount = models.CharField(max_length=80, blank=True, help_text="e.g. 20 balls, twice a week")
    due_on = models.DateField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)

    objects = access.OfReportQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.text


class Receipt(models.Model):
    """Who has read a report, and when first."""

    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="receipts")
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    read_at = models.DateTimeField(default=timezone.now)

    objects = access.OfReportQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["report", "user"], name="read_once")]

    def __str__(self) -> str:
        return f"{self.user} has read {self.report}"


class Answer(models.Model):
    """What the student or a guardian writes back. The browser makes the key, so a second tap, a
    reload or a late retry finds the first one's row."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    report = models.ForeignKey(Report, on_delete=models.CASCADE, related_name="answers")
    author = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    text = models.TextField(max_length=2000)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.OfReportQuerySet.as_manager()

    class Meta:
        ordering = ["created_at"]

    def __str__(self) -> str:
        return f"{self.author}: {self.text[:40]}"
