"""Speed, accuracy and memory of the numeric core, on a warm cache, against scipy in the same run.

python -m tests.benchmarks.bench_motion

Times are processor time of this process, the best of several, so that what else the machine does
counts as little as may be. The goals stand beside the figures.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from lanes.motion import BallSpec, ReleasePrior, SeenShot, checkpoints, fit_session, lane_friction
from lanes.motion import path as paths
from lanes.motion.geometry import BALL_RADIUS_M, FOOT_M, GRAVITY
from lanes.motion.kernel import _friction
from lanes.reading import options
from lanes.reading.options import Range, rank
from tests.motion.test_path_accuracy import BALLS, FILMS, ordinary, traced

PATHS, SCIPY_PATHS, SHOTS, THROWN, MILLION = 20_000, 40, 60, 5_000, 1_000_000
OPTIONS, DRAWS, THROWS = 12, 100, 40  # 4,000 throws of each option
LEVEL = ((20, 0.6), (2.6, 0.3), (17.5, 0.3), (340, 9))


def best_of(times: int, work: Callable[[], Any]) -> float:
    taken = []
    for _ in range(times):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return min(taken)


def ordinary_launches(n: int) -> np.ndarray:
    rng = np.random.default_rng(1)
    return np.column_stack([rng.normal(mean, sd, n) for mean, sd in LEVEL])


def speed() -> None:
    ball = BallSpec("one", "solid")
    lane = lane_friction(None, ball)
    launches = ordinary_launches(PATHS)
    checkpoints(launches[:10], 55, 12, ball, lane)  # warm
    ours = PATHS / best_of(9, lambda: checkpoints(launches, 55, 12, ball, lane))
    print(f"checkpoints: {ours:,.0f} paths/s a core (goal 200,000)")

    starts = paths.starts_from(launches, 55.0, 12.0, BALL_RADIUS_M)
    k = ball.k
    given = (lane.film, lane.law, lane.factors)

    def reference(start: np.ndarray) -> None:
        x, vx, vy, ux, uy = start
        slip = np.hypot(ux, uy)
        ex, ey, end = ux / slip, uy / slip, slip * k / (1 + k)

        def slope(_: float, state: np.ndarray) -> list[float]:
            s = min(state[2], end)
            mu = _friction(state[0], state[1], *given) if state[2] < end else 0.0
            return [vx - ex * s, vy - ey * s, GRAVITY * mu]

        def pins(_: float, state: np.ndarray) -> float:
            return float(state[1] - 59.5 * FOOT_M)

        pins.terminal = True  # type: ignore[attr-defined]
        solve_ivp(slope, (0, 10), [x, 0.0, 0.0], method="DOP853", rtol=1e-6, events=pins)

    theirs = SCIPY_PATHS / best_of(3, lambda: [reference(one) for one in starts[:SCIPY_PATHS]])
    print(f"scipy DOP853, rtol 1e-6, same compiled friction: {theirs:,.0f} paths/s")
    print(f"ratio: {ours / theirs:,.0f} (goal 800)")


def accuracy() -> None:
    rng = np.random.default_rng(11)
    n = THROWN // (len(FILMS) * len(BALLS))
    worst = {}
    for name, film in FILMS.items():
        off = []
        for ball in BALLS:
            lane = lane_friction(film, ball)
            throws = ordinary(rng, n)
            found = traced(*throws[:3], ball, lane, throws[3])
            fine = traced(*throws[:3], ball, lane, throws[3], longest=0.0005)
            off.append(np.abs(found - fine)[np.isnan(fine[:, 7]), 4])
        worst[name] = float(np.concatenate(off).max())
    print(
        f"worst head pin of {THROWN:,} ordinary throws on worn lanes, boards (goal 0.01): ", end=""
    )
    print(", ".join(f"{name} {board:.4f}" for name, board in worst.items()))


def fit() -> None:
    rng = np.random.default_rng(1)
    balls = [BallSpec("one", "solid"), BallSpec("two", "pearl")]
    launches = ordinary_launches(SHOTS)
    seen = checkpoints(launches, 55, 12, balls[0], lane_friction(None, balls[0]))
    seen = seen + rng.normal(0, 0.7, seen.shape)
    shots = [
        SeenShot(i // 10 % 2, i, float(launches[i, 0]), *map(float, seen[i, :4]), 17.5)
        for i in range(SHOTS)
    ]
    prior = ReleasePrior.known(17.5, 340, 55, 12)
    found = fit_session(shots, balls, prior, None)  # warm
    seconds = best_of(5, lambda: fit_session(shots, balls, prior, None))
    print(f"fit of {SHOTS} shots, two balls: {seconds * 1000:.0f} ms (goal 300)")

    # The ranking itself, as the reading does it, on that fit.
    physics: Any = SimpleNamespace(
        fit=found, film=None, balls=balls, index=list(range(SHOTS)), lanes=[0],
        thrown=np.array([shot.ball for shot in shots]),
    )  # fmt: skip
    moves = [(float(feet), float(eyes)) for feet in range(4) for eyes in range(3)]

    def ranking() -> None:
        line = Range(physics, np.arange(SHOTS - 10, SHOTS), 0, float(SHOTS))
        rank([line.option("move", balls[i % 2], i % 2, moves[i]) for i in range(OPTIONS)])

    options.LANES_DRAWN, options.THROWS = DRAWS, THROWS
    ranking()
    seconds = best_of(5, ranking)
    print(
        f"ranking of {OPTIONS} options, {DRAWS * THROWS:,} throws each: "
        f"{seconds * 1000:.0f} ms (goal 500)"
    )


def memory() -> None:
    """Peak of a million paths beyond what importing takes; in a process of its own."""
    script = (
        "import resource\n"
        "from tests.benchmarks.bench_motion import *\n"
        "peak = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024\n"
        "ball = BallSpec('one', 'solid'); lane = lane_friction(None, ball)\n"
        "checkpoints(ordinary_launches(10), 55, 12, ball, lane); before = peak()\n"
        "checkpoints(ordinary_launches(MILLION), 55, 12, ball, lane)\n"
        "print(f'{peak() - before:.0f} MB beyond {before:.0f} MB')\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    print(f"a million paths, launches counted in: {done.stdout.strip()} (goal 500)")


def main() -> None:
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    speed()
    accuracy()
    fit()
    memory()


if __name__ == "__main__":
    main()
