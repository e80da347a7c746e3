"""How long a read at the lane takes after each of 60 shots, alone and with three earlier sessions.

Run with ``python -m tests.benchmarks.live``; it ends with 1 where the median over the session
passes the limit (0.3 s asked for). Three balls at hand, and no competition, so that surfaces are
tried too. The processor time beside is what it costs whatever else the machine does. The first read
of a session with earlier ones fits those.
"""

from __future__ import annotations

import os
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as coachsite does

from lanes.motion import BallSpec
from lanes.reading.client import ClientFacts
from lanes.reading.live import Kept, read_live
from lanes.reading.pooling import EarlierSession
from tests.reading.simulator import session

LIMIT_S = 0.3
SHOTS = 60
CLIENT = ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
BALLS = [
    BallSpec("A", "solid", 2000), BallSpec("B", "pearl", 3000, True), BallSpec("C", "hybrid", 1000),
]  # fmt: skip


def main() -> int:
    earlier = [
        EarlierSession(f"2026-0{n}-01", f"place {n}", list(session("nothing", 10 + n, n=SHOTS)),
                       BALLS, None)
        for n in (1, 2, 3)
    ]  # fmt: skip
    slow = False
    read_live(session("mid burn", 2, n=SHOTS), CLIENT, BALLS, None)  # what is compiled is loaded
    for name, before in (("alone", []), ("with three earlier sessions", earlier)):
        wall, processor, kept = [], [], Kept()
        for length in range(3, SHOTS + 1):
            shots = session("mid burn", 1, n=SHOTS)[:length]
            start, used = time.perf_counter(), time.process_time()
            kept = read_live(shots, CLIENT, BALLS, None, earlier=before, kept=kept).kept
            wall.append(time.perf_counter() - start)
            processor.append(time.process_time() - used)
        first, rest, cpu = wall[0], sorted(wall[1:]), sorted(processor[1:])
        middle = len(rest) // 2
        print(
            f"live read, {name}: median {rest[middle]:.2f} s, longest {rest[-1]:.2f} s "
            f"(limit {LIMIT_S:g} s for the median); processor {cpu[middle]:.2f} and "
            f"{cpu[-1]:.2f} s; the first {first:.2f} s"
        )
        slow = slow or rest[middle] > LIMIT_S
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
