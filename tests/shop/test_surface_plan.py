"""The surface plan: what is due and why, which grit, the shop's readings, tickets, the pages."""

from __future__ import annotations

import math
import uuid
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from clients import life
from clients.models import Ball, Surface, SurfaceReading, Ticket
from lanes import surface_plan
from lanes.arsenal import release_of
from lanes.locker import spec_with
from lanes.motion.reference import on_reference_lane
from lanes.surface_plan import MOVED_FT, REFRESH_GAMES, RESURFACE_GAMES

TODAY = timezone.localdate


def day(ago: int):
    return TODAY() - timedelta(days=ago)


def bowl(ball: Ball, games: int, ago: int = 1) -> None:
    life.write_down(ball=ball, kind="games", by=None, on=day(ago), games=games)


@pytest.fixture
def rough(cast) -> Ball:
    """Sam's ball A at 500 grit since 300 days ago, in no session."""
    Surface.objects.filter(ball=cast.ball).update(grit=500, done_on=day(300))
    return Ball.objects.select_related("client").get(pk=cast.ball.pk)


def planned(ball: Ball) -> surface_plan.Planned:
    return surface_plan.plan_of(Ball.objects.select_related("client").get(pk=ball.pk))[0]


# When it is due.


def test_due_is_where_the_rigid_balls_hook_has_moved_by_the_threshold(rough):
    one = planned(rough)
    release = release_of(rough.client).release

    def seen(games: float) -> float:
        return on_reference_lane(spec_with(rough, games), release).hook_start_ft

    assert one.due.low < one.due.middle < one.due.high
    assert seen(one.due.middle) - seen(0.0) == pytest.approx(MOVED_FT, abs=0.1)
    assert one.hook_fresh_ft == pytest.approx(seen(0.0), abs=0.1)


def test_more_games_bring_it_nearer_until_it_is_on_the_list(rough):
    waits = []
    for _ in range(4):
        waits.append(planned(rough).left.middle)
        bowl(rough, 2, ago=200 + len(waits))
    assert np.diff(waits) == pytest.approx([-2.0, -2.0, -2.0])
    assert not planned(rough).work or planned(rough).work[0].kind != "resurface"
    bowl(rough, 20, ago=150)
    work = planned(rough).work[0]
    assert (work.kind, work.grit, work.is_practice) == ("resurface", 500, False)
    assert f"{MOVED_FT:g} ft later" in work.why
    assert planned(rough).left.middle == 0.0


def test_a_new_surface_takes_it_off_the_list_and_drawing_oil_out_does_not(rough):
    bowl(rough, 40, ago=100)
    life.write_down(ball=rough, kind="oil_out", by=None, on=day(50))
    life.write_down(ball=rough, kind="cleaned", by=None, on=day(50))
    assert [work.kind for work in planned(rough).work] == ["resurface"]
    Surface.objects.create(ball=rough, grit=500, done_on=day(10))
    assert planned(rough).games == 0.0
    assert planned(rough).work == ()


def test_a_polished_ball_moves_the_other_way_and_is_polished_again(cast):
    Surface.objects.filter(ball=cast.ball).update(grit=4000, polished=True, done_on=day(300))
    bowl(cast.ball, 40, ago=100)
    work = planned(cast.ball).work[0]
    assert (work.kind, work.polished) == ("polish", True)
    assert "ft earlier" in work.why


@pytest.mark.parametrize(
    ("games", "word"), [(REFRESH_GAMES, "refresh"), (RESURFACE_GAMES, "resurface")]
)
def test_common_practice_is_marked_where_the_hook_asks_for_nothing(cast, games, word):
    # 30 and 60 games: four pro-shop pages (shared facts, section 8).
    Surface.objects.filter(ball=cast.ball).update(grit=3000, done_on=day(300))
    bowl(cast.ball, int(games) - 1, ago=100)
    assert not any(f"{word} at about" in work.why for work in planned(cast.ball).work)
    bowl(cast.ball, 1, ago=99)
    work = planned(cast.ball).work[0]
    assert work.is_practice
    assert f"{word} at about {games:.0f}" in work.why
    assert math.isinf(planned(cast.ball).due.middle)


def test_cleaning_is_asked_for_after_a_session_and_oil_by_look(rough):
    bowl(rough, 4, ago=5)
    assert [work.kind for work in planned(rough).work] == ["clean"]
    life.write_down(ball=rough, kind="cleaned", by=None, on=day(5))
    assert planned(rough).work == ()
    bowl(rough, 60, ago=290)
    kinds = {work.kind: work for work in planned(rough).work}
    assert "does not set the surface back" in kinds["oil_out"].why
    Ball.objects.filter(pk=rough.pk).update(cover="urethane")
    assert "oil_out" not in {work.kind for work in planned(rough).work}


def test_the_pace_of_the_last_weeks_puts_it_on_this_weeks_list(rough):
    due = planned(rough).due.middle
    for ago in (7, 14, 21, 28, 35, 42, 49):
        bowl(rough, 1, ago=ago)
    bowl(rough, int(due) - 7, ago=100)
    assert planned(rough).games < due
    assert planned(rough).weeks_left == pytest.approx((due - planned(rough).games) / (7 / 8))
    assert planned(rough).work[0].kind == "resurface"


def test_unknown_surface_spare_balls_and_retired_ones(cast):
    assert "No surface written down" in planned(cast.tess_ball).in_words
    Ball.objects.create(client=cast.sam_client, name="S", cover="plastic", is_spare_ball=True)
    Ball.objects.create(client=cast.sam_client, name="O", cover="solid", retired_at=TODAY())
    names = [str(one.ball) for one in surface_plan.plan_for(cast.otto).balls]
    assert names == ["A", "T"]
    assert [str(one.ball) for one in surface_plan.plan_for(cast.carl).balls] == ["A"]
    assert surface_plan.plan_for(cast.sam).balls == ()


# Which grit.


@pytest.mark.parametrize("wanted", [28.5, 30.0, 31.0])
def test_the_grit_brings_the_rigid_balls_hook_there(rough, wanted):
    _, settling = surface_plan.plan_of(rough)
    found = surface_plan.grit_wanted(rough, 0.0, settling, wanted)
    release = release_of(rough.client).release
    spec = replace(spec_with(rough, 0.0), grit=found.grit)
    assert on_reference_lane(spec, release).hook_start_ft == pytest.approx(wanted, abs=0.1)
    assert found.low < found.grit < found.high
    assert found.pad == min(surface_plan.PADS, key=lambda pad: abs(math.log(pad / found.grit)))


def test_a_place_that_no_pad_reaches_is_said(rough):
    _, settling = surface_plan.plan_of(rough)
    for ft in (20.0, 45.0):
        found = surface_plan.grit_wanted(rough, 0.0, settling, ft)
        assert found.grit is None
        assert found.never > 0.5


def test_finer_pads_hook_later_and_all_settle_to_one_place(rough):
    _, settling = surface_plan.plan_of(rough)
    pads = surface_plan.pads_of(rough, 0.0, settling)
    assert [row.grit for row in pads] == list(surface_plan.PADS)
    fresh, after = ([getattr(row, name) for row in pads] for name in ("fresh_ft", "after_ft"))
    assert all(np.diff(fresh) > 0)
    assert max(after) - min(after) < max(fresh) - min(fresh)


# The pages.


def test_the_plan_shows_the_work_its_cautions_and_what_is_common_practice(rough, cast, as_user):
    bowl(rough, 40, ago=100)
    html = as_user(cast.otto).get(reverse("lanes:surface_plan")).content.decode()
    for text in ("Resurface to 500", "common practice", "breathing protection", "Local codes"):
        assert text in html
    assert "17.5 mph" not in html


def test_a_ticket_is_made_from_it_once_and_then_named_there(rough, cast, as_user):
    bowl(rough, 40, ago=100)
    browser = as_user(cast.otto)
    url = reverse("lanes:plan_ticket", args=[rough.pk])
    data = {"key": uuid.uuid4(), "kind": "resurface", "grit": "500"}
    first, second = (browser.post(url, data) for _ in range(2))
    ticket = Ticket.objects.get()
    assert first["Location"] == second["Location"] == reverse("clients:ticket", args=[ticket.pk])
    assert (ticket.kind, ticket.grit, ticket.ball) == ("resurface", 500, rough)
    assert ticket.due_on == TODAY() + timedelta(days=7)
    html = browser.get(reverse("lanes:surface_plan")).content.decode()
    assert f"Ticket {ticket.number}, taken in" in html


@pytest.mark.parametrize(
    "wrong", [{"kind": "drill"}, {"grit": "5"}, {"grit": "fine"}, {"key": "x"}]
)
def test_what_is_no_line_of_the_plan_makes_no_ticket(rough, cast, as_user, wrong):
    data = {"key": uuid.uuid4(), "kind": "resurface", "grit": "500"} | wrong
    url = reverse("lanes:plan_ticket", args=[rough.pk])
    assert as_user(cast.otto).post(url, data).status_code == 400
    assert not Ticket.objects.exists()


def test_the_page_of_a_ball_answers_which_grit(rough, cast, as_user):
    url = reverse("lanes:ball_plan", args=[rough.pk])
    html = as_user(cast.carl).get(url, {"hook": "30,5"}).content.decode()
    assert "The nearest pad is" in html
    assert "in 8 of 10" in html
    assert (
        "No pad brings its hook there"
        in as_user(cast.carl).get(url, {"hook": "50"}).content.decode()
    )
    response = as_user(cast.carl).get(url, {"hook": "far"})
    assert response.context["form"].errors["hook"] == ["Expected a number, such as 17.5."]
    assert as_user(cast.carl).get(url, {"hook": "1"}).context["form"].errors["hook"]


def test_the_plan_asks_the_same_number_of_queries_for_more_balls(
    cast, as_user, django_assert_max_num_queries
):
    for number in range(12):
        ball = Ball.objects.create(client=cast.sam_client, name=f"B{number}", cover="pearl")
        Surface.objects.create(ball=ball, grit=500 + number, done_on=day(100))
        bowl(ball, 40, ago=50)
        SurfaceReading.objects.create(ball=ball, number=2000, read_on=day(10))
    browser = as_user(cast.otto)
    with django_assert_max_num_queries(20):
        assert browser.get(reverse("lanes:surface_plan")).status_code == 200


def test_an_empty_plan_says_how_to_begin(cast, as_user):
    Ball.objects.all().delete()
    html = as_user(cast.otto).get(reverse("lanes:surface_plan")).content.decode()
    assert "No balls to plan yet" in html
