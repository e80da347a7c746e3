"""The shop's book: a ball's life, fit sheets, axis points, layouts and tickets."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from clients import access
from clients.models.gear import Ball
from clients.models.people import Client, User, between

PLACE = between(-13.5, 13.5, "in")  # half the way round a 27-in ball


class FitSheet(models.Model):
    """How a client's hand fits a ball. A change makes a new sheet; the newest is in force."""

    class Grip(models.TextChoices):
        FINGERTIP = "fingertip", "fingertip"
        CONVENTIONAL = "conventional", "conventional"
        NO_THUMB = "no_thumb", "no thumb hole"

    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="fit_sheets")
    grip = models.CharField(max_length=12, choices=Grip, default=Grip.FINGERTIP)
    bridge_in = models.FloatField(
        "bridge, in", null=True, blank=True, validators=between(0.1, 2, "in")
    )
    note = models.TextField(blank=True)
    made_on = models.DateField(default=timezone.localdate)
    made_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.OfGearClientQuerySet.as_manager()

    class Meta:
        ordering = ["-made_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.client}'s fit of {self.made_on:%d %b %Y}"


class FitHole(models.Model):
    """One hole of a fit sheet. Pitches are written down as measured; nothing here proposes one."""

    class Finger(models.TextChoices):
        THUMB = "thumb", "thumb"
        MIDDLE = "middle", "middle finger"
        RING = "ring", "ring finger"

    sheet = models.ForeignKey(FitSheet, on_delete=models.CASCADE, related_name="holes")
    finger = models.CharField(max_length=6, choices=Finger)
    size_in = models.FloatField("hole size, in", validators=between(0.3, 1.6, "in"))
    depth_in = models.FloatField(
        "depth, in", null=True, blank=True, validators=between(0.5, 5, "in")
    )
    span_in = models.FloatField(
        "span, in",
        null=True,
        blank=True,
        validators=between(1, 6, "in"),
        help_text="Edge of the thumb hole to the near edge of the finger hole; empty for a thumb.",
    )
    forward_in = models.FloatField(
        "forward pitch, in",
        default=0.0,
        validators=between(-1.5, 1.5, "in"),
        help_text="Forward positive, reverse negative.",
    )
    lateral_in = models.FloatField(
        "lateral pitch, in",
        default=0.0,
        validators=between(-1.5, 1.5, "in"),
        help_text="Toward the palm's right positive, left negative.",
    )
    bevel_in = models.FloatField("bevel, in", null=True, blank=True, validators=between(0, 1, "in"))
    insert = models.CharField("insert or slug", max_length=60, blank=True)

    class Meta:
        ordering = ["sheet", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["sheet", "finger"], name="finger_once_per_fit_sheet")
        ]

    def __str__(self) -> str:
        return self.get_finger_display()


class AxisPoint(models.Model):
    """A client's positive axis point as it was measured: over and up from the grip centre."""

    class Method(models.TextChoices):
        RING = "ring", "from the first oil ring"
        VIDEO = "video", "from slow video"
        SPIN = "spin", "by spinning the ball on a mark"
        OTHER = "other", "another way"

    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="axis_points")
    method = models.CharField(max_length=5, choices=Method, default=Method.RING)
    # Each repeat of the measurement, in inches: [[over, up], ...].
    repeats = models.JSONField()
    measured_on = models.DateField(default=timezone.localdate)
    measured_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    note = models.CharField(max_length=200, blank=True)

    objects = access.OfGearClientQuerySet.as_manager()

    class Meta:
        ordering = ["-measured_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.client}'s axis point of {self.measured_on:%d %b %Y}"


class Layout(models.Model):
    """Where pin, mass bias, CG and holes of one ball go. A redrilled ball gets another layout.

    Places are inches over and up from the grip centre along the surface of a 27-in ball, over
    toward the bowler's own axis side.
    """

    ball = models.ForeignKey(Ball, on_delete=models.CASCADE, related_name="layouts")
    fit = models.ForeignKey(
        FitSheet, null=True, blank=True, on_delete=models.SET_NULL, related_name="layouts"
    )
    pap_over_in = models.FloatField("PAP over, in", validators=PLACE)
    pap_up_in = models.FloatField("PAP up, in", validators=between(-6.75, 6.75, "in"))
    pin_over_in = models.FloatField("pin over, in", validators=PLACE)
    pin_up_in = models.FloatField("pin up, in", validators=between(-6.75, 6.75, "in"))
    mb_over_in = models.FloatField("mass bias over, in", null=True, blank=True, validators=PLACE)
    mb_up_in = models.FloatField(
        "mass bias up, in", null=True, blank=True, validators=between(-6.75, 6.75, "in")
    )
    cg_over_in = models.FloatField("CG over, in", null=True, blank=True, validators=PLACE)
    cg_up_in = models.FloatField(
        "CG up, in", null=True, blank=True, validators=between(-6.75, 6.75, "in")
    )
    top_weight_oz = models.FloatField(
        "top weight before drilling, oz", null=True, blank=True, validators=between(0, 6, "oz")
    )
    density_g_cm3 = models.FloatField(
        "density of what is drilled, g/cm³",
        null=True,
        blank=True,
        validators=between(0.5, 3.8, "g/cm³"),
        help_text="Empty: the mean of the ball.",
    )
    note = models.TextField(blank=True)
    made_on = models.DateField(default=timezone.localdate)
    made_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    drilled_on = models.DateField(null=True, blank=True)
    replaced_on = models.DateField(
        null=True, blank=True, help_text="When the ball was plugged or drilled anew."
    )
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.OfBallQuerySet.as_manager()

    class Meta:
        ordering = ["-made_on", "-pk"]

    def __str__(self) -> str:
        return f"layout of {self.ball}, {self.made_on:%d %b %Y}"


class Ticket(models.Model):
    """One piece of work for the shop, from taking the ball in to handing it over."""

    class Kind(models.TextChoices):
        DRILL = "drill", "drill"
        PLUG = "plug", "plug"
        RESURFACE = "resurface", "resurface"
        POLISH = "polish", "polish"
        CLEAN = "clean", "clean"
        OIL_OUT = "oil_out", "draw the oil out"
        INSERTS = "inserts", "inserts and slugs"

    class Status(models.TextChoices):
        TAKEN_IN = "taken_in", "taken in"
        ON_BENCH = "on_bench", "on the bench"
        READY = "ready", "ready"
        HANDED_OVER = "handed_over", "handed over"
        DROPPED = "dropped", "dropped"

    # Made by the browser, so that a second tap finds the first one's ticket.
    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    number = models.PositiveIntegerField(unique=True, editable=False)
    client = models.ForeignKey(Client, on_delete=models.CASCADE, related_name="tickets")
    ball = models.ForeignKey(
        Ball, null=True, blank=True, on_delete=models.SET_NULL, related_name="tickets"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    status = models.CharField(max_length=12, choices=Status, default=Status.TAKEN_IN)
    layout = models.ForeignKey(
        Layout, null=True, blank=True, on_delete=models.SET_NULL, related_name="tickets"
    )
    grit = models.PositiveIntegerField(null=True, blank=True, validators=between(80, 10000, "grit"))
    polished = models.BooleanField(default=False)
    due_on = models.DateField(null=True, blank=True)
    price = models.DecimalField(
        max_digits=8, decimal_places=2, null=True, blank=True, validators=between(0, 99999, "")
    )
    note = models.TextField(blank=True)
    assigned_to = models.ForeignKey(
        User, null=True, blank=True, on_delete=models.SET_NULL, related_name="tickets"
    )
    created_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    started_at = models.DateTimeField(null=True, blank=True)
    ready_at = models.DateTimeField(null=True, blank=True)
    signed_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    handed_over_at = models.DateTimeField(null=True, blank=True)

    objects = access.TicketQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "number"]

    def __str__(self) -> str:
        return f"ticket {self.number}"

    @property
    def is_in_hand(self) -> bool:
        """Whether the work is still to do."""
        return self.status in (self.Status.TAKEN_IN, self.Status.ON_BENCH)

    @property
    def days_late(self) -> int:
        """How many days past its day work in hand is, 0 where it is due today or later."""
        if self.due_on is None or not self.is_in_hand:
            return 0
        return max(0, (timezone.localdate() - self.due_on).days)

    @property
    def is_due_today(self) -> bool:
        return self.is_in_hand and self.due_on == timezone.localdate()


class TicketPhoto(models.Model):
    """A picture of the work, kept outside the web root and served to whoever may see the ticket."""

    ticket = models.ForeignKey(Ticket, on_delete=models.CASCADE, related_name="photos")
    picture = models.FileField(upload_to="tickets/%Y/%m/")
    taken_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    taken_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        ordering = ["ticket", "pk"]

    def __str__(self) -> str:
        return f"picture of {self.ticket}"


class BallEvent(models.Model):
    """Something in a ball's life besides its surfaces: one line of its history."""

    class Kind(models.TextChoices):
        BOUGHT = "bought", "bought"
        DRILLED = "drilled", "drilled"
        PLUGGED = "plugged", "plugged"
        CLEANED = "cleaned", "cleaned"
        OIL_OUT = "oil_out", "oil drawn out"
        INSERTS = "inserts", "inserts changed"
        GAMES = "games", "games bowled"
        PASSED_ON = "passed_on", "passed on"

    ball = models.ForeignKey(Ball, on_delete=models.CASCADE, related_name="events")
    kind = models.CharField(max_length=9, choices=Kind)
    on = models.DateField(default=timezone.localdate)
    games = models.PositiveIntegerField(
        null=True,
        blank=True,
        validators=between(1, 500, "games"),
        help_text="Games outside the sessions logged here.",
    )
    ticket = models.ForeignKey(
        Ticket, null=True, blank=True, on_delete=models.SET_NULL, related_name="events"
    )
    by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    note = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = access.OfBallQuerySet.as_manager()

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["ticket", "kind"],
                condition=models.Q(ticket__isnull=False),
                name="ticket_writes_history_once",
            )
        ]

    def __str__(self) -> str:
        return f"{self.ball} {self.get_kind_display()} on {self.on:%d %b %Y}"
