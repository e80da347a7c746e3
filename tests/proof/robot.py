"""The measured robot rows through the reading: does it name the launch, and by how much?

The rows (18 settings of a throwing robot; published by USBC staff, "The Technician" no. 2; kept
in ``tests/motion/authorities``) as a shot log: one ball, one line meant, the middle of the
settings, and each setting a throw that left it. The published slope is 3.43 boards at the entry for
half a degree of launch (linear fit, FACTS section 4C), which is 1.476 boards at the arrows. The log
is weighed by what ``read_session`` does with it: the throw's part of each departure, its slopes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from lanes.motion import BallSpec
from lanes.reading import session as reading
from lanes.reading.causes import TARGET
from lanes.reading.client import ClientFacts
from lanes.reading.robust import huber
from lanes.reading.series import RESOLUTION, Sensitivity, column, levels, throw_columns
from lanes.reading.shots import LoggedShot
from tests.benchmarks.robot_table import rows

PUBLISHED = 3.43  # boards at the entry for half a degree of launch, laydown and speed held
_BOARD_IN = 41.5 / 39
HALF_DEGREE = float(np.tan(np.radians(0.5)) * 15 * 12 / _BOARD_IN)  # boards at the arrows
_MIDDLE = (19.0, -1.5, 18.5)
_MIDDLE_ENTRY = 19.6  # its entry board, as measured


@dataclass(frozen=True)
class Answer:
    """Boards for half a degree with a 90 % interval, and how often the throw was named first."""

    slope: float
    low: float
    high: float
    departures: int
    by_throw: int
    mean_throw: float
    mean_lane: float
    changes: int


def _arrows(laydown: float, launch_deg: float) -> float:
    """Board at 15 ft of a ball that has not hooked yet; the launch is negative outward."""
    return laydown + float(np.tan(np.radians(launch_deg)) * 15 * 12 / _BOARD_IN)


def log(shift: bool = False) -> tuple[LoggedShot, ...]:
    """Return the rows as a shot log of one ball and one line meant.

    The robot was not aimed at the pocket: its middle setting enters at 19.6. A departure from the
    pocket is then first of all the line's. ``shift`` counts boards from that setting, as if it met
    17.5, so that what is left to explain is what the settings changed.
    """
    aim = _arrows(*_MIDDLE[:2])
    off = _MIDDLE_ENTRY - TARGET if shift else 0.0
    return tuple(
        LoggedShot(
            n,
            ball="A",
            stand=_MIDDLE[0] + 6.0,
            aim=round(2 * aim) / 2,
            laydown=float(laydown),
            arrows=round(_arrows(laydown, launch), 2),
            head_pin=round(float(entry) - off, 2),
            speed_mph=float(speed),
        )
        for n, (laydown, launch, speed, entry, _angle) in enumerate(rows(), start=1)
    )


def read(shift: bool = False) -> Answer:
    """Read the log and return what it says of the launch."""
    shots = log(shift)
    reader = reading.Reader(
        shots, ClientFacts("right"), [BallSpec("A", "solid", 2000, False)], None, False, 1, None
    )
    found = reader.read().as_json()
    slope, sd, freedom = launch_slope(shots, reader.sensitivity)
    half = float(stdtrit(freedom, 0.95)) * sd
    told = [s["cause"] for s in found["shots"] if s["cause"]]
    return Answer(
        slope * HALF_DEGREE,
        (slope - half) * HALF_DEGREE,
        (slope + half) * HALF_DEGREE,
        len(told),
        sum(max(c, key=lambda kind: c[kind]) == "throw" for c in told),
        float(np.mean([c["throw"] for c in told])),
        float(np.mean([c["lane"] for c in told])),
        len(found["transition"]["changes"]),
    )


def launch_slope(shots, sensitivity: Sensitivity) -> tuple[float, float, int]:
    """Return boards at the head pin per board at the arrows, its sd and degrees of freedom.

    As the reading's split of causes fits it: Huber's estimate with the model's own slopes as what
    was known before.
    """
    use = np.ones(len(shots), dtype=bool)
    parts = throw_columns(shots, levels(shots), use)
    names = list(parts)
    design = np.column_stack([np.ones(len(shots)), *parts.values()])
    mean = [0.0] + [sensitivity.mean["head_pin", name] for name in names]
    precision = [0.0] + [sensitivity.sd["head_pin", name] ** -2 for name in names]
    fit = huber(
        design,
        column(shots, "head_pin"),
        np.array(mean),
        np.array(precision),
        RESOLUTION["head_pin"],
    )
    at = 1 + names.index("arrows")
    return float(fit.coef[at]), float(np.sqrt(fit.cov[at, at])), fit.dof
