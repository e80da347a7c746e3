"""Layouts of balls: what drilling one writes down, and how that is taken back."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction

from clients import audit, drilling, gear
from clients.models import AuditEntry, Ball, BallEvent, Layout, User

# What a ball keeps of the layout that is drilled into it.
BALL_LAYOUT = ("pin_to_pap_in", "angle_at_pin_deg", "angle_at_pap_deg")
_NUMBERS = (
    "pap_over_in",
    "pap_up_in",
    "pin_over_in",
    "pin_up_in",
    "mb_over_in",
    "mb_up_in",
    "cg_over_in",
    "cg_up_in",
    "top_weight_oz",
    "density_g_cm3",
)
_DRILLED = "layout.drilled"


def geometry(layout: Layout) -> drilling.Layout:
    """Return the layout as the geometry of drilling takes it."""
    mass_bias = None
    if layout.mb_over_in is not None and layout.mb_up_in is not None:
        mass_bias = drilling.Place(layout.mb_over_in, layout.mb_up_in)
    return drilling.Layout(
        pap=drilling.Place(layout.pap_over_in, layout.pap_up_in),
        pin=drilling.Place(layout.pin_over_in, layout.pin_up_in),
        mass_bias=mass_bias,
    )


def facts(layout: Layout) -> dict[str, Any]:
    """Return a layout for the client file; what is not told is left out."""
    days = ("made_on", "drilled_on", "replaced_on")
    told = {name: value for name in _NUMBERS if (value := getattr(layout, name)) is not None}
    told |= {name: day.isoformat() for name in days if (day := getattr(layout, name))}
    return told | ({"note": layout.note} if layout.note else {})


class Drilled(ValueError):
    """A layout that is in the ball stays as it is; another one is made."""


@transaction.atomic
def save_layout(layout: Layout, *, by: User) -> Layout:
    """Keep a new or changed layout. A second tap finds the first one's row; raises Drilled."""
    Ball.objects.select_for_update().get(pk=layout.ball_id)
    if layout.pk:
        if Layout.objects.exclude(drilled_on=None).filter(pk=layout.pk).exists():
            raise Drilled("This layout is drilled; make another one.")
        layout.save()
        audit.record(by, "layout.changed", layout, ball=layout.ball_id)
        return layout
    newest = Layout.objects.filter(ball=layout.ball_id, drilled_on=None).first()
    if newest and _marks(newest) == _marks(layout):
        return newest
    layout.made_by = by
    layout.save()
    audit.record(by, "layout.added", layout, ball=layout.ball_id)
    return layout


@transaction.atomic
def remove_layout(layout: Layout, *, by: User) -> None:
    """Throw a plan away that nobody drilled. Raises Drilled."""
    Ball.objects.select_for_update().get(pk=layout.ball_id)
    if Layout.objects.exclude(drilled_on=None).filter(pk=layout.pk).exists():
        raise Drilled("This layout is drilled: it belongs to the ball's history.")
    audit.record(by, "layout.removed", layout, ball=layout.ball_id)
    layout.delete()


@transaction.atomic
def was_drilled(layout: Layout, *, on: date, by: User) -> None:
    """Write down that the ball came with this layout, or was drilled without a ticket."""
    layout.refresh_from_db(fields=["drilled_on"])
    if layout.drilled_on:
        return
    mark_drilled(layout, on=on, by=by)
    gear.write_event(ball=layout.ball, kind=BallEvent.Kind.DRILLED, on=on, by=by)


@transaction.atomic
def mark_drilled(layout: Layout, *, on: date, by: User) -> None:
    """Write down that the layout is in the ball: its numbers are the ball's from now on.

    A layout that was in the ball before is replaced. Drilled twice is drilled once.
    """
    ball = Ball.objects.select_for_update().get(pk=layout.ball_id)
    layout.refresh_from_db(fields=["drilled_on", "replaced_on"])
    if layout.drilled_on:
        return
    was = {name: getattr(ball, name) for name in BALL_LAYOUT}
    replaced = _replace(ball, on=on, keep=layout)
    layout.drilled_on = on
    layout.save(update_fields=["drilled_on"])
    told = geometry(layout)
    for name in BALL_LAYOUT:
        setattr(ball, name, _allowed(ball, name, getattr(told, name)))
    ball.save(update_fields=BALL_LAYOUT)
    audit.record(by, _DRILLED, layout, ball=ball.pk, was=was, replaced=replaced)


@transaction.atomic
def unmark_drilled(layout: Layout, *, by: User) -> None:
    """Take the drilling back: the ball has the numbers again, and the layout, that it had."""
    ball = Ball.objects.select_for_update().get(pk=layout.ball_id)
    layout.refresh_from_db(fields=["drilled_on"])
    if not layout.drilled_on:
        return
    layout.drilled_on = None
    layout.save(update_fields=["drilled_on"])
    wrote = AuditEntry.objects.filter(action=_DRILLED, subject=_subject(layout)).first()
    if wrote:
        for name, value in wrote.data["was"].items():
            setattr(ball, name, value)
        ball.save(update_fields=list(wrote.data["was"]))
        ball.layouts.filter(pk__in=wrote.data["replaced"]).update(replaced_on=None)
    audit.record(by, "layout.drilling_taken_back", layout, ball=ball.pk)


@transaction.atomic
def mark_plugged(ball: Ball, *, on: date, by: User) -> list[int]:
    """Write down that the ball's holes are plugged; return the keys of the layouts that end so."""
    Ball.objects.select_for_update().get(pk=ball.pk)
    replaced = _replace(ball, on=on)
    if replaced:
        audit.record(by, "ball.layout_plugged", ball, layouts=replaced)
    return replaced


@transaction.atomic
def unmark_plugged(ball: Ball, *, layouts: list[int], by: User) -> None:
    """Put those layouts back into force: the ball was not plugged after all."""
    Ball.objects.select_for_update().get(pk=ball.pk)
    if ball.layouts.filter(pk__in=layouts).update(replaced_on=None):
        audit.record(by, "ball.plugging_taken_back", ball, layouts=layouts)


def _replace(ball: Ball, *, on: date, keep: Layout | None = None) -> list[int]:
    in_force = ball.layouts.filter(replaced_on=None).exclude(drilled_on=None)
    if keep:
        in_force = in_force.exclude(pk=keep.pk)
    keys = list(in_force.values_list("pk", flat=True))
    ball.layouts.filter(pk__in=keys).update(replaced_on=on)
    return keys


def _allowed(ball: Ball, name: str, value: float | None) -> float | None:
    """Return the value where the ball's own field takes it, None where it lies outside."""
    if value is None:
        return None
    value = round(value, 4)
    field = ball._meta.get_field(name)
    assert isinstance(field, models.FloatField)
    try:
        field.run_validators(value)
    except ValidationError:
        return None
    return value


def _marks(layout: Layout) -> tuple[object, ...]:
    """Return what makes two plans one: everything that was typed."""
    return layout.fit_id, layout.note, *(getattr(layout, name) for name in _NUMBERS)


def _subject(layout: Layout) -> str:
    return f"{layout._meta.label} {layout.pk}"
