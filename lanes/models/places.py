"""Centres, lanes, the oil that was put down, and the block of time in which people bowled on it."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from clients.models import User
from clients.models.people import between
from lanes import access


class Centre(models.Model):
    class SpeedReading(models.TextChoices):
        """Where the centre's display measures the ball's speed; the number depends on it."""

        UNKNOWN = "unknown", "unknown"
        RELEASE = "release", "near the foul line"
        MIDLANE = "midlane", "about mid-lane"
        AVERAGE = "average", "average over the lane"
        PINS = "pins", "near the pins"

    name = models.CharField(max_length=80, unique=True)
    town = models.CharField(max_length=80, blank=True)
    speed_reading = models.CharField(
        "display measures speed", max_length=8, choices=SpeedReading, default=SpeedReading.UNKNOWN
    )
    note = models.TextField(blank=True)

    objects = access.StaffSeesQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Lane(models.Model):
    centre = models.ForeignKey(Centre, on_delete=models.CASCADE, related_name="lanes")
    number = models.PositiveSmallIntegerField()
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["centre__name", "number"]
        constraints = [
            models.UniqueConstraint(fields=["centre", "number"], name="lane_number_once")
        ]

    def __str__(self) -> str:
        return f"lane {self.number}"


class Pattern(models.Model):
    """The oil on a lane: what the machine put down, layer by layer, or what tapes found there."""

    class Kind(models.TextChoices):
        SHEET = "pattern", "pattern sheet"
        TAPE = "tape", "tape readings"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.SHEET)
    # A row has one of the two. Neither is changed once a session lies on it.
    layers = models.JSONField(
        default=list, blank=True, help_text="Rows of a sheet, as lanes.motion.oil reads them."
    )
    readings = models.JSONField(
        default=list, blank=True, help_text="Tape readings, as lanes.motion.tape reads them."
    )
    # Kept beside them for lists; written by lanes.patterns alone.
    volume_ml = models.FloatField("volume, mL")
    length_ft = models.FloatField("length, ft")
    note = models.TextField(blank=True)
    imported_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    imported_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.StaffSeesQuerySet.as_manager()

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Block(models.Model):
    """Lanes, oil, time and purpose. Several students' sessions share one, as they share the oil."""

    class Purpose(models.TextChoices):
        LESSON = "lesson", "lesson"
        PRACTICE = "practice", "practice"
        LEAGUE = "league", "league"
        TOURNAMENT = "tournament", "tournament"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    centre = models.ForeignKey(Centre, on_delete=models.PROTECT, related_name="blocks")
    lanes = models.ManyToManyField(Lane, blank=True, related_name="blocks")
    pattern = models.ForeignKey(
        Pattern,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="blocks",
        help_text="Empty: an ordinary house pattern, and the report says that it is assumed.",
    )
    purpose = models.CharField(max_length=10, choices=Purpose, default=Purpose.LESSON)
    starts_at = models.DateTimeField(default=timezone.now)
    others = models.CharField(
        "who else plays", max_length=200, blank=True, help_text="Others wear the lane too."
    )
    # How many, where somebody counted; each throws about as often as the student (assumed).
    others_right = models.PositiveSmallIntegerField(
        "other right-handers", null=True, blank=True, validators=between(0, 60, "bowlers")
    )
    others_left = models.PositiveSmallIntegerField(
        "other left-handers", null=True, blank=True, validators=between(0, 60, "bowlers")
    )
    created_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")

    objects = access.BlockQuerySet.as_manager()

    class Meta:
        ordering = ["-starts_at"]

    def __str__(self) -> str:
        return f"{self.centre}, {timezone.localtime(self.starts_at):%d %b %Y}"

    @property
    def others_words(self) -> str:
        """Say who else wears the lane: "3 right-handers and 1 left-hander", or nothing."""
        counted = ((self.others_right, "right-hander"), (self.others_left, "left-hander"))
        return " and ".join(f"{n} {who}" if n == 1 else f"{n} {who}s" for n, who in counted if n)

    @property
    def is_competition(self) -> bool:
        """Whether equipment rules of competition hold: a surface may not be changed once begun."""
        return self.purpose in (self.Purpose.LEAGUE, self.Purpose.TOURNAMENT)
