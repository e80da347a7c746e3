"""The ledger on a phone and at a desk: advice marked by thumb, scored, and verdicts overruled."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from lanes import ledger, reports
from lanes.models import Advice, Block, Overruling, Shot, TakenAdvice
from tests.conftest import make_session
from tests.reports.conftest import make_reading


def throw(session, leaves: str, **columns) -> None:
    begin = session.shots.count()
    Shot.objects.bulk_create(
        Shot(
            session=session,
            number=begin + n,
            leave="X" if leave == "X" else "10",
            ball=session.balls.first(),
            **columns,
        )
        for n, leave in enumerate(leaves, start=1)
    )


@pytest.fixture
def season(transactional_db, cast):
    """Six lessons of Sam's, each with a report sent, and what Sam did the next time."""
    # Strikes after a move as predicted (0.58), in a season that a coach would believe.
    after = ("XXoXoXXoXXoX", "XoXXoXXoXoXX", "XXXoXoXoXXXo", "oXoXXXoXXoXo", "XXoXXXoXXoXX")
    cast.later = []
    for week in range(6):
        sessions = []
        for day in (0, 3):
            block = Block.objects.create(
                centre=cast.centre,
                created_by=cast.carl,
                starts_at=cast.block.starts_at + timedelta(days=7 * week + day + 1),
            )
            sessions.append(make_session(block, cast.sam_client, cast.carl))
        first, second = sessions
        throw(first, "oXooXoXoooXoXoooXoXooXoo", stand=25, aim=12, head_pin=18.9)
        reports.send(reports.draft_from(make_reading(first)), by=cast.carl)
        throw(second, "ooXoXo", stand=25, aim=12, head_pin=18.8)
        if week < 5:
            throw(second, after[week], stand=27, aim=13, head_pin=17.5)
            move = Advice.objects.get(suggestion__report__session=first, suggestion__kind="move")
            ledger.take(move, session=second, from_shot=7, by=cast.carl)
        else:
            throw(second, "XXXo", stand=27, aim=13, head_pin=17.4)
        cast.later.append(second)
    return cast


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_the_ledger_reads_well_and_is_accessible(season, size, request, log_in, axe, shoot):
    page = request.getfixturevalue(size)
    log_in(page, season.carl)
    page.goto(reverse("lanes:ledger"))
    assert page.get_by_role("img", name="Strikes predicted and strikes thrown").is_visible()
    axe(page)
    shoot(page, "ledger")
    log_in(page, season.dora)
    page.goto(reverse("lanes:ledger"))
    assert page.get_by_role("heading", name="No advice yet").is_visible()
    axe(page)
    shoot(page, "ledger_empty")


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_advice_is_marked_by_one_tap_and_undone(season, size, request, log_in, axe, shoot):
    page = request.getfixturevalue(size)
    session = season.later[-1]
    log_in(page, season.carl)
    page.goto(reverse("lanes:session", args=[session.pk]))
    axe(page)
    shoot(page, "session_advice")
    page.get_by_role("button", name="Yes, from shot 7").click()
    assert TakenAdvice.objects.get(session=session).from_shot == 7
    shoot(page, "session_advice_taken")
    axe(page)
    page.get_by_role("button", name="Undo").click()
    assert not TakenAdvice.objects.filter(session=session).exists()
    page.goto(reverse("clients:detail", args=[session.client_id]))
    axe(page)
    shoot(page, "client_ledger")


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_verdict_is_overruled_and_given_back(season, size, request, log_in, axe, shoot):
    page = request.getfixturevalue(size)
    session = season.later[-1]
    draft = reports.draft_from(make_reading(session))
    log_in(page, season.carl)
    page.goto(reverse("lanes:report", args=[draft.pk]))
    page.get_by_text("Overrule something").click()
    axe(page)
    page.get_by_label("Shot", exact=True).select_option("5")
    page.get_by_label("Verdict").select_option(label="good throw")
    page.get_by_role("button", name="Overrule the shot").click()
    page.get_by_text("Overrule something").click()
    page.get_by_label("What changed", exact=True).select_option("no")
    page.get_by_role("button", name="Overrule lane or ball").click()
    assert Overruling.objects.live().count() == 2
    page.get_by_text("Overrule something").click()
    axe(page)
    shoot(page, "report_overruled")
    page.get_by_role("button", name="neither the lane nor a ball changed").click()
    assert Overruling.objects.live().count() == 1
