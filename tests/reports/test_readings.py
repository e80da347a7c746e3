"""From the log to the reading: the real reader on a real log, once for the same input."""

from __future__ import annotations

import csv
import inspect
import io
import json
import uuid
from datetime import timedelta

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
from lanes.reading.live import read_live
from lanes.reading.session import READING_VERSION, Reader, read_session
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
    assert abs(change["shot"] - CHANGE_AT) <= 8  # it grows from there: near, as the proof counts
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


# Earlier sessions of the same student -----------------------------------------------------------


def _before(logged, days, **facts):
    """Sam's session so many days before, with the same log and ball."""
    block = logged.block
    shots_there = list(logged.shots.all())
    ball = logged.balls.get()
    block.pk, block._state.adding = uuid.uuid4(), True
    block.starts_at -= timedelta(days=days)
    block.save()
    session = Session.objects.get(pk=logged.pk)
    session.pk, session._state.adding = uuid.uuid4(), True
    session.block = block
    for name, value in facts.items():
        setattr(session, name, value)
    session.save()
    ball.pk, ball._state.adding, ball.session = None, True, session
    ball.save()
    for shot in shots_there:
        shot.pk, shot._state.adding = uuid.uuid4(), True
        shot.session, shot.ball = session, ball
    Shot.objects.bulk_create(shots_there)
    logged.block = Session.objects.get(pk=logged.pk).block
    return session


def _pooled(session):
    return [other.on for other in readings.gather(Session.objects.get(pk=session.pk)).earlier]


def _day(session):
    return timezone.localdate(session.block.starts_at).isoformat()


def test_the_three_latest_sessions_before_with_the_same_release_are_pooled(logged):
    before = [_before(logged, days) for days in (1, 2, 3, 4)]
    _before(logged, 5)
    later = _before(logged, -1)
    assert _pooled(logged) == [_day(session) for session in before[:3]]
    assert _pooled(later)[0] == _day(logged)
    before[0].deleted_at = timezone.now()
    before[0].save()
    assert _pooled(logged) == [_day(session) for session in before[1:]]


@pytest.mark.parametrize(
    "facts", [{"hand": "left"}, {"hook": "backup"}, {"rev_rpm": 300}, {"tilt_deg": None}]
)
def test_another_hand_hook_or_release_is_not_pooled(logged, facts):
    _before(logged, 1, **facts)
    assert _pooled(logged) == []


def test_a_session_without_boards_and_another_students_are_not_pooled(logged, cast):
    bare, hers = _before(logged, 1), _before(logged, 2, client=cast.tess_client)
    bare.shots.update(head_pin=None)
    assert hers.shots.exists()
    assert _pooled(logged) == []


def test_an_edit_of_an_earlier_session_makes_the_reading_out_of_date(logged):
    before = _before(logged, 7)
    report = Report.objects.get(pk=do(logged).result["report"])
    told = report.reading.data["pooled"]
    assert told["sessions"] == [_day(before)]
    rotation = told["release"]["rotation_deg"]
    assert rotation["together_sd"] <= rotation["alone_sd"]
    assert readings.state(logged).has_changed is False
    before.shots.filter(number=3).update(head_pin=12.0)
    assert readings.state(logged).has_changed is True
    assert readings.state(logged).is_older is False


def test_the_same_lanes_and_oil_on_the_same_day_are_one_place(logged):
    logged.block.starts_at = logged.block.starts_at.replace(hour=12)
    logged.block.save()
    same_day = _before(logged, 0)
    Session.objects.filter(pk=same_day.pk).update(created_at=logged.created_at - timedelta(hours=1))
    same_day.block.lanes.set(logged.block.lanes.all())
    inputs = readings.gather(logged)
    assert [other.place for other in inputs.earlier] == [inputs.place]
    same_day.block.lanes.set([])
    inputs = readings.gather(logged)
    assert inputs.earlier[0].place != inputs.place


def test_a_reading_by_an_earlier_version_is_out_of_date_and_the_page_says_so(logged, cast, as_user):
    do(logged)
    assert readings.state(logged).is_older is False
    Reading.objects.update(version="2")
    state = readings.state(logged)
    assert (state.has_changed, state.is_older) == (True, True)
    page = as_user(cast.carl).get(f"/sessions/{logged.pk}/").content.decode()
    assert "Read by an earlier version" in page
    assert "Read again" in page


def test_the_report_tells_what_the_reading_rests_on(logged, cast, as_user):
    _before(logged, 7)
    report = Report.objects.get(pk=do(logged).result["report"])
    page = as_user(cast.carl).get(f"/reports/{report.pk}/").content.decode()
    assert "Read together with 1 earlier session" in page
    assert "Reading error: assumed" in page
    # A reading that was kept by an earlier version says less and is still shown.
    data = report.reading.data
    del data["pooled"], data["fit"]["reading_error_own"]
    Reading.objects.filter(pk=report.reading_id).update(data=data)
    page = as_user(cast.carl).get(f"/reports/{report.pk}/").content.decode()
    assert "Read together" not in page
    assert "Reading error" not in page


def test_what_a_reading_depends_on_is_what_every_reader_takes(logged):
    inputs = readings.gather(logged)
    for reader in (read_session, Reader, read_live):
        inspect.signature(reader).bind(**inputs.as_arguments())
