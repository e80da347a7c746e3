"""Balls and what was done to their covers."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from clients import access
from clients.models.people import Client, User, between


class BallNumbers(models.Model):
    """What is printed on any ball's box, whosever it is; empty where nobody knows it."""

    class Cover(models.TextChoices):
        SOLID = "solid", "solid reactive"
        HYBRID = "hybrid", "hybrid reactive"
        PEARL = "pearl", "pearl reactive"
        URETHANE = "urethane", "urethane"
        PLASTIC = "plastic", "plastic"

    name = models.CharField(max_length=60)
    cover = models.CharField(max_length=8, choices=Cover)
    mass_lb = models.FloatField(
        "weight, lb", null=True, blank=True, validators=between(6, 16, "lb")
    )
    rg_in = models.FloatField("RG, in", null=True, blank=True, validators=between(2.4, 2.9, "in"))
    differential_in = models.FloatField(
        "differential, in", null=True, blank=True, validators=between(0, 0.08, "in")
    )
    intermediate_in = models.FloatField(
        "intermediate differential, in", null=True, blank=True, validators=between(0, 0.06, "in")
    )

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return str(self.name)


class Ball(BallNumbers):
    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="balls")
    pin_to_pap_in = models.FloatField(
        "pin to PAP, in", null=True, blank=True, validators=between(0, 6.75, "in")
    )
    angle_at_pin_deg = models.FloatField(
        "angle at the pin, deg", null=True, blank=True, validators=between(0, 180, "deg")
    )
    angle_at_pap_deg = models.FloatField(
        "angle at the PAP, deg", null=True, blank=True, validators=between(0, 180, "deg")
    )
    is_spare_ball = models.BooleanField("thrown at spares only", default=False)
    retired_at = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.BallQuerySet.as_manager()

    class Meta:
        ordering = ["client__name", "retired_at", "name"]
        constraints = [
            models.UniqueConstraint(fields=["client", "name"], name="ball_name_once_per_client")
        ]

    @property
    def surface(self) -> Surface | None:
        """The cover's surface now, None where nobody has written one down."""
        return next(iter(self.surfaces.all()), None)


class Surface(models.Model):
    """What a cover's surface was made to be, newest first."""

    ball = models.ForeignKey(Ball, on_delete=models.CASCADE, related_name="surfaces")
    grit = models.PositiveIntegerField(validators=between(80, 10000, "grit"))
    polished = models.BooleanField(default=False)
    done_on = models.DateField(default=timezone.localdate)
    done_by = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)
    # The piece of work that made it so, where that went through the shop's book.
    ticket = models.OneToOneField(
        "clients.Ticket", null=True, blank=True, on_delete=models.SET_NULL, related_name="surface"
    )

    class Meta:
        ordering = ["-done_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.grit} grit{', polished' if self.polished else ''}"


class SurfaceReading(models.Model):
    """What the shop's meter said of a cover on a day: the number that the ball itself has."""

    ball = models.ForeignKey(Ball, on_delete=models.CASCADE, related_name="readings")
    number = models.PositiveIntegerField(
        "meter's reading",
        validators=between(80, 10000, "grit"),
        help_text="As a grit number; the mean over the cover where you read several places.",
    )
    read_on = models.DateField(default=timezone.localdate)
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.OfBallQuerySet.as_manager()

    class Meta:
        ordering = ["-read_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.ball} read {self.number} on {self.read_on:%d %b %Y}"
