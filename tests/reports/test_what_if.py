"""The coach's page of what the rest of a session would have been."""

import pytest

from lanes import readings, reports
from lanes.head_pin_chart import HeadPinChart
from lanes.motion.geometry import POCKET
from tests.reading.simulator import session as simulated
from tests.reports.pages import text_of
from tests.sessions.simulated import log


@pytest.fixture
def read(cast):
    """A report on a burned lane, read for real."""
    log(cast, simulated("mid burn", 3)[:40])
    return reports.draft_from(readings.read(cast.session, lambda share, words: None))


@pytest.fixture
def address(read):
    return f"/reports/{read.pk}/what-if/"


def test_the_page_begins_with_what_the_reading_asked_itself(cast, as_user, read, address):
    page = text_of(as_user(cast.carl).get(address))
    told = read.reading.data["what_if"]
    assert told["words"] in page
    assert f"{told['shots']} first balls from shot {told['from_shot']} on" in page
    assert "Boards at the head pin, by shot" in page


def test_another_option_from_another_shot_is_computed(cast, as_user, read, address):
    page = text_of(as_user(cast.carl).get(address, {"option": 0, "shot": 11}))
    title = read.reading.data["options"][0]["title"]
    assert f"From shot 11 on: {title}" in page
    assert "30 first balls from shot 11 on" in page


def test_what_the_reading_asked_comes_out_alike_when_asked_again(cast, as_user, read, address):
    told = read.reading.data["what_if"]
    asked = {"option": told["option"], "shot": told["from_shot"]}
    assert told["words"] in text_of(as_user(cast.carl).get(address, asked))


@pytest.mark.parametrize(
    "query", [{"option": 99, "shot": 11}, {"option": 0, "shot": "x"}, {"a": 1}]
)
def test_what_cannot_be_asked_is_told_at_the_field(cast, as_user, address, query):
    answer = as_user(cast.carl).get(address, query)
    assert answer.status_code == 400
    assert "errorlist" in text_of(answer) or 'class="error' in text_of(answer)


def test_too_few_shots_left_is_said(cast, as_user, address):
    page = text_of(as_user(cast.carl).get(address, {"option": 0, "shot": 38}))
    assert "Too few first balls are left" in page


def test_a_session_that_lost_its_shots_says_so(cast, as_user, read, address):
    cast.session.shots.all().delete()
    page = text_of(as_user(cast.carl).get(address, {"option": 0, "shot": 11}))
    assert "a reading needs at least 3" in page


def test_a_reading_of_before_has_no_what_if_and_its_page_asks(cast, as_user, draft):
    page = as_user(cast.carl).get(f"/reports/{draft.pk}/what-if/")
    assert page.status_code == 200
    assert as_user(cast.carl).get(f"/reports/{draft.pk}/").status_code == 200


def test_the_report_says_how_long_and_what_to_watch(cast, as_user, read):
    page = text_of(as_user(cast.carl).get(f"/reports/{read.pk}/"))
    assert read.reading.data["options"][0]["holds"]["words"] in page
    assert read.reading.data["options"][0]["watch"]["words"] in page
    assert "The next 10 balls on this line" in page
    assert f"/reports/{read.pk}/what-if/" in page


def test_the_chart_lies_to_scale():
    """Boards evenly upward, shots evenly across, by plain proportion."""
    rows = [
        {"shot": n, "seen": 17.0 + n % 3, "asked": [16.0, 17.5, 19.0], "chance": 0.5}
        for n in range(1, 12)
    ]
    chart = HeadPinChart("", rows, {2})
    assert chart.x(6) == pytest.approx((chart.x(1) + chart.x(11)) / 2, abs=0.06)
    low, high = chart.boards
    assert (chart.y(low), chart.y(high)) == (chart.bottom, chart.top)
    assert chart.y((low + high) / 2) == pytest.approx(chart.middle_y)
    assert chart.pocket["y"] == chart.y(POCKET.high)
    assert [mark.struck for mark in chart.marks].count(True) == 1
