"""How fast pins fall and how fast the table answers; run by hand on a machine at rest.

    python -m tests.benchmarks.pins

Wanted are 100 racks a second of one core, at the converged step and over all boards together. The
general engine's rate stands beside it where the extra ``tables`` is installed.
"""

from __future__ import annotations

import time

import numpy as np

from lanes.pins.carry import table
from lanes.pins.rack import STEP, Hit, fell
from lanes.pins.solver import MATERIALS

RACKS = 100  # of each board
WANTED = 100  # a second of one core
BOARDS = (15.0, 16.5, 17.5, 18.25, 19.0, 20.0)
HITS = 10_000


def beside(ours: float) -> None:
    """Print the general engine's rate on a few of the same racks."""
    try:
        from tests.studies import general_engine
    except ImportError:
        print("general engine: not installed (extra tables)")
        return
    materials = general_engine.trimmed(MATERIALS, general_engine.STEP_S)
    model = general_engine.model(materials, general_engine.STEP_S)
    began = time.process_time()
    for board in BOARDS:
        general_engine.rack(model, Hit(board, 5.0), (1, 0))
    rate = len(BOARDS) / (time.process_time() - began)
    print(f"general engine, one rack of each: {rate:.2f} a second, {ours / rate:.0f} times slower")


def main() -> None:
    fell(Hit(17.5, 5.0), (1, 0))
    spent = 0.0
    for board in BOARDS:
        began = time.process_time()
        for k in range(RACKS):
            fell(Hit(board, 5.0), (1, k))
        took = time.process_time() - began
        spent += took
        print(f"board {board:g}, 5 deg: {RACKS / took:.0f} racks a second of one core")
    ours = RACKS * len(BOARDS) / spent
    print(f"all of them, at a step of {1000.0 * STEP:g} ms: {ours:.0f} a second ({WANTED} wanted)")
    beside(ours)
    rng = np.random.default_rng(1)
    boards, angles = rng.uniform(14.0, 21.0, HITS), rng.uniform(0.0, 8.0, HITS)
    table().strike(boards, angles)
    began = time.perf_counter()
    table().strike(boards, angles)
    print(f"{HITS} look-ups of the strike chance: {1000.0 * (time.perf_counter() - began):.1f} ms")


if __name__ == "__main__":
    main()
