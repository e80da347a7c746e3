"""Shots read again: kept beside the log, told as the coach's own error, used by the readings."""

import uuid

import numpy as np
import pytest

from clients.models import AuditEntry
from lanes import readings, rereadings, shots
from lanes.models import Rereading, RereadShot, Shot
from lanes.motion import ReadingError, error_to_use, reading_error_from
from lanes.motion.reading_error import FEWEST, FINEST

ASSUMED = ReadingError()


def log(session, n, seed=1, scale=0.8):
    """Log n shots, arrows and head pin read with errors of this scale; return the truth."""
    rng = np.random.default_rng(seed)
    true = np.column_stack([rng.normal(12, 1.0, n), rng.normal(17.5, 1.5, n)])
    read = true + scale * rng.standard_t(4, true.shape)
    for i, (arrows, head_pin) in enumerate(np.clip(read, 0.5, 39.5), start=1):
        Shot.objects.create(session=session, number=i, arrows=arrows, head_pin=head_pin)
    return true


def again(session, true, by, seed=2, scale=0.8, shots_read=None):
    """Keep a second reading with errors of this scale, of all shots or the first few."""
    rng = np.random.default_rng(seed)
    read = true + scale * rng.standard_t(4, true.shape)
    rows = shots.live_shots(session)[:shots_read]
    boards = {
        shot: {"arrows": float(a), "head_pin": float(h)}
        for shot, (a, h) in zip(rows, np.clip(read, 0.5, 39.5), strict=False)
    }
    sitting, _ = rereadings.keep(
        session=session, by=by, how="clip", readings=boards, key=uuid.uuid4()
    )
    return sitting


@pytest.mark.parametrize("scale", [0.4, 0.8, 1.6])
def test_a_planted_error_comes_out_and_the_readings_use_it(cast, scale):
    # Simulation with numpy; the true scale is the planted one.
    true = log(cast.session, 60, scale=scale)
    again(cast.session, true, cast.carl, scale=scale)
    lines = {line.name: line for line in rereadings.told(rereadings.estimate_of(cast.carl))}
    for name in ("arrows", "head_pin"):
        line = lines[name]
        assert line.is_own
        assert line.repeats == 60
        assert line.low < scale < line.high
        assert line.used == pytest.approx(scale, rel=0.3)
    assert not lines["laydown"].is_own
    inputs = readings.gather(cast.session)
    assert inputs.own_error == ("arrows", "head_pin")
    assert inputs.reading_error.arrows == lines["arrows"].used
    assert inputs.reading_error.laydown == ASSUMED.laydown


def test_too_few_repeats_leave_the_assumed_error_and_say_how_many_are_missing(cast):
    true = log(cast.session, 20, scale=2.0)
    before = readings.gather(cast.session)
    again(cast.session, true, cast.carl, scale=2.0, shots_read=FEWEST - 1)
    line = next(
        line
        for line in rereadings.told(rereadings.estimate_of(cast.carl))
        if line.name == "head_pin"
    )
    assert (line.is_own, line.used, line.repeats) == (False, ASSUMED.head_pin, FEWEST - 1)
    after = readings.gather(cast.session)
    assert after.reading_error == ASSUMED
    assert after.digest == before.digest
    again(cast.session, true, cast.carl, seed=3, scale=2.0, shots_read=FEWEST)
    told = readings.gather(cast.session)
    assert told.reading_error.arrows > 2.0 * ASSUMED.arrows  # 2.0 against 0.5 boards
    assert told.digest != before.digest


def test_two_readings_that_agree_do_not_show_less_than_half_a_board_can():
    # A coaching page, FACTS section 10: half a board cannot be told apart at 60 ft.
    same = [[{"head_pin": 17.0 + i, "arrows": 10.0}] * 2 for i in range(20)]
    used, own = error_to_use(reading_error_from(same))
    assert own == ("arrows", "head_pin")
    assert used.head_pin == pytest.approx(0.5 / np.sqrt(3), abs=0.001)
    assert used.head_pin == round(FINEST["head_pin"], 3)
    # Rounding to half boards alone: uniform within a quarter of a board (variance w^2 / 12).
    rng = np.random.default_rng(1)
    true = rng.uniform(5, 30, 200_000)
    assert np.std(np.round(2 * true) / 2 - true) == pytest.approx(used.arrows, rel=0.02)


def test_the_log_stays_and_a_log_put_right_later_does_not_hide_the_error(cast):
    true = log(cast.session, 12, scale=1.5)
    before = [(s.arrows, s.head_pin, s.version) for s in shots.live_shots(cast.session)]
    sitting = again(cast.session, true, cast.carl, scale=1.5)
    assert [(s.arrows, s.head_pin, s.version) for s in shots.live_shots(cast.session)] == before
    told = rereadings.error_of(cast.carl)
    for row in RereadShot.objects.filter(rereading=sitting):
        Shot.objects.filter(pk=row.shot_id).update(**row.again)
    assert rereadings.error_of(cast.carl) == told


def test_a_second_tap_keeps_one_sitting_and_taking_it_out_is_told(cast):
    log(cast.session, 3)
    shot = shots.live_shots(cast.session)[0]
    key = uuid.uuid4()
    for _ in range(2):
        sitting, _ = rereadings.keep(
            session=cast.session,
            by=cast.carl,
            how="other",
            readings={shot: {"arrows": 11.0, "laydown": 20.0}},
            key=key,
        )
    (row,) = RereadShot.objects.all()
    assert row.again == {"arrows": 11.0}  # the log has no laydown to compare with
    rereadings.remove(sitting, by=cast.carl)
    actions = list(AuditEntry.objects.values_list("action", flat=True))
    assert actions.count("session.read_again") == 1
    assert "session.reading_again_removed" in actions
    assert not Rereading.objects.exists()


def test_another_coach_has_their_own_error(cast):
    true = log(cast.session, 40, scale=2.0)
    again(cast.session, true, cast.carl, scale=2.0)
    assert rereadings.error_of(cast.carl)[1] == ("arrows", "head_pin")
    assert rereadings.error_of(cast.dora) == (ASSUMED, ())


def test_shots_are_spread_over_the_session_and_new_ones_come_first(cast):
    true = log(cast.session, 40)
    listed = rereadings.shots_to_read(cast.session)
    assert len(listed) == rereadings.MOST
    assert max(s.number for s in listed) > 35
    assert min(s.number for s in listed) < 5
    rereadings.keep(
        session=cast.session,
        by=cast.carl,
        how="clip",
        readings={shot: {"arrows": 12.0} for shot in listed},
        key=uuid.uuid4(),
    )
    assert not {s.pk for s in listed} & {s.pk for s in rereadings.shots_to_read(cast.session)}
    assert len(true) == 40


# The pages ------------------------------------------------------------------------------------


def test_the_page_shows_empty_fields_and_not_what_the_log_says(cast, as_user):
    shots.log_shot(session=cast.session, by=cast.carl, values={"shot": 1, "arrows": 13.25})
    page = as_user(cast.carl).get(f"/sessions/{cast.session.pk}/again/").content.decode()
    assert "Shot 1" in page
    assert "13.25" not in page
    assert "Head pin" not in page  # the log has no board there


def test_what_was_typed_is_kept_where_one_field_is_wrong(cast, as_user):
    log(cast.session, 2)
    one, two = shots.live_shots(cast.session)
    data = {
        "id": uuid.uuid4(),
        "how": "clip",
        "shot": [one.pk, two.pk],
        f"{one.pk}-arrows": "99",
        f"{two.pk}-arrows": "11,5",
    }
    browser = as_user(cast.carl)
    answer = browser.post(f"/sessions/{cast.session.pk}/again/", data)
    assert answer.status_code == 400
    page = answer.content.decode()
    assert "a board from 0 to 40" in page
    assert 'value="11,5"' in page
    assert not Rereading.objects.exists()
    data[f"{one.pk}-arrows"] = ""
    answer = browser.post(f"/sessions/{cast.session.pk}/again/", data)
    assert answer.status_code == 302
    assert RereadShot.objects.get().again == {"arrows": 11.5}


def test_an_empty_sitting_is_refused(cast, as_user):
    log(cast.session, 1)
    (shot,) = shots.live_shots(cast.session)
    data = {"id": uuid.uuid4(), "how": "clip", "shot": shot.pk}
    answer = as_user(cast.carl).post(f"/sessions/{cast.session.pk}/again/", data)
    assert answer.status_code == 400
    assert "Read at least one board again" in answer.content.decode()


def test_the_error_page_says_own_or_assumed(cast, as_user):
    browser = as_user(cast.carl)
    empty = browser.get("/reading-error/").content.decode()
    assert "None yet." in empty
    assert "your own</span>" not in empty
    true = log(cast.session, 30)
    again(cast.session, true, cast.carl)
    page = browser.get("/reading-error/").content.decode()
    assert page.count("your own</span>") == 2
    assert page.count("assumed</span>") == 4
    assert "half a board cannot be told apart at 60 ft" in page
