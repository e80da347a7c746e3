"""A shot log made by the motion model, with scatter, reading error and a planted lane change.

48 first balls of a right-hander with ball A; from shot 21 on the oil is worn, so the same throw
hooks earlier and comes in higher. Leaves follow from where the ball met the pins.
"""

from __future__ import annotations

import csv
import io

import numpy as np

from lanes.motion import HOUSE, BallSpec, Lane, Release, lane_friction, launch_for_target, roll

SHOTS = 48
CHANGE_AT = 21
# A lane loses its oil ball by ball; one that lost it at once would look like a ball that changed.
WEARS_FOR, LOST = 20, 0.3
LAYDOWN, AIM = 20.5, 12.0
COLUMNS = [
    "shot",
    "ball",
    "aim",
    "laydown",
    "arrows",
    "breakpoint",
    "breakpoint_ft",
    "head_pin",
    "leave",
    "throw",
    "speed_mph",
]


def simulated_log(seed: int = 3) -> str:
    """Return the log as CSV text; the same seed gives the same log."""
    rng = np.random.default_rng(seed)
    ball = BallSpec("A", cover="solid", grit=2000, rg_in=2.52, differential_in=0.045, mass_lb=15)
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    for shot in range(1, SHOTS + 1):
        worn = min(max(shot - CHANGE_AT + 1, 0) / WEARS_FOR, 1.0)
        lane = lane_friction(HOUSE.film(), ball, 1.0 - LOST * worn)
        writer.writerow(_shot(shot, rng, ball, lane))
    return out.getvalue()


def _shot(shot: int, rng: np.random.Generator, ball: BallSpec, lane: Lane) -> dict[str, object]:
    off = rng.random() < 0.12
    target = AIM + (2.5 if off else 0.0) + rng.normal(0, 0.4)
    laydown = LAYDOWN + rng.normal(0, 0.4)
    speed = 17.5 + rng.normal(0, 0.2)
    path = roll(
        Release(speed, 350, 55, 12, laydown, launch_for_target(laydown, target)), ball, lane
    )

    def seen(value: float | None, error: float) -> float | str:
        return "" if value is None else round(2 * (value + rng.normal(0, error))) / 2

    return {
        "shot": shot,
        "ball": "A",
        "aim": AIM,
        "laydown": seen(laydown, 0.3),
        "arrows": seen(path.arrows_board, 0.3),
        "breakpoint": seen(path.breakpoint_board, 0.7),
        "breakpoint_ft": seen(path.breakpoint_ft, 1.0),
        "head_pin": seen(path.head_pin_board, 0.5),
        "leave": _leave(path.head_pin_board),
        "throw": "off" if off else "good",
        "speed_mph": round(speed, 1),
    }


def _leave(head_pin: float | None) -> str:
    if head_pin is None or not 12 < head_pin < 28:
        return "1-2-4-7"
    if head_pin < 16.5:
        return "2-8"
    if head_pin <= 18.5:
        return "X"
    return "4" if head_pin < 19.5 else "4-9"
