"""How long a season takes: forty sessions of one student, read by one worker and by two.

    DATABASE_URL=postgres://root@127.0.0.1:5432/season REDIS_URL=redis://127.0.0.1:6379/14 \\
        python -m tests.benchmarks.season [--sessions 40] [--workers 1 2]

On PostgreSQL and Redis alone: that is where workers are added. The database of ``DATABASE_URL`` is
dropped if it is there and made anew, so name one that nothing else uses, ending in ``season``. Each
session has 60 shots of an invented student (``tests/reading/simulator.py``) with up to three
earlier ones fitted along, as in the site. The clock runs from the first job asked for to the last
one done, drafts of reports included, on workers that have read one session before.

Limits: a season under 60 s on one worker (asked for); two workers at least 1.8 times as fast as one
(twice, less what the machine's other work takes; it needs a core for each worker and one more). The
processor time beside is what a reading costs whatever else the machine does.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).resolve().parents[2]
LIMIT_S, LIMIT_RATIO = 60.0, 1.8
SHOTS = 60
KINDS = ("nothing", "mid burn", "carrydown", "slow student", "moved", "bad throws")
_START_S, _SEASON_S = 60.0, 600.0  # longer than this and something is broken


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--sessions", type=int, default=40)
    parser.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    options = parser.parse_args()
    address = os.environ.get("DATABASE_URL", "")
    if not address.endswith("season") or not os.environ.get("REDIS_URL"):
        parser.error("DATABASE_URL of a database ending in 'season', and REDIS_URL, expected")
    with TemporaryDirectory() as data:
        os.environ |= {"COACHSITE_DATA": data, "DJANGO_SETTINGS_MODULE": "coachsite.settings"}
        _fresh_database(address)
        subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], cwd=ROOT, check=True)
        import django

        django.setup()
        keys = _fill(options.sessions)
        took = {}
        for workers in options.workers:
            took[workers], cpu = _season(keys, workers, Path(data))
            print(
                f"{workers} worker(s): {len(keys)} sessions in {took[workers]:.1f} s; "
                f"{cpu / len(keys):.2f} s of processor time each"
            )
    slow = took.get(1, 0.0) * 40 / options.sessions > LIMIT_S
    if 1 in took and 2 in took:
        ratio = took[1] / took[2]
        print(f"two workers do {ratio:.2f} times as many (limit {LIMIT_RATIO:g})")
        slow = slow or ratio < LIMIT_RATIO
    return int(slow)


def _fresh_database(address: str) -> None:
    import psycopg
    from psycopg import sql

    server, _, name = address.rpartition("/")
    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute(sql.SQL("DROP DATABASE IF EXISTS {}").format(sql.Identifier(name)))
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))


def _fill(sessions: int) -> list:
    """Write the season's sessions, one a week, and return their keys in order."""
    from django.utils import timezone

    from clients.models import Client, Role, User
    from lanes.models import Block, Centre, Session, SessionBall, Shot
    from lanes.shots import PLAIN
    from tests.reading.simulator import session

    coach = User.objects.create_user(name="Coach", email="c@example.org", roles=[Role.COACH])
    release = {"speed_mph": 17.6, "rev_rpm": 350.0, "rotation_deg": 55.0, "tilt_deg": 12.0}
    client = Client.objects.create(name="Student", coach=coach, **release)
    centre = Centre.objects.create(name="Season Lanes")
    first = timezone.now() - timedelta(weeks=sessions)
    keys = []
    for week in range(sessions):
        block = Block.objects.create(
            centre=centre, created_by=coach, starts_at=first + timedelta(weeks=week)
        )
        row = Session.objects.create(
            block=block, client=client, coach=coach, hand="right", hook="usual", style="1h",
            **release,
        )  # fmt: skip
        balls = [
            SessionBall.objects.create(session=row, label=label, position=place, **cover)
            for place, (label, cover) in enumerate(
                {
                    "A": {"cover": "solid", "grit": 2000, "polished": False},
                    "B": {"cover": "pearl", "grit": 3000, "polished": True},
                }.items()
            )
        ]
        Shot.objects.bulk_create(
            Shot(
                session=row, number=shot.shot, ball=balls[0],
                **{name: getattr(shot, name) for name in PLAIN},
            )
            for shot in session(KINDS[week % len(KINDS)], week, n=SHOTS)
        )  # fmt: skip
        keys.append(row.pk)
    return keys


def _season(keys: list, workers: int, data: Path) -> tuple[float, float]:
    """Read the season with so many workers from nothing; return how long it took, and the
    processor time that the workers used."""
    from clients.models import Job
    from lanes import readings
    from lanes.models import Session

    with ExitStack() as running:
        pids = [running.enter_context(_worker(number, data)) for number in range(workers)]
        _forget()
        # Every worker has loaded what it needs: as many jobs at once as there are workers.
        for session in Session.objects.filter(pk__in=keys[:workers]):
            readings.ask(session, None)
        _wait(_START_S)
        _forget()
        sessions = {row.pk: row for row in Session.objects.filter(pk__in=keys)}
        start, used = time.perf_counter(), _processor_s(pids)
        for key in keys:
            readings.ask(sessions[key], None)
        _wait(_SEASON_S)
        took, used = time.perf_counter() - start, _processor_s(pids) - used
    failed = Job.objects.exclude(state=Job.State.DONE)
    assert not failed.exists(), [job.error for job in failed]
    assert Job.objects.count() == len(keys)
    return took, used


def _processor_s(pids: list[int]) -> float:
    """Return the processor time of these processes and their children so far, s (proc(5))."""
    ticks = 0
    for pid in pids:
        children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        for one in [str(pid), *children]:
            fields = Path(f"/proc/{one}/stat").read_text().rpartition(")")[2].split()
            ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def _forget() -> None:
    from clients.models import Job
    from lanes.models import Reading, Report

    Report.objects.all().delete()
    Reading.objects.all().delete()
    Job.objects.all().delete()


def _wait(seconds: float) -> None:
    from clients.models import Job

    until = time.monotonic() + seconds
    while Job.objects.filter(state__in=[Job.State.WAITING, Job.State.RUNNING]).exists():
        if time.monotonic() > until:
            raise TimeoutError(f"jobs not done after {seconds:g} s")
        time.sleep(0.05)


@contextmanager
def _worker(number: int, data: Path):
    """Start a worker of one process, as deploy/entrypoint does, and end it afterwards."""
    command = [sys.executable, "-m", "celery", "--app", "coachsite.celery:app", "worker"]
    command += ["--concurrency", "1", "--without-gossip", "--without-mingle"]
    command += ["--hostname", f"season-{number}@%h", "--loglevel", "WARNING"]
    with (data / f"worker-{number}.log").open("ab") as log:
        process = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log)
    try:
        yield process.pid
    finally:
        process.terminate()
        process.wait(timeout=30)


if __name__ == "__main__":
    sys.exit(main())
