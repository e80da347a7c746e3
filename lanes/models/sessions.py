"""A student's session in a block, its balls as they were, and its shots."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from clients.models import Ball, Client, Job, User
from clients.models.people import between
from lanes import access
from lanes.models.places import Block

BOARD = between(0, 40, "boards")


def default_watch() -> list[str]:
    """What a coach watches unless they choose otherwise; nobody reads everything on every shot."""
    return ["arrows", "head_pin", "leave", "throw"]


class Session(models.Model):
    """One student in one block, with a snapshot of hand and release as they were that day."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    version = models.PositiveIntegerField(default=1)
    deleted_at = models.DateTimeField(null=True, blank=True)
    block = models.ForeignKey(Block, on_delete=models.PROTECT, related_name="sessions")
    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="sessions")
    coach = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")

    hand = models.CharField(max_length=5, choices=Client.Hand)
    hook = models.CharField(max_length=6, choices=Client.Hook)
    style = models.CharField(max_length=3, choices=Client.Style)
    speed_mph = models.FloatField(null=True, blank=True)
    rev_rpm = models.FloatField(null=True, blank=True)
    rotation_deg = models.FloatField(null=True, blank=True)
    tilt_deg = models.FloatField(null=True, blank=True)

    watch = models.JSONField("what to watch", default=default_watch)
    note = models.TextField(blank=True, help_text="The student does not see this.")
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.SessionQuerySet.as_manager()

    class Meta:
        ordering = ["-block__starts_at", "-created_at"]

    def __str__(self) -> str:
        return f"{self.client}, {self.block}"


class SessionBall(models.Model):
    """A ball at hand, with its surface and numbers as they were that day."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="balls")
    label = models.CharField(max_length=60, help_text="As the shot log writes it.")
    position = models.PositiveSmallIntegerField(default=0)
    ball = models.ForeignKey(
        Ball, null=True, blank=True, on_delete=models.SET_NULL, related_name="session_balls"
    )
    cover = models.CharField(max_length=8, choices=Ball.Cover, blank=True)
    grit = models.PositiveIntegerField(null=True, blank=True)
    polished = models.BooleanField(null=True, blank=True)
    mass_lb = models.FloatField(null=True, blank=True)
    rg_in = models.FloatField(null=True, blank=True)
    differential_in = models.FloatField(null=True, blank=True)
    intermediate_in = models.FloatField(null=True, blank=True)
    pin_to_pap_in = models.FloatField(null=True, blank=True)
    angle_at_pin_deg = models.FloatField(null=True, blank=True)
    angle_at_pap_deg = models.FloatField(null=True, blank=True)
    is_spare_ball = models.BooleanField(default=False)
    games = models.FloatField(
        null=True, blank=True, help_text="Since that surface was made, before this session."
    )

    objects = access.OfCoachedClientQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["session", "label"], name="ball_label_once")]

    def __str__(self) -> str:
        return self.label


class Shot(models.Model):
    """One delivery, as it was seen. Anything but its number may be missing."""

    class Throw(models.TextChoices):
        GOOD = "good", "good throw"
        OFF = "off", "missed throw"

    class Miss(models.TextChoices):
        IN = "in", "in"
        OUT = "out", "out"
        FAST = "fast", "fast"
        SLOW = "slow", "slow"
        EARLY = "early", "early"
        LATE = "late", "late"
        OTHER = "other", "other"

    class Neighbour(models.TextChoices):
        """How the pin beside the standing corner pin went: the six for the ten, the four for the
        seven."""

        INTO = "into", "into it"
        FLAT = "flat", "flat into the gutter"
        AROUND = "around", "around it"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    version = models.PositiveIntegerField(default=1)
    deleted_at = models.DateTimeField(null=True, blank=True)
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="shots")
    number = models.PositiveIntegerField("shot")
    game = models.PositiveSmallIntegerField(null=True, blank=True)
    frame = models.PositiveSmallIntegerField(null=True, blank=True, validators=between(1, 10, ""))
    delivery = models.PositiveSmallIntegerField(default=1, validators=between(1, 3, ""))
    lane = models.PositiveSmallIntegerField(null=True, blank=True)
    ball = models.ForeignKey(
        SessionBall, null=True, blank=True, on_delete=models.SET_NULL, related_name="shots"
    )
    stand = models.FloatField(null=True, blank=True, validators=between(-10, 50, "boards"))
    aim = models.FloatField(null=True, blank=True, validators=BOARD)
    laydown = models.FloatField(null=True, blank=True, validators=BOARD)
    arrows = models.FloatField(null=True, blank=True, validators=BOARD)
    breakpoint = models.FloatField(null=True, blank=True, validators=BOARD)
    breakpoint_ft = models.FloatField(null=True, blank=True, validators=between(0, 60, "ft"))
    head_pin = models.FloatField(null=True, blank=True, validators=BOARD)
    deck_exit = models.FloatField(null=True, blank=True, validators=BOARD)
    leave = models.CharField(max_length=24, blank=True)
    neighbour_pin = models.CharField(max_length=6, choices=Neighbour, blank=True)
    throw = models.CharField(max_length=4, choices=Throw, blank=True)
    miss = models.CharField(max_length=5, choices=Miss, blank=True)
    speed_mph = models.FloatField(null=True, blank=True, validators=between(5, 35, "mph"))
    rev_rpm = models.FloatField(null=True, blank=True, validators=between(0, 800, "rpm"))
    foul = models.BooleanField(default=False)
    at = models.CharField(max_length=40, blank=True, help_text="When, as it was written down.")
    note = models.CharField(max_length=300, blank=True)
    extra = models.JSONField(default=dict, blank=True, help_text="Columns we do not know, kept.")
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.ShotQuerySet.as_manager()

    class Meta:
        ordering = ["session", "number"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "number"],
                condition=models.Q(deleted_at=None),
                name="shot_number_once",
            )
        ]

    def __str__(self) -> str:
        return f"shot {self.number}"


class ImportDraft(models.Model):
    """An uploaded log between its preview and the coach's yes; nothing of it counts before."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="imports")
    filename = models.CharField(max_length=200)
    data = models.BinaryField()
    created_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    applied_at = models.DateTimeField(null=True, blank=True)

    objects = access.OfCoachedClientQuerySet.as_manager()

    def __str__(self) -> str:
        return self.filename


class Reading(models.Model):
    """What the worker read out of a session's shots; never changed, a new reading is a new row."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="readings")
    job = models.OneToOneField(Job, null=True, on_delete=models.SET_NULL, related_name="reading")
    version = models.CharField("model version", max_length=20)
    # Of everything that went in; the same input is not read twice.
    input_hash = models.CharField(max_length=64)
    data = models.JSONField()
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.OfCoachedClientQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["session", "version", "input_hash"], name="same_input_read_once"
            )
        ]

    def __str__(self) -> str:
        return f"reading of {self.session}"
