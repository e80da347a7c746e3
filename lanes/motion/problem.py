"""One session as the fit meets it: its readings, the paths that should explain them, and slopes."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .balls import BallSpec
from .friction import lane_friction
from .geometry import ARROWS_FT, DEG_PER_BOARD
from .path import launch_for_target, trace_launches
from .posterior import INPUTS, LOCAL, PATH_INPUTS, Eliminated, Layout, Posterior, System
from .seen import SEEN, ReadingError, ReleasePrior, SeenSession

Array = NDArray[np.float64]

T_FREEDOM = 4.0  # degrees of freedom of the reading errors' Student t (heavy tails, assumed)

_STEPS = np.array([0.05, 0.02, 0.05, 2.0, 0.5, 0.01, 0.02, 0.02, 0.01])
# Points at this many sd match a normal's mean, spread and fourth moment in each direction.
_REACH = math.sqrt(3.0)
_ASIDE = math.sqrt(1.5)  # ... and for two directions at once, so that the point lies as far out
_NEAR = 9  # neighbouring shots with the same ball that tell the usual line
# Boards between laydown and arrows on a line of which only one was read, or at the ends of one of
# which neither was: 2.5 deg of launch (assumed; published examples go 1 to 3 deg out).
_LAYDOWN, _FURTHER_OUT = 20.0, 8.0
# The assumed spread of laydown and launch about the usual line counts for so many shots.
_SPREAD_COUNTS = 5
_T_MAD = 1.098  # robust sd (1.4826 times the median size) of a Student t of four and scale 1


@dataclass(frozen=True, eq=False)
class View:
    """What a session's paths show at some point, and how that changes with their inputs.

    ``readings`` (n, 7) and ``slopes`` (n, 7, 10) in reading errors; ``lost`` (n, 7) is the variance
    that the slopes leave out; ``path_slopes`` (n, 6, 9) those of the path itself.
    """

    readings: Array
    slopes: Array
    lost: Array
    path_slopes: Array


class Problem:
    """The readings of one session and the paths that go with them."""

    def __init__(
        self,
        session: SeenSession,
        balls: Sequence[BallSpec],
        release: ReleasePrior,
        error: ReadingError,
        pooled: bool = False,
    ) -> None:
        """Take a session; ``pooled`` where others are fitted along, whose small leans add up."""
        shots = session.shots
        self.balls = tuple(balls)
        self.release = release
        self.pooled = pooled
        self.n = len(shots)
        self.sd = error.as_array()
        seen = np.array([[getattr(shot, name) for name in SEEN] for shot in shots])
        self.weight = np.array([shot.weight for shot in shots])[:, None] * np.isfinite(seen)
        self.seen = np.nan_to_num(seen)
        self.layout = Layout(
            balls=len(balls),
            lanes=1 + max(shot.lane for shot in shots),
            first_order=float(min(shot.order for shot in shots)),
            film=session.film,
            place=session.place,
            balls_per_shot=session.balls_per_shot,
            law=session.law,
            laydown_read=bool(self.weight[:, 0].any()),
        )
        self.ball = np.array([shot.ball for shot in shots])
        self.designs = np.array(
            [self.layout.design(shot.ball, shot.order, shot.lane) for shot in shots]
        )
        self.lanes = {
            index: lane_friction(session.film, self.balls[index], law=session.law)
            for index in sorted(set(self.ball.tolist()))
        }
        self.centre, self.own_sd = self._own_prior()

    # The shots' own prior --------------------------------------------------------------------

    def _own_prior(self) -> tuple[Array, Array]:
        """Centre and sd of each shot's own unknowns: laydown, launch, speed and rev off level.

        The centre is the running median of what was read. How far shots lie off it is told by the
        readings, with the assumed spread counting for five shots. Their reading error is left in,
        on the safe side; but where sessions are pooled it is taken off at the arrows, since a
        launch spread too wide hands what lane and release did to the throws, in each session alike.
        """
        laydown, arrows = self._usual(0), self._usual(1)
        if laydown is None:
            laydown = np.full(self.n, _LAYDOWN) if arrows is None else arrows + _FURTHER_OUT
        if arrows is None:
            arrows = laydown - _FURTHER_OUT
        centre = np.zeros((self.n, LOCAL))
        centre[:, 0] = laydown
        centre[:, 1] = [
            launch_for_target(a, b, ARROWS_FT) for a, b in zip(laydown, arrows, strict=True)
        ]
        release = self.release
        known = float(self.sd[1]) if self.pooled else 0.0
        sd = np.array(
            [
                self._spread(0, laydown, 1.0, release.laydown_spread),
                self._spread(1, arrows, DEG_PER_BOARD, release.launch_spread, known),
                release.speed_spread,
                release.rev_spread,
            ]
        )
        return centre, sd

    def _usual(self, column: int) -> Array | None:
        """Median of the nearest readings made with the same ball, else of all of the session."""
        has = self.weight[:, column] > 0
        if not has.any():
            return None
        usual = np.full(self.n, float(np.median(self.seen[has, column])))
        for ball in np.unique(self.ball):
            mine = np.flatnonzero(self.ball == ball)
            alike = np.flatnonzero(has & (self.ball == ball))
            if len(alike) >= 3:
                apart = np.abs(mine[:, None] - alike)
                near = alike[np.argsort(apart, axis=1, kind="stable")[:, :_NEAR]]
                usual[mine] = np.median(self.seen[near, column], axis=1)
        return usual

    def _spread(
        self, column: int, usual: Array, unit: float, assumed: float, error: float = 0.0
    ) -> float:
        """Robust spread of a reading about what is usual, in ``unit``, drawn to the assumed.

        ``error`` is the part of the reading's error that is taken off.
        """
        has = self.weight[:, column] > 0
        n = int(has.sum())
        if n == 0:
            return assumed
        off = float(np.median(np.abs(self.seen[:, column] - usual)[has]))
        read = (1.4826 * off) ** 2
        # Never less than half of what was read: the reading error is not known that well.
        own = max(read - (_T_MAD * error) ** 2, 0.25 * read) * unit**2
        return math.sqrt((_SPREAD_COUNTS * assumed**2 + n * own) / (_SPREAD_COUNTS + n))

    def start(self) -> Array:
        """Return own unknowns to begin with: the launch from laydown and arrows where read."""
        own = self.centre.copy()
        has = self.weight > 0
        own[has[:, 0], 0] = self.seen[has[:, 0], 0]
        for i in np.flatnonzero(has[:, 1]):
            own[i, 1] = launch_for_target(own[i, 0], self.seen[i, 1], ARROWS_FT)
        own[:, 1] = np.clip(own[:, 1], self.centre[:, 1] - 2.5, self.centre[:, 1] + 2.5)
        return own

    # The paths and what they show ------------------------------------------------------------

    def inputs(self, own: Array, shared: Array) -> Array:
        """Return each shot's path inputs (n, 10)."""
        inputs = np.asarray(self.designs @ shared)
        inputs[:, :LOCAL] += own
        return inputs

    def trace(self, inputs: Array) -> Array:
        """Return (..., 6) for inputs (n, ..., 9 or 10), a row a shot.

        The six: arrows, breakpoint, breakpoint ft, head pin, entry angle, slip.
        """
        found = np.empty((*inputs.shape[:-1], 6))
        for index, lane in self.lanes.items():
            rows = self.ball == index
            these = inputs[rows].reshape(-1, inputs.shape[-1])
            launches = these[:, :LOCAL].copy()
            launches[:, 2] = np.maximum(launches[:, 2], 3.0)
            launches[:, 3] = np.maximum(launches[:, 3], 0.0)
            raw = trace_launches(
                launches,
                these[:, 4],
                self.release.tilt_deg,
                self.balls[index],
                lane,
                np.exp(np.clip(these[:, 5:PATH_INPUTS], -2.0, 2.0)),
            )
            found[rows] = raw[:, [0, 1, 2, 4, 5, 6]].reshape(*inputs[rows].shape[:-1], 6)
        return found

    def shown(self, inputs: Array, found: Array) -> Array:
        """Return the seven readings (n, 7) that these paths would give without error."""
        columns = [inputs[:, 0], *found[:, :4].T, inputs[:, 2] - inputs[:, 9], inputs[:, 3]]
        return np.column_stack(columns)

    def residuals(self, shown: Array) -> Array:
        """Return (n, 7) readings less ``shown``, in reading errors; 0 where nothing was read."""
        return np.where(self.weight > 0, (self.seen - shown) / self.sd, 0.0)

    def cost(self, own: Array, residuals: Array) -> float:
        """Return minus the log posterior, less the shared unknowns' part."""
        tails = 0.5 * (T_FREEDOM + 1.0) * np.log1p(residuals**2 / T_FREEDOM)
        local = (own - self.centre) / self.own_sd
        return float(np.sum(self.weight * tails) + 0.5 * np.sum(local**2))

    def tangent(self, inputs: Array, found: Array) -> View:
        """Look at one point: readings there, and slopes by small steps."""
        moved = inputs[:, None, :PATH_INPUTS] + np.diag(_STEPS)
        slopes = (self.trace(moved) - found[:, None, :]) / _STEPS[None, :, None]
        slopes = np.nan_to_num(slopes.transpose(0, 2, 1))
        return self._view(self.shown(inputs, found), slopes, np.zeros((self.n, 6)))

    def bent(self, inputs: Array, found: Array, posterior: Posterior, view: View) -> Array:
        """Return (n, 7, 9): by how much a bending path makes each reading pull too hard.

        With residual r and slope s, what is wanted of a reading is the mean of ``s r`` over what is
        still possible (the stationary point of a Gaussian variational answer: Opper and Archambeau,
        Neural Computation 21, 2009). A look's mean slope times its mean residual leaves out their
        covariance, ``B S s`` for second slopes B and covariance S: where a path is steeper, its
        residual is spread wider too. Small for a shot, it is of one sign over all shots of all
        sessions.
        """
        root = self._root(posterior)
        aside = _ASIDE * root.transpose(0, 2, 1)
        at = inputs[:, None, :PATH_INPUTS]
        one, other = np.triu_indices(PATH_INPUTS)
        away = np.concatenate([aside[:, one] + aside[:, other], aside], axis=1)
        both = self.trace(np.concatenate([at + away, at - away], axis=1))[:, :, :4]
        up_and_down = both[:, : away.shape[1]] + both[:, away.shape[1] :]
        pairs, single = up_and_down[:, : len(one)], up_and_down[:, len(one) :]
        bend = pairs - single[:, one] - single[:, other] + 2.0 * found[:, None, :4]
        bends = np.zeros((self.n, 4, PATH_INPUTS, PATH_INPUTS))
        bends[:, :, one, other] = bend.transpose(0, 2, 1) / (2.0 * _ASIDE**2)
        bends[:, :, other, one] = bends[:, :, one, other]
        along = view.slopes[:, 1:5, :PATH_INPUTS] @ root  # in reading errors
        pull = np.einsum("nrij,nrj->nri", np.nan_to_num(bends), along)
        back = np.linalg.solve(root.transpose(0, 2, 1)[:, None], pull[..., None])[..., 0]
        bent = np.zeros((self.n, len(SEEN), PATH_INPUTS))
        bent[:, 1:5] = back / self.sd[1:5, None]
        return bent

    def _root(self, posterior: Posterior) -> Array:
        inputs = posterior.inputs()[:, :PATH_INPUTS, :PATH_INPUTS]
        return np.asarray(np.linalg.cholesky(inputs), dtype=np.float64)

    def secant(self, inputs: Array, found: Array, posterior: Posterior) -> View:
        """Look over the breadth of what is still possible: mean readings, and their regression.

        Central differences along the axes of the inputs' covariance, at sqrt(3) sd, as in the
        divided-difference filter (Norgaard, Poulsen and Ravn, Automatica 36, 2000).
        """
        root = self._root(posterior)
        away = _REACH * root.transpose(0, 2, 1)
        at = inputs[:, None, :PATH_INPUTS]
        both = self.trace(np.concatenate([at + away, at - away], axis=1))
        up, down = both[:, :PATH_INPUTS], both[:, PATH_INPUTS:]
        bend = (up + down - 2.0 * found[:, None, :]) / _REACH**2
        along = (up - down) / (2.0 * _REACH)
        slopes = np.asarray(np.linalg.solve(root.transpose(0, 2, 1), along)).transpose(0, 2, 1)
        lost = 0.25 * (_REACH**2 - 1.0) * np.sum(bend**2, axis=1)
        mean = found + 0.5 * bend.sum(axis=1)
        return self._view(self.shown(inputs, mean), np.nan_to_num(slopes), np.nan_to_num(lost))

    def _view(self, shown: Array, path_slopes: Array, lost: Array) -> View:
        slopes = np.zeros((self.n, len(SEEN), INPUTS))
        slopes[:, 0, 0] = 1.0
        slopes[:, 1:5, :PATH_INPUTS] = path_slopes[:, :4]
        slopes[:, 5, 2] = 1.0
        slopes[:, 5, 9] = -1.0
        slopes[:, 6, 3] = 1.0
        wide = np.zeros((self.n, len(SEEN)))
        wide[:, 1:5] = lost[:, :4] / self.sd[1:5] ** 2
        return View(shown, slopes / self.sd[:, None], wide, path_slopes)

    # Weights and equations -------------------------------------------------------------------

    def expected_squares(self, view: View, posterior: Posterior) -> Array:
        """Return (n, 7): the squared residuals to be expected over what is still possible."""
        doubt = np.einsum("nri,nij,nrj->nr", view.slopes, posterior.inputs(), view.slopes)
        return np.asarray(self.residuals(view.readings) ** 2 + doubt + view.lost)

    def system(self, own: Array, view: View, weight: Array, bent: Array | None = None) -> System:
        """Return the normal equations for these weights (n, 7) of the readings.

        ``bent`` (n, 7, 9) is taken off what the readings pull.
        """
        weight = self.weight * weight
        residuals = self.residuals(view.readings)
        local = view.slopes[:, :, :LOCAL]
        common = view.slopes @ self.designs
        pulled = (weight * residuals)[:, :, None]
        weighted = weight[:, :, None] * common
        flat = common.reshape(-1, common.shape[2])
        own_pull = (local.transpose(0, 2, 1) @ pulled)[:, :, 0]
        shared_pull = flat.T @ pulled.ravel()
        if bent is not None:
            less = np.einsum("nr,nri->ni", weight, bent)
            own_pull -= less[:, :LOCAL]
            shared_pull -= np.einsum("ni,nig->g", less, self.designs[:, :PATH_INPUTS])
        return System(
            own=local.transpose(0, 2, 1) @ (weight[:, :, None] * local)
            + np.diag(1.0 / self.own_sd**2),
            cross=local.transpose(0, 2, 1) @ weighted,
            shared=flat.T @ weighted.reshape(flat.shape),
            own_pull=own_pull - (own - self.centre) / self.own_sd**2,
            shared_pull=shared_pull,
        )

    def posterior(self, system: System, eliminated: Eliminated, shared: Array) -> Posterior:
        """Return the session's posterior for this covariance of its shared unknowns."""
        reach = self.designs.copy()
        reach[:, :LOCAL] -= eliminated.answer
        own = np.asarray(np.linalg.inv(system.own), dtype=np.float64)
        return Posterior(shared, own, reach)


def search_weight(residuals: Array) -> Array:
    """Return the weights of a Student t at its residuals: a reading far off counts for less."""
    return (T_FREEDOM + 1.0) / (T_FREEDOM + residuals**2)


def doubt_weight(squares: Array) -> Array:
    """Return what each reading tells, for these expected squared residuals.

    A Student t error is a normal one whose precision is not known. Its mean is ``w``; that it is
    not known takes a part of what a reading tells away, the missing information of Louis (Journal
    of the Royal Statistical Society B 44, 1982): ``2 w^2 r^2 / (freedom + 1)``. A reading so far
    off that nothing would be left, tells nothing.
    """
    mean = search_weight(np.sqrt(squares))
    return np.maximum(mean * (1.0 - 2.0 * mean * squares / (T_FREEDOM + 1.0)), 0.0)
