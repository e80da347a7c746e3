"""The search for what explains several sessions at once, and for the doubt that is left.

First Gauss-Newton steps to the most probable point, with Student t weights and the shots' own
unknowns eliminated one by one. That point alone would be a poor answer: the path bends with its
inputs, and with a handful of readings a shot the best residuals are too small to weigh readings by.
So a few rounds more look over the whole breadth of what is still possible: slopes and mean readings
are taken over the posterior (posterior linearisation: Garcia-Fernandez and others, IEEE
Transactions on Signal Processing 63, 2015), weights from the expected squared residuals, and the
doubt with the missing information of those weights taken off (``problem.doubt_weight``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .posterior import Posterior, System
from .problem import Problem, View, doubt_weight, search_weight

Array = NDArray[np.float64]

_MAX_ROUNDS = 40
_ENOUGH = 0.05  # a round that gains less than this of the log posterior is the last
_MAX_LOOKS = 10
_WHOLE_STEPS = 3
_STILL = 0.05  # a look that moves nothing by more than this many sd is the last
_SETTLED = 0.3  # ... and this is as much as a fit may still move and be called settled


@dataclass(frozen=True, eq=False)
class Found:
    """Where the search came to rest. Lists have an entry a session.

    ``covariance`` is that of the shared unknowns of all sessions, one after the other.
    """

    shared: list[Array]
    own: list[Array]
    paths: list[Array]
    views: list[View]
    posteriors: list[Posterior]
    held: list[NDArray[np.bool_]]  # shared unknowns that stand at a bound
    converged: bool
    covariance: Array


class Search:
    """Several sessions whose shared unknowns meet in one prior, within bounds."""

    def __init__(
        self, problems: Sequence[Problem], mean: Array, covariance: Array, low: Array, high: Array
    ) -> None:
        self.problems = problems
        self.mean, self.low, self.high = mean, low, high
        self.precision = np.linalg.inv(covariance)
        ends = np.cumsum([problem.layout.size for problem in problems])
        self.parts = [slice(e - p.layout.size, e) for e, p in zip(ends, problems, strict=True)]

    def run(self) -> Found:
        """Search from the prior."""
        shared, own, settled = self._climb(self.mean.copy(), [p.start() for p in self.problems])
        return self._look_around(shared, own, settled)

    # To the most probable point --------------------------------------------------------------

    def _climb(self, shared: Array, own: list[Array]) -> tuple[Array, list[Array], bool]:
        problems = self.problems
        inputs, paths, residuals, cost = self._try(shared, own)
        damping = 1e-3
        for _ in range(_MAX_ROUNDS):
            systems = [
                p.system(o, p.tangent(i, f), search_weight(r))
                for p, o, i, f, r in zip(problems, own, inputs, paths, residuals, strict=True)
            ]
            for _ in range(8):
                step, own_steps, _ = self._step(systems, shared, damping)
                new_shared = shared + step
                new_own = [o + s for o, s in zip(own, own_steps, strict=True)]
                new_inputs, new_paths, new_residuals, new_cost = self._try(new_shared, new_own)
                if new_cost <= cost:
                    break
                damping = max(damping, 1e-3) * 8.0
            else:
                return shared, own, True  # at the bottom to within the slopes' noise
            gain = cost - new_cost
            shared, own, inputs, paths = new_shared, new_own, new_inputs, new_paths
            residuals, cost = new_residuals, new_cost
            damping = max(damping / 8.0, 1e-6)
            if gain < _ENOUGH * len(problems):
                return shared, own, True
        return shared, own, False

    def _try(
        self, shared: Array, own: list[Array]
    ) -> tuple[list[Array], list[Array], list[Array], float]:
        inputs, paths, residuals = [], [], []
        away = shared - self.mean
        cost = 0.5 * float(away @ self.precision @ away)
        for problem, part, mine in zip(self.problems, self.parts, own, strict=True):
            inputs.append(problem.inputs(mine, shared[part]))
            paths.append(problem.trace(inputs[-1]))
            residuals.append(problem.residuals(problem.shown(inputs[-1], paths[-1])))
            cost += problem.cost(mine, residuals[-1])
        return inputs, paths, residuals, cost

    def _step(
        self, systems: list[System], shared: Array, damping: float = 0.0
    ) -> tuple[Array, list[Array], NDArray[np.bool_]]:
        """Return the step of shared and own unknowns, and which shared ones a bound holds."""
        matrix = self.precision + np.diag(damping * np.diag(self.precision))
        pull = -self.precision @ (shared - self.mean)
        eliminated = [system.eliminate(damping) for system in systems]
        for part, system, left in zip(self.parts, systems, eliminated, strict=True):
            matrix[part, part] += left.matrix + np.diag(damping * np.diag(system.shared))
            pull[part] += left.pull
        step = np.linalg.solve(matrix, pull)
        held = np.zeros(len(shared), dtype=bool)
        while (beyond := self._beyond(shared + step) & ~held).any():
            held |= beyond
            step[held] = np.clip(shared + step, self.low, self.high)[held] - shared[held]
            rest = pull[~held] - matrix[np.ix_(~held, held)] @ step[held]
            step[~held] = np.linalg.solve(matrix[np.ix_(~held, ~held)], rest)
        own = [left.own_step(step[p]) for p, left in zip(self.parts, eliminated, strict=True)]
        return step, own, held

    def _beyond(self, shared: Array) -> NDArray[np.bool_]:
        return np.asarray((shared < self.low) | (shared > self.high))

    # Over the breadth of what is possible ----------------------------------------------------

    def _look_around(self, shared: Array, own: list[Array], settled: bool) -> Found:
        inputs, paths, residuals, _ = self._try(shared, own)
        views = [p.tangent(i, f) for p, i, f in zip(self.problems, inputs, paths, strict=True)]
        # A first breadth with weights as if each reading lay as far off as errors do on average.
        weights = [np.minimum(search_weight(r), 1.0) for r in residuals]
        systems = self._systems(own, views, weights)
        posteriors = self._posteriors(systems)
        moved = np.inf
        for look in range(_MAX_LOOKS):
            views = [
                p.secant(i, f, q)
                for p, i, f, q in zip(self.problems, inputs, paths, posteriors, strict=True)
            ]
            squares = [
                p.expected_squares(v, q)
                for p, v, q in zip(self.problems, views, posteriors, strict=True)
            ]
            systems = self._systems(own, views, [search_weight(np.sqrt(s)) for s in squares])
            step, own_steps, held = self._step(systems, shared)
            posteriors = self._posteriors(systems)
            sd = np.concatenate([np.sqrt(np.diag(q.shared)) for q in posteriors])
            moved = float(np.max(np.abs(step) / sd))
            part = 1.0 if look < _WHOLE_STEPS else 0.5  # half, where it goes to and fro
            shared = shared + part * step
            own = [o + part * s for o, s in zip(own, own_steps, strict=True)]
            inputs, paths, residuals, _ = self._try(shared, own)
            if moved < _STILL:
                break
        # Alone it leans by a fifth of an sd, pooled by half and more.
        if any(problem.pooled for problem in self.problems):
            shared, own = self._straightened(shared, own, inputs, paths, posteriors, squares)
            inputs, paths, residuals, _ = self._try(shared, own)
        doubted = self._systems(own, views, [doubt_weight(s) for s in squares])
        covariance, posteriors = self._joint(doubted)
        return Found(
            shared=[shared[part] for part in self.parts],
            own=own,
            paths=paths,
            views=views,
            posteriors=posteriors,
            held=[held[part] for part in self.parts],
            converged=settled and moved < _SETTLED,
            covariance=covariance,
        )

    def _straightened(
        self,
        shared: Array,
        own: list[Array],
        inputs: list[Array],
        paths: list[Array],
        posteriors: list[Posterior],
        squares: list[Array],
    ) -> tuple[Array, list[Array]]:
        """Take the one step that undoes what a bending path pulls too hard (``Problem.bent``).

        One, to first order: taken anew time and again it would chase its own tail where the log
        hardly tells a part of the lane.
        """
        views = [
            p.secant(i, f, q)
            for p, i, f, q in zip(self.problems, inputs, paths, posteriors, strict=True)
        ]
        bent = [
            p.bent(i, f, q, v)
            for p, i, f, q, v in zip(self.problems, inputs, paths, posteriors, views, strict=True)
        ]
        weights = [search_weight(np.sqrt(s)) for s in squares]
        step, own_steps, _ = self._step(self._systems(own, views, weights, bent), shared)
        return shared + step, [o + s for o, s in zip(own, own_steps, strict=True)]

    def _systems(
        self,
        own: list[Array],
        views: list[View],
        weights: list[Array],
        bent: list[Array] | None = None,
    ) -> list[System]:
        each: Sequence[Array | None] = bent or [None] * len(self.problems)
        return [
            p.system(o, v, w, b)
            for p, o, v, w, b in zip(self.problems, own, views, weights, each, strict=True)
        ]

    def _posteriors(self, systems: list[System]) -> list[Posterior]:
        return self._joint(systems)[1]

    def _joint(self, systems: list[System]) -> tuple[Array, list[Posterior]]:
        """Return the covariance of all shared unknowns under the prior that joins the sessions,
        and each session's posterior.
        """
        eliminated = [system.eliminate() for system in systems]
        matrix = self.precision.copy()
        for part, left in zip(self.parts, eliminated, strict=True):
            matrix[part, part] += left.matrix
        covariance = np.linalg.inv(matrix)
        covariance = 0.5 * (covariance + covariance.T)
        return covariance, [
            problem.posterior(system, left, covariance[part, part])
            for problem, part, system, left in zip(
                self.problems, self.parts, systems, eliminated, strict=True
            )
        ]
