"""From the log to the reading: the real reader on a real log, once for the same input."""

from __future__ import annotations

import csv
import io
import json

import pytest
from django.utils import timezone

from clients import jobs
from clients.jobs import JobProblem
from clients.models import Job
from lanes import readings, reports, shots
from lanes.models import Centre, Reading, Report, Session, Shot
from lanes.motion import HOUSE
from lanes.motion.display import PLACES
from lanes.motion.fit import fit_session
from lanes.patterns import import_pattern
from lanes.reading.session import READING_VERSION
from tests.browser.simulated_log import CHANGE_AT, simulated_log


@pytest.fixture(autouse=True)
def no_broker(monkeypatch):
    monkeypatch.setattr(jobs, "nudge", lambda job: None)


@pytest.fixture
def logged(cast):
    """Sam's session with the simulated log in it, on the house sheet."""
    cast.block.pattern, _ = import_pattern(HOUSE, by=cast.carl)
    cast.block.save()
    rows = csv.DictReader(io.StringIO(simulated_log()))
    Shot.objects.bulk_create(
        Shot(
            session=cast.session,
            ball=cast.session_ball,
            **{
                field: value
                for field, value in shots.clean(row, balls={"A": cast.session_ball}).items()
                if field != "ball"
            },
        )
        for row in rows
    )
    return Session.objects.get(pk=cast.session.pk)


def do(session, by=None) -> Job:
    job = readings.ask(session, by)
    jobs.run(job.pk)
    job.refresh_from_db()
    return job


def test_the_planted_change_comes_out_as_a_draft_with_options(logged):
    job = do(logged)
    assert (job.state, job.error) == ("done", "")
    report = Report.objects.get(pk=job.result["report"])
    reading = report.reading
    assert reading.job == job
    assert reading.data["verdict"]["kind"] == "lane"
    (change,) = reading.data["transition"]["changes"]
    assert abs(change["shot"] - CHANGE_AT) <= 3
    assert report.to_change.startswith("The lane changed while you bowled: your ball began to hook")
    assert "boards further left" in report.to_change
    kinds = [s.kind for s in report.suggestions.all()]
    assert "stay" in kinds
    assert "move" in kinds
    json.dumps(reading.data, allow_nan=False)


def test_the_same_log_is_read_once(logged, monkeypatch):
    first = do(logged)
    monkeypatch.setattr(
        "lanes.reading.session.read_session", lambda *a, **k: pytest.fail("read again")
    )
    again = do(logged)
    assert again.pk != first.pk
    assert again.result == first.result
    assert Reading.objects.count() == 1


def test_a_new_reader_reads_anew_and_the_old_reading_keeps_its_version(logged, monkeypatch):
    monkeypatch.setattr("lanes.reading.session.READING_VERSION", "older")
    do(logged)
    old = Reading.objects.get()
    monkeypatch.undo()
    monkeypatch.setattr(jobs, "nudge", lambda job: None)
    report = Report.objects.get(pk=do(logged).result["report"])
    assert Reading.objects.count() == 2
    assert report.reading.version == report.reading.data["version"] == READING_VERSION != "older"
    kept = Reading.objects.get(pk=old.pk)
    assert (kept.version, kept.data) == ("older", old.data)
    assert kept.data["version"] == "older"


def test_the_others_on_the_lane_reach_the_fit(logged, monkeypatch):
    given = []

    def watched(*args, **options):
        given.append(options["balls_per_shot"])
        return fit_session(*args, **options)

    monkeypatch.setattr("lanes.reading.physics.fit_session", watched)
    logged.block.others_right = 3
    logged.block.save()
    assert do(logged).state == "done"
    assert given == [4.0]  # one's own and three


def test_another_shot_another_ball_or_another_sheet_is_another_input(logged, cast):
    digests = {readings.gather(logged).digest}
    Shot.objects.filter(session=logged, number=3).update(arrows=13.0)
    digests.add(readings.gather(logged).digest)
    logged.balls.update(grit=500)
    digests.add(readings.gather(logged).digest)
    logged.block.pattern = None
    digests.add(readings.gather(logged).digest)
    logged.block.purpose = "league"
    digests.add(readings.gather(logged).digest)
    logged.rev_rpm = 280
    digests.add(readings.gather(logged).digest)
    logged.block.centre.speed_reading = "pins"
    digests.add(readings.gather(logged).digest)
    assert readings.gather(logged).display == "pins"
    assert len(digests) == 7


def test_the_reading_knows_every_place_where_a_centre_may_measure_speed():
    assert set(Centre.SpeedReading.values) == set(PLACES)


def test_a_reading_cut_off_after_it_was_kept_finishes_its_report_on_the_next_try(
    logged, monkeypatch
):
    def cut_off(reading):
        raise ConnectionError("kill -9")

    with monkeypatch.context() as patch:
        patch.setattr(reports, "draft_from", cut_off)
        assert do(logged).state == "failed"
    assert Reading.objects.count() == 1
    assert not Report.objects.exists()
    assert do(logged).state == "done"
    assert Reading.objects.count() == 1
    assert Report.objects.count() == 1


def test_the_session_page_tells_that_the_log_changed_since(logged):
    assert readings.state(logged) == readings.State(None, None, False)
    do(logged)
    state = readings.state(logged)
    assert (state.job, state.report.version, state.has_changed) == (None, 1, False)
    Shot.objects.filter(session=logged, number=3).update(arrows=13.0)
    assert readings.state(logged).has_changed is True


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_shots_say_what_is_missing(cast, count):
    for number in range(count):
        Shot.objects.create(session=cast.session, number=number + 1, leave="X")
    with pytest.raises(JobProblem, match="a reading needs at least 3"):
        readings.gather(cast.session)


def test_shots_of_which_nothing_was_seen_say_so(cast):
    for number in range(5):
        Shot.objects.create(session=cast.session, number=number + 1, throw="good")
    job = do(cast.session)
    assert job.state == "failed"
    assert "nothing was seen" in job.error


def test_leaves_alone_make_a_report_that_says_its_limits(cast):
    for number, leave in enumerate(["X", "10", "X", "4-9", "7", "X"], start=1):
        Shot.objects.create(session=cast.session, number=number, leave=leave)
    job = do(cast.session)
    assert (job.state, job.error) == ("done", "")
    report = Report.objects.get()
    assert report.reading.data["missing"]
    assert report.reading.data["paths"] == []


def test_a_deleted_session_is_not_read(logged):
    job = readings.ask(logged, None)
    logged.deleted_at = timezone.now()
    logged.save()
    jobs.run(job.pk)
    job.refresh_from_db()
    assert (job.state, job.error) == ("failed", "The session has been deleted.")
