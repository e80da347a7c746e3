"""The fit's unknowns, their prior, the normal equations, and the posterior with its draws.

A session has shared unknowns (release level, friction of each ball, the lane and its drift, the
usual line with each ball) and each shot four of its own (laydown, launch, speed and rev rate off
what is usual). A shot's own unknowns meet only its session's, so the normal equations are
arrow-shaped and are solved shot by shot; sessions meet only in the prior of their shared unknowns.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .balls import BallSpec
from .constants import CALIBRATION
from .friction import SURFACE_LAW, SurfaceLaw
from .oil import Film
from .seen import LanePrior, ReleasePrior

Array = NDArray[np.float64]

SHOTS_PER_STEP = 10.0  # drift is given per ten balls
LOCAL = 4
# laydown, launch, speed, rev, rotation, log scale, log front, log mid, log back, display
INPUTS = 10
PATH_INPUTS = 9  # all but the display, which the ball does not feel

# The usual line with a ball against the running median of what was read: laydown in boards, launch
# in degrees. Wide, for what a ball hooks before the arrows, and so that an error of the medians is
# not taken for friction.
_LINE_SD = (0.7, 1.0)
# Where nobody read the laydown: so wide that the launch's own doubt says where it was (assumed).
_UNREAD_LAYDOWN_SD = 6.0


@dataclass(frozen=True, eq=False)
class Layout:
    """Where each shared unknown of a session stands, and how it enters a shot's path."""

    balls: int
    lanes: int
    first_order: float
    film: Film | None
    place: str = ""
    balls_per_shot: float = 1.0
    law: SurfaceLaw = SURFACE_LAW
    laydown_read: bool = True

    ROTATION = 0
    SPEED = 1
    REV = 2
    DISPLAY = 3
    STATE = 4  # front, mid, back at the first shot, then their drifts
    DRIFT = 7
    _FIRST_BALL = 10

    @property
    def size(self) -> int:
        return self._FIRST_BALL + 3 * self.balls + self.lanes - 1

    def ball(self, index: int) -> int:
        """Place of the log friction of a ball."""
        return self._FIRST_BALL + index

    def line(self, index: int) -> int:
        """Place of the usual laydown with a ball; the usual launch follows."""
        return self._FIRST_BALL + self.balls + 2 * index

    def lane(self, index: int) -> int:
        """Place of the log film of lane ``index`` (1 or more) against lane 0."""
        return self._FIRST_BALL + 3 * self.balls + index - 1

    def design(self, ball: int, order: float, lane: int) -> Array:
        """Return (10, size): how a shot's path inputs change with the shared unknowns."""
        design = np.zeros((INPUTS, self.size))
        design[0, self.line(ball)] = 1.0
        design[1, self.line(ball) + 1] = 1.0
        design[2, self.SPEED] = 1.0
        design[3, self.REV] = 1.0
        design[4, self.ROTATION] = 1.0
        design[5, self.ball(ball)] = 1.0
        for i in range(3):
            design[6 + i, self.STATE + i] = 1.0
            design[6 + i, self.DRIFT + i] = (order - self.first_order) / SHOTS_PER_STEP
        if lane > 0:
            design[6:8, self.lane(lane)] = 1.0
        design[9, self.DISPLAY] = 1.0
        return design

    def mean(self, release: ReleasePrior) -> Array:
        """Return the prior's mean."""
        mean = np.zeros(self.size)
        mean[self.ROTATION] = release.rotation_deg
        mean[self.SPEED] = release.speed_mph
        mean[self.REV] = release.rev_rpm
        return mean

    def effects(
        self, session: int, release: ReleasePrior, lane: LanePrior
    ) -> Iterator[tuple[int, Hashable, float]]:
        """Yield what moves the unknowns: place, name of the independent cause, and its sd.

        A cause named alike in several sessions or places is one and the same there.
        """
        levels = (
            (self.ROTATION, release.rotation_sd, release.rotation_between),
            (self.SPEED, release.speed_sd, release.speed_between),
            (self.REV, release.rev_sd, release.rev_between),
        )
        balls = [(self.ball(i), lane.ball, lane.ball_between) for i in range(self.balls)]
        for place, sd, between in (*levels, *balls):
            between = min(between, sd)
            yield place, place, math.sqrt(sd**2 - between**2)
            yield place, (session, place), between
        yield self.DISPLAY, (session, self.DISPLAY), release.display_sd
        laydown_sd = _LINE_SD[0] if self.laydown_read else _UNREAD_LAYDOWN_SD
        for i in range(self.balls):
            yield self.ball(i), ("common", self.place), lane.common
            yield self.line(i), (session, self.line(i)), laydown_sd
            yield self.line(i) + 1, (session, self.line(i) + 1), _LINE_SD[1]
        for i, sd in enumerate((lane.front, lane.mid, lane.back)):
            at = self.STATE + i
            yield at, (at, self.place), sd * math.sqrt(1.0 - lane.new_each_time)
            yield at, (session, at), sd * math.sqrt(lane.new_each_time)
        for i, sd in enumerate((lane.front_drift, lane.mid_drift, lane.back_drift)):
            yield self.DRIFT + i, (session, self.DRIFT + i), sd * self.balls_per_shot
        for i in range(1, self.lanes):
            yield self.lane(i), (session, self.lane(i)), lane.lane

    def bounds(self, balls: Sequence[BallSpec]) -> tuple[Array, Array]:
        """Return the lowest and highest value of each unknown: the bounds of the calibration.

        A ball's friction stays within those of the dry friction and of its cover, the back of the
        lane within those of the dry friction, front and mid (which multiply the film) within those
        of the film that a cover shrugs off. The rest is free.
        """
        low, high = np.full(self.size, -np.inf), np.full(self.size, np.inf)
        dry, soak = CALIBRATION["mu_dry"], CALIBRATION["soak"]
        for i, ball in enumerate(balls):
            cover = CALIBRATION[f"dry_{ball.filled().cover}"]
            low[self.ball(i)] = math.log(dry.low * cover.low / (dry.value * cover.value))
            high[self.ball(i)] = math.log(dry.high * cover.high / (dry.value * cover.value))
        front, back = slice(self.STATE, self.STATE + 2), self.STATE + 2
        low[front], high[front] = math.log(soak.value / soak.high), math.log(soak.value / soak.low)
        low[back], high[back] = math.log(dry.low / dry.value), math.log(dry.high / dry.value)
        return low, high


def joint_prior(
    layouts: Sequence[Layout], release: ReleasePrior, lane: LanePrior
) -> tuple[Array, Array]:
    """Return mean and covariance of the shared unknowns of all sessions, one after the other."""
    mean = np.concatenate([layout.mean(release) for layout in layouts])
    causes: dict[Hashable, Array] = {}
    offset = 0
    for session, layout in enumerate(layouts):
        for place, cause, sd in layout.effects(session, release, lane):
            causes.setdefault(cause, np.zeros(len(mean)))[offset + place] = sd
        offset += layout.size
    loadings = np.array(list(causes.values()))
    return mean, loadings.T @ loadings


@dataclass(frozen=True, eq=False)
class Posterior:
    """Gaussian posterior of one session.

    ``shared`` (g, g) is the covariance of the shared unknowns, ``own`` (n, 4, 4) that of each
    shot's own with the shared ones held, ``reach`` (n, 10, g) how a shot's path inputs move with
    the shared unknowns when its own answer as its readings ask.
    """

    shared: Array
    own: Array
    reach: Array

    def inputs(self) -> Array:
        """Return the covariance (n, 10, 10) of each shot's path inputs."""
        covariance = np.asarray(self.reach @ self.shared @ self.reach.transpose(0, 2, 1))
        covariance[:, :LOCAL, :LOCAL] += self.own
        return covariance


@dataclass(frozen=True, eq=False)
class System:
    """One session's normal equations of one round, without the prior of the shared unknowns.

    Arrow-shaped: ``own`` (n, 4, 4) a block a shot, ``cross`` (n, 4, g), ``shared`` (g, g), and what
    pulls at each.
    """

    own: Array
    cross: Array
    shared: Array
    own_pull: Array
    shared_pull: Array

    def eliminate(self, damping: float = 0.0) -> Eliminated:
        """Solve the shots' own unknowns for the shared ones."""
        own = self.own * (1.0 + damping * np.eye(LOCAL))
        both = np.concatenate([self.cross, self.own_pull[:, :, None]], axis=2)
        solved = np.asarray(np.linalg.solve(own, both), dtype=np.float64)
        answer, pulled = solved[:, :, :-1], solved[:, :, -1]
        flat = self.cross.reshape(-1, self.cross.shape[2])
        return Eliminated(
            matrix=self.shared - flat.T @ answer.reshape(flat.shape),
            pull=self.shared_pull - flat.T @ pulled.ravel(),
            answer=answer,
            pulled=pulled,
        )


@dataclass(frozen=True, eq=False)
class Eliminated:
    """What is left for the shared unknowns, and how each shot's own follow them."""

    matrix: Array
    pull: Array
    answer: Array
    pulled: Array

    def own_step(self, step: Array) -> Array:
        """Return the shots' own steps (n, 4) that go with a step of the shared unknowns."""
        return self.pulled - self.answer @ step


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
        design = self._layout.design(ball, order, lane)[5:PATH_INPUTS]
        return np.exp(self._globals @ design.T)
