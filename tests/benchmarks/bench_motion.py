"""Speed of the numeric core, on a warm cache, against scipy in the same run.

python -m tests.benchmarks.bench_motion
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from lanes.motion import BallSpec, ReleasePrior, SeenShot, checkpoints, fit_session, lane_friction
from lanes.motion.geometry import BALL_RADIUS_M, FOOT_M, GRAVITY
from lanes.motion.path import starts_from

PATHS, SCIPY_PATHS, SHOTS = 20_000, 40, 60


def best_of(times: int, work: Callable[[], Any]) -> float:
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begun)
    return min(taken)


def main() -> None:
    rng = np.random.default_rng(1)
    balls = [BallSpec("one", "solid"), BallSpec("two", "pearl")]
    lane = lane_friction(None, balls[0])
    launches = np.column_stack(
        [rng.normal(mean, sd, PATHS) for mean, sd in ((20, 0.6), (2.6, 0.3), (17.5, 0.3), (340, 9))]
    )
    checkpoints(launches[:10], 55, 12, balls[0], lane)  # warm
    seconds = best_of(3, lambda: checkpoints(launches, 55, 12, balls[0], lane))
    print(f"checkpoints: {PATHS / seconds:,.0f} paths/s ({PATHS} in {seconds:.3f} s)")

    starts = starts_from(launches, 55.0, 12.0, BALL_RADIUS_M)
    k = balls[0].k

    def reference(start: np.ndarray) -> None:
        x, vx, vy, ux, uy = start
        slip = np.hypot(ux, uy)
        ex, ey, end = ux / slip, uy / slip, slip * k / (1 + k)

        def slope(_: float, state: np.ndarray) -> list[float]:
            s = min(state[2], end)
            mu = float(lane.mu(state[0], state[1])) if state[2] < end else 0.0
            return [vx - ex * s, vy - ey * s, GRAVITY * mu]

        def pins(_: float, state: np.ndarray) -> float:
            return float(state[1] - 59.5 * FOOT_M)

        pins.terminal = True  # type: ignore[attr-defined]
        solve_ivp(slope, (0, 10), [x, 0.0, 0.0], method="DOP853", rtol=1e-6, events=pins)

    seconds = best_of(1, lambda: [reference(start) for start in starts[:SCIPY_PATHS]])
    print(f"scipy DOP853, rtol 1e-6: {SCIPY_PATHS / seconds:,.0f} paths/s")

    seen = checkpoints(launches[:SHOTS], 55, 12, balls[0], lane)
    seen = seen + rng.normal(0, 0.7, seen.shape)
    shots = [
        SeenShot(i // 10 % 2, i, float(launches[i, 0]), *map(float, seen[i, :4]), 17.5)
        for i in range(SHOTS)
    ]
    prior = ReleasePrior.known(17.5, 340, 55, 12)
    fit_session(shots, balls, prior, None)  # warm
    seconds = best_of(3, lambda: fit_session(shots, balls, prior, None))
    print(f"fit of {SHOTS} shots, two balls: {seconds * 1000:.0f} ms")


if __name__ == "__main__":
    main()
