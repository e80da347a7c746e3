"""How long ``read_log`` takes on a 60-shot file: the whole command, and the reading part alone.

Run with ``python tests/benchmarks/read_log.py``; it ends with 1 where a limit is passed (5 s with
start-up, 1 s for the reading, issue "One lesson"). The numba cache is warmed first.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as coachsite does

from lanes.motion import BallSpec  # noqa: E402
from lanes.reading.session import ClientFacts, read_session  # noqa: E402
from lanes.shotlog.write import write_csv  # noqa: E402
from tests.reading.simulator import session  # noqa: E402

LIMIT_COMMAND_S, LIMIT_READING_S = 5.0, 1.0
ROUNDS = 5


def main() -> int:
    shots = session("mid burn", 1, n=60)
    client = ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
    balls = [BallSpec("A", "solid", 2000), BallSpec("B", "pearl", 3000, True)]
    read_session(shots, client, balls, None)
    times = [_timed(lambda: read_session(shots, client, balls, None)) for _ in range(ROUNDS)]
    with tempfile.TemporaryDirectory() as folder:
        log, known = Path(folder) / "log.csv", Path(folder) / "client.json"
        log.write_text(write_csv(shots))
        known.write_text('{"hand": "right", "balls": [{"name": "A"}, {"name": "B"}]}')
        command = [
            sys.executable, "manage.py", "read_log", str(log), "--client", str(known), "--json",
        ]  # fmt: skip
        whole = [
            _timed(lambda: subprocess.run(command, cwd=ROOT, check=True, capture_output=True))
            for _ in range(3)
        ]
    reading, command_s = sorted(times)[ROUNDS // 2], sorted(whole)[1]
    print(f"read_log, 60 shots, with start-up: {command_s:.2f} s (limit {LIMIT_COMMAND_S:g} s)")
    print(f"its reading part:                  {reading:.2f} s (limit {LIMIT_READING_S:g} s)")
    return int(command_s > LIMIT_COMMAND_S or reading > LIMIT_READING_S)


def _timed(work) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


if __name__ == "__main__":
    sys.exit(main())
