"""Jobs: made once, done once, given back when their worker dies, whatever the broker loses."""

from __future__ import annotations

import os
import sqlite3
import threading
import uuid
from datetime import timedelta

import pytest
from django.db import connection, transaction
from django.utils import timezone

from clients import jobs
from clients.jobs import JobProblem, LeaseLost
from clients.models import Job
from tests.reports.real_worker import RealWorker, wait_until


@pytest.fixture
def kinds(monkeypatch):
    """Return the table of job kinds, a copy that the test may add to."""
    table = dict(jobs._handlers)
    monkeypatch.setattr(jobs, "_handlers", table)
    monkeypatch.setattr(jobs, "nudge", lambda job: None)
    return table


@pytest.fixture
def counted(kinds):
    """A kind of job that counts how often it was done."""
    done = []
    kinds["counted"] = lambda job, progress: {"n": done.append(job.pk) or len(done)}
    return done


def test_a_second_tap_finds_the_first_ones_job(db, counted):
    first = jobs.enqueue("counted", 1, by=None)
    assert jobs.enqueue("counted", 1, by=None) == first
    assert jobs.enqueue("counted", 2, by=None) != first
    assert Job.objects.count() == 2


def test_a_kind_that_nobody_does_is_refused_at_once(db):
    with pytest.raises(LookupError, match="nosuch"):
        jobs.enqueue("nosuch", 1, by=None)


@pytest.mark.django_db(transaction=True)
def test_two_taps_at_the_same_moment_make_one_job(counted):
    gate, made = threading.Barrier(4), []

    def tap():
        gate.wait()
        made.append(jobs.enqueue("counted", 1, by=None).pk)
        connection.close()

    threads = [threading.Thread(target=tap) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(made) == 4
    assert len(set(made)) == 1


def test_two_messages_for_one_job_do_it_once(db, counted):
    job = jobs.enqueue("counted", 1, by=None)
    assert jobs.run(job.pk) is True
    assert jobs.run(job.pk) is False
    job.refresh_from_db()
    assert (job.state, job.fraction, job.result, len(counted)) == ("done", 1.0, {"n": 1}, 1)
    assert jobs.enqueue("counted", 1, by=None) != job  # done is done; a new wish is a new job


def test_a_job_under_way_is_not_begun_again(db, kinds):
    inner = []
    kinds["nested"] = lambda job, progress: inner.append(jobs.run(job.pk)) or {}
    assert jobs.run(jobs.enqueue("nested", 1, by=None).pk) is True
    assert inner == [False]


def test_what_the_asker_can_mend_is_told_in_its_own_words(db, kinds):
    def refuse(job, progress):
        raise JobProblem("Log at least three shots.")

    kinds["refused"] = refuse
    job = jobs.enqueue("refused", 1, by=None)
    jobs.run(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error) == ("failed", "Log at least three shots.")
    assert not job.is_live
    assert job.finished_at


def test_a_crash_is_told_without_its_innards(db, kinds, caplog):
    kinds["broken"] = lambda job, progress: 1 / 0
    job = jobs.enqueue("broken", 1, by=None)
    jobs.run(job.pk)
    job.refresh_from_db()
    assert job.state == "failed"
    assert "ZeroDivisionError" not in job.error
    assert "ZeroDivisionError" in caplog.text


def test_who_lost_the_lease_stops_and_writes_nothing(db, kinds):
    stopped = []

    def overtaken(job, progress):
        Job.objects.filter(pk=job.pk).update(lease_token=uuid.uuid4())  # another worker has it
        try:
            progress(0.5, "half")
        except LeaseLost:
            stopped.append(True)
            raise
        return {"written": True}

    kinds["overtaken"] = overtaken
    job = jobs.enqueue("overtaken", 1, by=None)
    assert jobs.run(job.pk) is False
    job.refresh_from_db()
    assert stopped == [True]
    assert (job.state, job.result, job.fraction) == ("running", {}, 0.0)


def test_progress_is_kept_and_written_seldom(db, kinds, django_assert_num_queries):
    def chatty(job, progress):
        with django_assert_num_queries(1):
            for step in range(100):
                progress(step / 100, f"shot {step}")
        seen.append(Job.objects.get(pk=job.pk).message)
        return {}

    seen = []
    kinds["chatty"] = chatty
    jobs.run(jobs.enqueue("chatty", 1, by=None).pk)
    assert seen == ["shot 0"]


@pytest.mark.django_db(transaction=True)
def test_a_long_silent_computation_keeps_its_lease(kinds, monkeypatch):
    monkeypatch.setattr(jobs, "BEAT_S", 0.05)
    monkeypatch.setattr(jobs, "LEASE", timedelta(seconds=0.5))
    swept = []

    def silent(job, progress):
        threading.Event().wait(1.0)
        jobs.sweep()
        swept.append(Job.objects.get(pk=job.pk).state)
        return {}

    kinds["silent"] = silent
    job = jobs.enqueue("silent", 1, by=None)
    assert jobs.run(job.pk) is True
    job.refresh_from_db()
    assert (swept, job.state, job.attempts) == (["running"], "done", 1)


def test_the_sweep_gives_back_what_a_dead_worker_held(db, counted):
    job = jobs.enqueue("counted", 1, by=None)
    past = timezone.now() - timedelta(seconds=1)
    Job.objects.filter(pk=job.pk).update(
        state="running", attempts=1, lease_token=uuid.uuid4(), lease_until=past
    )
    jobs.sweep()
    job.refresh_from_db()
    assert (job.state, job.lease_token) == ("waiting", None)
    assert jobs.run(job.pk) is True
    job.refresh_from_db()
    assert (job.state, job.attempts) == ("done", 2)


def test_the_sweep_leaves_alone_what_is_being_done(db, counted):
    job = jobs.enqueue("counted", 1, by=None)
    token = uuid.uuid4()
    Job.objects.filter(pk=job.pk).update(
        state="running", lease_token=token, lease_until=timezone.now() + jobs.LEASE
    )
    jobs.sweep()
    job.refresh_from_db()
    assert (job.state, job.lease_token) == ("running", token)


def test_a_job_that_kills_its_worker_three_times_is_given_up(db, counted):
    job = jobs.enqueue("counted", 1, by=None)
    past = timezone.now() - timedelta(seconds=1)
    Job.objects.filter(pk=job.pk).update(
        state="running", attempts=3, lease_token=uuid.uuid4(), lease_until=past
    )
    assert jobs.run(job.pk) is False
    jobs.sweep()
    job.refresh_from_db()
    assert (job.state, job.lease_token) == ("failed", None)
    assert "three times" in job.error
    assert counted == []


def test_the_sweep_nudges_again_what_the_broker_lost(db, kinds, counted, monkeypatch):
    job = jobs.enqueue("counted", 1, by=None)
    Job.objects.filter(pk=job.pk).update(created_at=timezone.now() - timedelta(seconds=30))
    nudged = []
    monkeypatch.setattr(jobs, "nudge", nudged.append)
    assert jobs.sweep() == 1
    assert nudged == [job]


def test_no_message_goes_out_for_a_job_that_was_rolled_back(db, monkeypatch):
    sent = []
    monkeypatch.setattr("clients.tasks.run_job.delay", sent.append)
    with transaction.atomic():
        jobs.enqueue("read_session", uuid.uuid4(), by=None)
        transaction.set_rollback(True)
    assert sent == []
    assert not Job.objects.exists()


def test_a_broker_that_is_down_loses_no_job(db, monkeypatch, django_capture_on_commit_callbacks):
    def down(*args):
        raise ConnectionError("no broker")

    monkeypatch.setattr("clients.tasks.run_job.delay", down)
    with django_capture_on_commit_callbacks(execute=True):
        job = jobs.enqueue("read_session", uuid.uuid4(), by=None)
    assert Job.objects.get().state == "waiting"
    assert job.is_live


def test_a_lease_is_one_processs_until_it_runs_out(db):
    assert jobs.take_lease("sweep", 60) is True
    assert jobs.take_lease("sweep", 60) is False
    assert jobs.take_lease("other", -1) is True
    assert jobs.take_lease("other", 60) is True


def test_the_site_knows_whether_a_worker_is_alive(db):
    assert jobs.worker_is_alive() is False
    jobs.show_life()
    assert jobs.worker_is_alive() is True


# Three jobs and two children: at the kill two are under way and one waits.
SUBJECTS = ["a", "b", "c"]
BROKERS = ["local", *(["redis"] if os.environ.get("REDIS_URL") else [])]


@pytest.mark.parametrize("broker", BROKERS)
def test_kill_9_in_the_middle_of_the_work_loses_nothing_and_doubles_nothing(tmp_path, broker):
    redis_url = f"{os.environ['REDIS_URL'].rsplit('/', 1)[0]}/11" if broker == "redis" else ""
    worker = RealWorker(tmp_path, redis_url)
    worker.python(
        "from django.core.management import call_command as call; call('migrate', verbosity=0)\n"
        "from clients import jobs; import tests.reports.slow_jobs\n"
        f"for subject in {SUBJECTS}: jobs.enqueue('slow', subject, by=None)"
    )
    database = sqlite3.connect(tmp_path / "db.sqlite3")

    def told(action):
        found = database.execute("SELECT subject FROM clients_auditentry WHERE action=?", [action])
        return sorted(subject for (subject,) in found)

    try:
        worker.start()
        wait_until(lambda: len(told("slow.begun")) >= 2, 20, "two jobs begun")
        worker.kill()
        assert told("slow.done") == []
        worker.start()
        wait_until(lambda: told("slow.done") == SUBJECTS, 45, "all jobs done")
        rows = "SELECT state, attempts FROM clients_job ORDER BY subject"
        wait_until(lambda: {s for s, _ in database.execute(rows)} == {"done"}, 5, "rows say so")
        assert sorted(attempts for _, attempts in database.execute(rows)) == [1, 2, 2]
        assert len(told("slow.begun")) == 5
        assert worker.python("from clients import jobs; print(jobs.worker_is_alive())") == "True"
    finally:
        worker.stop()
        database.close()
