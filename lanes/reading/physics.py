"""The session as the motion model sees it: the fit, and what it says about throw and lane."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lanes.motion import BallSpec, checkpoints, lane_friction, speed_loss
from lanes.motion.fit import SessionFit, fit_session
from lanes.motion.geometry import DEG_PER_BOARD
from lanes.motion.oil import Film
from lanes.motion.seen import ReadingError, ReleasePrior, SeenShot

from .series import ROUGH_SENSITIVITY, Sensitivity
from .shots import LoggedShot

Array = NDArray[np.float64]

WATCHED = ("arrows", "breakpoint", "breakpoint_ft", "head_pin")
_COLUMNS = {"breakpoint": 1, "breakpoint_ft": 2, "head_pin": 3, "entry_angle": 4}
# How far the model's slopes are trusted: half of each, and never more than this closely.
_SLOPE_DOUBT = 0.5
_LEAST_DOUBT = {"arrows": 0.5, "laydown": 0.5, "speed_mph": 0.75, "rev_rpm": 0.01}
_MOVED = {"arrows": 0.7, "laydown": 0.7, "speed_mph": 0.5, "rev_rpm": 15.0}
PARTS = ("front", "mid", "back")
_PART_MOVED = 0.10  # relative change of a part's film or friction for its signature
MIN_SHOTS = 5  # first balls with something read down the lane, below which nothing is fitted


@dataclass(frozen=True, eq=False)
class Physics:
    """A fitted session: the fit, and for each of its shots the index into the session's log.

    ``thrown`` holds the number of the ball of each fitted shot.
    """

    fit: SessionFit
    index: NDArray[np.int64]
    thrown: NDArray[np.int64]
    balls: tuple[BallSpec, ...]
    lanes: tuple[int | None, ...]
    film: Film | None

    def usual_launch(self, rows: NDArray[np.int64] | None = None) -> Array:
        """Return the median fitted launch (4,) over some of the fit's shots (all by default)."""
        launches = self.fit.launches if rows is None else self.fit.launches[rows]
        return np.asarray(np.median(launches, axis=0))

    def entry_angles(self, length: int) -> tuple[Array, Array]:
        """Return entry angles and their sd for every shot of the log, nan where not fitted."""
        angle, sd = np.full(length, np.nan), np.full(length, np.nan)
        angle[self.index] = self.fit.entry_angle
        sd[self.index] = self.fit.entry_angle_sd
        return angle, sd


def fit_physics(
    shots: Sequence[LoggedShot],
    first: Sequence[bool],
    balls: Sequence[BallSpec],
    release: ReleasePrior,
    film: Film | None,
    reading_error: ReadingError,
    display: str = "unknown",
    balls_per_shot: float = 1.0,
) -> Physics | None:
    """Fit a session; ``None`` where too little was read down the lane.

    ``display`` is where the centre measures the speed that the shots hold; ``balls_per_shot`` how
    many balls of anybody wear the lane for each shot of the log.

    Only first deliveries with a ball that is in the list enter. Spares and second balls count in
    the order of shots, as they wear the lane too.
    """
    names = {ball.name: i for i, ball in enumerate(balls)}
    index = [
        i
        for i, shot in enumerate(shots)
        if first[i] and shot.ball in names and any(getattr(shot, w) is not None for w in WATCHED)
    ]
    down_lane = [i for i in index if shots[i].head_pin is not None]
    if len(down_lane) < MIN_SHOTS:
        return None
    lanes = tuple(dict.fromkeys(shots[i].lane for i in index))
    ball = balls[names[shots[index[0]].ball]]
    slower = speed_loss(
        display,
        release.speed_mph,
        release.rev_rpm,
        release.rotation_deg,
        release.tilt_deg,
        ball,
        lane_friction(film, ball),
    )
    seen = [_seen(shots[i], i, names, lanes, slower) for i in index]
    fit = fit_session(seen, balls, release, film, reading_error, balls_per_shot=balls_per_shot)
    thrown = np.array([shot.ball for shot in seen])
    return Physics(fit, np.array(index), thrown, tuple(balls), lanes, film)


def _seen(
    shot: LoggedShot,
    order: int,
    names: dict[str, int],
    lanes: tuple[int | None, ...],
    slower: float,
) -> SeenShot:
    def read(value: float | None) -> float:
        return math.nan if value is None else float(value)

    return SeenShot(
        ball=names[shot.ball],
        order=order,
        laydown=read(shot.laydown),
        arrows=read(shot.arrows),
        breakpoint=read(shot.breakpoint),
        breakpoint_ft=read(shot.breakpoint_ft),
        head_pin=read(shot.head_pin),
        speed_mph=read(shot.speed_mph) + slower,
        rev_rpm=read(shot.rev_rpm),
        lane=lanes.index(shot.lane),
    )


def _spread_launches(physics: Physics) -> tuple[Array, int, Array]:
    """Return launches around the usual one, the ball thrown most, and its lane factors (k, 4)."""
    fit = physics.fit
    ball = int(np.bincount(physics.thrown).argmax())
    usual = physics.usual_launch(np.flatnonzero(physics.thrown == ball))
    spread = np.repeat(usual[None, :], 5, axis=0)
    spread[:, 1] += np.array([-0.3, -0.15, 0.0, 0.15, 0.3])
    middle = float(np.median(physics.index))
    lane = fit.lane_at(middle, ball)
    return spread, ball, np.repeat(lane.factors[None, :], 5, axis=0)


def sensitivity(physics: Physics) -> Sensitivity:
    """Return the model's own slopes of each check-point, for this release, ball and lane.

    Averaged over launches near the usual one, by central differences. The deck exit is not in the
    model; its slopes stay the rough ones.
    """
    spread, ball, factors = _spread_launches(physics)
    mean, sd = dict(ROUGH_SENSITIVITY.mean), dict(ROUGH_SENSITIVITY.sd)
    for column, size in _MOVED.items():
        found = []
        for way in (1.0, -1.0):
            moved = spread.copy()
            if column == "arrows":
                moved[:, 1] -= way * size * DEG_PER_BOARD
            elif column == "laydown":
                moved[:, 0] += way * size
                moved[:, 1] += way * size * DEG_PER_BOARD
            else:
                moved[:, {"speed_mph": 2, "rev_rpm": 3}[column]] += way * size
            found.append(_trace(physics, moved, ball, factors))
        slopes = _means((found[0] - found[1]) / (2.0 * size))
        for name, place in _COLUMNS.items():
            if np.isfinite(slopes[place]):
                mean[name, column] = float(slopes[place])
                sd[name, column] = _LEAST_DOUBT[column] + _SLOPE_DOUBT * abs(float(slopes[place]))
    return Sensitivity(mean, sd)


def signatures(physics: Physics) -> dict[str, dict[str, float]]:
    """Return what less oil in front or mid, or more friction at the back, does to check-points.

    For each part the change of breakpoint (boards), breakpoint distance (ft) and head pin (boards)
    for one part changed by a tenth toward more friction.
    """
    spread, ball, factors = _spread_launches(physics)
    base = _trace(physics, spread, ball, factors)
    out = {}
    for column, part in enumerate(PARTS, start=1):
        moved = factors.copy()
        moved[:, column] *= 1.0 + (_PART_MOVED if part == "back" else -_PART_MOVED)
        change = _means(_trace(physics, spread, ball, moved) - base)
        out[part] = {
            name: float(np.nan_to_num(change[place]))
            for name, place in _COLUMNS.items()
            if name != "entry_angle"
        }
    return out


def _means(table: Array) -> Array:
    """Return each column's mean over what is known, nan where nothing is."""
    known = np.isfinite(table)
    count = known.sum(axis=0)
    total = np.where(known, table, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _trace(physics: Physics, launches: Array, ball: int, factors: Array) -> Array:
    fit = physics.fit
    lane = lane_friction(physics.film, physics.balls[ball])
    return checkpoints(launches, fit.rotation_deg, fit.tilt_deg, physics.balls[ball], lane, factors)
