"""A client's positive axis point: measured, kept with its repeats, and current on the client.

One truth: each measurement is an `AxisPoint`, and the client's `pap_over_in` and `pap_up_in` are
the mean of the newest. A number typed into the client's form is a measurement too, by another way.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import transaction

from clients import audit
from clients.drilling import Place
from clients.drilling.repeats import Measured, measured
from clients.models import AxisPoint, Client, User

FIELDS = ("pap_over_in", "pap_up_in")


def of_repeats(repeats: list[list[float]]) -> Measured:
    """Return mean and scatter of the repeats of an axis point, `[[over, up], ...]` in inches."""
    return measured([Place(over, up) for over, up in repeats])


def facts(point: AxisPoint) -> dict[str, Any]:
    """Return a measurement for the client file."""
    return {
        "method": point.method,
        "repeats_in": point.repeats,
        "measured_on": point.measured_on.isoformat(),
        "note": point.note,
    }


@transaction.atomic
def add_axis_point(point: AxisPoint, *, by: User) -> AxisPoint:
    """Keep a measured axis point; the newest becomes the client's. A second tap adds nothing."""
    client = Client.objects.select_for_update().get(pk=point.client_id)
    newest = client.axis_points.first()
    if newest and _told(newest) == _told(point):
        return newest
    point.measured_by = by
    point.save()
    audit.record(by, "axis_point.added", point, client=client.pk)
    current = client.axis_points.first() or point
    mean = of_repeats(current.repeats).mean
    client.pap_over_in, client.pap_up_in = round(mean.over_in, 4), round(mean.up_in, 4)
    client.save(update_fields=FIELDS)
    return point


def write_down_typed(client: Client, *, by: User, on: date) -> None:
    """Keep the axis point that was typed into a client's form as a measurement of its own."""
    if client.pap_over_in is None or client.pap_up_in is None:
        return
    point = AxisPoint(
        client=client,
        method=AxisPoint.Method.OTHER,
        repeats=[[client.pap_over_in, client.pap_up_in]],
        measured_on=on,
        measured_by=by,
        note="Typed in on the client's page",
    )
    point.save()
    audit.record(by, "axis_point.added", point, client=client.pk)


def _told(point: AxisPoint) -> tuple[object, ...]:
    return point.method, point.repeats, point.measured_on, point.note
