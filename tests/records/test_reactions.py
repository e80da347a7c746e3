"""A ball's page shows what the ball does on the reference lane, to coach and shop."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from clients.models import Surface
from lanes.motion import BallSpec
from lanes.motion.reference import reaction
from lanes.reactions import lines_of, reaction_of

LABELS = ["Hook starts", "Roll starts", "Covers in the last 20 ft", "Entry angle", "Track flare"]


def page_of(browser, ball) -> str:
    return browser.get(reverse("clients:ball", args=[ball.pk])).content.decode()


def test_the_page_has_the_figures_in_the_order_of_the_lane(cast, as_user):
    page = page_of(as_user(cast.otto), cast.ball)
    assert re.findall(r'<th scope="row">([^<]+) <span', page) == LABELS
    spec = BallSpec("A", "solid", 2000, False, rg_in=2.52, differential_in=0.045, mass_lb=15)
    told = reaction(spec)
    assert f'<td class="num">{told.last_20ft_boards.value:.1f}</td>' in page
    assert f"{told.entry_angle_deg.low:.1f} to {told.entry_angle_deg.high:.1f}</td>" in page
    assert "our own reference lane" in page
    assert reverse("lanes:numbers") in page


def test_todays_surface_counts(cast):
    before = reaction_of(cast.ball).lines[2].value
    Surface.objects.create(ball=cast.ball, grit=500)
    cast.ball.refresh_from_db()
    after = reaction_of(cast.ball).lines[2].value
    assert float(after) > float(before)  # rougher covers more


def test_a_students_page_stays_short(cast, as_user):
    assert "reference lane" not in page_of(as_user(cast.sam), cast.ball)


def test_a_ball_that_does_not_roll_says_so():
    lines = lines_of(reaction(BallSpec("spare", "plastic", 10000, True)))
    assert lines[1].value == "past the pins"
    assert lines[1].spread == "past the pins"


def test_a_mistyped_ball_shows_the_problem_and_the_rest_of_the_page(cast, as_user):
    cast.ball.differential_in, cast.ball.intermediate_in = 0.02, 0.05
    cast.ball.save()
    page = page_of(as_user(cast.otto), cast.ball)
    assert "likely mistyped: intermediate_in" in page
    assert "Its life" in page


@pytest.mark.parametrize("who", ["otto", "carl", "olive"])
def test_coach_and_shop_see_it(cast, as_user, who):
    assert "On the reference lane" in page_of(as_user(getattr(cast, who)), cast.ball)
