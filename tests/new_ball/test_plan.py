"""The plan of a client: what goes in, made once, who sees it, and what its page says."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from clients import jobs
from clients.jobs import JobProblem
from clients.models import AuditEntry, Ball, Job, StockBall
from lanes import new_ball
from lanes.models import Block, NewBallPlan, SessionBall, Shot
from lanes.motion import parse_pattern
from lanes.patterns import import_pattern
from tests.conftest import make_session

from .conftest import log_into

SHEET = "layer,direction,from_ft,to_ft,first_board,last_board,ml\n1,forward,0,{},2,38,16\n"


def quiet(fraction: float, message: str = "") -> None:
    pass


def address(w) -> str:
    return reverse("lanes:new_ball", args=[w.sam_client.pk])


# What goes in.


def test_the_bag_without_spare_and_retired_balls_goes_in(bag):
    Ball.objects.create(client=bag.sam_client, name="Old", cover="solid", retired_at="2026-01-01")
    inputs = new_ball.gather(bag.sam_client)
    assert [spec.name for _, spec in inputs.at_hand] == ["A", "Pearl"]
    ((name, _, owners),) = inputs.lessons
    assert name == "ordinary house oil"
    assert owners == [str(bag.ball.pk)]


def test_the_newest_sessions_on_different_patterns_are_taken(bag):
    newest = bag.block.starts_at
    for age, length in ((1, 38), (2, 38), (3, 42), (4, 44)):
        pattern, _ = import_pattern(
            parse_pattern(SHEET.format(length), f"Flat {length}"), by=bag.carl
        )
        block = Block.objects.create(
            centre=bag.centre,
            created_by=bag.carl,
            pattern=pattern,
            starts_at=newest - timedelta(days=age),
        )
        session = make_session(block, bag.sam_client, bag.carl)
        SessionBall.objects.create(session=session, label="A", ball=bag.ball, cover="solid")
        log_into(session, seed=age)
    names = [name for name, _, _ in new_ball.gather(bag.sam_client).lessons]
    assert names == ["ordinary house oil", "Flat 38", "Flat 42"]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda w: Ball.objects.filter(client=w.sam_client).delete(), "No strike ball"),
        (lambda w: Shot.objects.filter(number__gt=9).delete(), "10 first balls"),
        (lambda w: type(w.sam_client).objects.update(hook="backup"), "back-up"),
    ],
)
def test_what_is_missing_is_said(bag, spoil, words):
    spoil(bag)
    bag.sam_client.refresh_from_db()
    with pytest.raises(JobProblem, match=words):
        new_ball.gather(bag.sam_client)


def test_a_mistyped_ball_is_left_out_by_name(bag):
    Ball.objects.filter(pk=bag.pearl.pk).update(differential_in=0.01, intermediate_in=0.03)
    inputs = new_ball.gather(bag.sam_client)
    assert [spec.name for _, spec in inputs.at_hand] == ["A"]
    assert "Pearl is left out" in inputs.notes[0]


def test_another_surface_makes_another_input(bag):
    before = new_ball.gather(bag.sam_client).digest
    assert new_ball.gather(bag.sam_client).digest == before
    bag.ball.surfaces.update(grit=500)
    assert new_ball.gather(bag.sam_client).digest != before


# Making it.


def test_the_worker_makes_a_plan_and_the_same_input_finds_it_again(bag, as_user):
    otto = as_user(bag.otto)
    page = reverse("lanes:new_ball_ask", args=[bag.sam_client.pk])
    assert otto.post(page).status_code == 302
    assert otto.post(page).status_code == 302  # a second tap
    job = Job.objects.get(kind="new_ball_plan")
    # Not by `jobs.run`: its heart beats on another connection, which sees nothing of this test.
    made = new_ball.plan_for_job(job, quiet)
    plan = NewBallPlan.objects.get()
    assert made == {"plan": plan.pk}
    assert (plan.by, plan.job) == (bag.otto, job)
    assert AuditEntry.objects.filter(action="new_ball_plan.made", actor=bag.otto).count() == 1
    assert new_ball.make(bag.sam_client, quiet) == plan
    data = plan.data
    assert 0.05 < data["at_hand"]["chance"] < 0.95
    for one in (data["practice"], *data["resurface"], data["legal"]):
        assert one["gain"]["low"] <= one["gain"]["mean"] <= one["gain"]["high"]
    Job.objects.all().delete()
    html = otto.get(address(bag)).content.decode()
    assert "The shop earns on a ball" in html
    assert "Surface matters more" in html


def test_a_client_without_lessons_fails_with_what_is_missing(cast, as_user):
    job = new_ball.ask(cast.sam_client, cast.otto)
    jobs.run(job.pk)
    job.refresh_from_db()
    assert job.state == Job.State.FAILED
    assert "10 first balls" in job.error
    html = as_user(cast.otto).get(address(cast)).content.decode()
    assert "Too little for a plan" in html
    assert "without lessons" in html


# Who sees it, and what.


def test_the_shop_sees_gear_numbers_and_nothing_of_a_lesson(made, bag, as_user):
    made(clear=False)
    Shot.objects.filter(number=1).update(note="Dropped the shoulder again")
    html = as_user(bag.otto).get(address(bag)).content.decode()
    assert "Practice" in html
    assert "shoulder" not in html
    assert reverse("lanes:session", args=[bag.session.pk]) not in html
    for stranger in (bag.dora, bag.sam, bag.gina, bag.nick):
        assert as_user(stranger).get(address(bag)).status_code == 404


def test_a_ball_that_is_not_clear_is_no_purchase(made, bag, as_user):
    made(clear=False)
    html = as_user(bag.otto).get(address(bag)).content.decode()
    assert "not now" in html
    assert "185.00" not in html
    assert "drill ticket" not in html


def test_a_clear_ball_stands_after_what_is_free_with_what_a_surface_gets_of_it(made, bag, as_user):
    made(clear=True)
    StockBall.objects.create(pk=7, name="Brick Lantern", cover="solid", quantity=1)
    otto = as_user(bag.otto)
    html = otto.get(address(bag)).content.decode()
    free, surface, ball = (html.index(f'id="{name}-h"') for name in ("free", "surface", "ball"))
    assert free < surface < ball
    assert "A to 1000 grit gets you 33 % of it (10 to 60 %)" in html
    assert "185.00" in html
    # The shop sells it from the list; a coach, who does not, has it drilled by a ticket.
    sale = reverse("clients:stock_sell_to", args=[7, bag.sam_client.pk])
    link = f"{reverse('clients:ticket_new', args=[bag.sam_client.pk])}?kind=drill"
    assert sale in html
    seen_by_coach = as_user(bag.carl).get(address(bag)).content.decode()
    assert sale not in seen_by_coach
    assert link in seen_by_coach
    form = otto.get(f"{link}&new_ball=Brick%20Lantern&new_cover=solid").context["form"]
    assert form["new_ball"].value() == "Brick Lantern"
    assert form["new_cover"].value() == "solid"
    assert not form["ball"].value()


def test_an_empty_stock_says_so(made, bag, as_user):
    made(clear=False, in_stock=0)
    html = as_user(bag.otto).get(address(bag)).content.decode()
    assert "The stock list holds no ball" in html


def test_a_plan_on_older_input_offers_to_be_made_again(made, bag, as_user):
    made(clear=False)
    html = as_user(bag.otto).get(address(bag)).content.decode()
    assert "have changed since" in html
    assert "Work it out again" in html


def test_the_page_asks_no_more_for_more_shots(made, bag, as_user, django_assert_max_num_queries):
    made(clear=True)
    otto = as_user(bag.otto)
    otto.get(address(bag))
    # Session and user, the client, the plan, the job, the worker's lease; the bag with surfaces,
    # games and the law's readings; one session with its block, balls, shots and their games.
    with django_assert_max_num_queries(30):
        otto.get(address(bag))
