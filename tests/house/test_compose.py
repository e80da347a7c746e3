"""The containers' processes, started by hand: what the compose file says, on this machine.

No engine runs here, so that the images build is not shown; that their commands and environment
bring up a site is.
"""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import psycopg
import pytest
from django.db import connection

from tests.house.compose import compose, environment, variables
from tests.house.scripts import ROOT, script

up = script("up")

# What .env must hold; everything else in it has a default.
DOT_ENV = {"SITE_URL": "https://coach.example", "DATABASE_PASSWORD": "made-for-this-test"}


def test_env_example_names_every_variable_of_the_compose_file_and_no_other():
    text = (ROOT / ".env.example").read_text(encoding="utf-8")
    named = {
        line.lstrip("#").split("=")[0]
        for line in text.splitlines()
        if line.lstrip("#")[:1].isupper()
    }
    assert {name for name in named if name.replace("_", "").isupper()} == variables()


def test_without_a_password_compose_refuses_to_start():
    with pytest.raises(KeyError, match="DATABASE_PASSWORD"):
        environment("db", {"SITE_URL": "https://coach.example"})


def test_only_one_service_migrates_and_the_others_wait_for_it():
    services = compose()["services"]
    assert [name for name in services if services[name].get("command") == ["prepare"]] == [
        "prepare"
    ]
    for name in ("web", "worker"):
        waits_for = services[name]["depends_on"]["prepare"]["condition"]
        assert waits_for == "service_completed_successfully"


@pytest.fixture
def site(tmp_path: Path) -> Iterator[tuple[str, dict[str, str]]]:
    """Give the compose file's environment, re-aimed at this machine, and an empty database."""
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        bind = f"127.0.0.1:{free.getsockname()[1]}"
    kept = {
        name: os.environ[name] for name in ("HOME", "LANG", "NUMBA_CACHE_DIR") if name in os.environ
    }
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    given = {
        **kept,
        **environment("web", DOT_ENV),
        "PATH": path,
        "COACHSITE_DATA": str(tmp_path / "data"),
        "BIND": bind,
        "DATABASE_URL": "",
        "REDIS_URL": os.environ.get("REDIS_URL", ""),
    }
    if connection.vendor == "sqlite":
        yield bind, given
        return
    server = connection.settings_dict
    name = f"compose_{os.getpid()}"
    where = f"{server['USER']}:{server['PASSWORD']}@{server['HOST']}:{server['PORT']}"
    with psycopg.connect(f"postgres://{where}/postgres", autocommit=True) as admin:
        admin.execute(f'CREATE DATABASE "{name}"')
        yield bind, {**given, "DATABASE_URL": f"postgres://{where}/{name}"}
        admin.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


def test_processes_of_the_compose_file_bring_up_a_site_that_works(site, tmp_path):
    bind, given = site
    services = compose()["services"]

    def start(service: str) -> up.Child:
        command = [str(ROOT / "deploy" / "entrypoint"), *services[service]["command"]]
        return up.Child(service, command, given, tmp_path / f"{service}.log")

    prepare = start("prepare")
    assert prepare.process.wait(timeout=60) == 0, prepare.last_words()

    children = [start("web"), start("worker")]
    try:
        up.wait_for(f"http://{bind}/healthz", "web server", children, 60)
        up.wait_for(f"http://{bind}/healthz?worker=1", "worker", children, 60)
        assert _job_is_taken_up(given)
        assert _healthcheck(f"http://{bind}/healthz?worker=1") == 0
    finally:
        up.stop(children)
    # TERM to the main processes: both end of their own accord, none is killed.
    assert [(c.name, c.process.returncode) for c in children] == [("web", 0), ("worker", 0)]
    assert _healthcheck(f"http://{bind}/healthz") == 1


def _healthcheck(url: str) -> int:
    """Ask as the containers' health checks do."""
    command = [sys.executable, ROOT / "deploy" / "healthcheck", url]
    return subprocess.run(command, timeout=20, check=False).returncode


def _job_is_taken_up(given: dict[str, str]) -> bool:
    """Enqueue a job for a session that is not there; tell whether a worker has dealt with it."""
    code = (
        "import time, uuid\n"
        "from clients.jobs import enqueue\n"
        "job = enqueue('read_session', uuid.uuid4(), by=None)\n"
        "until = time.monotonic() + 30\n"
        "while job.state in ('waiting', 'running') and time.monotonic() < until:\n"
        "    time.sleep(0.1); job.refresh_from_db()\n"
        "print('ended', job.state)\n"
    )
    done = subprocess.run(
        [sys.executable, "manage.py", "shell", "--verbosity", "0", "-c", code],
        cwd=ROOT,
        env=given,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip() == "ended failed"
