"""The draft that a reading makes, sending, freezing, versions, answers."""

from __future__ import annotations

import uuid

import pytest
from django.conf import settings

from clients.models import AuditEntry, Mail, RoleGrant
from lanes import reports, words
from lanes.models import Answer, Homework, Receipt, Report, Suggestion
from lanes.models.reports import Frozen
from tests.conftest import make_session
from tests.reports.conftest import make_reading
from tests.reports.sample_reading import option, sample_reading


def edit(report, by, **changes):
    given = {
        "texts": {field: getattr(report, field) for field in reports.WORDS},
        "order": [s.pk for s in report.suggestions.all()],
        "dropped": [],
        "homework": [],
        "opened_at": report.edited_at,
    }
    given["texts"].update(changes.pop("texts", {}))
    return reports.save_draft(report, by=by, **{**given, **changes})


def test_a_reading_becomes_a_draft_with_its_options(draft):
    assert (draft.version, draft.state) == (1, "draft")
    first = draft.suggestions.first()
    assert (first.kind, first.title) == ("move", "Feet 2 left, eyes 1 left")
    assert (first.strike_low, first.strike, first.strike_high) == (0.46, 0.58, 0.68)
    assert first.model_version == "1, table 7"
    assert draft.went_well == "About 9 of 10 throws went the way you meant them to."


def test_the_same_reading_makes_no_second_draft(cast, draft):
    assert reports.draft_from(draft.reading) == draft
    assert Report.objects.count() == 1
    assert draft.suggestions.count() == 3


def test_a_new_reading_renews_the_draft_and_keeps_the_coachs_words(cast, draft):
    ball_b = draft.suggestions.get(kind="ball")
    draft = edit(draft, cast.carl, texts={"to_change": "My own words."}, dropped=[ball_b.pk])
    counts = {**sample_reading()["counts"], "good": 12, "off": 8}
    renewed = reports.draft_from(make_reading(cast.session, counts=counts))
    assert renewed.pk == draft.pk
    assert renewed.to_change == "My own words."
    assert renewed.went_well == "About 6 of 10 throws went the way you meant them to."
    assert [s.title for s in renewed.suggestions.filter(dropped=True)] == ["Ball B, same line"]
    assert renewed.suggestions.count() == 3


def test_a_new_reading_after_sending_makes_the_next_version(cast, sent):
    again = reports.draft_from(sent.reading)
    assert again == sent  # nothing new was read
    newer = reports.draft_from(make_reading(cast.session, options=[option("stay", "Stay", 0.5)]))
    assert (newer.version, newer.state) == (2, "draft")
    sent.refresh_from_db()
    assert sent.suggestions.count() == 3


def test_the_coach_edits_reorders_drops_and_sets_homework(cast, draft):
    move, stay, ball = draft.suggestions.all()
    line = reports.HomeworkLine("Corner pins", "20 balls")
    edit(
        draft,
        cast.carl,
        texts={"headline": "Well done", "coach_words": "See you on Friday."},
        order=[ball.pk, move.pk, stay.pk],
        dropped=[stay.pk],
        homework=[line],
    )
    draft.refresh_from_db()
    assert (draft.headline, draft.coach_words) == ("Well done", "See you on Friday.")
    assert [s.kind for s in draft.suggestions.all()] == ["ball", "move", "stay"]
    assert [s.kind for s in draft.suggestions.filter(dropped=False)] == ["ball", "move"]
    assert [(h.text, h.amount) for h in draft.homework.all()] == [("Corner pins", "20 balls")]
    assert AuditEntry.objects.filter(actor=cast.carl, action="report.edited").count() == 1


def test_an_edit_of_an_older_state_is_refused_and_changes_nothing(cast, draft):
    opened_at = draft.edited_at
    edit(draft, cast.carl, texts={"headline": "First"})
    with pytest.raises(reports.Overtaken):
        edit(draft, cast.olive, opened_at=opened_at, texts={"headline": "Second"})
    assert Report.objects.get().headline == "First"


def test_sending_freezes_and_writes_to_the_student(cast, sent):
    assert sent.is_sent
    assert sent.sent_by == cast.carl
    mail = Mail.objects.get()
    assert (mail.to, mail.client) == (cast.sam, cast.sam_client)
    assert f"/portal/{sent.pk}/" in mail.body
    assert AuditEntry.objects.get(action="report.sent").data == {"to": [cast.sam.pk]}


def test_a_second_tap_on_send_writes_nothing_twice(cast, sent):
    reports.send(sent, by=cast.carl)
    assert Mail.objects.count() == 1
    assert AuditEntry.objects.filter(action="report.sent").count() == 1


def test_a_minors_report_goes_to_the_guardian_too(cast, wendys):
    assert {mail.to for mail in Mail.objects.all()} == {cast.wendy, cast.gina}


def test_a_minor_without_a_guardian_gets_no_report(cast):
    cast.guardianship.delete()
    session = make_session(cast.block, cast.wendy_client, cast.carl)
    draft = reports.draft_from(make_reading(session))
    with pytest.raises(reports.NotSendable, match="guardian"):
        reports.send(draft, by=cast.carl)
    assert not Mail.objects.exists()
    assert not Report.objects.get(pk=draft.pk).is_sent


def test_a_report_without_its_three_things_is_not_sent(cast, draft):
    draft = edit(draft, cast.carl, texts={"to_practise": " "})
    with pytest.raises(reports.NotSendable, match="one to practise"):
        reports.send(draft, by=cast.carl)


def test_nothing_changes_a_sent_report(cast, draft):
    held = Report.objects.get(pk=draft.pk)  # somebody's copy from before it was sent
    suggestion = held.suggestions.first()
    sent = reports.send(draft, by=cast.carl)
    with pytest.raises(Frozen):
        edit(sent, cast.carl, texts={"headline": "Changed"})
    held.headline = "Changed"
    with pytest.raises(Frozen):
        held.save()
    suggestion.title = "Changed"
    with pytest.raises(Frozen):
        suggestion.save()
    with pytest.raises(Frozen):
        suggestion.delete()
    with pytest.raises(Frozen):
        Homework.objects.create(report=sent, text="More")
    assert not Report.objects.filter(headline="Changed").exists()
    assert not Suggestion.objects.filter(title="Changed").exists()


def test_a_change_after_sending_is_a_new_version(cast, draft):
    edit(draft, cast.carl, homework=[reports.HomeworkLine("Corner pins")])
    sent = reports.send(Report.objects.get(pk=draft.pk), by=cast.carl)
    second = reports.revise(sent, by=cast.carl)
    assert (second.version, second.state, second.headline) == (2, "draft", sent.headline)
    assert [s.title for s in second.suggestions.all()] == [s.title for s in sent.suggestions.all()]
    assert [h.text for h in second.homework.all()] == ["Corner pins"]
    assert reports.revise(sent, by=cast.carl) == second  # a second tap
    edit(second, cast.carl, texts={"headline": "Second thoughts"})
    sent.refresh_from_db()
    assert sent.headline != "Second thoughts"
    assert sent.suggestions.count() == 3


def test_an_answer_sent_twice_is_one_answer_and_one_letter_each(cast, wendys):
    Mail.objects.all().delete()
    key = uuid.uuid4()
    first, new = reports.answer(wendys, by=cast.wendy, key=key, text="Thank you")
    again, new_again = reports.answer(wendys, by=cast.wendy, key=key, text="Thank you")
    assert (first, new, new_again) == (again, True, False)
    assert Answer.objects.count() == 1
    assert {mail.to for mail in Mail.objects.all()} == {cast.carl, cast.gina}


def test_a_guardians_answer_goes_to_coach_and_student(cast, wendys):
    Mail.objects.all().delete()
    reports.answer(wendys, by=cast.gina, key=uuid.uuid4(), text="She practises on Mondays")
    assert {mail.to for mail in Mail.objects.all()} == {cast.carl, cast.wendy}


def test_a_guardian_who_works_here_gets_a_link_that_opens(cast, wendys, as_user):
    """The shop operator sees no lessons, but as a guardian the ward's report in the portal."""
    RoleGrant.objects.create(user=cast.gina, role="operator")
    Mail.objects.all().delete()
    reports.answer(wendys, by=cast.wendy, key=uuid.uuid4(), text="Thank you")
    letter = Mail.objects.get(to=cast.gina)
    (link,) = [line for line in letter.body.splitlines() if line.startswith(settings.SITE_URL)]
    page = as_user(cast.gina).get(link.removeprefix(settings.SITE_URL))
    assert page.status_code == 200


def test_a_key_that_was_used_for_other_words_loses_neither(cast, wendys):
    key = uuid.uuid4()
    reports.answer(wendys, by=cast.wendy, key=key, text="Mine")
    for _ in range(2):
        reports.answer(wendys, by=cast.wendy, key=key, text="Mine, and one more thing")
        reports.answer(wendys, by=cast.gina, key=key, text="Mine")
    told = [(answer.author, answer.text) for answer in Answer.objects.all()]
    assert told == [
        (cast.wendy, "Mine"),
        (cast.wendy, "Mine, and one more thing"),
        (cast.gina, "Mine"),
    ]


def test_read_counts_the_first_time(cast, sent):
    first = reports.mark_read(sent, by=cast.sam)
    assert reports.mark_read(sent, by=cast.sam).read_at == first.read_at
    assert Receipt.objects.count() == 1


def test_answers_are_new_until_the_coach_has_seen_them(cast, sent):
    reports.answer(sent, by=cast.sam, key=uuid.uuid4(), text="One")
    assert [a.text for a in reports.new_answers(cast.carl)] == ["One"]
    assert reports.new_answers(cast.dora) == []
    reports.mark_answers_seen(sent, by=cast.carl)
    assert reports.new_answers(cast.carl) == []
    assert [a.text for a in reports.new_answers(cast.olive)] == ["One"]
    reports.answer(sent, by=cast.sam, key=uuid.uuid4(), text="Two")
    assert [a.text for a in reports.new_answers(cast.carl)] == ["Two"]


@pytest.mark.parametrize(
    ("part", "whole", "said"),
    [(21, 24, "about 9 of 10"), (3, 4, "3 of 4"), (7, 7, "all 7"), (1, 60, "about 1 of 10")],
)
def test_shares_are_said_as_a_person_says_them(part, whole, said):
    assert words.about(part, whole) == said


@pytest.mark.parametrize(
    ("hand", "miss", "side"),
    [
        ("right", "in", "left"),
        ("right", "out", "right"),
        ("left", "in", "right"),
        ("left", "out", "left"),
    ],
)
def test_a_miss_is_told_as_seen_from_the_foul_line(hand, miss, side):
    """`in` is toward the middle and beyond: left for a right-hander."""
    assert words.side(miss, hand) == side


VERDICTS = ("throw", "lane", "ball", "chance", "none", "unknown")
OPTIONS = ("stay", "move", "ball", "surface")


def reading_of(kind: str, changed: bool, first: str) -> dict:
    reading = sample_reading()
    reading["verdict"]["kind"] = kind
    reading["options"].sort(key=lambda one: one["kind"] != first)
    if first == "surface":
        reading["options"].insert(0, option("surface", "A finer surface on ball A", 0.5))
    if not changed:
        reading["transition"]["changes"] = []
    return reading


@pytest.mark.parametrize("first", OPTIONS)
@pytest.mark.parametrize("changed", [True, False])
@pytest.mark.parametrize("kind", VERDICTS)
def test_the_students_words_agree_with_each_other(kind, changed, first):
    """Headline, what to change and what to practise say the same, whatever was found."""
    said = words.suggested(reading_of(kind, changed, first))
    assert all(said.as_dict().values())
    assert len(said.headline) <= 140
    asked = kind in ("lane", "ball") and first != "stay"
    steps = ("stand 2 boards further left and look 1 board", "take ball B on", "finer surface")
    assert any(step in said.to_change for step in steps) == asked
    stays = ("Stay", "still fits", "Nothing")
    assert not (asked and any(text in said.headline + said.to_change for text in stays))
    assert ("lane changed" in said.headline) == ("lane changed" in said.to_change)
    assert ("lane changed" in said.to_change) == (kind == "lane" and changed)
    assert said.to_change.startswith("The throw first") == (kind == "throw")
    assert ("new boards" in said.to_practise) <= (asked and first == "move")


def test_without_options_there_are_words_too():
    for kind in VERDICTS:
        reading = {**reading_of(kind, True, "stay"), "options": []}
        assert all(words.suggested(reading).as_dict().values())


@pytest.mark.parametrize(
    ("kind", "detail", "hand", "said"),
    [
        ("move", {"feet": 2, "eyes": 1}, "right",
         "stand 2 boards further left and look 1 board further left at the arrows"),
        ("move", {"feet": 2, "eyes": 1}, "left",
         "stand 2 boards further right and look 1 board further right at the arrows"),
        ("move", {"feet": -0.5, "eyes": 0}, "right",
         "stand 0.5 boards further right and look at the same board as now"),
        ("move", {"feet": 0, "eyes": -1.5}, "right",
         "stand where you do now and look 1.5 boards further right at the arrows"),
        ("ball", {"feet": 0, "eyes": 0, "ball": "B"}, "right", "take ball B on the same line"),
        ("ball", {"feet": -1, "eyes": 0, "ball": "B"}, "left",
         "take ball B, stand 1 board further left and look at the same board as now"),
        ("surface", {"feet": 0, "eyes": 0, "ball": "B", "surface": "finer"}, "right",
         "have ball B given a finer surface in the shop (never once a competition has begun)"),
    ],
)  # fmt: skip
def test_a_step_is_told_in_boards_to_the_left_or_right(kind, detail, hand, said):
    """Positive boards go toward the weak side: left for a right-hander (DESIGN section 3)."""
    assert words.step({"kind": kind, "detail": detail}, hand) == said


def test_a_move_stands_beside_other_words_only_where_the_coach_put_it_first():
    reading = reading_of("none", False, "move")
    assert words.advised(reading, [0, 1, 2]) is None
    assert words.advised(reading, [0]) is None
    assert words.advised(reading, [1, 0]) is None  # to stay
    assert words.advised(reading, [2, 0])["kind"] == "ball"
    assert words.advised(reading, []) is None


def test_suggested_words_follow_the_option_that_the_coach_puts_first(cast, draft):
    move, stay, ball = draft.suggestions.all()
    assert "stand 2 boards" in draft.to_change
    tapped = {"order": [ball.pk, move.pk, stay.pk], "texts": {"went_well": "My own."}}
    opened_at = draft.edited_at
    texts = {field: getattr(draft, field) for field in reports.WORDS} | tapped["texts"]
    draft = edit(draft, cast.carl, **tapped)
    draft.refresh_from_db()
    assert "take ball B on the same line" in draft.to_change
    assert draft.went_well == "My own."
    again = edit(draft, cast.carl, **{**tapped, "texts": texts}, opened_at=opened_at)
    assert "take ball B" in again.to_change  # a second tap is no quarrel
    draft = edit(draft, cast.carl, texts={"to_change": "Mine."}, dropped=[ball.pk])
    draft.refresh_from_db()
    assert draft.to_change == "Mine."


def test_words_on_the_throw_name_the_usual_miss():
    reading = sample_reading()
    reading["verdict"]["kind"] = "throw"
    assert "mostly left of target" in words.suggested(reading).to_change
    reading["client"]["hand"] = "left"
    assert "mostly right of target" in words.suggested(reading).to_change


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("speed_mph", 18.1, 16.9), "lost speed during the session: from 18.1 to 16.9 mph"),
        (("arrows", 14.0, 16.2), "crossed the arrows 2 boards further left"),
        (("laydown", 24.0, 23.0), "started 1 board further right"),
    ],
)
def test_words_on_a_throw_that_changed_say_how(change, said):
    reading = sample_reading()
    reading["verdict"]["kind"] = "throw"
    what, before, after = change
    reading["transition"]["throw_changes"] = [
        {"shot": 9, "what": what, "p": 0.97, "before": before, "after": after, "words": ""}
    ]
    assert said in words.suggested(reading).to_change
