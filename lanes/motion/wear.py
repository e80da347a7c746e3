"""Transition: what balls do to the oil, one after another.

Each ball takes a share of the film up along its own path and lays part of that down further on, so
that the next ball meets another lane. The contact is about a quarter inch wide, far less than a
board; what a steady bowler's balls do together is a strip of ``STRIP_BOARDS`` (one sd, the scatter
lumped in). At its middle a fresh contact takes up ``UPTAKE`` times the contact's part of the strip,
3.5 % at the default rates.

- **Cover.** Some covers take up more than others, and keep more of it.
- **Flare.** A ball whose rings lie beside one another meets the lane with clean cover at every
  revolution. Where they lie on one another, the oily ring takes up only ``REUSE_SHARE`` of that.
- **Carry.** A share ``CARRY`` of what is taken up stays on the surface and is laid down again along
  the path, over ``LAY_FT`` (1/e). The rest is in the cover, or on rings that are done.

No oil is made or lost: what left the lane is on the balls. The rates are calibration parameters
(``constants.py``): a trial of this kind of model moved the head pin 1 to 5 boards in 40 shots with
2 to 5 % taken up and 30 % of it laid further on. Left out: how film creeps back across the lane,
and balls thrown at spares unless they are given as throws.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from .balls import BallSpec
from .constants import (
    CARRY,
    CONTACT_IN,
    COVER_WEAR,
    LAY_FT,
    REUSE_SHARE,
    STRIP_BOARDS,
    UPTAKE,
)
from .friction import SURFACE_LAW, SurfaceLaw, lane_friction
from .geometry import BALL_RADIUS_M, BOARD_IN, BOARD_M, FOOT_M, ft_to_m
from .kernel import GUTTER_Y
from .oil import CELL_M2, LANE_FT, Film
from .path import Release, launch_for_target, slide, starts_from
from .rigid import checkpoints_rigid

_STEP_S = 0.02  # s between points of a path, half a foot: straight in between is near enough


@dataclass(frozen=True)
class Throw:
    """One ball thrown, in its bowler's own count.

    ``other_hand`` is true for a bowler of the other hand than the film is counted for, who plays
    the lane from its other edge.
    """

    release: Release
    ball: BallSpec
    other_hand: bool = False


@dataclass(frozen=True)
class Rates:
    """How much oil an average ball moves; the module and ``constants.py`` say what is what."""

    uptake: float = UPTAKE
    carry: float = CARRY
    lay_ft: float = LAY_FT
    strip_boards: float = STRIP_BOARDS

    def of(self, cover: str) -> tuple[float, float]:
        """Return a cover's uptake at a clean contact, and the share of it that is laid again."""
        uptake, carry = COVER_WEAR[cover]
        return min(self.uptake * uptake, 1.0), min(self.carry * carry, 1.0)


@dataclass(frozen=True, eq=False)
class Worn:
    """A lane after some balls: its film, and how much oil went away with them, mL."""

    film: Film
    on_balls_ml: float


def after(
    film: Film,
    throws: Sequence[Throw],
    rates: Rates | None = None,
    law: SurfaceLaw = SURFACE_LAW,
) -> Film:
    """Return the film that the next ball meets after these throws, in order."""
    return deplete(film, throws, rates, law).film


def deplete(
    film: Film,
    throws: Sequence[Throw],
    rates: Rates | None = None,
    law: SurfaceLaw = SURFACE_LAW,
) -> Worn:
    """Throw balls one after another, each on the lane that the ones before have left.

    ``film`` is in the count of the bowlers for whom ``other_hand`` is false; the result keeps that
    count and the pattern's length. Paths are those of the reduced model, flares of the rigid one;
    ``law`` is how covers settle.
    """
    rates = rates or Rates()
    um = np.array(film.um, dtype=float)
    flares = _flares(film, throws, law)
    taken_um = 0.0
    for throw in throws:
        seen = um[::-1] if throw.other_hand else um
        boards, laps = _path(throw, Film(seen, film.length_ft), law)
        cover = throw.ball.filled().cover
        assert cover is not None
        uptake, carry = rates.of(cover)
        clean = min(1.0, flares[throw] / max(laps, 1.0) / CONTACT_IN)
        uptake *= REUSE_SHARE + (1.0 - REUSE_SHARE) * clean
        strip_in = BOARD_IN * rates.strip_boards * math.sqrt(2.0 * math.pi)
        peak = min(uptake * CONTACT_IN / strip_in, 1.0)
        taken_um += _pass(seen, boards, peak, carry, rates.lay_ft, rates.strip_boards)
    return Worn(Film(um, film.length_ft), float(taken_um * CELL_M2))


def _path(throw: Throw, film: Film, law: SurfaceLaw) -> tuple[NDArray[np.float64], float]:
    """Return the board at the middle of each foot, nan past the path's end, and the revolutions
    of the ball while it slips (from its mean surface speed)."""
    release, ball = throw.release, throw.ball
    start = starts_from(
        _launches([release]), release.rotation_deg, release.tilt_deg, BALL_RADIUS_M
    )[0]
    slid = slide(
        start, ball.k, lane_friction(film, ball, law=law), ft_to_m(LANE_FT), time_step=_STEP_S
    )
    time, x, y, _ = slid.track.T
    middles = (np.arange(LANE_FT) + 0.5) * FOOT_M
    boards = np.interp(middles, y, x) / BOARD_M + 0.5
    end = y[-1] if math.isnan(slid.found[GUTTER_Y]) else slid.found[GUTTER_Y]
    boards[middles > end] = np.nan
    ends = slid.rolling
    slips_for = float(time[-1] if ends is None else ends[0])
    turning = np.hypot(*(slid.start[1:3] - slid.start[3:5])), np.hypot(*(slid.velocity - slid.slip))
    return boards, float(np.mean(turning)) / (2.0 * math.pi * BALL_RADIUS_M) * slips_for


def _launches(releases: Sequence[Release]) -> NDArray[np.float64]:
    return np.array([[r.laydown, r.launch_deg, r.speed_mph, r.rev_rpm] for r in releases])


def _flares(film: Film, throws: Sequence[Throw], law: SurfaceLaw) -> dict[Throw, float]:
    """Return the flare of each ball, inches, on the lane as it is before the first of them."""
    alike: dict[tuple[BallSpec, bool], list[Throw]] = {}
    for throw in dict.fromkeys(throws):
        alike.setdefault((throw.ball, throw.other_hand), []).append(throw)
    flares: dict[Throw, float] = {}
    for (ball, other_hand), group in alike.items():
        seen = checkpoints_rigid(
            _launches([throw.release for throw in group]),
            np.array([throw.release.rotation_deg for throw in group]),
            np.array([throw.release.tilt_deg for throw in group]),
            ball,
            lane_friction(film.mirrored() if other_hand else film, ball, law=law),
        )
        flares.update(zip(group, seen[:, 7].tolist(), strict=True))
    return flares


@njit(cache=True)
def _pass(um, boards, peak, carry, lay_ft, strip):  # type: ignore[no-untyped-def]
    """Let one ball pass over ``um`` (39, 60), which is changed; return what it takes along.

    ``boards`` (60,) is where it is at the middle of each foot, nan past its end; ``peak`` the share
    of the film that it takes up at the middle of its strip. All amounts are um of film on one cell.
    """
    away = 0.0
    riding = 0.0
    laid = 1.0 - math.exp(-1.0 / lay_ft)
    reach = 5.0 * strip
    for foot in range(um.shape[1]):
        board = boards[foot]
        if math.isnan(board):
            break
        first = max(math.ceil(board - reach), 1)
        last = min(math.floor(board + reach), um.shape[0])
        whole = 0.0
        for b in range(first, last + 1):
            whole += math.exp(-0.5 * ((b - board) / strip) ** 2)
        down = riding * laid if whole > 0.0 else 0.0
        riding -= down
        up = 0.0
        for b in range(first, last + 1):
            weight = math.exp(-0.5 * ((b - board) / strip) ** 2)
            taken = peak * weight * um[b - 1, foot]
            um[b - 1, foot] += down * weight / whole - taken
            up += taken
        riding += carry * up
        away += (1.0 - carry) * up
    return away + riding


# Ordinary bowlers, invented: mean, sd and the ends of the range of each part of a release. Assumed.
_SPEED_MPH = (16.8, 1.2, 13.0, 20.0)
_REV_RPM = (300.0, 60.0, 120.0, 450.0)
_ROTATION_DEG = (50.0, 12.0, 15.0, 80.0)
_TILT_DEG = (13.0, 4.0, 2.0, 30.0)
_ARROWS = (10.0, 2.0, 5.0, 17.0)
# How many boards a ball crosses from laydown to arrows: more with more revs, and never inward.
_CROSSED, _CROSSED_PER_RPM, _CROSSED_SD = 6.0, 0.025, 1.0
_BALLS = tuple(
    BallSpec(f"an ordinary {cover}", cover) for cover in COVER_WEAR if cover != "plastic"
)
_BALL_SHARES = (0.30, 0.35, 0.25, 0.10)


def others(right: int, left: int, hand: str = "right", seed: int = 0) -> list[Throw]:
    """Return so many throws by right- and by left-handers on their ordinary lines, shuffled.

    Nobody in particular: an invented average (assumed). ``hand`` is the one that the film is
    counted for. The same seed gives the same throws.
    """
    rng = np.random.default_rng(seed)
    sides = rng.permutation(np.repeat([hand != "right", hand != "left"], [right, left]))
    return [_ordinary(rng, bool(side)) for side in sides]


def in_turns(*bowlers: Sequence[Throw]) -> list[Throw]:
    """Return the throws of several bowlers in one order, each spread evenly over the time."""
    turns = [
        ((n + 0.5) / len(throws), throw) for throws in bowlers for n, throw in enumerate(throws)
    ]
    return [throw for _, throw in sorted(turns, key=lambda turn: turn[0])]


def _ordinary(rng: np.random.Generator, other_hand: bool) -> Throw:
    def drawn(mean: float, sd: float, low: float, high: float) -> float:
        return float(np.clip(rng.normal(mean, sd), low, high))

    revs, arrows = drawn(*_REV_RPM), drawn(*_ARROWS)
    crossed = _CROSSED + _CROSSED_PER_RPM * (revs - _REV_RPM[0]) + rng.normal(0.0, _CROSSED_SD)
    laydown = arrows + max(crossed, 0.0)
    release = Release(
        drawn(*_SPEED_MPH),
        revs,
        drawn(*_ROTATION_DEG),
        drawn(*_TILT_DEG),
        laydown=laydown,
        launch_deg=launch_for_target(laydown, arrows),
    )
    return Throw(release, _BALLS[rng.choice(len(_BALLS), p=_BALL_SHARES)], other_hand)
