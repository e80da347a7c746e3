"""The fit's unknowns, their prior, the normal equations, and the posterior with its draws.

A session has shared unknowns (release level, friction of each ball, the lane and its drift) and
each shot four of its own (laydown, launch, speed and rev rate off the level). A shot's own unknowns
meet only the shared ones, so the normal equations are arrow-shaped and are solved shot by shot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .oil import Film
from .seen import LanePrior, ReleasePrior

Array = NDArray[np.float64]

SHOTS_PER_STEP = 10.0  # drift is given per ten shots
LOCAL = 4
INPUTS = 9  # laydown, launch, speed, rev, rotation, log scale, log front, log mid, log back


@dataclass(frozen=True, eq=False)
class Layout:
    """Where each shared unknown stands, its prior, and how it enters a shot's path."""

    balls: int
    lanes: int
    first_order: float
    film: Film | None

    ROTATION = 0
    SPEED = 1
    REV = 2
    DISPLAY = 3
    STATE = 4  # front, mid, back at the first shot, then their drifts
    DRIFT = 7
    _FIRST_BALL = 10

    @property
    def size(self) -> int:
        return self._FIRST_BALL + self.balls + self.lanes - 1

    def ball(self, index: int) -> int:
        return self._FIRST_BALL + index

    def design(self, ball: int, order: float, lane: int) -> Array:
        """Return (9, size): how a shot's path inputs change with the shared unknowns."""
        design = np.zeros((INPUTS, self.size))
        design[2, self.SPEED] = 1.0
        design[3, self.REV] = 1.0
        design[4, self.ROTATION] = 1.0
        design[5, self.ball(ball)] = 1.0
        for i in range(3):
            design[6 + i, self.STATE + i] = 1.0
            design[6 + i, self.DRIFT + i] = (order - self.first_order) / SHOTS_PER_STEP
        if lane > 0:
            design[6:8, self._FIRST_BALL + self.balls + lane - 1] = 1.0
        return design

    def prior(self, release: ReleasePrior, lane: LanePrior) -> tuple[Array, Array]:
        """Return the prior's mean and precision of the shared unknowns."""
        mean = np.zeros(self.size)
        mean[[self.ROTATION, self.SPEED, self.REV]] = (
            release.rotation_deg,
            release.speed_mph,
            release.rev_rpm,
        )
        sd = np.full(self.size, lane.lane)
        sd[: self._FIRST_BALL] = (
            release.rotation_sd,
            release.speed_sd,
            release.rev_sd,
            release.display_sd,
            lane.front,
            lane.mid,
            lane.back,
            lane.front_drift,
            lane.mid_drift,
            lane.back_drift,
        )
        covariance = np.diag(sd**2)
        these = slice(self._FIRST_BALL, self._FIRST_BALL + self.balls)
        covariance[these, these] = lane.common**2 + np.eye(self.balls) * lane.ball**2
        return mean, np.linalg.inv(covariance)


@dataclass(frozen=True, eq=False)
class Posterior:
    """Laplace posterior: shared covariance, own covariance given it, and own's answer to it."""

    shared: Array  # (g, g)
    own: Array  # (n, 4, 4), the shared unknowns held
    response: Array  # (n, 4, g): own moves by minus this times the shared move


@dataclass(frozen=True, eq=False)
class System:
    """The normal equations of one round, arrow-shaped: a 4 x 4 block a shot, and the shared."""

    own: Array
    cross: Array
    shared: Array
    own_pull: Array
    shared_pull: Array
    slopes: Array

    def step(self, damping: float) -> tuple[Array, Array]:
        """Return the damped Gauss-Newton step of own (n, 4) and shared unknowns."""
        own = self.own * (1.0 + damping * np.eye(LOCAL))
        shared = self.shared * (1.0 + damping * np.eye(len(self.shared)))
        solved = np.linalg.solve(own, self.cross)
        pulled = np.linalg.solve(own, self.own_pull[:, :, None])[:, :, 0]
        schur = shared - np.einsum("nig,nih->gh", self.cross, solved)
        step = np.linalg.solve(schur, self.shared_pull - np.einsum("nig,ni->g", self.cross, pulled))
        return pulled - np.einsum("nig,g->ni", solved, step), step

    def posterior(self) -> Posterior:
        """Return the Laplace posterior at this point."""
        response = np.asarray(np.linalg.solve(self.own, self.cross), dtype=np.float64)
        schur = self.shared - np.einsum("nig,nih->gh", self.cross, response)
        shared = np.linalg.inv(schur)
        own = np.asarray(np.linalg.inv(self.own), dtype=np.float64)
        return Posterior(0.5 * (shared + shared.T), own, response)


@dataclass(frozen=True, eq=False)
class Draws:
    """``m`` draws from what the fit leaves possible, for intervals.

    ``launches`` (m, n, 4), ``rotation_deg`` (m,), ``speed_mph`` and ``rev_rpm`` (m,) the session's
    level, ``ball_scale`` (m, balls). ``factors_at`` gives the friction for the path functions.
    """

    launches: Array
    rotation_deg: Array
    tilt_deg: float
    speed_mph: Array
    rev_rpm: Array
    ball_scale: Array
    _globals: Array
    _layout: Layout

    def factors_at(self, order: float, ball: int, lane: int = 0) -> Array:
        """Return (m, 4): scale, front, mid, back at that point of the session."""
        design = self._layout.design(ball, order, lane)[5:]
        return np.exp(self._globals @ design.T)
