"""The measured robot rows through the reading: does it name the launch, and by how much?

The rows (18 settings of a throwing robot; published by USBC staff, "The Technician" no. 2; kept
in ``tests/motion/authorities``) as a shot log: one ball, one line meant, the middle of the
settings, and each setting a throw that left it. The published slope is 3.43 boards at the entry for
half a degree of launch (linear fit, FACTS section 4C). What is told comes from the reading's JSON:
what moved the hit from shot to shot, and the causes of single departures.

Settings of a robot are not misread as a person's boards are. They are read twice: as ``read_log``
would, with a person's reading errors, which finds the slope steeper and surer of less; and as what
they are.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from lanes.motion import BallSpec
from lanes.motion.seen import ReadingError
from lanes.reading import session as reading
from lanes.reading.causes import TARGET
from lanes.reading.client import ClientFacts
from lanes.reading.shots import LoggedShot
from tests.benchmarks.robot_table import rows

PUBLISHED = 3.43  # boards at the entry for half a degree of launch, laydown and speed held
_BOARD_IN = 41.5 / 39
SETTINGS = ReadingError(laydown=0.1, arrows=0.1, speed_mph=0.05)  # of a robot, assumed
_MIDDLE = (19.0, -1.5, 18.5)
_MIDDLE_ENTRY = 19.6  # its entry board, as measured


@dataclass(frozen=True)
class Answer:
    """What moved the hit most and how surely, the launch's boards for half a degree with a 90 %
    interval and its share of the scatter, and how often the throw was named first of a departure.
    """

    first: str | None
    p: float
    slope: float
    low: float
    high: float
    share: float
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


def read(shift: bool = False, error: ReadingError | None = None) -> Answer:
    """Read the log and return what it says of the launch."""
    balls = [BallSpec("A", "solid", 2000, False)]
    found = reading.read_session(
        log(shift), ClientFacts("right"), balls, None, reading_error=error
    ).as_json()
    movers = found["movers"]
    launch = next(part for part in movers["parts"] if part["what"] == "launch")
    told = [s["cause"] for s in found["shots"] if s["cause"]]
    return Answer(
        movers["first"],
        movers["p"],
        launch["boards"],
        *launch["boards_interval"],
        launch["share"],
        len(told),
        sum(max(c, key=lambda kind: c[kind]) == "throw" for c in told),
        float(np.mean([c["throw"] for c in told])),
        float(np.mean([c["lane"] for c in told])),
        len(found["transition"]["changes"]),
    )
