"""Which law the covers of this shop settle by: decided here, and nowhere else.

Whatever rolls a ball of the shop's (arsenal map, ball page, layout sheet, trying a shot, surface
plan) asks `shops_settling` and hands its law on. A shop whose meter has read enough covers has a
law of its own; any other has the calibration constants.
"""

from __future__ import annotations

from functools import lru_cache

from clients.models import SurfaceReading
from lanes.games import games_on
from lanes.motion.settling import FEWEST_READINGS, CoverReading, Settling, settle


def shops_settling() -> Settling:
    """Return how covers settle by all the readings of this shop that say something of it.

    A reading does where the ball had a surface then that is known and not polished: a polished
    cover reads smoother than its pads, and the model keeps polish apart.
    """
    return _settled(tuple(cover_readings()))


@lru_cache(maxsize=8)
def _settled(readings: tuple[CoverReading, ...]) -> Settling:
    """Fit once for the same readings: every page asks, and they change a few times a week."""
    return settle(readings)


def cover_readings() -> list[CoverReading]:
    readings = list(
        SurfaceReading.objects.select_related("ball").prefetch_related("ball__surfaces")
    )
    games = games_on({reading.ball for reading in readings})
    usable = []
    for reading in readings:
        surface = next(
            (one for one in reading.ball.surfaces.all() if one.done_on <= reading.read_on), None
        )
        if surface is None or surface.polished:
            continue
        # Read before the games of that day, as a surface is made before them.
        on_it = games[reading.ball_id].between(surface.done_on, reading.read_on).all
        usable.append(CoverReading(float(surface.grit), on_it, float(reading.number)))
    return usable


def law_words(settling: Settling) -> str:
    """Say in one sentence which law a page's numbers go by."""
    if settling.is_fitted:
        return f"Covers settle by this shop's own law, from {settling.readings} meter readings."
    return (
        f"Covers settle by the assumed law: {settling.readings or 'no'} usable meter "
        f"reading{'' if settling.readings == 1 else 's'} of the {FEWEST_READINGS} that a law of "
        "the shop's own takes."
    )
