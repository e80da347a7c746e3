"""What the shop has to sell: balls in their boxes, and which of them went to whom."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from clients import access
from clients.models.gear import Ball, BallNumbers
from clients.models.people import User, between


class StockBall(BallNumbers):
    """One article of the stock list: so many balls of one name, weight and set of numbers.

    Numbers are as the maker prints them on the box, undrilled; empty where nobody knows them.
    """

    # The shop's own article number. NULL and not empty where there is none: unique means unique.
    code = models.CharField("article number", max_length=40, null=True, blank=True, unique=True)
    grit = models.PositiveIntegerField(
        "box finish, grit", null=True, blank=True, validators=between(80, 10000, "grit")
    )
    polished = models.BooleanField("polished in the box", default=False)
    pin_out_in = models.FloatField(
        "pin-out, in", null=True, blank=True, validators=between(0, 6.75, "in")
    )
    price = models.DecimalField(
        max_digits=8, decimal_places=2, null=True, blank=True, validators=between(0, 99999, "")
    )
    quantity = models.PositiveIntegerField(
        "how many", default=1, validators=between(0, 9999, "balls")
    )
    note = models.CharField(max_length=200, blank=True)
    # What a file said in columns that this list does not have.
    extra = models.JSONField(default=dict, blank=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    updated_at = models.DateTimeField(auto_now=True)

    objects = access.StockQuerySet.as_manager()

    class Meta:
        ordering = ["name", "-mass_lb", "pk"]

    @property
    def is_available(self) -> bool:
        """Whether one could be sold now."""
        return self.quantity > 0

    @property
    def finish(self) -> str:
        """The box finish in words, empty where nobody wrote it down."""
        if self.grit is None:
            return "polished" if self.polished else ""
        return f"{self.grit} grit{', polished' if self.polished else ''}"


class StockDraft(models.Model):
    """An uploaded stock list between its preview and the yes; nothing of it counts before."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    filename = models.CharField(max_length=200)
    data = models.BinaryField()
    created_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now, editable=False)
    applied_at = models.DateTimeField(null=True, blank=True)

    objects = access.StockQuerySet.as_manager()

    def __str__(self) -> str:
        return self.filename


class StockSale(models.Model):
    """One ball that went from the stock list into a client's arsenal.

    One that was taken back stays, without its ball, so that its key sells nothing again.
    """

    # Made with the form, so that a second tap finds the first one's sale.
    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    stock = models.ForeignKey(StockBall, null=True, on_delete=models.SET_NULL, related_name="sales")
    ball = models.OneToOneField(Ball, null=True, on_delete=models.CASCADE, related_name="sale")
    price = models.DecimalField(max_digits=8, decimal_places=2, null=True)
    sold_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")
    sold_at = models.DateTimeField(default=timezone.now, editable=False)
    undone_at = models.DateTimeField(null=True, editable=False)
    undone_by = models.ForeignKey(User, null=True, on_delete=models.SET_NULL, related_name="+")

    objects = access.SaleQuerySet.as_manager()

    class Meta:
        ordering = ["-sold_at"]

    def __str__(self) -> str:
        return f"{self.ball or 'a ball'} sold on {self.sold_at:%d %b %Y}"
