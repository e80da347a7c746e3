"""The session as the motion model sees it: the fit, and what it says about throw and lane."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lanes.motion import BallSpec, checkpoints, lane_friction, speed_loss
from lanes.motion.fit import (
    Earlier,
    SessionFit,
    fit_earlier,
    fit_next,
    fit_session,
    fit_sessions,
)
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw
from lanes.motion.geometry import DEG_PER_BOARD
from lanes.motion.oil import Film
from lanes.motion.seen import ReadingError, ReleasePrior, SeenSession, SeenShot

from .pooling import FEWEST_DOWN_LANE, EarlierSession, joined_balls
from .series import ROUGH_SENSITIVITY, Sensitivity
from .shots import LoggedShot, first_balls

Array = NDArray[np.float64]

WATCHED = ("arrows", "breakpoint", "breakpoint_ft", "head_pin")
_COLUMNS = {"breakpoint": 1, "breakpoint_ft": 2, "head_pin": 3, "entry_angle": 4}
# A mark holds the arrows too: on a dry front the ball has begun to turn before it crosses them.
_MARKED = {"arrows": 0, "breakpoint": 1, "breakpoint_ft": 2, "head_pin": 3}
# How far the model's slopes are trusted: half of each, and never more than this closely.
_SLOPE_DOUBT = 0.5
_LEAST_DOUBT = {"arrows": 0.5, "laydown": 0.5, "speed_mph": 0.75, "rev_rpm": 0.01}
_MOVED = {"arrows": 0.7, "laydown": 0.7, "speed_mph": 0.5, "rev_rpm": 15.0}
PARTS = ("front", "mid", "back")
_PART_MOVED = 0.10  # relative change of a part's film or friction for its signature


@dataclass(frozen=True, eq=False)
class Physics:
    """A fitted session: the fit, and for each of its shots the index into the session's log.

    ``thrown`` holds the number of the ball of each fitted shot. ``pooled`` are the earlier sessions
    that were fitted along, ``pooled_shots`` their fitted shots and ``rotations`` their axis
    rotation in degrees, ``alone`` what this session says by itself where there are any.
    """

    fit: SessionFit
    index: NDArray[np.int64]
    thrown: NDArray[np.int64]
    balls: tuple[BallSpec, ...]
    lanes: tuple[int | None, ...]
    film: Film | None
    law: SurfaceLaw = SURFACE_LAW
    pooled: tuple[EarlierSession, ...] = ()
    pooled_shots: int = 0
    alone: SessionFit | None = None
    rotations: tuple[float, ...] = ()

    def usual_launch(self, rows: NDArray[np.int64] | None = None) -> Array:
        """Return the median fitted launch (4,) over some of the fit's shots (all by default)."""
        launches = self.fit.launches if rows is None else self.fit.launches[rows]
        return np.asarray(np.median(launches, axis=0))

    def entry_angles(self, length: int) -> Array:
        """Return the path's entry angle for every shot of the log, nan where not fitted."""
        angle = np.full(length, np.nan)
        angle[self.index] = self.fit.entry_angle
        return angle


@dataclass(frozen=True, eq=False)
class Learned:
    """What earlier sessions left for one that is being thrown: their fit, and which they were."""

    fit: Earlier
    used: tuple[EarlierSession, ...]
    shots: int


def learn(
    balls: Sequence[BallSpec],
    earlier: Sequence[EarlierSession],
    release: ReleasePrior,
    hand: str = "right",
    law: SurfaceLaw = SURFACE_LAW,
) -> Learned | None:
    """Fit earlier sessions for one with these ``balls``; ``None`` where none tells enough.

    Depends on nothing that is thrown today, so it is done once in a session.
    """
    joined, used, others = _worth_pooling(balls, earlier, release, hand, law)
    if not others:
        return None
    count = sum(len(there.shots) for there in others)
    return Learned(fit_earlier(others, joined, release), tuple(used), count)


def fit_physics(
    shots: Sequence[LoggedShot],
    first: Sequence[bool],
    balls: Sequence[BallSpec],
    release: ReleasePrior,
    film: Film | None,
    reading_error: ReadingError,
    display: str = "unknown",
    balls_per_shot: float = 1.0,
    *,
    earlier: Sequence[EarlierSession] = (),
    hand: str = "right",
    place: str = "",
    learned: Learned | None = None,
    law: SurfaceLaw = SURFACE_LAW,
) -> Physics | None:
    """Fit a session; ``None`` where too little was read down the lane.

    ``display`` is where the centre measures the speed that the shots hold; ``balls_per_shot`` how
    many balls of anybody wear the lane for each shot of the log. ``earlier`` sessions of the same
    student, thrown with the same ``hand`` and release, are fitted along where enough was read in
    them; ``place`` tells whether one was on the same lanes and oil. Where the sessions do not
    agree in one fit, this one is left by itself. With what was ``learned`` of them before, they
    are not fitted again, which is quicker and says nearly the same (``motion.fit.fit_next``);
    ``earlier`` is then left out. ``law`` is how covers settle in this shop.

    Only first deliveries with a ball that is in the list enter. Spares and second balls count in
    the order of shots, as they wear the lane too.
    """
    names = {ball.name: i for i, ball in enumerate(balls)}
    index = _fitted_shots(shots, first, names)
    if not index:
        return None
    lanes = _lanes_of(shots, index)
    slower = _slower(display, release, balls[names[shots[index[0]].ball]], film, law)
    seen = [_seen(shots[i], i, names, lanes, slower) for i in index]
    mine = SeenSession(
        seen, film, _place(place, lanes), balls_per_shot, error=reading_error, law=law
    )
    if learned is not None:
        following = _next(mine, index, balls, lanes, learned)
        if following.fit.converged:
            return following
    fit = fit_session(
        seen, balls, release, film, reading_error, balls_per_shot=balls_per_shot, law=law
    )
    thrown = np.array([shot.ball for shot in seen])
    physics = Physics(fit, np.array(index), thrown, tuple(balls), lanes, film, law)
    if not earlier:
        return physics
    return _together(physics, mine, release, earlier, hand)


def _together(
    physics: Physics,
    mine: SeenSession,
    release: ReleasePrior,
    earlier: Sequence[EarlierSession],
    hand: str,
) -> Physics:
    """Fit a session anew with those earlier ones that tell something."""
    joined, used, others = _worth_pooling(physics.balls, earlier, release, hand, physics.law)
    if not others:
        return physics
    *before, fit = fit_sessions([*others, mine], joined, release)
    if physics.fit.converged and not fit.converged:
        return physics
    fit = _of_today(fit, len(physics.balls))
    count = sum(len(there.shots) for there in others)
    return replace(
        physics,
        fit=fit,
        pooled=tuple(used),
        pooled_shots=count,
        alone=physics.fit,
        rotations=tuple(one.rotation_deg for one in before),
    )


def _next(
    mine: SeenSession,
    index: Sequence[int],
    balls: Sequence[BallSpec],
    lanes: tuple[int | None, ...],
    learned: Learned,
) -> Physics:
    """Fit a session from what earlier ones left."""
    fit = _of_today(fit_next(learned.fit, mine), len(balls))
    thrown = np.array([shot.ball for shot in mine.shots])
    return Physics(
        fit,
        np.array(index),
        thrown,
        tuple(balls),
        lanes,
        mine.film,
        mine.law,
        learned.used,
        learned.shots,
    )


def _of_today(fit: SessionFit, balls: int) -> SessionFit:
    """Return the fit with today's balls alone, which come first among all."""
    return replace(
        fit,
        balls=fit.balls[:balls],
        ball_scale=fit.ball_scale[:balls],
        ball_scale_sd=fit.ball_scale_sd[:balls],
    )


def _worth_pooling(
    balls: Sequence[BallSpec],
    earlier: Sequence[EarlierSession],
    release: ReleasePrior,
    hand: str,
    law: SurfaceLaw,
) -> tuple[list[BallSpec], list[EarlierSession], list[SeenSession]]:
    """Return all balls, and those sessions that tell something, as they are and for the fit."""
    joined, places = joined_balls(balls, [session.balls for session in earlier])
    used, others = [], []
    for session, mapped in zip(earlier, places, strict=True):
        there = _earlier(session, mapped, joined, release, hand, law)
        if there is not None:
            used.append(session)
            others.append(there)
    return joined, used, others


def _earlier(
    session: EarlierSession,
    places: Sequence[int],
    joined: Sequence[BallSpec],
    release: ReleasePrior,
    hand: str,
    law: SurfaceLaw,
) -> SeenSession | None:
    """Return an earlier session for the fit, with its balls' places among all; or too little."""
    names = {ball.name: at for ball, at in zip(session.balls, places, strict=True)}
    index = _fitted_shots(session.shots, first_balls(session.shots), names)
    if not index:
        return None
    there = list(joined)  # the balls as they were that day: with the games of then
    for ball, at in zip(session.balls, places, strict=True):
        there[at] = ball
    lanes = _lanes_of(session.shots, index)
    film = session.pattern.film(hand) if session.pattern else None
    first = there[names[session.shots[index[0]].ball]]
    slower = _slower(session.display, release, first, film, law)
    return SeenSession(
        [_seen(session.shots[i], i, names, lanes, slower) for i in index],
        film,
        _place(session.place, lanes),
        session.balls_per_shot,
        there,
        session.reading_error,
        law,
    )


def _fitted_shots(
    shots: Sequence[LoggedShot], first: Sequence[bool], names: Mapping[str, int]
) -> list[int]:
    """Return the places of the shots to fit; none where too little was read down the lane."""
    index = [
        i
        for i, shot in enumerate(shots)
        if first[i] and shot.ball in names and any(getattr(shot, w) is not None for w in WATCHED)
    ]
    down_lane = sum(shots[i].head_pin is not None for i in index)
    return index if down_lane >= FEWEST_DOWN_LANE else []


def _lanes_of(shots: Sequence[LoggedShot], index: Sequence[int]) -> tuple[int | None, ...]:
    return tuple(dict.fromkeys(shots[i].lane for i in index))


def _place(place: str, lanes: Sequence[int | None]) -> str:
    """Return the place for the fit, which tells a session's state at its first lane."""
    return f"{place}, lane {lanes[0]}"


def _slower(
    display: str, release: ReleasePrior, ball: BallSpec, film: Film | None, law: SurfaceLaw
) -> float:
    """Return how much faster the ball left the hand than the display says, mph."""
    return speed_loss(
        display,
        release.speed_mph,
        release.rev_rpm,
        release.rotation_deg,
        release.tilt_deg,
        ball,
        lane_friction(film, ball, law=law),
    )


def _seen(
    shot: LoggedShot,
    order: int,
    names: Mapping[str, int],
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
    model; ``exits.with_exits`` says how it follows the head pin.
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
    """Return what less oil in front or mid, more friction at the back, or a rough cover does.

    For each part of the lane, changed by a tenth toward more friction, and for the ``ball`` thrown
    most, sanded at half the grit: the change at the arrows and of the breakpoint (boards), of the
    breakpoint's distance (ft) and of the head pin (boards).
    """
    spread, ball, factors = _spread_launches(physics)
    base = _trace(physics, spread, ball, factors)
    out = {}
    for column, part in enumerate(PARTS, start=1):
        moved = factors.copy()
        moved[:, column] *= 1.0 + (_PART_MOVED if part == "back" else -_PART_MOVED)
        out[part] = _mark(_trace(physics, spread, ball, moved) - base)
    spec = physics.balls[ball].filled()
    assert spec.grit is not None
    rough = replace(spec, grit=0.5 * spec.grit, polished=False, games=0.0)
    out["ball"] = _mark(_trace(physics, spread, ball, factors, rough) - base)
    return out


def _mark(change: Array) -> dict[str, float]:
    found = _means(change)
    return {name: float(np.nan_to_num(found[place])) for name, place in _MARKED.items()}


def _means(table: Array) -> Array:
    """Return each column's mean over what is known, nan where nothing is."""
    known = np.isfinite(table)
    count = known.sum(axis=0)
    total = np.where(known, table, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _trace(
    physics: Physics, launches: Array, ball: int, factors: Array, spec: BallSpec | None = None
) -> Array:
    """Return the check-points of launches with a ball of the session, or one like it (``spec``)."""
    fit, spec = physics.fit, spec or physics.balls[ball]
    lane = lane_friction(physics.film, spec, law=physics.law)
    return checkpoints(launches, fit.rotation_deg, fit.tilt_deg, spec, lane, factors)


def fit_each(
    sessions: Sequence[EarlierSession],
    places: Sequence[Sequence[int]],
    balls: Sequence[BallSpec],
    release: ReleasePrior,
    hand: str,
) -> list[Physics]:
    """Fit sessions of one student and release together; return each of them, in their order.

    ``places`` are for each session those of its balls among all ``balls``, by which every one of
    the results numbers them. Empty where a session has too little, or where the sessions do not
    agree in one fit.
    """
    seen = [
        _earlier(session, mapped, balls, release, hand, SURFACE_LAW)
        for session, mapped in zip(sessions, places, strict=True)
    ]
    enough = [one for one in seen if one is not None]
    if len(enough) < len(sessions):
        return []
    fits = fit_sessions(enough, balls, release)
    if not all(fit.converged for fit in fits):
        return []
    found = []
    for session, there, fit in zip(sessions, enough, fits, strict=True):
        index = [int(shot.order) for shot in there.shots]
        found.append(
            Physics(
                fit,
                np.array(index),
                np.array([shot.ball for shot in there.shots]),
                tuple(there.balls or balls),
                _lanes_of(session.shots, index),
                there.film,
            )
        )
    return found
