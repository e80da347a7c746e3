"""Asking the worker from the command line: each way it can end has one clear line."""

from __future__ import annotations

import uuid

import pytest
from django.core.management import CommandError, call_command

from clients import jobs
from clients.jobs import JobProblem
from clients.models import Job
from lanes.management.commands.read_session import read_by_worker


@pytest.fixture(autouse=True)
def no_broker(monkeypatch):
    """The broker is not under test; its messages go nowhere."""
    monkeypatch.setattr("clients.jobs.nudge", lambda job: None)


@pytest.mark.parametrize(
    ("key", "line"),
    [
        ("forty", "SESSION: expected a UUID, not 'forty'"),
        (str(uuid.UUID(int=40)), f"SESSION: there is no session {uuid.UUID(int=40)}"),
    ],
)
def test_unknown_session_is_bad_input(db, key, line):
    with pytest.raises(CommandError) as refused:
        call_command("read_session", key)
    assert str(refused.value) == line
    assert refused.value.returncode == 2


def test_without_a_worker_it_gives_up_and_the_job_stays(cast):
    with pytest.raises(CommandError, match=r"no worker has read the session within 0\.2 s"):
        read_by_worker(str(cast.session.pk), 0.2)
    assert Job.objects.get().state == Job.State.WAITING


def test_what_the_worker_could_not_do_is_said(cast, monkeypatch):
    def run_at_once(job):
        jobs.run(job.pk)
        job.refresh_from_db()

    def refuse(job, progress):
        raise JobProblem("There are no first balls in the shot log.")

    monkeypatch.setitem(jobs._handlers, "read_session", refuse)
    monkeypatch.setattr("clients.jobs.nudge", run_at_once)
    with pytest.raises(CommandError, match="the reading failed: There are no first balls"):
        read_by_worker(str(cast.session.pk), 5)
