"""Logging, changing and deleting one shot, and what the reading gets of it."""

import uuid

import pytest
from django.core.exceptions import ValidationError

from clients.models import AuditEntry
from lanes import readings, shots
from lanes.models import SessionBall, Shot


def log(cast, key=None, **values):
    return shots.log_shot(session=cast.session, by=cast.carl, values=values, key=key)


def test_a_shot_is_logged_as_it_was_typed(cast):
    shot, new = log(cast, ball="A", arrows="12,5", head_pin=17.5, leave="10-6-3", throw="good")
    assert new
    shot.refresh_from_db()
    assert (shot.number, shot.delivery, shot.arrows, shot.leave) == (1, 1, 12.5, "3-6-10")
    assert shot.ball == cast.session_ball
    assert AuditEntry.objects.get(action="shot.logged").actor == cast.carl


def test_anything_may_be_left_out(cast):
    shot, _ = log(cast)
    assert shots.logged_shot(shot) == shots.LoggedShot(shot=1)


def test_the_same_key_logs_one_shot(cast):
    key = uuid.uuid4()
    first, _ = log(cast, key=key, arrows=12)
    again, new = log(cast, key=key, arrows=12)
    assert (again, new) == (first, False)
    assert cast.session.shots.count() == 1


def test_a_key_of_another_session_is_refused(cast):
    key = uuid.uuid4()
    shots.log_shot(session=cast.tess_session, by=cast.dora, values={}, key=key)
    with pytest.raises(ValidationError) as caught:
        log(cast, key=key)
    assert "id" in caught.value.message_dict


def test_a_taken_number_becomes_the_next_free_one(cast):
    log(cast, shot=7)
    shot, _ = log(cast, shot=7)
    assert shot.number == 8


def test_a_number_that_is_taken_at_the_last_moment_becomes_the_next(cast, monkeypatch):
    """Two phones look for a free number at once; the database lets only one have it."""
    log(cast, shot=1)
    free = shots._free_number
    answers = iter([1])
    monkeypatch.setattr(
        shots, "_free_number", lambda session, wanted: next(answers, None) or free(session, wanted)
    )
    shot, new = log(cast)
    assert (shot.number, new) == (2, True)


@pytest.mark.parametrize(
    ("values", "column"),
    [
        ({"arrows": 55}, "arrows"),
        ({"arrows": "twelve"}, "arrows"),
        ({"breakpoint_ft": 61}, "breakpoint_ft"),
        ({"leave": "11"}, "leave"),
        ({"leave": "/"}, "leave"),
        ({"ball": "Z"}, "ball"),
        ({"throw": "great"}, "throw"),
        ({"frame": 11}, "frame"),
        ({"delivery": 4}, "delivery"),
        ({"speed": 17}, "speed"),
        ({"arrows": [12]}, "arrows"),
    ],
)
def test_a_wrong_value_is_told_at_its_column(cast, values, column):
    with pytest.raises(ValidationError) as caught:
        log(cast, **values)
    assert list(caught.value.message_dict) == [column]
    assert not cast.session.shots.exists()


def test_a_change_takes_the_next_version_and_leaves_the_rest(cast):
    shot, _ = log(cast, arrows=12, head_pin=17)
    shots.change_shot(shot=shot, by=cast.carl, version=1, values={"arrows": 13.5})
    shot.refresh_from_db()
    assert (shot.version, shot.arrows, shot.head_pin) == (2, 13.5, 17)


def test_a_change_to_an_older_version_changes_nothing(cast):
    shot, _ = log(cast, arrows=12)
    shots.change_shot(shot=shot, by=cast.carl, version=1, values={"arrows": 13})
    with pytest.raises(shots.StaleShot) as caught:
        shots.change_shot(shot=shot, by=cast.carl, version=1, values={"arrows": 14})
    assert caught.value.shot.arrows == 13
    shot.refresh_from_db()
    assert shot.arrows == 13


def test_a_change_to_a_taken_number_is_refused(cast):
    log(cast)
    shot, _ = log(cast)
    with pytest.raises(ValidationError) as caught:
        shots.change_shot(shot=shot, by=cast.carl, version=1, values={"shot": 1})
    assert caught.value.message_dict == {"shot": ["there is a shot 1 already"]}
    assert Shot.objects.get(pk=shot.pk).version == 1


def test_a_deleted_shot_is_gone_and_its_number_free(cast):
    shot, _ = log(cast)
    shots.delete_shot(shot=shot, by=cast.carl, version=1)
    shots.delete_shot(shot=shot, by=cast.carl, version=1)
    assert shots.live_shots(cast.session) == []
    again, _ = log(cast)
    assert again.number == 1
    assert AuditEntry.objects.filter(action="shot.deleted").count() == 1


def test_the_reading_gets_the_shots_in_order_and_every_ball_they_name(cast):
    SessionBall.objects.create(
        session=cast.session, label="S", cover="plastic", is_spare_ball=True, position=1
    )
    log(cast, shot=2, ball="S", delivery=2, leave="/", foul="yes")
    log(cast, shot=1, ball="A", leave="10", neighbour_pin="flat")
    first, second = shots.logged_shots(cast.session)
    assert (first.shot, first.ball, first.neighbour_pin) == (1, "A", "flat")
    assert (second.shot, second.ball, second.leave, second.foul) == (2, "S", "/", True)
    assert [spec.name for spec in readings.ball_specs(cast.session)] == ["A", "S"]


def test_handing_over_the_shots_takes_one_query(cast, django_assert_num_queries):
    for _ in range(3):
        log(cast, ball="A")
    with django_assert_num_queries(1):
        shots.logged_shots(cast.session)
