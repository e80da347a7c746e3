"""A coach's own reading error: shots read again, what they show, and what the readings then use."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

from django.db import IntegrityError, transaction

from clients import audit
from clients.models import User
from lanes.models import Rereading, RereadShot, Session, Shot
from lanes.motion import ErrorEstimate, ReadingError, error_to_use, reading_error_from
from lanes.shotlog import BY_NAME
from lanes.shots import live_shots

# What an eye reads. The speed is a display's: read again it says the same.
CHECKPOINTS = ("laydown", "arrows", "breakpoint", "breakpoint_ft", "head_pin", "rev_rpm")
MOST, FEWEST_LISTED = 15, 10  # shots of one sitting

Boards = Mapping[str, float]
# Hashable: readings of one shot as pairs of check-point and what was read.
_Readings = tuple[tuple[tuple[str, float], ...], ...]


def shots_to_read(session: Session) -> list[Shot]:
    """Return shots for a sitting, spread over the session: those read again least come first."""
    times: dict[uuid.UUID, int] = {}
    for pk in RereadShot.objects.filter(rereading__session=session).values_list("shot", flat=True):
        times[pk] = times.get(pk, 0) + 1
    seen = [shot for shot in live_shots(session) if shot.delivery == 1 and first_reading(shot)]
    for most in sorted({times.get(shot.pk, 0) for shot in seen}):
        some = [shot for shot in seen if times.get(shot.pk, 0) <= most]
        if len(some) >= FEWEST_LISTED or len(some) == len(seen):
            step = max(len(some) / MOST, 1.0)
            return [some[int(i * step)] for i in range(min(MOST, len(some)))]
    return []


def first_reading(shot: Shot) -> dict[str, float]:
    """Return what the log says of a shot at the check-points that an eye reads."""
    read = {name: getattr(shot, name) for name in CHECKPOINTS}
    return {name: value for name, value in read.items() if value is not None}


def keep(
    *, session: Session, by: User, how: str, readings: Mapping[Shot, Boards], key: uuid.UUID
) -> tuple[Rereading, bool]:
    """Keep a sitting beside the log, and return it and whether it is new.

    A second tap finds the first one's. What the log does not say of a shot cannot be compared and
    is left out.
    """
    known = Rereading.objects.filter(pk=key, session=session).first()
    if known is not None:
        return known, False
    try:
        with transaction.atomic():
            sitting = Rereading.objects.create(id=key, session=session, how=how, by=by)
            for shot, boards in readings.items():
                first = first_reading(shot)
                again = {name: value for name, value in boards.items() if name in first}
                if again:
                    RereadShot.objects.create(
                        rereading=sitting,
                        shot=shot,
                        first={name: first[name] for name in again},
                        again=again,
                    )
            audit.record(by, "session.read_again", session, sitting=str(sitting.pk), how=how)
    except IntegrityError:
        known = Rereading.objects.filter(pk=key, session=session).first()
        if known is None:
            raise
        return known, False
    return sitting, True


def remove(sitting: Rereading, *, by: User) -> None:
    """Take a sitting out; the log is not touched."""
    with transaction.atomic():
        audit.record(by, "session.reading_again_removed", sitting.session, sitting=str(sitting.pk))
        sitting.delete()


def sittings_of(coach: User) -> list[Rereading]:
    """Return the sittings on the sessions that this coach logged, the latest first."""
    return list(
        Rereading.objects.filter(session__coach=coach, session__deleted_at=None)
        .select_related("session__client", "session__block__centre", "by")
        .prefetch_related("shots")
        .order_by("-created_at")
    )


def estimate_of(coach: User | None) -> ErrorEstimate:
    """Return what this coach's repeated readings show; with none, the usual error."""
    return _estimate(_repeats(coach))


def error_of(coach: User | None) -> tuple[ReadingError, tuple[str, ...]]:
    """Return the reading error for this coach's sessions, and where it is their own."""
    return error_to_use(estimate_of(coach))


def _repeats(coach: User | None) -> tuple[_Readings, ...]:
    """Return the readings of each shot that was read more than once, the log's first."""
    if coach is None:
        return ()
    read: dict[uuid.UUID, list[dict[str, float]]] = {}
    rows = (
        RereadShot.objects.filter(
            rereading__session__coach=coach, rereading__session__deleted_at=None
        )
        .order_by("rereading__created_at", "pk")
        .values_list("shot", "first", "again")
    )
    for shot, first, again in rows:
        readings = read.setdefault(shot, [{}])
        readings[0] = {**first, **readings[0]}  # the log as it was at the first sitting
        readings.append(again)
    return tuple(
        tuple(tuple(sorted(boards.items())) for boards in readings) for readings in read.values()
    )


@lru_cache(maxsize=64)
def _estimate(repeats: tuple[_Readings, ...]) -> ErrorEstimate:
    return reading_error_from([[dict(boards) for boards in readings] for readings in repeats])


@dataclass(frozen=True)
class Told:
    """One check-point's line on the page: what is used, and what the repeats show."""

    name: str
    label: str
    unit: str
    used: float
    is_own: bool
    shown: float
    low: float
    high: float
    repeats: int

    @property
    def digits(self) -> int:
        """Decimals to show: a board's error to the hundredth, revs whole."""
        return 0 if self.name == "rev_rpm" else 2


def told(estimate: ErrorEstimate) -> list[Told]:
    """Return a line a check-point, in the order in which the ball passes them."""
    used, own = error_to_use(estimate)
    return [
        Told(
            name,
            BY_NAME[name].label,
            BY_NAME[name].unit or "boards",
            getattr(used, name),
            name in own,
            getattr(estimate.error, name),
            *estimate.interval[name],
            estimate.repeats[name],
        )
        for name in CHECKPOINTS
    ]


def second_readings(sittings: Sequence[Rereading]) -> dict[uuid.UUID, int]:
    """Return how many second readings each sitting holds."""
    return {s.pk: sum(len(shot.again) for shot in s.shots.all()) for s in sittings}
