"""How fast pins fall and how fast the table answers; run by hand on a machine at rest.

    python -m tests.benchmarks.pins

The general engine's rate is printed by ``tests.studies.general_engine`` (1.5 racks a second and
process where it was run for EVIDENCE.md).
"""

from __future__ import annotations

import time

import numpy as np

from lanes.pins.carry import table
from lanes.pins.rack import Hit, fell

RACKS = 100
HITS = 10_000


def main() -> None:
    fell(Hit(17.5, 5.0), (1, 0))
    for board in (15.0, 16.5, 17.5, 18.25, 19.0, 20.0):
        began = time.process_time()
        for k in range(RACKS):
            fell(Hit(board, 5.0), (1, k))
        rate = RACKS / (time.process_time() - began)
        print(f"board {board:g}, 5 deg: {rate:.0f} racks a second of one core")
    rng = np.random.default_rng(1)
    boards, angles = rng.uniform(14.0, 21.0, HITS), rng.uniform(0.0, 8.0, HITS)
    table().strike(boards, angles)
    began = time.perf_counter()
    table().strike(boards, angles)
    print(f"{HITS} look-ups of the strike chance: {1000.0 * (time.perf_counter() - began):.1f} ms")


if __name__ == "__main__":
    main()
