"""Fit sheets: a change makes a new one, and what changed is told."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from clients import audit, inches
from clients.drilling import Drill
from clients.models import Client, FitHole, FitSheet, User

_HOLE = {
    "size_in": "size",
    "depth_in": "depth",
    "span_in": "span",
    "forward_in": "forward pitch",
    "lateral_in": "lateral pitch",
    "bevel_in": "bevel",
    "insert": "insert or slug",
}
_WAYS = {"forward_in": ("forward", "reverse"), "lateral_in": ("right", "left")}


@transaction.atomic
def add_fit(sheet: FitSheet, holes: list[FitHole], *, by: User) -> FitSheet:
    """Keep a new fit sheet with its holes; one like the newest, by a second tap, is the newest."""
    Client.objects.select_for_update().get(pk=sheet.client_id)
    newest = FitSheet.objects.filter(client=sheet.client_id).first()
    if newest and newest.made_on == sheet.made_on and _told(newest) == _told(sheet, holes):
        return newest
    sheet.made_by = by
    sheet.save()
    for hole in holes:
        hole.sheet = sheet
    FitHole.objects.bulk_create(holes)
    audit.record(by, "fit.added", sheet, client=sheet.client_id)
    return sheet


def current_fit(client: Client) -> FitSheet | None:
    """Return the sheet in force: the newest."""
    return client.fit_sheets.prefetch_related("holes").first()


def drills(sheet: FitSheet) -> list[Drill]:
    """Return the holes of a sheet as the geometry of drilling takes them."""
    return [
        Drill(
            hole.finger, hole.size_in, hole.depth_in, hole.span_in, hole.forward_in, hole.lateral_in
        )
        for hole in sheet.holes.all()
    ]


def facts(sheet: FitSheet) -> dict[str, Any]:
    """Return a sheet for the client file, inches as decimals; what is not told is left out."""
    told: dict[str, Any] = {
        "grip": sheet.grip,
        "made_on": sheet.made_on.isoformat(),
        "note": sheet.note,
    }
    if sheet.bridge_in is not None:
        told["bridge_in"] = sheet.bridge_in
    holes = [
        {"finger": hole.finger}
        | {name: value for name in _HOLE if (value := getattr(hole, name)) not in (None, "")}
        for hole in sheet.holes.all()
    ]
    return told | {"holes": holes}


def changes(old: FitSheet, new: FitSheet) -> list[str]:
    """Return what a sheet changed against the one before it, a line for each thing."""
    said = []
    if old.grip != new.grip:
        said.append(f"Grip: {old.get_grip_display()} to {new.get_grip_display()}")
    if old.bridge_in != new.bridge_in:
        said.append(f"Bridge: {_inches(old.bridge_in)} to {_inches(new.bridge_in)}")
    before = {hole.finger: hole for hole in old.holes.all()}
    after = {hole.finger: hole for hole in new.holes.all()}
    for finger, label in FitHole.Finger.choices:
        one, other = before.get(finger), after.get(finger)
        if one and not other:
            said.append(f"{label.capitalize()}: no hole any more")
        elif other and not one:
            said.append(f"{label.capitalize()}: a hole of {_inches(other.size_in)}")
        elif one and other:
            said += [
                f"{label.capitalize()} {name}: {_value(one, field)} to {_value(other, field)}"
                for field, name in _HOLE.items()
                if getattr(one, field) != getattr(other, field)
            ]
    if old.note != new.note:
        said.append("Note")
    return said


def _value(hole: FitHole, field: str) -> str:
    value = getattr(hole, field)
    if field == "insert":
        return value or "none"
    if field in _WAYS and value:
        plus, minus = _WAYS[field]
        return f"{_inches(abs(value))} {plus if value > 0 else minus}"
    return _inches(value)


def _inches(value: float | None) -> str:
    return "not told" if value is None else f"{inches.fraction(value)} in"


def _told(sheet: FitSheet, holes: list[FitHole] | None = None) -> tuple[object, ...]:
    rows = sheet.holes.all() if holes is None else holes
    of_holes = {(h.finger, *(getattr(h, field) for field in _HOLE)) for h in rows}
    return sheet.grip, sheet.bridge_in, sheet.note, frozenset(of_holes)
