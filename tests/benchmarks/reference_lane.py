"""Time for one ball's reaction on the reference lane: 19 rolls of the rigid ball, warm.

python -m tests.benchmarks.reference_lane
"""

from __future__ import annotations

import time

from lanes.motion import BallSpec, reaction

TIMES = 50


def main() -> None:
    ball = BallSpec("one", "solid", 2000, differential_in=0.045)
    reaction(ball)  # warm
    wall, used = [], []
    for _ in range(TIMES):
        begun, busy = time.perf_counter(), time.process_time()
        reaction(ball)
        wall.append(time.perf_counter() - begun)
        used.append(time.process_time() - busy)
    print(f"a ball's reaction: {min(wall) * 1000:.0f} ms, {min(used) * 1000:.0f} ms of processor")


if __name__ == "__main__":
    main()
