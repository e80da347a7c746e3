"""How a shot's values look on a page."""

from __future__ import annotations

from typing import Any

from django import template

from lanes.models import Shot
from lanes.reading.hits import hit
from lanes.reading.leaves import leave_name
from lanes.shotlog import BY_NAME, format_cell

register = template.Library()


@register.filter
def cell(shot: Shot, name: str) -> str:
    """Return a column of a shot as text; a breakpoint with its distance."""
    text = format_cell(BY_NAME[name], getattr(shot, name))
    if name == "breakpoint" and shot.breakpoint_ft is not None:
        feet = format_cell(BY_NAME["breakpoint_ft"], shot.breakpoint_ft)
        return f"{text or '?'} at {feet} ft"
    return text


@register.filter
def shown(value: Any) -> str:
    """Return any value of the shot log as text, a dash where there is none."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:g}"
    return "–" if value in (None, "") else str(value)


@register.filter
def named_leave(shot: Shot, hand: str) -> str:
    """Return the leave with its name where it has one: "10, flat" is "flat 10"."""
    if shot.leave == "X":
        return "X"
    if shot.leave == "/":
        return "/"
    flush = shot.delivery == 1 and shot.session.hook == "usual"
    return leave_name(
        shot.leave, hand, shot.neighbour_pin, flush and hit(shot.head_pin, shot.leave) == "flush"
    )
