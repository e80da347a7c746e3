"""The shared base: jobs for the worker, letters to send, and who did what."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from clients import access
from clients.models.people import Client, User


class Job(models.Model):
    """Work for the worker. This row is the truth; the broker's message is only a nudge.

    It has no `visible_to`: whoever may see what a job works on may see how far it is.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting for the worker"
        RUNNING = "running", "running"
        DONE = "done", "done"
        FAILED = "failed", "failed"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    kind = models.CharField(max_length=40)
    subject = models.CharField(max_length=64, help_text="Key of the thing that is worked on.")
    # One live job per key: a second tap finds the first one's job.
    key = models.CharField(max_length=120)
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    fraction = models.FloatField(default=0.0)
    message = models.CharField(max_length=200, blank=True)
    result = models.JSONField(default=dict, blank=True)
    error = models.TextField(blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    lease_token = models.UUIDField(null=True, editable=False)
    lease_until = models.DateTimeField(null=True, editable=False)
    created_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="jobs")
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    finished_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        ordering = ["-created_at"]
        constraints = [
            models.UniqueConstraint(
                fields=["key"],
                condition=models.Q(state__in=["waiting", "running"]),
                name="one_live_job_per_key",
            )
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.subject}: {self.get_state_display()}"

    @property
    def is_live(self) -> bool:
        return self.state in (self.State.WAITING, self.State.RUNNING)

    @property
    def percent(self) -> int:
        return round(100 * self.fraction)


class Lease(models.Model):
    """Something that only one process at a time may do, such as sweeping; and a sign of life."""

    name = models.CharField(max_length=40, primary_key=True)
    until = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} until {self.until:%Y-%m-%d %H:%M:%S}"


class Counter(models.Model):
    """The last number that was given out of a row of numbers; none is ever given twice.

    A number stays used when what had it is deleted: it may stand on a label or in a letter.
    """

    name = models.CharField(max_length=40, primary_key=True)
    last = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.name}: {self.last}"


class Mail(models.Model):
    """A letter in the outbox. It stays there until a mail server has taken it."""

    # The same event never writes the same person twice.
    key = models.CharField(max_length=120, unique=True)
    client = models.ForeignKey(
        Client, null=True, blank=True, on_delete=models.CASCADE, related_name="letters"
    )
    to = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.CASCADE, related_name="letters"
    )
    address = models.EmailField()
    subject = models.CharField(max_length=160)
    body = models.TextField()
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    sent_at = models.DateTimeField(null=True, blank=True)
    error = models.CharField(max_length=300, blank=True)

    objects = access.MailQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"{self.subject} to {self.address}"


class AuditEntry(models.Model):
    """Who changed what, written in the transaction of the change."""

    actor = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    action = models.CharField(max_length=60)
    subject = models.CharField(max_length=80)
    data = models.JSONField(default=dict, blank=True)
    at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.actor}: {self.action} {self.subject}"
