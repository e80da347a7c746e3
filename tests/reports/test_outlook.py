"""What a student is told of the balls that would have come and of another way: words, numbers."""

from __future__ import annotations

import pytest
from django.urls import reverse

from lanes import readings, reports
from lanes.outlook import LIMITS, outlook
from tests.reading.simulator import session as simulated
from tests.reports.pages import text_of
from tests.reports.sample_reading import forecast, sample_reading, what_if
from tests.sessions.simulated import log


@pytest.fixture
def sent(cast):
    """A report on a burned lane, read for real and sent."""
    log(cast, simulated("mid burn", 3)[:40])
    draft = reports.draft_from(readings.read(cast.session, lambda share, words: None))
    draft.went_well = draft.went_well or "Good."
    return reports.send(draft, by=cast.carl)


def test_the_student_reads_both_in_words_with_the_limits_and_numbers_behind_a_tap(
    cast, sent, as_user
):
    page = text_of(as_user(cast.sam).get(reverse("portal_report", args=[sent.pk])))
    told = sent.reading.data["what_if"]
    ten, twenty = (round(row["strikes"]["mean"]) for row in sent.reading.data["forecast"])
    assert f"about {ten} of the next 10, and {twenty} of the next 20 balls" in page
    assert f"from shot {told['from_shot']} on, with the same throws" in page
    assert LIMITS in page
    numbers = f"{told['happened']['strikes']} struck"
    begins = page.index("Had you done it another way")
    assert begins < page.index("In numbers", begins) < page.index(numbers)


def test_an_option_that_the_coach_left_out_is_not_told_here(cast, sent, as_user):
    number = sent.reading.data["what_if"]["option"]
    one = next(s for s in sent.suggestions.all() if s.detail["option"] == number)
    type(one).objects.filter(pk=one.pk).update(dropped=True)
    page = text_of(as_user(cast.sam).get(reverse("portal_report", args=[sent.pk])))
    assert "Had you gone on like this" in page
    assert "Had you done it another way" not in page


def test_a_reading_of_before_tells_none_of_it(cast, draft, as_user):
    report = reports.send(draft, by=cast.carl)
    page = text_of(as_user(cast.sam).get(reverse("portal_report", args=[report.pk])))
    assert "What would have come" not in page
    assert outlook(sample_reading(), [0], None) == []


@pytest.mark.parametrize(
    ("ten", "twenty", "told"), [(5.0, 10.0, False), (5.0, 9.2, False), (5.0, 8.4, True)]
)
def test_fewer_later_is_said_where_it_is_worth_saying(ten, twenty, told):
    """Five of the first ten and 3.4 of the second are 0.16 a ball less; 4.2 are 0.08."""
    (part,) = outlook({**sample_reading(), "forecast": forecast(ten, twenty)}, [], None)
    assert ("bring fewer" in part.words) is told


@pytest.mark.parametrize(
    ("gain", "advised", "said"),
    [
        ((0.4, 4.0), True, "More balls would likely have struck."),
        ((0.4, 4.0), False, "Nothing to change for now."),
        ((-3.0, -0.2), False, "Fewer balls would likely have struck."),
        ((-1.0, 4.0), True, "this lesson cannot tell."),
    ],
)
def test_another_way_is_told_as_surely_as_the_numbers_are(gain, advised, said):
    reading = {**sample_reading(), "what_if": what_if(*gain)}
    option = reading["options"][0]
    (part,) = outlook(reading, [0], option if advised else None)
    assert part.words.endswith(said)
    assert ("“To change”" in part.words) is advised
    assert ("stand 2 boards further left" in part.words) is not advised
    assert part.numbers == [
        "10 first balls from shot 15 on: 4 struck, 4 as computed (2 to 7).",
        "The other way: about 7 (4 to 9).",
    ]


def test_where_the_throw_comes_first_it_says_so():
    reading = {**sample_reading(), "what_if": what_if(0.4, 4.0)}
    reading["verdict"] = {**reading["verdict"], "kind": "throw"}
    (part,) = outlook(reading, [0], None)
    assert part.words.endswith("First comes the throw.")
