"""The path of a sliding, hooking and rolling ball: the reduced spherical model.

With equal moments of inertia the direction in which the ball's contact slips never turns, whatever
the friction map (the sliding sphere of any mechanics text; Coriolis 1835 for its parabola). So the
state is the place and one number, ``s``: the speed that friction has taken so far, the integral of
``mu g dt``. The velocity is ``v0 - e s`` with ``e`` the unit slip at release, until slip ends at
``s_end = |u0| k / (1 + k)``; then the ball rolls straight. **In this model the final direction and
speed depend on the release alone**: that is built in, not found.

Signs. ``x`` grows toward the weak side, so that a normal hook moves toward +x; ``y`` toward the
pins. ``launch_deg`` is positive outward, toward the strong-side gutter. ``rotation_deg`` is the
axis rotation against the line of launch: at 0 the ball rolls end over end along that line with its
positive axis end square to it on the weak side, at 90 the axis points back along the line and the
spin is all side roll. A negative rotation is a back-up ball. ``tilt_deg`` is how far the positive
axis end stands above the horizontal. Only the horizontal part of the spin, ``rev cos(tilt)``, moves
the contact point; the vertical part spins the ball in place and does nothing here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .balls import BallSpec
from .friction import Lane
from .geometry import (
    ARROWS_FT,
    BALL_RADIUS_M,
    BOARD_M,
    FOOT_M,
    GRAVITY,
    HEAD_PIN_FT,
    ft_to_m,
    m_to_board,
    mph_to_mps,
    mps_to_mph,
    rpm_to_radps,
)
from .kernel import (
    ARROWS_X,
    BREAK_INSIDE,
    BREAK_X,
    BREAK_Y,
    GUTTER_Y,
    MAX_STEPS,
    PIN_SLIP,
    PIN_VX,
    PIN_VY,
    PIN_X,
    RESULTS,
    ROLL_Y,
    trace,
    trace_many,
)

# The film cuts a step where it bends, which keeps a path within 0.01 board of the full equations
# (tests/motion/test_path_accuracy.py); a step takes no longer than this.
LONGEST_STEP = 0.15  # s
TRACK_STEP = 0.005  # s; where the path itself is wanted, so that it draws smoothly
# Boards off the line of launch at which a hook is seen: twice a trained eye's error of a board
# (assumed; a coaching page says that half a board cannot be told apart at 60 ft).
HOOK_SEEN_BOARDS = 2.0
BLOCK = 4096  # paths traced at a time: what lies between the kernel and the answer stays small

# Where the reduced model is asked about; outside these a release is a typing error.
LIMITS = {
    "speed_mph": (5.0, 35.0),
    "rev_rpm": (0.0, 800.0),
    "rotation_deg": (-120.0, 120.0),
    "tilt_deg": (0.0, 89.0),
    "laydown": (1.0, 39.0),
    "launch_deg": (-10.0, 10.0),
}


@dataclass(frozen=True)
class Release:
    """How the ball leaves the hand, in the bowler's own count (signs: see the module)."""

    speed_mph: float
    rev_rpm: float
    rotation_deg: float
    tilt_deg: float
    laydown: float
    launch_deg: float

    def __post_init__(self) -> None:
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(f"{name}: {value:g} given, {low:g} to {high:g} expected")


def launch_for_target(laydown: float, target: float, target_ft: float = ARROWS_FT) -> float:
    """Return the launch in degrees, outward positive, of the line from laydown to a target board.

    The line is straight: what the ball hooks before the target is not taken off.
    """
    return math.degrees(math.atan2((laydown - target) * BOARD_M, ft_to_m(target_ft)))


def starts_from(
    launches: NDArray[np.float64], rotation_deg: ArrayLike, tilt_deg: ArrayLike, radius: float
) -> NDArray[np.float64]:
    """Turn launches (n, 4: laydown board, launch_deg, mph, rpm) into (n, 5) starts in SI.

    A start is place, velocity and contact slip: x, v0x, v0y, ux, uy, with slip = velocity less the
    surface's roll velocity (omega x R, horizontal axis part only).
    """
    starts = np.empty((len(launches), 5))
    launch = np.radians(launches[:, 1])
    speed = launches[:, 2] * mph_to_mps(1.0)
    roll = launches[:, 3] * rpm_to_radps(1.0) * radius * np.cos(np.radians(tilt_deg))
    turn = np.radians(rotation_deg) - launch  # the axis is turned against the line of launch
    starts[:, 0] = (launches[:, 0] - 0.5) * BOARD_M
    starts[:, 1] = -speed * np.sin(launch)
    starts[:, 2] = speed * np.cos(launch)
    starts[:, 3] = starts[:, 1] - roll * np.sin(turn)
    starts[:, 4] = starts[:, 2] - roll * np.cos(turn)
    return starts


def trace_launches(
    launches: NDArray[np.float64],
    rotation_deg: ArrayLike,
    tilt_deg: ArrayLike,
    ball: BallSpec,
    lane: Lane,
    factors: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Trace launches (n, 4) and return raw results (n, 9), with no gutter cut-off.

    Columns: arrows board, breakpoint board, breakpoint ft, 1 where the breakpoint lies inside the
    path, head-pin board, entry angle in degrees, slip at the head pin in m/s; then the gutter ft
    (nan if none), and the speed at the head pin in mph. ``factors`` (n, 4) gives each path its own
    scale, front, mid and back. A launch with a nan in it has nan results; so has a ball that rolls
    back, at the pins.
    """
    n = len(launches)
    rotation, tilt = np.broadcast_to(rotation_deg, n), np.broadcast_to(tilt_deg, n)
    factors = np.broadcast_to(lane.factors if factors is None else factors, (n, 4))
    found = np.empty((n, 9))
    for first in range(0, n, BLOCK):
        rows = slice(first, first + BLOCK)
        starts = starts_from(launches[rows], rotation[rows], tilt[rows], BALL_RADIUS_M)
        results = np.empty((len(starts), RESULTS))
        trace_many(
            starts,
            ball.k,
            lane.film,
            lane.stride,
            lane.law,
            factors[rows].copy(),  # a view that cannot be written would be a kernel of its own
            ft_to_m(ARROWS_FT),
            ft_to_m(HEAD_PIN_FT),
            LONGEST_STEP,
            results,
        )
        found[rows] = as_seen(results)
    return found


def as_seen(results: NDArray[np.float64]) -> NDArray[np.float64]:
    """Turn a kernel's results (n, at least ``RESULTS``) into the columns of ``trace_launches``."""
    found = np.empty((len(results), 9))
    found[:, 0] = results[:, ARROWS_X] / BOARD_M + 0.5
    found[:, 1] = results[:, BREAK_X] / BOARD_M + 0.5
    found[:, 2] = results[:, BREAK_Y] / FOOT_M
    found[:, 3] = results[:, BREAK_INSIDE]
    found[:, 4] = results[:, PIN_X] / BOARD_M + 0.5
    found[:, 5] = np.degrees(np.arctan2(results[:, PIN_VX], results[:, PIN_VY]))
    found[:, 6] = results[:, PIN_SLIP]
    found[:, 7] = results[:, GUTTER_Y] / FOOT_M
    found[:, 8] = np.hypot(results[:, PIN_VX], results[:, PIN_VY]) / mph_to_mps(1.0)
    return found


def checkpoints(
    launches: NDArray[np.float64],
    rotation_deg: ArrayLike,
    tilt_deg: ArrayLike,
    ball: BallSpec,
    lane: Lane,
    factors: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """Return what would be seen of many launches at once, for one ball on one lane.

    ``launches`` has shape (n, 4): laydown board, launch in degrees outward, speed in mph, rev rate
    in rpm; ``rotation_deg`` and ``tilt_deg`` are numbers or arrays of n. ``factors`` (n, 4), if
    given, is each path's own friction scale, front, mid and back, in place of the lane's.
    Returns (n, 7): arrows board, breakpoint board, breakpoint ft, head-pin board, entry angle in
    degrees, contact slip at the pins in m/s and speed there in mph. A ball that drops into the
    gutter has nan in all but what it passed before; a breakpoint at an end of the path is nan.
    """
    raw = trace_launches(
        np.asarray(launches, dtype=float), rotation_deg, tilt_deg, ball, lane, factors
    )
    return cut_off(raw)


def cut_off(raw: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the columns of ``checkpoints`` from those of ``trace_launches``."""
    seen = raw[:, [0, 1, 2, 4, 5, 6, 8]]
    gutter = raw[:, 7]
    seen[raw[:, 3] == 0.0, 1:3] = np.nan
    seen[gutter <= ARROWS_FT, 0] = np.nan
    seen[gutter <= raw[:, 2], 1:3] = np.nan
    seen[np.isfinite(gutter), 3:] = np.nan
    return seen


@dataclass(frozen=True, eq=False)
class Path:
    """One ball's path: the keys of the ``roll`` command, and the path by distance.

    Boards in the bowler's own count, distances in ft from the foul line. ``breakpoint_board`` and
    ``breakpoint_ft`` are ``None`` where the point nearest the strong-side gutter is an end of the
    path. ``hook_start_ft`` is where a watcher sees the hook begin: the ball is two boards off
    the line of its launch, ``None`` if it never is before it rolls; ``roll_start_ft`` where slip
    ends, ``None`` if that is not before the pins. A ball in the gutter has ``gutter_at_ft``, a path
    that ends there, and nothing beyond.
    """

    arrows_board: float | None
    breakpoint_board: float | None
    breakpoint_ft: float | None
    head_pin_board: float | None
    entry_angle_deg: float | None
    speed_at_pins_mph: float | None
    hook_start_ft: float | None
    roll_start_ft: float | None
    time_s: float
    gutter_at_ft: float | None
    slip_at_pins_mps: float | None
    path_ft: NDArray[np.float64]
    path_board: NDArray[np.float64]
    path_mph: NDArray[np.float64]
    path_phase: list[str]

    @cached_property
    def points(self) -> list[dict[str, Any]]:
        """The path as the ``roll`` command prints it."""
        return [
            {"ft": float(ft), "board": float(board), "speed_mph": float(mph), "phase": phase}
            for ft, board, mph, phase in zip(
                self.path_ft, self.path_board, self.path_mph, self.path_phase, strict=True
            )
        ]


@dataclass(frozen=True, eq=False)
class Slide:
    """What became of one ball over a stretch of lane, in SI. ``track`` rows: time, x, y, s."""

    start: NDArray[np.float64]  # x, v0x, v0y, ux, uy
    track: NDArray[np.float64]
    found: NDArray[np.float64]
    heading: NDArray[np.float64]  # unit slip at the start
    k: float

    @property
    def velocity(self) -> NDArray[np.float64]:
        """Velocity at the end of the stretch, (2,)."""
        return np.asarray(self.start[1:3] - self.heading * self.track[-1, 3])

    @property
    def slip(self) -> NDArray[np.float64]:
        """Contact slip at the end of the stretch, (2,)."""
        return np.asarray(self.start[3:5] - self.heading * self.track[-1, 3] * (1 + 1 / self.k))

    @property
    def rolling(self) -> NDArray[np.float64] | None:
        """Time, x, y, s where slip ends, or ``None`` if the ball slips all the way."""
        if math.isnan(self.found[ROLL_Y]):
            return None
        return np.asarray(self.track[np.searchsorted(self.track[:, 2], self.found[ROLL_Y])])


def slide(
    start: NDArray[np.float64],
    k: float,
    lane: Lane,
    distance: float,
    gravity: float = GRAVITY,
    time_step: float = TRACK_STEP,
) -> Slide:
    """Follow one ball for ``distance`` metres: the low-level form of ``roll``, all in SI.

    ``start`` is (x, v0x, v0y, ux, uy): place, velocity, and contact slip, which is the velocity
    less the surface's roll velocity. ``k`` is I / m R^2.
    """
    out = np.empty(RESULTS)
    track = np.empty((MAX_STEPS + 2, 4))
    x, v0x, v0y, ux, uy = start
    rows = trace(
        x,
        v0x,
        v0y,
        ux,
        uy,
        k,
        gravity,
        lane.film,
        lane.stride,
        lane.law,
        lane.factors,
        min(ft_to_m(ARROWS_FT), distance),
        distance,
        time_step,
        out,
        track,
    )
    slip = float(np.hypot(start[3], start[4]))
    heading = start[3:5] / slip if slip > 0 else np.zeros(2)
    return Slide(start, track[:rows], out, heading, k)


def roll(release: Release, ball: BallSpec, lane: Lane) -> Path:
    """Roll one ball down the lane as far as the head-pin plane or the gutter."""
    launch = np.array(
        [[release.laydown, release.launch_deg, release.speed_mph, release.rev_rpm]], dtype=float
    )
    start = starts_from(launch, release.rotation_deg, release.tilt_deg, BALL_RADIUS_M)[0]
    return _path_from(slide(start, ball.k, lane, ft_to_m(HEAD_PIN_FT)))


def _path_from(slid: Slide) -> Path:
    start, heading = slid.start, slid.heading
    time, x, y, s = slid.track.T
    speed = np.hypot(start[1] - heading[0] * s, start[2] - heading[1] * s)
    return Path(**path_fields(time, x, y, speed, slid.found, float(start[1] / start[2])))


def path_fields(
    time: NDArray[np.float64],
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    speed: NDArray[np.float64],
    out: NDArray[np.float64],
    slope: float,
) -> dict[str, Any]:
    """Return the fields of ``Path`` from a track in SI and the results of its kernel.

    ``out`` holds at least ``kernel.RESULTS`` numbers; ``slope`` is how far across the lane the line
    of launch goes for each metre down it.
    """
    gutter_y = _number(out[GUTTER_Y])
    end_y = float(y[-1]) if gutter_y is None else gutter_y
    roll_y = _number(out[ROLL_Y])
    if roll_y is not None and roll_y >= end_y:
        roll_y = None
    last = end_y if roll_y is None else min(roll_y, end_y)
    hook_y = _hook_start(x, y, slope, last)
    feet = np.append(np.arange(0.0, math.ceil(end_y / FOOT_M - 1e-9)), end_y / FOOT_M)
    at = feet * FOOT_M
    phases = [
        "roll"
        if roll_y is not None and place >= roll_y
        else "hook"
        if hook_y is not None and place >= hook_y
        else "skid"
        for place in at
    ]
    broke = out[BREAK_INSIDE] == 1.0 and out[BREAK_Y] <= end_y
    arrived = gutter_y is None and not math.isnan(out[PIN_X])
    entry = math.degrees(math.atan2(out[PIN_VX], out[PIN_VY]))
    return {
        "arrows_board": m_to_board(float(out[ARROWS_X])) if end_y > ft_to_m(ARROWS_FT) else None,
        "breakpoint_board": m_to_board(float(out[BREAK_X])) if broke else None,
        "breakpoint_ft": float(out[BREAK_Y]) / FOOT_M if broke else None,
        "head_pin_board": m_to_board(float(out[PIN_X])) if arrived else None,
        "entry_angle_deg": entry if arrived else None,
        "speed_at_pins_mph": (
            mps_to_mph(math.hypot(out[PIN_VX], out[PIN_VY])) if arrived else None
        ),
        "hook_start_ft": None if hook_y is None else hook_y / FOOT_M,
        "roll_start_ft": None if roll_y is None else roll_y / FOOT_M,
        "time_s": float(np.interp(end_y, y, time)),
        "gutter_at_ft": None if gutter_y is None else gutter_y / FOOT_M,
        "slip_at_pins_mps": float(out[PIN_SLIP]) if arrived else None,
        "path_ft": feet,
        "path_board": np.interp(at, y, x) / BOARD_M + 0.5,
        "path_mph": np.interp(at, y, speed) / mph_to_mps(1.0),
        "path_phase": phases,
    }


def _hook_start(
    x: NDArray[np.float64],
    y: NDArray[np.float64],
    slope: float,
    last: float,
) -> float | None:
    """Return where the track first leaves the line of its launch by ``HOOK_SEEN_BOARDS``."""
    off = np.abs(x - x[0] - slope * (y - y[0]))
    beyond = np.flatnonzero(off >= HOOK_SEEN_BOARDS * BOARD_M)
    if not len(beyond):
        return None
    i = int(beyond[0])
    share = (HOOK_SEEN_BOARDS * BOARD_M - off[i - 1]) / (off[i] - off[i - 1])
    place = float(y[i - 1] + share * (y[i] - y[i - 1]))
    return place if place <= last else None


def _number(value: float) -> float | None:
    return None if math.isnan(value) else float(value)
