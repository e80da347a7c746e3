"""What may have changed during a session, and what each such thing foretells.

An explanation is a part of the game (the speed, the line, a part of the lane, a ball) with its own
mark on the check-points, the courses in time that it takes, and sizes that are worth telling. The
marks come from the motion model of the session (``physics.signatures``, ``physics.sensitivity``).
All priors here are assumed, from what is known of lanes and covers: a lane wears ball by ball, and
the drier it is, the more the next ball's wear tells (friction falls exponentially with the film);
a cover that was sanded, wiped or polished is another one from the next ball on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .noise import CHECKPOINTS, DOWN_LANE, PLACE
from .series import Sensitivity

Array = NDArray[np.float64]

CAUSES = ("throw", "lane", "ball")
LANE_PARTS = ("front", "mid", "back")
COURSES = ("step", "ramp", "bend")
RAMP_BALLS, BEND_BALLS = 40.0, 50.0  # balls after which a course has come to its size

_SHARE = {"throw": 0.38, "lane": 0.42, "ball": 0.20}  # of the changes that begin
_OF_THROW = {"speed_mph": 0.45, "arrows": 0.40, "laydown": 0.15}
# Of the lane's changes: the mid lane dries most, the front later; the back end loses by carrydown
# more often than it gains.
_OF_LANE = {("front", 1.0): 0.20, ("mid", 1.0): 0.45, ("back", 1.0): 0.12, ("back", -1.0): 0.23}
# Balls dry the whole of their track, front and mid together, as often as one part of it.
_WHOLE_TRACK = 0.5
_FASTER = 0.25  # of the changes of speed
_COURSE = {
    "throw": {"step": 0.20, "ramp": 0.65, "bend": 0.15},
    "dried": {"step": 0.10, "ramp": 0.40, "bend": 0.50},
    "back": {"step": 0.10, "ramp": 0.70, "bend": 0.20},
    "ball": {"step": 0.85, "ramp": 0.15, "bend": 0.00},
}
# Sizes: mph, boards, and boards at breakpoint or head pin, whichever moves further. Those of a lane
# hold what a trial of depletion moved the head pin in 40 shots, 1 to 5 boards (``motion.wear``).
_SIZES = {
    "speed_mph": (0.5, 0.8, 1.3, 2.0),
    "arrows": (0.3, 0.5, 0.8, 1.3, 2.0),
    "laydown": (0.3, 0.5, 0.8, 1.3, 2.0),
    "down lane": (1.0, 1.7, 2.8, 4.5),
}
# What else of a throw may move along, for each unit of what changed (sd).
_ALONG = {
    "speed_mph": {"rev_rpm": 12.0},
    "arrows": {"laydown": 0.4},
    "laydown": {"arrows": 0.3},
}
# Of what a mark foretells, as an sd; a lane moves the arrows by little, and surely no more.
_MARK_DOUBT, _MARK_DOUBT_AT_ARROWS = 0.35, 0.2
_LEAST_DOUBT = {
    "arrows": 0.05,
    "breakpoint": 0.3,
    "breakpoint_ft": 0.7,
    "head_pin": 0.3,
    "deck_exit": 1.0,
}

Mark = Mapping[str, float]

# Marks on an ordinary lane, for a session that the motion model did not see (assumed): boards, ft.
ROUGH_MARKS: dict[str, Mark] = {
    part: dict(zip(("arrows", *DOWN_LANE), row, strict=True))
    for part, row in {
        "front": (0.3, 1.0, -0.2, 1.1, 1.9),
        "mid": (0.0, 0.3, -0.5, 0.6, 1.1),
        "back": (0.0, 0.0, -0.1, 0.4, 0.7),
        "ball": (0.1, 0.7, -0.5, 1.0, 1.8),
    }.items()
}


@dataclass(frozen=True, eq=False)
class Explanation:
    """One explanation of one size: ``mean`` (c,) of what it moves, ``variance`` (c,) its doubt.

    ``cause`` is throw, lane or ball, ``what`` the throw's check-point, the lane's part or the
    ball's name. ``ball`` is set where only its shots are touched, ``way`` is 1 for more (an earlier
    hook) and -1 for less, ``weight`` the share of all changes, ``courses`` that of each course.
    """

    cause: str
    what: str
    ball: str | None
    way: float
    mean: Array
    variance: Array
    weight: float
    courses: Mapping[str, float]


def course(kind: str, place: int, index: NDArray[np.int64]) -> Array:
    """Return a change's course at places of the log, 0 before ``place`` and growing from there."""
    since = np.maximum(index - place + 1.0, 0.0)
    if kind == "step":
        return np.asarray((since > 0).astype(float))
    return np.asarray(since / RAMP_BALLS if kind == "ramp" else (since / BEND_BALLS) ** 2)


def explanations(
    sensitivity: Sensitivity, marks: Mapping[str, Mark], balls: Sequence[str], modelled: bool
) -> list[Explanation]:
    """Return every explanation that competes, weights adding up to 1.

    ``marks`` are those of the lane's parts and of a rougher cover, ``balls`` those that were thrown
    often enough to tell. Where the motion model did not see the session (``modelled`` is false), a
    lane that changes may move the ball either way.
    """
    found = [*_of_throw(sensitivity)]
    lane = _OF_LANE if modelled else {
        (part, way): 0.5 * sum(w for (p, _), w in _OF_LANE.items() if p == part)
        for part in LANE_PARTS for way in (1.0, -1.0)
    }  # fmt: skip
    track = {name: moved + marks["mid"][name] for name, moved in marks["front"].items()}
    for (part, way), share in lane.items():
        weight = _SHARE["lane"] * share
        if part == "back":
            found += _down_lane("lane", part, None, marks[part], way, weight, _COURSE["back"])
            continue
        for what, mark, of in (
            (part, marks[part], 1.0 - _WHOLE_TRACK),
            ("mid", track, _WHOLE_TRACK),  # named after the part where balls make their move
        ):
            found += _down_lane("lane", what, None, mark, way, weight * of, _COURSE["dried"])
    for ball in balls:
        weight = 0.5 * _SHARE["ball"] / len(balls)
        for way in (1.0, -1.0):
            found += _down_lane("ball", ball, ball, marks["ball"], way, weight, _COURSE["ball"])
    return found


def _of_throw(sensitivity: Sensitivity) -> Iterator[Explanation]:
    for what, share in _OF_THROW.items():
        mark = {what: 1.0} | {name: sensitivity.mean[name, what] for name in DOWN_LANE}
        for way in (1.0, -1.0):
            faster = _FASTER if way > 0 else 1.0 - _FASTER
            half = faster if what == "speed_mph" else 0.5
            for size in _SIZES[what]:
                mean, variance = _moved(mark, way * size)
                for name, sd in _ALONG[what].items():
                    variance[PLACE[name]] += (size * sd) ** 2
                weight = _SHARE["throw"] * share * half / len(_SIZES[what])
                yield Explanation(
                    "throw", what, None, way, mean, variance, weight, _COURSE["throw"]
                )


def _down_lane(
    cause: str,
    what: str,
    ball: str | None,
    mark: Mark,
    way: float,
    weight: float,
    courses: Mapping[str, float],
) -> Iterator[Explanation]:
    sizes = _SIZES["down lane"]
    one = max(abs(mark["head_pin"]), abs(mark["breakpoint"]), 1e-3)
    for size in sizes:
        mean, variance = _moved(mark, way * size / one)
        yield Explanation(
            cause, what, ball, way, mean, variance, weight / len(sizes), courses
        )  # fmt: skip


def _moved(mark: Mark, size: float) -> tuple[Array, Array]:
    mean, variance = np.zeros(len(CHECKPOINTS)), np.zeros(len(CHECKPOINTS))
    for name, value in mark.items():
        mean[PLACE[name]] = size * value
        doubt = _MARK_DOUBT_AT_ARROWS if name == "arrows" else _MARK_DOUBT
        variance[PLACE[name]] = (doubt * size * value) ** 2
    for name, least in _LEAST_DOUBT.items():
        variance[PLACE[name]] += least**2
    return mean, variance
