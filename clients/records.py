"""Clients: put them on file, change them, and say what the numeric core needs to know of them."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import Prefetch
from django.utils import timezone

from clients import audit, axis_points, fits, layouts
from clients.models import Ball, Client, User

# Two clients of one name within this time are one client and a second tap on the button.
SAME_TAP = timedelta(minutes=1)

RELEASE = ("speed_mph", "rev_rpm", "rotation_deg", "tilt_deg", "pap_over_in", "pap_up_in")
BALL_NUMBERS = (
    "rg_in",
    "differential_in",
    "intermediate_in",
    "mass_lb",
    "pin_to_pap_in",
    "angle_at_pin_deg",
    "angle_at_pap_deg",
)


@transaction.atomic
def add_client(client: Client, *, by: User) -> Client:
    """Put a new client on file; a second tap finds the first one's client."""
    User.objects.select_for_update().get(pk=by.pk)  # one tap of this user at a time
    twin = Client.objects.filter(
        name=client.name, coach=client.coach, created_at__gt=timezone.now() - SAME_TAP
    ).first()
    if twin:
        return twin
    client.save()
    audit.record(by, "client.added", client)
    axis_points.write_down_typed(client, by=by, on=timezone.localdate())
    return client


@transaction.atomic
def change_client(client: Client, *, by: User, fields: list[str]) -> None:
    """Save a changed client and write down which fields changed, not what they said."""
    client.save()
    audit.record(by, "client.changed", client, fields=fields)
    if set(axis_points.FIELDS) & set(fields):
        axis_points.write_down_typed(client, by=by, on=timezone.localdate())


def client_facts(client: Client) -> dict[str, Any]:
    """Return the client file: hand, release, PAP, fit and balls in use.

    What is unknown is left out. The shop's part, fit sheets, axis points and layouts, is there to
    be kept; a reading of a session passes over it.
    """
    in_use = (
        Ball.objects.filter(retired_at=None)
        .prefetch_related("surfaces", "layouts")
        .order_by("name")
    )
    [client] = Client.objects.filter(pk=client.pk).prefetch_related(
        Prefetch("balls", in_use), "fit_sheets__holes", "axis_points"
    )
    return {
        "hand": client.hand,
        **_known(client, RELEASE),
        **_not_empty("fit_sheets", [fits.facts(s) for s in client.fit_sheets.all()]),
        **_not_empty("axis_points", [axis_points.facts(p) for p in client.axis_points.all()]),
        "balls": [_ball_facts(ball) for ball in client.balls.all()],
    }


def _ball_facts(ball: Ball) -> dict[str, Any]:
    facts: dict[str, Any] = {"name": ball.name, "cover": ball.cover}
    if ball.surface:
        facts |= {"grit": ball.surface.grit, "polished": ball.surface.polished}
    facts |= _known(ball, BALL_NUMBERS)
    return facts | _not_empty("layouts", [layouts.facts(one) for one in ball.layouts.all()])


def _not_empty(name: str, rows: list[dict[str, Any]]) -> dict[str, Any]:
    return {name: rows} if rows else {}


def _known(thing: Client | Ball, names: tuple[str, ...]) -> dict[str, Any]:
    return {name: value for name in names if (value := getattr(thing, name)) is not None}
