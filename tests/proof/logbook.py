"""What people write down of a session of the harness: readings with errors, rounded, with gaps.

Errors are Student's with three degrees of freedom, in the sizes that FACTS section 10 suggests (no
published figure was found); people round to halves and often to whole boards. The log with missing
fields holds the same readings with whole columns left out by habit and others by chance.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from lanes.reading.client import ClientFacts
from lanes.reading.shots import LoggedShot

from . import pins
from .ball import ANGLE, ARROWS, LOW, LOW_FT, PIN
from .scenarios import Scenario

_COLUMNS = {
    "four columns": ("arrows", "head_pin"),
    "four and speed": ("arrows", "head_pin", "speed_mph"),
    "breakpoint and speed": ("breakpoint", "breakpoint_ft", "head_pin", "speed_mph"),
    "lapses": (
        "laydown", "arrows", "breakpoint", "breakpoint_ft", "head_pin", "deck_exit", "speed_mph",
        "rev_rpm",
    ),
}  # fmt: skip
_LAPSE = {"lapses": 0.35}
_USUAL_GAP = 0.12


def clients(s: Scenario, rng) -> dict[str, ClientFacts]:
    told = {
        "speed_mph": round(s.speed_mph + 0.3 * rng.standard_normal(), 1),
        "rev_rpm": round(s.rev_rpm + 15 * rng.standard_normal()),
        "rotation_deg": round(s.rotation_deg + 5 * rng.standard_normal()),
        "tilt_deg": round(max(s.tilt_deg + 2 * rng.standard_normal(), 0.0)),
    }
    none = dict.fromkeys(told)
    return {
        "full": ClientFacts(s.hand, "usual", **told),
        "missing": ClientFacts(s.hand, "usual", **(told if s.release_known else none)),
    }


def logs(s: Scenario, play: Any, strength: float, thrown: np.ndarray, wild, rng):
    """Return the log with all fields and the one with gaps, from the same readings."""
    n = s.shots
    error = rng.standard_t(3, (7, n)) / np.sqrt(3.0)
    whole = rng.random((7, n)) < 0.35  # people like whole boards
    marked = wild & (rng.random(n) < 0.6)
    lapse = rng.random((9, n))
    slower = strength if s.kind == "slowing" else 0.0
    thrown_at = [
        play.student.throws(play.line(i)[0], play.misses[i : i + 1], play.course(i) * slower)[0]
        for i in range(n)
    ]
    speed = np.array([t[2] for t in thrown_at]) + 0.12 * rng.standard_normal(n)
    revs = np.array([t[3] for t in thrown_at]) + 10 * rng.standard_normal(n)
    laid = np.array([t[0] for t in thrown_at])

    def boards(row: int, values, sd: float, step: float) -> np.ndarray:
        read = values + sd * error[row]
        return np.where(whole[row], np.round(read), np.round(read / step) * step)

    cells = {
        "laydown": boards(0, laid, 0.35, 0.5),
        "arrows": boards(1, thrown[:, ARROWS], 0.5, 0.5),
        "breakpoint": boards(2, thrown[:, LOW], 1.1, 1.0),
        "breakpoint_ft": boards(3, thrown[:, LOW_FT], 2.0, 1.0),
        "head_pin": boards(4, thrown[:, PIN], 0.8, 0.5),
        "deck_exit": boards(
            5, pins.deck_exit(thrown[:, PIN], np.nan_to_num(thrown[:, ANGLE])), 1.2, 1.0
        ),
        "speed_mph": np.round(speed, 1),
        "rev_rpm": np.round(revs),
    }
    limits = {"deck_exit": (1.0, 39.0), "breakpoint": (0.0, 39.0), "breakpoint_ft": (15.0, 58.0),
              "head_pin": (-5.0, 45.0), "rev_rpm": (50.0, 700.0)}  # fmt: skip
    kept = _COLUMNS[s.habit]
    gap = _LAPSE.get(s.habit, _USUAL_GAP)
    full, missing = [], []
    for i in range(n):
        line, _ = play.line(i)
        found: dict[str, float | None] = {}
        for name, values in cells.items():
            value = float(values[i])
            low, high = limits.get(name, (-100.0, 100.0))
            found[name] = value if np.isfinite(value) and low <= value <= high else None
        if not s.revs_read:
            found["rev_rpm"] = None
        leave, neighbour = pins.leave(
            float(thrown[i, PIN]), float(thrown[i, ANGLE]), s.carry_logit, s.hand, rng
        )
        lane_number = 7 + i % 2 if s.pair else None
        common = {
            "shot": i + 1,
            "lane": lane_number,
            "ball": play.wares[play.order[i]].name,
            "throw": "off" if marked[i] else "",
        }
        full.append(
            LoggedShot(
                stand=line.stand,
                aim=line.aim,
                leave=leave,
                neighbour_pin=neighbour,
                **common,
                **found,
            )
        )
        some = {
            name: value if name in kept and lapse[j, i] >= gap else None
            for j, (name, value) in enumerate(found.items())
        }
        missing.append(
            LoggedShot(
                stand=line.stand if s.follows_after else None,
                aim=line.aim if s.follows_after or s.habit != "breakpoint and speed" else None,
                leave="" if lapse[8, i] < 0.04 else leave,
                **common,
                **some,
            )
        )
    return tuple(full), tuple(missing)
