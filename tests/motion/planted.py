"""Made-up sessions whose truth is known: drawn from the fit's own priors, seen with errors.

Readings have Student t errors of the stated sizes and gaps. The paths are those of the reduced
model, or of rigid balls with layouts drawn at random, whose unequal moments the fit knows nothing
of.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lanes.motion import (
    BallSpec,
    LanePrior,
    ReadingError,
    ReleasePrior,
    SeenSession,
    SeenShot,
    lane_friction,
)
from lanes.motion.path import trace_launches
from lanes.motion.posterior import Layout, joint_prior
from lanes.motion.rigid import checkpoints_rigid

Array = NDArray[np.float64]

BALLS = [
    BallSpec("one", "solid", 2000, False, 2.52, 0.045),
    BallSpec("two", "pearl", 3000, True, 2.54, 0.040),
]
TILT_DEG = 12.0
LAYDOWN = 20.0
PRIOR = ReleasePrior.known(17.5, 340, 55, TILT_DEG)
LANE_PRIOR = LanePrior()
ERROR = ReadingError()
SHOTS = 40
GAPS = 0.2  # share of the readings that nobody wrote down
IN_A_ROW = 5  # shots with one ball before the other is taken
DIFFERENTIAL_IN = 0.050  # of the rigid balls


@dataclass(frozen=True, eq=False)
class Truth:
    """What was planted: arrays of n shots, logs of the frictions; ``rotation`` the session's."""

    launches: Array
    angle: Array
    head_pin: Array
    scale: Array  # log, by ball
    state: Array  # log: front, mid, back at the first shot
    drift: Array
    rotation: float

    def friction(self, ball: int, order: float) -> float:
        """Log of ball times lane friction beyond the oil."""
        return float(self.scale[ball] + self.state[2] + self.drift[2] * order / 10.0)


def planted(
    seed: int,
    n: int = SHOTS,
    gaps: float = GAPS,
    balls: int = 2,
    drift: list[float] | None = None,
    rigid: bool = False,
    laydown: float = LAYDOWN,
) -> tuple[Truth, list[SeenShot]]:
    """Return one made-up session: the truth, and what was seen of it."""
    (truth,), (session,) = planted_sessions(seed, 1, n, gaps, balls, drift, rigid, laydown)
    return truth, list(session.shots)


def planted_sessions(
    seed: int,
    sessions: int,
    n: int = SHOTS,
    gaps: float = GAPS,
    balls: int = 2,
    drift: list[float] | None = None,
    rigid: bool = False,
    laydown: float = LAYDOWN,
) -> tuple[list[Truth], list[SeenSession]]:
    """Return made-up sessions of one student on the same lanes and oil."""
    rng = np.random.default_rng(seed)
    layouts = [Layout(2, 1, 0.0, None) for _ in range(sessions)]
    specs = _rigid_balls(rng) if rigid else BALLS
    drawn = _within_bounds(rng, layouts)
    truths, seen = [], []
    for layout, unknown in zip(layouts, drawn, strict=True):
        change = slice(layout.DRIFT, layout.DRIFT + 3)
        if drift is not None:
            unknown[change] = drift
        truth, shots = _session(rng, layout, unknown, specs, n, gaps, balls, rigid, laydown)
        truths.append(truth)
        seen.append(SeenSession(shots))
    return truths, seen


def _within_bounds(rng: np.random.Generator, layouts: list[Layout]) -> list[Array]:
    """Draw the shared unknowns of all sessions until they lie within the calibration's bounds."""
    mean, covariance = joint_prior(layouts, PRIOR, LANE_PRIOR)
    low, high = (np.tile(end, len(layouts)) for end in layouts[0].bounds(BALLS))
    while True:
        drawn = rng.multivariate_normal(mean, covariance)
        if ((drawn >= low) & (drawn <= high)).all():
            return np.split(drawn, len(layouts))


def _rigid_balls(rng: np.random.Generator) -> list[BallSpec]:
    return [
        replace(
            ball,
            differential_in=DIFFERENTIAL_IN,
            pin_to_pap_in=rng.uniform(1.0, 6.0),
            angle_at_pin_deg=rng.uniform(20.0, 90.0),
            angle_at_pap_deg=rng.uniform(20.0, 70.0),
        )
        for ball in BALLS
    ]


def _session(
    rng: np.random.Generator,
    layout: Layout,
    unknown: Array,
    specs: list[BallSpec],
    n: int,
    gaps: float,
    balls: int,
    rigid: bool,
    laydown: float,
) -> tuple[Truth, list[SeenShot]]:
    scale = unknown[layout.ball(0) : layout.ball(2)]
    state = unknown[layout.STATE : layout.DRIFT]
    change = unknown[layout.DRIFT : layout.DRIFT + 3]
    rotation = float(unknown[layout.ROTATION])
    launches = np.column_stack(
        [
            rng.normal(laydown, 0.6, n),
            rng.normal(2.4, 0.35, n),
            rng.normal(unknown[layout.SPEED], PRIOR.speed_spread, n),
            rng.normal(unknown[layout.REV], PRIOR.rev_spread, n),
        ]
    )
    rotations = rng.spawn(1)[0].normal(rotation, PRIOR.rotation_spread, n)
    which = np.arange(n) // IN_A_ROW % balls
    states = state + change * np.arange(n)[:, None] / 10.0
    factors = np.exp(np.column_stack([scale[which], states]))
    true = np.empty((n, 5))
    for ball in range(balls):
        rows = which == ball
        lane = lane_friction(None, specs[ball])
        thrown = (launches[rows], rotations[rows], TILT_DEG, specs[ball], lane)
        if rigid:
            true[rows] = checkpoints_rigid(*thrown, factors=factors[rows])[:, :5]
        else:
            raw = trace_launches(*thrown, np.ascontiguousarray(factors[rows]))
            true[rows] = raw[:, [0, 1, 2, 4, 5]]
    display = unknown[layout.DISPLAY]
    seen = np.column_stack([launches[:, 0], true[:, :4], launches[:, 2] - display])
    seen = seen + rng.standard_t(4, seen.shape) * ERROR.as_array()[:6]
    seen[rng.random(seen.shape) < gaps] = math.nan
    shots = [SeenShot(int(which[i]), i, *map(float, seen[i])) for i in range(n)]
    return Truth(launches, true[:, 4], true[:, 3], scale, state, change, rotation), shots
