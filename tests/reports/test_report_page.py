"""The report as the coach sees it: order, picture, charts, limits."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse

from lanes import reports
from lanes.report_page import ShotRow, charts, lane_picture
from tests.reports.conftest import make_reading
from tests.reports.pages import text_of
from tests.reports.sample_reading import movers, sample_reading

pytestmark = pytest.mark.usefixtures("no_broker")


def test_the_report_leads_with_the_decision_and_says_its_limits(cast, draft, as_user):
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[draft.pk])))
    order = [
        "The lane changed: it hooks earlier from shot 15",
        "Feet 2 left, eyes 1 left",
        "Stay with ball A on the same line",
        "The lane from above",
        "Trends on good throws",
        "What this rests on",
    ]
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    for words in (
        "46 to 68 %",
        "table 7 of the pins",
        "the table expects about 9 of such hits",
        "about 1.2 expected of these hits",
        "Likeliest leave: the 10, 41 % of what is left.",
        "an ordinary house pattern is assumed",
        "rev rate",
        "Deck exit on more shots",
        "reading version 1",
        "7 ×",
        "5.1 <span",
        "as good as the best",
        "(93 % sure)",
        "0.90 to 1.20 times",
    ):
        assert words in page, words


def test_what_moved_the_hit_is_told_with_its_numbers_and_missing_from_older_readings(
    cast, draft, as_user
):
    def shown(report):
        return text_of(as_user(cast.carl).get(reverse("lanes:report", args=[report.pk])))

    assert "What moved the hit" not in shown(draft)
    told = movers()
    page = shown(reports.draft_from(make_reading(cast.session, movers=told)))
    assert "The launch moved the hit most: 3.3 boards for half a degree further in" in page
    assert "1 mph faster: \N{MINUS SIGN}2.4 boards (\N{MINUS SIGN}4.6 to \N{MINUS SIGN}0.3)" in page
    assert "What is left: 29 % of the scatter (17 to 48)" in page
    few = told | {"parts": [], "first": None, "words": "Too little to say what moved the hit."}
    page = shown(reports.draft_from(make_reading(cast.session, movers=few)))
    assert "Too little to say what moved the hit." in page
    assert "ranges hold 90 in 100" not in page


def test_the_picture_has_paths_and_marks_and_says_them_in_words(draft):
    picture = lane_picture(sample_reading(), list(draft.suggestions.all()))
    assert [line.label for line in picture.lines] == [
        "first shots",
        "last shots",
        "suggested: Feet 2 left, eyes 1 left",
    ]
    assert len({line.dash for line in picture.lines}) == 3  # told apart without colour
    assert len(picture.marks) == 21 * 5  # good throws at five check-points
    assert "first shots: from board 24.0 at the foul line" in picture.description
    without = lane_picture(sample_reading(), [])
    assert [line.label for line in without.lines] == ["first shots", "last shots"]


def test_the_trend_line_is_the_readings_slope_through_the_good_throws():
    by_name = {chart["name"]: chart for chart in charts(sample_reading())}
    assert list(by_name) == [
        "arrows",
        "breakpoint",
        "breakpoint_ft",
        "head_pin",
        "entry_angle",
        "deck_exit",
    ]
    head_pin = by_name["head_pin"]
    (x0, x1), (y0, y1) = head_pin["trend"]["x"], head_pin["trend"]["y"]
    assert (y1 - y0) / (x1 - x0) * 10 == pytest.approx(0.8, abs=0.01)
    assert head_pin["trend"]["low"][2] < y1 < head_pin["trend"]["high"][2]
    assert [one["label"] for one in head_pin["series"]] == ["ball A", "ball A, missed throw"]
    assert head_pin["zone"] == [16.5, 18.5]
    assert head_pin["changes"][0]["shot"] == 15


def test_a_reading_that_could_not_tell_still_makes_a_page(cast, as_user):
    bare = {
        **sample_reading(),
        "paths": [],
        "options": [],
        "leaves": [],
        "transition": {
            "changes": [],
            "throw_changes": [],
            "drift": {},
            "by": [],
            "words": "Too few shots to tell.",
        },
        "verdict": {"kind": "unknown", "headline": "The data cannot tell yet", "why": "Few shots."},
        "counts": {**sample_reading()["counts"], "pocket": None, "spares_tried": 0},
    }
    for shot in bare["shots"]:
        shot["seen"] = dict.fromkeys(shot["seen"])
        shot |= {"entry_angle_deg": None, "deflection_boards": None, "hit": None, "cause": None}
    reading = make_reading(cast.session, **bare)
    report = reports.draft_from(reading)
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[report.pk])))
    assert "The data cannot tell yet" in page
    assert "Too few boards were seen" in page
    assert "No option could be weighed" in page
    assert "charts-data" not in page


def test_each_change_of_the_lane_is_told_once_and_never_as_certain(cast, as_user):
    sample = sample_reading()
    change = sample["transition"]["changes"][0] | {"p": 0.999}
    transition = sample["transition"] | {"changes": [change], "words": change["words"]}
    reading = make_reading(cast.session, **{**sample, "transition": transition})
    report = reports.draft_from(reading)
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[report.pk])))
    assert page.count(change["words"]) == 1
    assert "(over 99 % sure)" in page
    label = f"shot {change['shot']}: mid-lane, over 99 %"
    assert [one["words"] for one in charts(reading.data)[0]["changes"]] == [label]


def test_a_cause_is_never_certain():
    cause = {"throw": 0.998, "lane": 0.002, "ball": 0.0, "chance": 0.0}
    assert ShotRow({"cause": cause}).cause == "throw over 99 %"
    even = {"throw": 0.54, "lane": 0.02, "ball": 0.02, "chance": 0.42}
    assert ShotRow({"cause": even}).cause == "throw 54 %, chance 42 %"


def test_the_lane_stands_in_the_rows_only_where_it_was_noted(cast, as_user):
    column = '<th scope="col">Lane</th>'
    for lane, shown in ((None, 0), (7, 1)):
        sample = sample_reading()
        sample["shots"] = [shot | {"lane": lane} for shot in sample["shots"]]
        report = reports.draft_from(make_reading(cast.session, **sample))
        page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[report.pk])))
        assert page.count(column) == shown
        assert page.count("one by one") == 1


def test_surface_work_comes_with_its_cautions(cast, draft, as_user):
    address = reverse("lanes:report", args=[draft.pk])
    assert "eye and breathing protection" not in text_of(as_user(cast.carl).get(address))
    draft.suggestions.filter(kind="ball").update(kind="surface")
    assert "eye and breathing protection" in text_of(as_user(cast.carl).get(address))


def test_the_report_costs_the_same_queries_for_any_number_of_shots(
    cast, sent, as_user, django_assert_max_num_queries
):
    browser = as_user(cast.carl)
    for _ in range(5):
        reports.answer(sent, by=cast.sam, key=uuid.uuid4(), text="Hello")
    # session, user, grants x2, report, suggestions, versions, homework, answers, receipts x2,
    # people around x2
    with django_assert_max_num_queries(16):
        browser.get(reverse("lanes:report", args=[sent.pk]))
