"""Speed of the rigid ball, on a warm cache, against scipy's DOP853 in the same run.

python -m tests.benchmarks.bench_rigid

The processor may be shared: processor time is taken, best of several. The worst end error is that
of many-at-once against the same paths at a fortieth of the step.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from typing import Any

import numpy as np

from lanes.motion import BallSpec, Orientation, checkpoints, checkpoints_rigid, lane_friction
from lanes.motion import rigid as rigid_module
from lanes.motion.orientation import moments
from lanes.motion.rigid import rigid_starts
from tests.motion.rigid_reference import Ball, friction_of, held_at_release

PATHS, EXACT_PATHS, SCIPY_PATHS = 5_000, 1_000, 5
BALLS = [
    BallSpec("symmetric", "solid", 2000, False, 2.50, 0.050, 0.0, 15, 4.5, 90, 45),
    BallSpec("asymmetric", "pearl", 3000, True, 2.48, 0.054, 0.020, 15, 5.0, 35, 70),
]
ROTATION, TILT = 55.0, 12.0


def best_of(times: int, work: Callable[[], Any]) -> float:
    taken = []
    for _ in range(times):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return min(taken)


def measure(ball: BallSpec, launches: np.ndarray) -> None:
    lane = lane_friction(None, ball)
    checkpoints_rigid(launches[:10], ROTATION, TILT, ball, lane)  # warm
    checkpoints(launches[:10], ROTATION, TILT, ball, lane)
    rate = PATHS / best_of(7, lambda: checkpoints_rigid(launches, ROTATION, TILT, ball, lane))
    reduced = PATHS / best_of(7, lambda: checkpoints(launches, ROTATION, TILT, ball, lane))
    fine = rigid_module.TIME_STEP / 40
    coarse = checkpoints_rigid(launches[:EXACT_PATHS], ROTATION, TILT, ball, lane)
    usual, rigid_module.TIME_STEP = rigid_module.TIME_STEP, fine
    exact = checkpoints_rigid(launches[:EXACT_PATHS], ROTATION, TILT, ball, lane)
    rigid_module.TIME_STEP = usual
    off = np.nanmax(np.abs(coarse - exact), axis=0)
    print(f"{ball.name}: {rate:,.0f} paths/s (reduced model {reduced:,.0f}); worst errors "
          f"{off[3]:.4f} board, {off[4]:.4f} deg, {off[7]:.3f} in of flare")  # fmt: skip

    o = Orientation.of(ball)
    pap = o.axes @ o.pap
    model = Ball(moments(ball), friction_of(lane), 0.002)

    def reference(row: np.ndarray, start: np.ndarray) -> None:
        turn = held_at_release(ROTATION, TILT, row[1], o.pap, o.pin, o.mass_bias)
        spin = row[3] * 2 * math.pi / 60 * pap
        model.run(np.concatenate([start[:4], spin, turn.ravel()]), rtol=1e-6, max_step=np.inf)

    starts = rigid_starts(launches[:SCIPY_PATHS], ROTATION, TILT, o)
    seconds = best_of(2, lambda: [reference(r, s) for r, s in zip(launches, starts, strict=False)])
    scipy_rate = SCIPY_PATHS / seconds
    print(f"  scipy DOP853, rtol 1e-6: {scipy_rate:.1f} paths/s; ratio {rate / scipy_rate:,.0f}")


def main() -> None:
    rng = np.random.default_rng(1)
    launches = np.column_stack(
        [rng.normal(m, s, PATHS) for m, s in ((20, 0.6), (2.6, 0.3), (17.5, 0.5), (340, 40))]
    )
    for ball in BALLS:
        measure(ball, launches)


if __name__ == "__main__":
    main()
