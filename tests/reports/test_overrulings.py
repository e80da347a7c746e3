"""The coach's word against a reading: kept, shown beside it, used by words and next reading."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from clients.models import AuditEntry
from lanes import live, overrulings, readings, report_page, reports
from lanes.models import Overruling, Shot
from lanes.reading.overruled import Ruling, marked, marks, overruled
from tests.reading.simulator import session as simulated
from tests.reports.conftest import make_reading
from tests.reports.pages import text_of
from tests.sessions.simulated import log as log_simulated


def log(session, count: int = 24) -> list[Shot]:
    rows = [
        Shot(session=session, number=n, arrows=14.0, head_pin=17.5, leave="X", throw="good")
        for n in range(1, count + 1)
    ]
    return Shot.objects.bulk_create(rows)


def test_the_lane_did_not_change_and_the_suggested_words_follow(cast, draft):
    assert "The lane changed" in draft.to_change
    row = reports.overrule(session=cast.session, by=cast.carl, kind="lane", value="no")
    draft.refresh_from_db()
    assert "The lane changed" not in draft.to_change
    assert draft.reading.data["transition"]["changes"]  # the reading stays as it was
    reports.withdraw_overruling(row, by=cast.carl)
    draft.refresh_from_db()
    assert "The lane changed" in draft.to_change
    assert Overruling.objects.get().withdrawn_at
    told = AuditEntry.objects.filter(action__startswith="verdict.").order_by("pk")
    assert [entry.action for entry in told] == ["verdict.overruled", "verdict.restored"]


def test_the_lane_changed_although_the_reading_saw_none(cast):
    still = make_reading(
        cast.session,
        transition={"changes": [], "throw_changes": [], "drift": {}, "by": [], "words": "Still."},
        verdict={"kind": "none", "headline": "Nothing to change", "why": "It holds."},
    )
    draft = reports.draft_from(still)
    said = {"kind": "lane", "value": "back", "hooks": "later", "from_shot": 9}
    reports.overrule(session=cast.session, by=cast.carl, **said)
    draft.refresh_from_db()
    assert "your ball began to hook later" in draft.to_change


def test_the_coachs_own_words_stay(cast, draft):
    draft.to_change = "My own words."
    draft.save()
    reports.overrule(session=cast.session, by=cast.carl, kind="lane", value="no")
    draft.refresh_from_db()
    assert draft.to_change == "My own words."


def test_a_throw_counts_and_enters_the_next_reading_as_the_coachs_mark(cast, draft):
    rows = log(cast.session)
    before = readings.gather(cast.session)
    good = reports.draft_from(draft.reading)
    assert overrulings.reading_of(good)["counts"]["good"] == 21
    for shot in rows[:3]:
        said = {"kind": "throw", "value": "off", "shot": shot}
        row = reports.overrule(session=cast.session, by=cast.carl, **said)
    after = readings.gather(cast.session)
    counted = marked(after.shots, after.said)
    assert [shot.throw for shot in counted[:4]] == ["off", "off", "off", "good"]
    assert after.digest != before.digest
    assert overrulings.reading_of(draft)["counts"]["good"] == 18
    rows[0].refresh_from_db()
    assert rows[0].throw == "good"  # the log stays as it was written
    reports.withdraw_overruling(row, by=cast.carl)
    again = readings.gather(cast.session)
    assert marked(again.shots, again.said)[2].throw == "good"


def test_a_cause_counts_now_and_in_the_next_reading_and_the_live_read(cast, as_user):
    """Shots that were the throw leave what trends rest on; one that was the lane enters."""
    log_simulated(cast, simulated("nothing", 4)[:30])
    draft = reports.draft_from(readings.read(cast.session, lambda share, words: None))
    before = draft.reading.data
    rows = {row.number: row for row in cast.session.shots.all()}
    judged = {shot["shot"]: shot["throw"]["verdict"] for shot in before["shots"]}
    thrown_well = [n for n, verdict in judged.items() if verdict == "good"][-3:]
    missed = next(n for n, verdict in judged.items() if verdict == "off")
    said = {"session": cast.session, "by": cast.carl, "kind": "cause"}
    for number in thrown_well:
        reports.overrule(**said, value="throw", shot=rows[number])
    reports.overrule(**said, value="lane", shot=rows[missed])
    words_now = overrulings.reading_of(draft)["counts"]
    assert words_now["off"] == before["counts"]["off"] + 2
    assert readings.state(cast.session).has_changed
    after = readings.read(cast.session, lambda share, words: None).data
    verdicts = {shot["shot"]: shot["throw"] for shot in after["shots"]}
    assert {verdicts[n]["verdict"] for n in thrown_well} == {"off"}
    assert verdicts[missed]["verdict"] == "good"
    assert verdicts[missed]["why"] == "the coach says that it was the lane"
    used = [s for s in after["shots"] if s["throw"]["verdict"] != "off"]
    assert missed in {shot["shot"] for shot in used}
    read_there = sum(shot["seen"]["arrows"] is not None for shot in used)
    assert after["transition"]["drift"]["arrows"]["n"] == read_there
    assert read_there < before["transition"]["drift"]["arrows"]["n"]
    assert "counts as a good throw, since it was the lane" in after["said"]
    told = next(shot for shot in after["shots"] if shot["shot"] == missed)
    assert told["cause"] == {"throw": 0.0, "lane": 1.0, "ball": 0.0, "chance": 0.0}
    assert told["said"]["cause"] == "lane"
    live_read = live.read(cast.session)
    assert live_read["said"] == after["said"]
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[draft.pk])))
    assert page.count("said by the coach") == 4
    new = reports.draft_from(readings.read(cast.session, lambda share, words: None))
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[new.pk])))
    assert page.count("said by the coach") == 4
    assert after["said"] in page


def test_of_two_words_that_deny_each_other_the_later_holds(cast, draft):
    (shot, *_) = log(cast.session)
    said = {"session": cast.session, "by": cast.carl, "shot": shot}
    overrulings.write(**said, kind="cause", value="throw")
    overrulings.write(**said, kind="throw", value="good")
    assert [(r.kind, r.value) for r in overrulings.of_shots(cast.session)] == [("throw", "good")]
    overrulings.write(**said, kind="cause", value="throw")
    assert [(r.kind, r.value) for r in overrulings.of_shots(cast.session)] == [("cause", "throw")]
    overrulings.write(**said, kind="throw", value="off")
    assert len(overrulings.of_shots(cast.session)) == 2
    overrulings.write(**said, kind="cause", value="lane")  # missed, and the lane's doing
    assert marks(overrulings.of_shots(cast.session)) == {shot.number: "off"}


def test_the_word_on_a_shot_that_was_deleted_is_not_used(cast, draft):
    (shot, *_) = log(cast.session)
    reports.overrule(session=cast.session, by=cast.carl, kind="cause", value="throw", shot=shot)
    shot.deleted_at = timezone.now()
    shot.save()
    assert overrulings.of_shots(cast.session) == ()


def test_the_first_option_leads_the_draft_and_the_next_one(cast, draft):
    title = "Ball B, same line"
    row = reports.overrule(session=cast.session, by=cast.carl, kind="option", value=title)
    assert draft.suggestions.first().title == title
    draft.refresh_from_db()
    assert "take ball B" in draft.to_change
    renewed = reports.draft_from(make_reading(cast.session, seed=2))
    assert renewed.suggestions.first().title == title
    reports.withdraw_overruling(row, by=cast.carl)
    assert renewed.suggestions.first().kind == "move"


def test_a_sent_report_keeps_what_held_when_it_was_sent(cast, draft):
    sent = reports.send(draft, by=cast.carl)
    asked = report_page.student_context(sent)
    reports.overrule(session=cast.session, by=cast.carl, kind="lane", value="no")
    assert overrulings.reading_of(sent)["transition"]["changes"]
    assert report_page.student_context(sent)["asked"] == asked["asked"]
    new = reports.revise(sent, by=cast.carl)
    assert overrulings.reading_of(new)["transition"]["changes"] == []


def test_what_changed_is_the_lane_or_the_ball_and_never_both(cast, draft):
    said = {"session": cast.session, "by": cast.carl, "kind": "lane", "hooks": "later"}
    reports.overrule(**said, value="ball", from_shot=9)
    reading = overrulings.reading_of(draft)
    assert reading["verdict"]["kind"] == "ball"
    assert reading["transition"]["changes"] == []
    (change,) = reading["transition"]["ball_changes"]
    thrown = {shot["shot"]: shot["ball"] for shot in draft.reading.data["shots"]}
    assert (change["shot"], change["hooks"], change["ball"]) == (9, "later", thrown[9])
    draft.refresh_from_db()
    assert "Your ball itself began to hook later" in draft.to_change
    reports.overrule(**said, value="mid")
    reading = overrulings.reading_of(draft)
    assert reading["verdict"]["kind"] == "lane"
    assert reading["transition"]["ball_changes"] == []
    told = {**draft.reading.data, "verdict": {**draft.reading.data["verdict"], "kind": "ball"}}
    told["transition"] = {**told["transition"], "ball_changes": [change]}
    assert overruled(told, [Ruling("lane", "no")])["verdict"]["kind"] == "none"
    assert overruled(told, [Ruling("lane", "no")])["transition"]["ball_changes"] == []


def test_the_same_word_again_changes_nothing_and_another_replaces_it(cast, draft):
    said = {"session": cast.session, "by": cast.carl, "kind": "lane"}
    first = overrulings.write(**said, value="no")
    assert overrulings.write(**said, value="no") == first
    second = overrulings.write(**said, value="mid", hooks="earlier")
    assert list(Overruling.objects.live()) == [second]
    assert Overruling.objects.count() == 2


@pytest.mark.parametrize(
    "said",
    [
        {"kind": "weather", "value": "no"},
        {"kind": "lane", "value": "everywhere"},
        {"kind": "lane", "value": "mid", "hooks": "sideways"},
        {"kind": "throw", "value": "off"},
        {"kind": "option", "value": "  "},
    ],
)
def test_what_says_nothing_is_refused(cast, draft, said):
    with pytest.raises(ValidationError):
        reports.overrule(session=cast.session, by=cast.carl, **said)
    assert not Overruling.objects.exists()


def test_the_page_shows_both_and_takes_the_coachs_word(cast, draft, as_user):
    log(cast.session)
    carl = as_user(cast.carl)
    page = reverse("lanes:overrule", args=[draft.pk])
    carl.post(page, {"kind": "shot", "shot": "5", "value": "throw:good", "reason": "Saw it."})
    carl.post(page, {"kind": "shot", "shot": "5", "value": "cause:chance"})
    carl.post(page, {"kind": "lane", "value": "no"})
    shown = text_of(carl.get(reverse("lanes:report", args=[draft.pk])))
    assert shown.count("coach says") == 2
    assert shown.count("said by the coach") == 1
    assert "Saw it." in shown
    assert "neither the lane nor a ball changed" in shown
    refused = carl.post(page, {"kind": "shot", "shot": "99", "value": "throw:good"}, follow=True)
    assert "Choose the shot" in text_of(refused)
    row = Overruling.objects.get(kind="lane")
    carl.post(reverse("lanes:overruling_withdraw", args=[row.pk]))
    assert text_of(carl.get(reverse("lanes:report", args=[draft.pk]))).count("coach says") == 1
