"""The reference lane: one fixed lane and one set of releases, on which every ball shows itself.

Published by us and nobody's rating: what comes out is where the ball hooks and rolls, how many
boards it covers and how steeply it comes in, in feet, boards, degrees and inches.

The lane. Its oil is the same on every board, so that the line does not matter and no ball runs into
a wall: 30 units as far as 18 ft, fading to 9 at 33 ft and to none at 45 ft. It is written out here
and is **not** the house pattern, so that a better house pattern does not move it. The friction
law is that of ``friction.py``: where its constants are calibrated anew, reactions move, and
``REFERENCE_VERSION`` is raised with them (a test holds the values of each version).

The releases. The middle one gives the value: 17.5 mph, 350 rpm, 55 deg of rotation, 12 deg of tilt,
from board 11.5 across 7.5 at the arrows. The range is over three speeds, three rev rates and two
rotations around it, on the same line: what of the figure is the ball's and what the hand's.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from itertools import product

import numpy as np

from .balls import BallSpec
from .friction import SURFACE_LAW, Lane, SurfaceLaw, lane_friction
from .geometry import BOARDS, HEAD_PIN_FT
from .oil import LANE_FT, UNIT_UM, Film
from .orientation import Orientation
from .path import Release, launch_for_target
from .rigid import RigidPath, roll_rigid

REFERENCE_VERSION = 1

# Units of oil by distance, straight between: what all 39 boards have (our choice).
OIL_FT = (0.0, 18.0, 33.0, 45.0)
OIL_UNITS = (30.0, 30.0, 9.0, 0.0)

# An ordinary release (speed, rev rate, rotation and tilt of many league bowlers; assumed), and the
# others around it.
LAYDOWN, ARROWS = 11.5, 7.5  # room on both sides for every legal ball
MIDDLE = Release(17.5, 350.0, 55.0, 12.0, LAYDOWN, launch_for_target(LAYDOWN, ARROWS))
SPEEDS_MPH = (16.5, 17.5, 18.5)
REVS_RPM = (300.0, 350.0, 400.0)
ROTATIONS_DEG = (45.0, 65.0)
RELEASES = tuple(
    replace(MIDDLE, speed_mph=speed, rev_rpm=revs, rotation_deg=rotation)
    for speed, revs, rotation in product(SPEEDS_MPH, REVS_RPM, ROTATIONS_DEG)
)

LAST_FT = 20.0  # "the last 20 ft" before the head pin


def _film() -> Film:
    middles = np.arange(LANE_FT) + 0.5
    units = np.interp(middles, OIL_FT, OIL_UNITS)
    um = np.tile(units * UNIT_UM, (BOARDS, 1))
    um.flags.writeable = False
    return Film(um, OIL_FT[-1])


REFERENCE_FILM = _film()


@dataclass(frozen=True)
class Figure:
    """One number of a reaction: ``value`` at the middle release, ``low`` to ``high`` over all.

    ``None`` is where the ball does not get to it before the pins: ``high`` if only some releases
    do, all three if none does.
    """

    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Reaction:
    """What one ball does on the reference lane.

    ``hook_start_ft`` is where it is two boards off the line of its launch, ``roll_start_ft`` where
    slip ends, ``last_20ft_boards`` how far it moves toward the weak side in the last 20 ft before
    the head pin, ``entry_angle_deg`` its direction there, ``flare_in`` the widest distance between
    first and last ring of oil.
    """

    hook_start_ft: Figure
    roll_start_ft: Figure
    last_20ft_boards: Figure
    entry_angle_deg: Figure
    flare_in: Figure


NAMES = tuple(field.name for field in fields(Reaction))


def on_reference_lane(
    ball: BallSpec,
    release: Release = MIDDLE,
    orientation: Orientation | None = None,
    law: SurfaceLaw = SURFACE_LAW,
) -> RigidPath:
    """Roll one ball down the reference lane, by the middle release or another.

    ``law`` is how covers settle: a shop's own where it has one.
    """
    return roll_rigid(release, ball, _lane(ball, law), orientation)


def reaction(
    ball: BallSpec, orientation: Orientation | None = None, law: SurfaceLaw = SURFACE_LAW
) -> Reaction:
    """Return what a ball does on the reference lane, with the range over the releases.

    ``orientation`` is told where places on the ball are known; else it is that of the ball's own
    layout. ``law`` is how covers settle. Raises ``ValueError`` for a ball that there cannot be.
    """
    lane = _lane(ball, law)
    orientation = orientation or Orientation.of(ball)
    middle, *over = (
        _figures(roll_rigid(release, ball, lane, orientation)) for release in (MIDDLE, *RELEASES)
    )
    return Reaction(*(_figure(name, middle, over) for name in NAMES))


def _lane(ball: BallSpec, law: SurfaceLaw) -> Lane:
    """Return the lane as the ball meets it: even to the edges, where a real film would pile up."""
    lane = lane_friction(REFERENCE_FILM, ball, law=law)
    middle = lane.film[BOARDS // 2]
    return replace(lane, film=np.tile(middle, (len(lane.film), 1)))


def _figures(path: RigidPath) -> dict[str, float | None]:
    moved = None
    if path.gutter_at_ft is None:
        then = float(np.interp(HEAD_PIN_FT - LAST_FT, path.path_ft, path.path_board))
        moved = float(path.path_board[-1]) - then
    return {
        "hook_start_ft": path.hook_start_ft,
        "roll_start_ft": path.roll_start_ft,
        "last_20ft_boards": moved,
        "entry_angle_deg": path.entry_angle_deg,
        "flare_in": path.flare_in,
    }


def _figure(
    name: str, middle: dict[str, float | None], over: list[dict[str, float | None]]
) -> Figure:
    every = [middle[name], *(figures[name] for figures in over)]
    known = [value for value in every if value is not None]
    return Figure(
        value=middle[name],
        low=min(known, default=None),
        high=max(known) if len(known) == len(every) else None,
    )
