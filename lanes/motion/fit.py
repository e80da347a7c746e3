"""Find the launches and the friction that explain a session's seen boards.

One maximum a posteriori fit over the whole session. Each shot has its own launch (laydown, launch
direction, speed, rev rate); the session shares the release's level, each ball's friction, and the
lane's state with its drift. Readings have heavy-tailed errors (Student t), anything may be
missing, and no ball is cut off at the gutter inside the fit. The search is Gauss-Newton with the
shots' own unknowns eliminated one by one, so that its cost grows with the number of shots only.

What can be told, and what cannot: **only the product of ball and lane friction is seen**. The
split between them, and the friction's level, rest on the prior; ratios between balls thrown on the
same lane are surer. The doubts given are those of a Laplace approximation around the best fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .balls import BallSpec
from .friction import Lane, LaneState, lane_friction
from .geometry import ARROWS_FT
from .oil import Film
from .path import launch_for_target, trace_launches
from .posterior import INPUTS, LOCAL, Draws, Layout, Posterior, System
from .seen import SEEN, LanePrior, ReadingError, ReleasePrior, SeenShot

Array = NDArray[np.float64]

STATES = ("front", "mid", "back")

_T_FREEDOM = 4.0  # degrees of freedom of the reading errors' Student t (heavy tails, assumed)
_STEPS = np.array([0.05, 0.02, 0.05, 2.0, 0.5, 0.01, 0.02, 0.02, 0.01])
_MAX_ROUNDS = 25
_ENOUGH = 0.02  # a round that gains less than this of the log posterior is the last

# What the reduced model itself leaves out: unequal moments move the entry angle by 0.3 deg (a trial
# with random orientations). Taken as a doubt that all shots of a session share.
MODEL_ANGLE_SD = 0.3


@dataclass(frozen=True, eq=False)
class SessionFit:
    """The fitted session. ``n`` shots in the order given.

    - ``launches`` (n, 4) and ``launches_sd``: laydown board, launch in degrees outward, mph, rpm.
    - ``ball_scale`` and ``ball_scale_sd`` (balls,): friction against the prior for that ball.
    - ``states`` and ``states_sd`` (n, 3): front, mid, back at each shot (see ``LaneState``).
    - ``drift`` and ``drift_sd`` (3,): their relative change over ten shots.
    - ``predicted`` (n, 4): arrows, breakpoint, breakpoint ft, head pin of the fitted path.
    - ``entry_angle`` and ``entry_angle_sd`` (n,), degrees; ``entry_angle_own_sd`` is the doubt
      that the shots do not share, for comparing one shot of the session with another.
    - ``head_pin`` and ``head_pin_sd`` (n,), boards; ``slip`` (n,) contact slip at the pins, m/s.
    - ``residual_sd``: robust size of what the fit leaves over, by check-point.
    """

    balls: tuple[BallSpec, ...]
    launches: Array
    launches_sd: Array
    rotation_deg: float
    rotation_sd: float
    tilt_deg: float
    ball_scale: Array
    ball_scale_sd: Array
    states: Array
    states_sd: Array
    drift: Array
    drift_sd: Array
    predicted: Array
    entry_angle: Array
    entry_angle_sd: Array
    entry_angle_own_sd: Array
    head_pin: Array
    head_pin_sd: Array
    slip: Array
    residual_sd: dict[str, float]
    notes: list[str]
    converged: bool
    _globals: Array = field(repr=False)
    _posterior: Posterior = field(repr=False)
    _layout: Layout = field(repr=False)

    @cached_property
    def _lanes(self) -> dict[int, Lane]:
        return {
            index: lane_friction(self._layout.film, ball) for index, ball in enumerate(self.balls)
        }

    def lane_at(self, order: float, ball: int, lane: int = 0) -> Lane:
        """Return the lane as ball number ``ball`` would meet it after ``order`` balls."""
        factors = np.exp(self._layout.design(ball, order, lane)[5:] @ self._globals)
        scale, front, mid, back = (float(value) for value in factors)
        return self._lanes[ball].with_state(LaneState(front, mid, back), scale)

    def ball_ratio(self, one: int, other: int) -> tuple[float, float]:
        """Return the friction of ball ``one`` against ``other``, both over their priors, and sd."""
        a, b = self._layout.ball(one), self._layout.ball(other)
        covariance = self._posterior.shared
        variance = covariance[a, a] + covariance[b, b] - 2.0 * covariance[a, b]
        ratio = math.exp(self._globals[a] - self._globals[b])
        return ratio, ratio * math.sqrt(max(variance, 0.0))

    def draws(self, m: int, seed: int) -> Draws:
        """Return ``m`` draws from the posterior; the same seed gives the same draws."""
        rng = np.random.default_rng(seed)
        layout, posterior = self._layout, self._posterior
        root = np.linalg.cholesky(posterior.shared)
        off = rng.standard_normal((m, len(self._globals))) @ root.T
        shared = self._globals + off
        n = len(self.launches)
        own_root = np.linalg.cholesky(posterior.own)
        own = np.einsum("nij,mnj->mni", own_root, rng.standard_normal((m, n, LOCAL)))
        own -= np.einsum("nig,mg->mni", posterior.response, off)
        launches = self.launches + own
        launches[:, :, 2] += off[:, layout.SPEED, None]
        launches[:, :, 3] += off[:, layout.REV, None]
        launches[:, :, 3] = np.maximum(launches[:, :, 3], 0.0)
        first = layout.ball(0)
        return Draws(
            launches=launches,
            rotation_deg=shared[:, layout.ROTATION],
            tilt_deg=self.tilt_deg,
            speed_mph=shared[:, layout.SPEED],
            rev_rpm=shared[:, layout.REV],
            ball_scale=np.exp(shared[:, first : first + len(self.balls)]),
            _globals=shared,
            _layout=layout,
        )


def fit_session(
    shots: Sequence[SeenShot],
    balls: Sequence[BallSpec],
    release: ReleasePrior,
    film: Film | None,
    reading_error: ReadingError | None = None,
    lane_prior: LanePrior | None = None,
) -> SessionFit:
    """Fit one student's session.

    ``balls`` are all balls at hand (a ball that was not thrown keeps its prior, moved by what the
    others say of the lane); ``film`` is the oil in the bowler's own count, ``None`` for the
    ordinary house pattern. Raises ``ValueError`` without shots or for a ball index out of range.
    """
    if not shots:
        raise ValueError("shots: at least one shot expected")
    if any(not 0 <= shot.ball < len(balls) for shot in shots):
        raise ValueError("shots: a ball that is not in the list of balls")
    problem = _Problem(
        shots, balls, release, film, reading_error or ReadingError(), lane_prior or LanePrior()
    )
    return problem.solve()


class _Problem:
    """The fit's data and its search."""

    def __init__(
        self,
        shots: Sequence[SeenShot],
        balls: Sequence[BallSpec],
        release: ReleasePrior,
        film: Film | None,
        error: ReadingError,
        lane_prior: LanePrior,
    ) -> None:
        self.shots = shots
        self.balls = tuple(balls)
        self.release = release
        self.n = len(shots)
        first = float(min(shot.order for shot in shots))
        self.layout = Layout(len(balls), 1 + max(shot.lane for shot in shots), first, film)
        self.seen = np.array([[getattr(shot, name) for name in SEEN] for shot in shots])
        self.sd = error.as_array()
        self.weight = np.array([shot.weight for shot in shots])[:, None] * np.isfinite(self.seen)
        self.seen = np.nan_to_num(self.seen)
        self.ball = np.array([shot.ball for shot in shots])
        self.designs = np.array(
            [self.layout.design(shot.ball, shot.order, shot.lane) for shot in shots]
        )
        self.mean, self.precision = self.layout.prior(release, lane_prior)
        self.lanes = {
            index: lane_friction(film, self.balls[index]) for index in set(self.ball.tolist())
        }
        self.centre, self.own_sd = self._own_prior()

    def _own_prior(self) -> tuple[Array, Array]:
        """Centre and sd of each shot's own unknowns: laydown, launch, speed and rev off level."""
        laydown = self._usual(0, 20.0)
        arrows = self._usual(1, 12.0)
        centre = np.zeros((self.n, LOCAL))
        centre[:, 0] = laydown
        centre[:, 1] = [
            launch_for_target(a, b, ARROWS_FT) for a, b in zip(laydown, arrows, strict=True)
        ]
        sd = np.array([1.0, 0.8, self.release.speed_spread, self.release.rev_spread])
        return centre, sd

    def _usual(self, column: int, fallback: float) -> Array:
        """Median of the nearest readings made with the same ball, else of all of the session."""
        has = self.weight[:, column] > 0
        everywhere = float(np.median(self.seen[has, column])) if has.any() else fallback
        usual = np.full(self.n, everywhere)
        for i in range(self.n):
            alike = np.flatnonzero(has & (self.ball == self.ball[i]))
            if len(alike) >= 3:
                near = alike[np.argsort(np.abs(alike - i), kind="stable")[:9]]
                usual[i] = np.median(self.seen[near, column])
        return usual

    # The path and its slopes -----------------------------------------------------------------

    def _inputs(self, own: Array, shared: Array) -> Array:
        inputs = np.einsum("nig,g->ni", self.designs, shared)
        inputs[:, :LOCAL] += own
        return inputs

    def _trace(self, inputs: Array, ball: NDArray[np.int64]) -> Array:
        """Return (n, 6): arrows, breakpoint, breakpoint ft, head pin, entry angle, slip."""
        found = np.empty((len(inputs), 6))
        for index in np.unique(ball):
            rows = ball == index
            these = inputs[rows]
            launches = these[:, :LOCAL].copy()
            launches[:, 2] = np.maximum(launches[:, 2], 3.0)
            launches[:, 3] = np.maximum(launches[:, 3], 0.0)
            raw = trace_launches(
                launches,
                these[:, 4],
                self.release.tilt_deg,
                self.balls[index],
                self.lanes[int(index)],
                np.exp(np.clip(these[:, 5:], -2.0, 2.0)),
            )
            found[rows] = raw[:, [0, 1, 2, 4, 5, 6]]
        return found

    def _slopes(self, inputs: Array, found: Array) -> Array:
        """Return (n, 6, 9): how what the path shows changes with its inputs."""
        moved = np.repeat(inputs[:, None, :], INPUTS, axis=1)
        moved[:, range(INPUTS), range(INPUTS)] += _STEPS
        away = self._trace(moved.reshape(-1, INPUTS), np.repeat(self.ball, INPUTS))
        slopes = (away.reshape(self.n, INPUTS, 6) - found[:, None, :]) / _STEPS[None, :, None]
        return np.nan_to_num(slopes.transpose(0, 2, 1))

    def _residuals(self, shared: Array, inputs: Array, found: Array) -> Array:
        """Return (n, 7) readings less prediction, in reading errors; 0 where nothing was read."""
        shown = np.column_stack(
            [
                inputs[:, 0],
                found[:, 0],
                found[:, 1],
                found[:, 2],
                found[:, 3],
                inputs[:, 2] - shared[self.layout.DISPLAY],
                inputs[:, 3],
            ]
        )
        return np.where(self.weight > 0, (self.seen - shown) / self.sd, 0.0)

    def _cost(self, own: Array, shared: Array, residuals: Array) -> float:
        tails = 0.5 * (_T_FREEDOM + 1.0) * np.log1p(residuals**2 / _T_FREEDOM)
        away = shared - self.mean
        local = (own - self.centre) / self.own_sd
        total = np.sum(self.weight * tails) + 0.5 * np.sum(local**2)
        return float(total + 0.5 * away @ self.precision @ away)

    # The search ------------------------------------------------------------------------------

    def solve(self) -> SessionFit:
        own, shared = self._start()
        inputs = self._inputs(own, shared)
        found = self._trace(inputs, self.ball)
        residuals = self._residuals(shared, inputs, found)
        cost = self._cost(own, shared, residuals)
        damping = 1e-3
        converged = False
        for _ in range(_MAX_ROUNDS):
            system = self._system(own, shared, inputs, found, residuals)
            improved = False
            for _ in range(8):
                step_own, step_shared = system.step(damping)
                new_own, new_shared = own + step_own, shared + step_shared
                new_inputs = self._inputs(new_own, new_shared)
                new_found = self._trace(new_inputs, self.ball)
                new_residuals = self._residuals(new_shared, new_inputs, new_found)
                new_cost = self._cost(new_own, new_shared, new_residuals)
                if new_cost <= cost:
                    improved = True
                    break
                damping = max(damping, 1e-3) * 8.0
            if not improved:
                converged = True  # no step goes down: at the bottom to within the slopes' noise
                break
            gain = cost - new_cost
            own, shared, inputs, found = new_own, new_shared, new_inputs, new_found
            residuals, cost = new_residuals, new_cost
            damping = max(damping / 8.0, 1e-6)
            if gain < _ENOUGH:
                converged = True
                break
        system = self._system(own, shared, inputs, found, residuals, for_doubt=True)
        return self._result(shared, inputs, found, residuals, system, converged)

    def _start(self) -> tuple[Array, Array]:
        """Launch from laydown and arrows where they were read; everything else at the prior."""
        own = self.centre.copy()
        has = self.weight > 0
        own[has[:, 0], 0] = self.seen[has[:, 0], 0]
        for i in np.flatnonzero(has[:, 1]):
            own[i, 1] = launch_for_target(own[i, 0], self.seen[i, 1], ARROWS_FT)
        own[:, 1] = np.clip(own[:, 1], self.centre[:, 1] - 2.5, self.centre[:, 1] + 2.5)
        return own, self.mean.copy()

    def _system(
        self,
        own: Array,
        shared: Array,
        inputs: Array,
        found: Array,
        residuals: Array,
        for_doubt: bool = False,
    ) -> System:
        slopes = self._slopes(inputs, found)
        full = np.zeros((self.n, len(SEEN), INPUTS))
        full[:, 1:5] = slopes[:, :4]
        full[:, 0, 0] = 1.0
        full[:, 5, 2] = 1.0
        full[:, 6, 3] = 1.0
        local = full[:, :, :LOCAL] / self.sd[:, None]
        common = np.einsum("nri,nig->nrg", full, self.designs)
        common[:, 5, self.layout.DISPLAY] -= 1.0
        common /= self.sd[:, None]
        # Weights of the Student t: a reading far off is listened to less.
        weight = (_T_FREEDOM + 1.0) / (_T_FREEDOM + residuals**2)
        if for_doubt:
            # A fit's own residuals are too small to weigh readings by: a reading is worth what a
            # Student t tells on average, and less where it lies far off.
            weight = (_T_FREEDOM + 1.0) / (_T_FREEDOM + 3.0) * np.minimum(weight, 1.0)
        weight = self.weight * weight
        return System(
            own=np.einsum("nri,nr,nrj->nij", local, weight, local) + np.diag(1.0 / self.own_sd**2),
            cross=np.einsum("nri,nr,nrg->nig", local, weight, common),
            shared=np.einsum("nrg,nr,nrh->gh", common, weight, common) + self.precision,
            own_pull=np.einsum("nri,nr->ni", local, weight * residuals)
            - (own - self.centre) / self.own_sd**2,
            shared_pull=np.einsum("nrg,nr->g", common, weight * residuals)
            - self.precision @ (shared - self.mean),
            slopes=slopes,
        )

    # What comes out --------------------------------------------------------------------------

    def _result(
        self,
        shared: Array,
        inputs: Array,
        found: Array,
        residuals: Array,
        system: System,
        converged: bool,
    ) -> SessionFit:
        layout = self.layout
        posterior = system.posterior()
        spread = np.sqrt(np.diag(posterior.shared))
        launches = inputs[:, :LOCAL].copy()
        angle_sd, angle_own_sd = self._doubt(system.slopes[:, 4], posterior)
        angle_sd = np.hypot(angle_sd, MODEL_ANGLE_SD)
        pin_sd, _ = self._doubt(system.slopes[:, 3], posterior)
        unit = np.zeros((self.n, INPUTS))
        launches_sd = np.empty((self.n, LOCAL))
        for column in range(LOCAL):
            unit[:] = 0.0
            unit[:, column] = 1.0
            launches_sd[:, column] = self._doubt(unit, posterior)[0]
        states = np.exp(inputs[:, 6:])
        states_sd = np.empty((self.n, 3))
        for column in range(3):
            unit[:] = 0.0
            unit[:, 6 + column] = 1.0
            states_sd[:, column] = states[:, column] * self._doubt(unit, posterior)[0]
        these = slice(layout.ball(0), layout.ball(len(self.balls)))
        scale = np.exp(shared[these])
        drift = slice(layout.DRIFT, layout.DRIFT + 3)
        return SessionFit(
            balls=self.balls,
            launches=launches,
            launches_sd=launches_sd,
            rotation_deg=float(shared[layout.ROTATION]),
            rotation_sd=float(spread[layout.ROTATION]),
            tilt_deg=self.release.tilt_deg,
            ball_scale=scale,
            ball_scale_sd=scale * spread[these],
            states=states,
            states_sd=states_sd,
            drift=shared[drift],
            drift_sd=spread[drift],
            predicted=found[:, :4],
            entry_angle=found[:, 4],
            entry_angle_sd=angle_sd,
            entry_angle_own_sd=angle_own_sd,
            head_pin=found[:, 3],
            head_pin_sd=pin_sd,
            slip=np.maximum(found[:, 5], 0.0),
            residual_sd=self._left_over(residuals),
            notes=self._notes(spread, float(np.median(angle_sd)), converged),
            converged=converged,
            _globals=shared,
            _posterior=posterior,
            _layout=layout,
        )

    def _doubt(self, gradient: Array, posterior: Posterior) -> tuple[Array, Array]:
        """Return the sd of something with these slopes (n, 9), in all and with shared ones held."""
        mine = gradient[:, :LOCAL]
        common = np.einsum("ni,nig->ng", gradient, self.designs)
        common = common - np.einsum("ni,nig->ng", mine, posterior.response)
        alone = np.einsum("ni,nij,nj->n", mine, posterior.own, mine)
        together = np.einsum("ng,gh,nh->n", common, posterior.shared, common)
        return np.sqrt(alone + together), np.sqrt(alone)

    def _left_over(self, residuals: Array) -> dict[str, float]:
        """Robust standard deviation of the residuals in the readings' units."""
        sizes = {}
        for column, name in enumerate(SEEN):
            read = self.weight[:, column] > 0
            if read.sum() >= 5:
                sizes[name] = float(
                    1.4826 * np.median(np.abs(residuals[read, column])) * self.sd[column]
                )
        return sizes

    def _notes(self, spread: Array, angle_sd: float, converged: bool) -> list[str]:
        notes = [] if converged else ["The fit did not settle: the readings disagree too much."]
        thrown = set(self.ball.tolist())
        if len(thrown) == 1:
            notes.append(
                "Only ball times lane friction is seen. With one ball thrown, the split between "
                "ball and lane rests on the prior."
            )
        else:
            notes.append(
                "Only ball times lane friction is seen. Ratios between the balls come from the "
                "shots; the level rests on the prior."
            )
        if len(thrown) < len(self.balls):
            notes.append("A ball that was not thrown keeps its assumed friction.")
        if self.layout.film is None:
            notes.append("No pattern sheet: an ordinary house pattern is assumed.")
        if self.release.assumed:
            names = ", ".join(name.rsplit("_", 1)[0] for name in self.release.assumed)
            notes.append(f"Average release assumed for: {names}.")
        notes.append(
            f"Entry angles carry a doubt of about {angle_sd:.1f} deg, most of it shared by all "
            "shots through what is known of the release."
        )
        prior_sd = np.sqrt(np.diag(np.linalg.inv(self.precision)))
        for i, name in enumerate(STATES):
            if spread[self.layout.DRIFT + i] > 0.9 * prior_sd[self.layout.DRIFT + i]:
                notes.append(f"The log cannot tell how the {name} of the lane changed.")
        read = (self.weight > 0).sum(axis=0)
        for column, words in (
            (1, "at the arrows"),
            (2, "at the breakpoint"),
            (4, "at the head pin"),
        ):
            if read[column] < min(5, self.n):
                notes.append(f"Too few boards read at the {words} to lean on.")
        return notes
