"""Centres and their lanes."""

from __future__ import annotations

import re

from django.db import transaction

from clients import audit
from clients.models import User
from clients.names import refused_if_taken
from lanes.models import Centre, Lane

HIGHEST_LANE = 200  # beyond any house we mean; a higher one is a slip of the finger
_RANGE = re.compile(r"(\d{1,3})(?:\s*(?:-|–|to)\s*(\d{1,3}))?")
_BETWEEN = re.compile(r"\s*(?:,|&|\+|/|\band\b)\s*|(?<=\d)\s+(?=\d)")


def parse_lanes(text: str) -> list[int]:
    """Return the lane numbers in a text such as ``1-24, 31`` or ``7 and 8``.

    ValueError says what was expected.
    """
    numbers: set[int] = set()
    for part in _BETWEEN.split(text.strip()):
        match = _RANGE.fullmatch(part)
        if not match:
            raise ValueError(f"Cannot read “{part[:30]}”; expected lanes such as 1-24 or 7.")
        first = int(match[1])
        last = int(match[2] or first)
        if not 1 <= first <= last <= HIGHEST_LANE:
            raise ValueError(
                f"Expected lanes from 1 to {HIGHEST_LANE}, the smaller number first; got {part}."
            )
        numbers.update(range(first, last + 1))
    return sorted(numbers)


def save_centre(centre: Centre, *, by: User) -> None:
    """Save a new or changed centre. Raises NameTaken where another has its name."""
    action = "centre.changed" if centre.pk else "centre.added"
    with refused_if_taken(f"There is a centre called {centre.name} already."):
        centre.save()
        audit.record(by, action, centre)


@transaction.atomic
def add_lanes(centre: Centre, numbers: list[int], *, by: User) -> int:
    """Add the lanes that are not there yet; return how many those were."""
    there = set(centre.lanes.values_list("number", flat=True))
    new = [number for number in numbers if number not in there]
    # A second tap at the same moment may have been faster; its lanes are these lanes.
    Lane.objects.bulk_create(
        [Lane(centre=centre, number=number) for number in new], ignore_conflicts=True
    )
    if new:
        audit.record(by, "lanes.added", centre, numbers=new)
    return len(new)


@transaction.atomic
def remove_lanes(centre: Centre, numbers: list[int], *, by: User) -> tuple[int, list[int]]:
    """Remove lanes that nobody has bowled on; return how many, and those kept for their history."""
    lanes = centre.lanes.filter(number__in=numbers)
    kept = list(lanes.filter(blocks__isnull=False).values_list("number", flat=True).distinct())
    gone = list(lanes.exclude(number__in=kept).values_list("number", flat=True))
    centre.lanes.filter(number__in=gone).delete()
    if gone:
        audit.record(by, "lanes.removed", centre, numbers=gone)
    return len(gone), kept
