"""A real Celery worker in a data folder of its own, or on the database and broker of the tests."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.parse import quote

from django.conf import settings
from django.db import connection

ROOT = Path(__file__).resolve().parents[2]


class RealWorker:
    """The worker and what it needs; `kill` is kill -9 on the worker with all its children."""

    def __init__(self, data: Path, redis_url: str = "", database_url: str = "") -> None:
        self.log = data / "worker.log"
        self.environment = {
            **{k: v for k, v in os.environ.items() if not k.endswith(("_URL", "_SETTINGS_MODULE"))},
            "COACHSITE_DATA": str(data),
            "DJANGO_SETTINGS_MODULE": "coachsite.settings",
            "REDIS_URL": redis_url,
            "DATABASE_URL": database_url,
            "PYTHONPATH": str(ROOT),
        }
        self.process: subprocess.Popen | None = None

    @classmethod
    def on_test_database(cls) -> RealWorker:
        """Return a worker, not yet started, that works on what the tests' server writes."""
        data, used = Path(settings.DATA_DIR), connection.settings_dict
        redis_url = os.environ.get("REDIS_URL", "")
        if connection.vendor == "sqlite":
            own = data / "db.sqlite3"  # where the site's settings look for it
            own.unlink(missing_ok=True)
            own.symlink_to(used["NAME"])
            return cls(data, redis_url)
        login = f"{quote(used['USER'])}:{quote(used['PASSWORD'])}"
        place = f"{quote(used['HOST'], safe='')}:{used['PORT']}"
        return cls(data, redis_url, f"postgres://{login}@{place}/{used['NAME']}")

    def python(self, code: str) -> str:
        """Run code in a process of the site's own and return what it prints."""
        done = subprocess.run(
            [sys.executable, "-c", f"import django; django.setup()\n{code}"],
            env=self.environment,
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    def start(self, include: str = "tests.reports.slow_jobs") -> None:
        command = [sys.executable, "-m", "celery", "--app", "coachsite.celery:app", "worker"]
        command += ["--concurrency", "2", "--loglevel", "INFO"]
        command += ["--include", include] if include else []
        command += ["--without-gossip", "--without-mingle"]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command,
                env=self.environment,
                cwd=ROOT,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )

    def kill(self) -> None:
        """Kill -9 the worker's whole group, this worker's and no other."""
        assert self.process is not None
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.process = None

    def stop(self) -> None:
        if self.process is None:
            return
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(timeout=15)
        except subprocess.TimeoutExpired:
            self.kill()


def wait_until(true, seconds: float, what: str) -> None:
    """Ask until it is true; the assertion names what did not come about."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        if true():
            return
        time.sleep(0.2)
    raise AssertionError(f"after {seconds} s still not: {what}")
