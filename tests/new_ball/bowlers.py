"""Invented students for the checks: a log thrown by the motion model with scatter and misreadings.

The log by another model than the fit's is that of `tests.reading.simulator`.
"""

from __future__ import annotations

import numpy as np

from lanes.motion import BallSpec, checkpoints, lane_friction, launch_for_target
from lanes.reading.client import ClientFacts
from lanes.reading.moments import Lesson
from lanes.reading.shots import LoggedShot

SOLID = BallSpec("Solid", "solid", 2000.0, False, 2.50, 0.048, 0.0, 15.0, 4.0, games=10.0)
PLASTIC = BallSpec("Plastic", "plastic", 4000.0, True, 2.68, 0.005, 0.0, 15.0, 4.0, games=30.0)


def log(
    ball: BallSpec,
    *,
    laydown: float,
    target: float,
    speed: float,
    revs: float,
    rotation: float,
    shots: int = 50,
    seed: int = 1,
) -> list[LoggedShot]:
    """Return a log on an ordinary house pattern; one ball, one line, read to the half board."""
    rng = np.random.default_rng(seed)
    launches = np.column_stack(
        [
            laydown + 0.5 * rng.standard_normal(shots),
            launch_for_target(laydown, target) + 0.2 * rng.standard_normal(shots),
            speed + 0.3 * rng.standard_normal(shots),
            revs + 10.0 * rng.standard_normal(shots),
        ]
    )
    seen = checkpoints(launches, rotation, 12.0, ball, lane_friction(None, ball))

    def read(value: float, sd: float) -> float | None:
        if not np.isfinite(value):
            return None
        return float(np.clip(round(2 * (value + sd * rng.standard_normal())) / 2, 0.0, 40.0))

    return [
        LoggedShot(
            n + 1,
            ball=ball.name,
            stand=20.0,
            aim=target,
            laydown=read(launches[n, 0], 0.3),
            arrows=read(seen[n, 0], 0.4),
            head_pin=read(seen[n, 3], 0.7),
            speed_mph=round(float(launches[n, 2]), 1),
        )
        for n in range(shots)
    ]


def plastic_only(seed: int = 1, revs: float = 250.0, rotation: float = 40.0) -> Lesson:
    """A student who throws a plastic ball so fast that it hardly hooks."""
    shots = log(
        PLASTIC,
        laydown=14.5,
        target=14.5 if revs < 300.0 else 13.0,
        speed=19.0 if revs < 300.0 else 20.0,
        revs=revs,
        rotation=rotation,
        seed=seed,
    )
    client = ClientFacts("right", "usual", 19.0 if revs < 300.0 else 20.0, revs, rotation, 12.0)
    return Lesson("house", shots, client, [PLASTIC], ["1"], None)
