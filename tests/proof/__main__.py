"""``python -m tests.proof run | report``: see the package."""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as coachsite does; a worker is one process
os.environ.setdefault("NUMBA_NUM_THREADS", "1")

from . import scenarios

ROOT = Path(__file__).resolve().parents[2]
LIVE_SESSIONS = 140


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.proof", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    run = commands.add_parser("run", help="simulate and read; goes on where a file left off")
    run.add_argument("--sessions", type=int, default=scenarios.ROWS)
    run.add_argument("--live", type=int, default=LIVE_SESSIONS, help="of these, also read live")
    run.add_argument("--workers", type=int, default=2)
    run.add_argument("--out", type=Path, required=True)
    report = commands.add_parser("report", help="print the table as Markdown")
    report.add_argument("file", type=Path)
    options = parser.parse_args(arguments)
    if options.command == "report":
        from .report import table

        print(table(options.file))
        return 0
    if not 1 <= options.sessions <= scenarios.ROWS:
        parser.error(f"--sessions: {options.sessions} given, 1 to {scenarios.ROWS} expected")
    return _run(options)


def about() -> dict[str, str]:
    """Return what figures belong to: commit (and whether the tree differs), table's hash."""

    def git(*words: str) -> str:
        done = subprocess.run(
            ["git", *words], cwd=ROOT, capture_output=True, text=True, check=False
        )
        return done.stdout.strip()

    changed = git("status", "--porcelain", "--", "lanes", "tests/proof")
    return {
        "stage": "about",
        "commit": (git("rev-parse", "--short=10", "HEAD") or "unknown")
        + (" with changes" if changed else ""),
        "table": scenarios.hash_of_table(),
    }


def jobs_of(rows: list[scenarios.Scenario], live: int) -> list[tuple[str, scenarios.Scenario]]:
    """Return what to do in what order: rounds of sessions looking back, with one live after each.

    The one is another place of the round each time, so that all kinds come round; further live
    sessions, every second row, come at the end. A run that is stopped is a fair sample of both.
    """
    size = len(scenarios.ROUND)
    jobs: list[tuple[str, scenarios.Scenario]] = []
    chosen: set[int] = set()
    for turn, start in enumerate(range(0, len(rows), size)):
        these = rows[start : start + size]
        jobs += [("back", row) for row in these]
        if len(chosen) < live:
            row = these[min(2 * turn % size, len(these) - 1)]
            chosen.add(row.number)
            jobs.append(("live", row))
    more = [row for row in rows if row.number % 2 == 0 and row.number not in chosen]
    return jobs + [("live", row) for row in more[: live - len(chosen)]]


def _lines(work, jobs, workers: int) -> Iterator[str]:
    """Yield what becomes of each job as it is done; with one worker, in this process."""
    if workers == 1:
        yield from map(work, jobs)
        return
    with multiprocessing.get_context("spawn").Pool(workers) as pool:
        yield from pool.imap_unordered(work, jobs)


def _run(options: argparse.Namespace) -> int:
    from . import scoring

    rows = scenarios.committed()[: options.sessions]
    mine = about()
    done: set[tuple[str, int]] = set()
    if options.out.exists():
        for line in options.out.read_text().splitlines():
            found = json.loads(line)
            if found["stage"] == "about" and found != mine:
                print(f"{options.out}: begun with {found}, now {mine}", file=sys.stderr)
                return 2
            done.add((found["stage"], found.get("number", -1)))
    jobs = jobs_of(rows, options.live)
    jobs = [job for job in jobs if (job[0], job[1].number) not in done]
    with options.out.open("a") as out:
        if not done:
            out.write(json.dumps(mine) + "\n")
            out.flush()
        for line in _lines(scoring.work, jobs, options.workers):
            out.write(line + "\n")
            out.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
