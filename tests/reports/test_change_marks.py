"""Charts mark what changed: the lane, a ball, the throw; by word and line, with words beside."""

from __future__ import annotations

import pytest

from lanes.change_marks import change_marks
from lanes.head_pin_chart import HeadPinChart
from lanes.report_page import charts
from tests.reports.sample_reading import sample_reading, whole_reading


@pytest.fixture
def reading():
    """A reading with a change of each kind."""
    return whole_reading()


def test_each_kind_has_its_word_and_its_line(reading):
    marks = change_marks(reading)
    assert [mark.label for mark in marks] == [
        "shot 9: throw, speed, 90 %",
        "shot 15: mid-lane, 93 %",
        "shot 20: ball B itself, over 99 %",
    ]
    assert len({mark.dash for mark in marks}) == 3


def test_every_chart_of_a_report_has_them(reading):
    for chart in charts(reading):
        assert [one["kind"] for one in chart["changes"]] == ["throw", "lane", "ball"]
        assert [one["shot"] for one in chart["changes"]] == [9, 15, 20]


def test_a_reading_of_before_knows_of_no_ball():
    reading = sample_reading()
    reading["transition"].pop("ball_changes", None)
    assert [mark.kind for mark in change_marks(reading)] == ["lane"]


@pytest.mark.parametrize(("where", "what"), [(None, "lane"), ("back", "lane, back end")])
def test_a_part_of_the_lane_that_is_not_known_is_not_told(reading, where, what):
    reading["transition"]["changes"][0]["where"] = where
    assert what in [mark.what for mark in change_marks(reading)]


def test_the_what_ifs_chart_marks_those_in_its_stretch_in_words_too(reading):
    rows = [{"shot": n, "seen": 17.0, "asked": [16.0, 17.5, 19.0], "chance": 0.5}
            for n in range(12, 25)]  # fmt: skip
    chart = HeadPinChart("", rows, set(), change_marks(reading))
    assert [line.kind for line in chart.lines] == ["lane", "ball"]
    for line, shot in zip(chart.lines, (15, 20), strict=True):
        assert chart.x(shot - 1) < line.x < chart.x(shot)
    assert [line.is_left for line in chart.lines] == [False, True]
    assert len({line.y for line in chart.lines}) == 2
    assert "shot 15: mid-lane, 93 % sure" in chart.description
    assert "shot 9" not in chart.description
