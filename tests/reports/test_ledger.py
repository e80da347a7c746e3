"""The ledger: what is kept when a report is sent, what is marked, scored and shown."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from clients.models import AuditEntry
from lanes import ledger, ledger_page, reports, shots
from lanes.models import Advice, Block, Shot, TakenAdvice
from lanes.motion import HOUSE
from lanes.patterns import import_pattern
from lanes.reading.ledger import Share
from tests.conftest import make_session
from tests.reports.conftest import make_reading
from tests.reports.pages import text_of


@pytest.fixture
def later(cast):
    """Sam's next session, a week on, with no shots yet."""
    block = Block.objects.create(
        centre=cast.centre,
        created_by=cast.carl,
        starts_at=cast.block.starts_at + timedelta(days=7),
    )
    return make_session(block, cast.sam_client, cast.carl)


def throw(session, leaves: str, **columns) -> None:
    """Log first balls, a letter each: X a strike, anything else a ten pin."""
    begin = session.shots.live().count()
    Shot.objects.bulk_create(
        Shot(session=session, number=begin + n, leave="X" if leave == "X" else "10", **columns)
        for n, leave in enumerate(leaves, start=1)
    )


def advised(report, kind: str = "move") -> Advice:
    return Advice.objects.get(suggestion__report=report, suggestion__kind=kind)


def test_sending_keeps_each_option_shown_with_its_prediction(cast, draft):
    draft.suggestions.filter(kind="ball").update(dropped=True)
    assert not Advice.objects.exists()
    sent = reports.send(draft, by=cast.carl)
    reports.send(sent, by=cast.carl)  # a second tap
    rows = list(Advice.objects.filter(suggestion__report=sent).order_by("suggestion__position"))
    assert [row.suggestion.kind for row in rows] == ["move", "stay"]
    assert [row.is_recommended for row in rows] == [True, False]
    move = rows[0]
    assert (move.suggestion.strike, move.stay_strike, move.after_shot) == (0.58, 0.39, 24)
    assert (move.coach, move.given_at) == (cast.carl, sent.sent_at)
    assert move.suggestion.model_version == f"{sent.reading.version}, table 7"


def test_a_new_version_makes_new_rows_and_none_counts_twice(cast, sent, later):
    ledger.take(advised(sent), session=later, from_shot=1, by=cast.carl)
    again = reports.send(reports.revise(sent, by=cast.carl), by=cast.carl)
    assert Advice.objects.count() == 6
    found = ledger_page.context(cast.carl, ledger_page.Filters())
    assert (found["offered"], found["taken"]) == (3, 1)
    assert advised(again).taken.count() == 0


def test_the_shots_after_the_mark_score_it_against_those_before(cast, sent, later):
    throw(later, "oooXoo", head_pin=19.0, stand=25, aim=12)
    throw(later, "XXXoXXXXoXXX", head_pin=17.5, stand=27, aim=13)
    (offers,) = ledger.offers_for(later)
    move = next(one for one in offers.offers if one.advice.suggestion.kind == "move")
    assert move.taken is None  # proposed, not assumed
    assert not TakenAdvice.objects.exists()
    ledger.take(move.advice, session=later, from_shot=7, by=cast.carl)
    (entry,) = ledger.entries(ledger_page.taken(cast.carl, ledger_page.Filters()))
    assert entry.piece.before.strikes == Share(1, 6)
    assert entry.piece.after.strikes == Share(10, 12)
    assert entry.piece.after.pocket == Share(12, 12)
    assert (entry.piece.strike, entry.piece.scores) == (0.58, True)
    assert entry.piece.after.head_pin.value == pytest.approx(17.5)


def test_what_the_log_shows_is_proposed_from_the_shot_on(cast, sent, later):
    throw(cast.session, "o" * 24, stand=25, aim=12)
    throw(later, "oXXX", stand=27, aim=13)
    (offers,) = ledger.offers_for(later)
    proposed = {one.advice.suggestion.kind: one.proposed for one in offers.offers}
    assert proposed == {"move": 1, "stay": None, "ball": None}
    assert offers.is_earlier
    assert offers.shots == [1, 2, 3, 4, 5]


def test_other_oil_scores_no_prediction(cast, sent, later):
    later.block.pattern, _ = import_pattern(HOUSE, by=cast.carl)
    later.block.save()
    throw(later, "X" * 12)
    ledger.take(advised(sent), session=later, from_shot=1, by=cast.carl)
    found = ledger_page.context(cast.carl, ledger_page.Filters())
    assert (found["other_oil"], found["picture"].points) == (1, [])
    assert {row.gain.kind: row.gain.taken for row in found["kinds"]}["move"] == 1


def test_a_mark_can_be_moved_and_undone_and_taps_do_no_harm(cast, sent, later):
    throw(later, "XoXo")
    move = advised(sent)
    first = ledger.take(move, session=later, from_shot=2, by=cast.carl)
    assert ledger.take(move, session=later, from_shot=2, by=cast.carl) == first
    assert AuditEntry.objects.filter(action="advice.taken").count() == 1
    ledger.take(move, session=later, from_shot=5, by=cast.carl)  # the next one, not yet thrown
    assert TakenAdvice.objects.get().from_shot == 5
    with pytest.raises(ValidationError, match="marked already"):
        ledger.take(advised(sent, "ball"), session=later, from_shot=5, by=cast.carl)
    ledger.undo(first, by=cast.carl)
    ledger.undo(first, by=cast.carl)
    assert not TakenAdvice.objects.exists()
    assert AuditEntry.objects.filter(action="advice.undone").count() == 1


def test_advice_cannot_be_taken_before_it_was_given(cast, sent, later, wendys):
    throw(cast.session, "o" * 26)
    move = advised(sent)
    with pytest.raises(ValidationError, match="given after shot 24"):
        ledger.take(move, session=cast.session, from_shot=24, by=cast.carl)
    ledger.take(move, session=cast.session, from_shot=25, by=cast.carl)
    with pytest.raises(ValidationError, match="expected 1 to 1"):
        ledger.take(move, session=later, from_shot=2, by=cast.carl)
    with pytest.raises(ValidationError, match="another student"):
        ledger.take(advised(wendys), session=later, from_shot=1, by=cast.carl)
    late = reports.send(reports.draft_from(make_reading(later)), by=cast.carl)
    with pytest.raises(ValidationError, match="before the advice"):
        ledger.take(advised(late), session=cast.session, from_shot=26, by=cast.carl)


def test_not_taken_is_written_down_and_taken_back(cast, sent, as_user):
    carl = as_user(cast.carl)
    move = advised(sent)
    address = reverse("lanes:advice_not_taken", args=[move.pk])
    carl.post(address, {"session": cast.session.pk})
    carl.post(address, {"session": cast.session.pk})
    move.refresh_from_db()
    assert move.not_taken_at
    assert AuditEntry.objects.filter(action="advice.not_taken").count() == 1
    carl.post(address, {"undo": "1"})
    move.refresh_from_db()
    assert move.not_taken_at is None


def test_the_page_says_too_few_and_shows_no_range_on_ten_shots(cast, sent, later, as_user):
    shots.log_shot(session=later, by=cast.carl, values={"shot": 1, "leave": "X"})
    throw(later, "XXoXXXX")
    carl = as_user(cast.carl)
    assert "Nothing marked as taken yet" in text_of(carl.get(reverse("lanes:ledger")))
    carl.post(
        reverse("lanes:advice_taken", args=[later.pk]),
        {"advice": advised(sent).pk, "from_shot": "1"},
    )
    page = text_of(carl.get(reverse("lanes:ledger")))
    assert "7 of 8<" in page
    assert "too few to tell (1 taken, 8 balls)" in page
    assert "<svg" not in page.partition("<main")[2]
    assert "Ledger of Sam" in text_of(carl.get(reverse("clients:detail", args=[later.client_id])))


def test_the_owner_sees_all_a_coach_their_own_and_an_empty_ledger_says_how(cast, sent, as_user):
    page = text_of(as_user(cast.olive).get(reverse("lanes:ledger")))
    assert "Sam" in page
    assert "f-coach" in page
    assert "No advice yet" in text_of(as_user(cast.dora).get(reverse("lanes:ledger")))
    assert "f-coach" not in text_of(as_user(cast.carl).get(reverse("lanes:ledger")))


def test_the_page_asks_as_often_for_many_as_for_few(
    cast, sent, later, as_user, django_assert_max_num_queries
):
    throw(later, "XoXoXoXoXoXo")
    carl = as_user(cast.carl)
    kinds = ["move", "stay", "ball"]
    for place, kind in enumerate(kinds):
        ledger.take(advised(sent, kind), session=later, from_shot=1 + 4 * place, by=cast.carl)
    carl.get(reverse("lanes:ledger"))
    # Session and user, roles, clients, coaches or none, versions, taken, logs with marks, offered.
    with django_assert_max_num_queries(12):
        page = carl.get(reverse("lanes:ledger"))
    assert text_of(page).count("ledger-numbers") == 3
