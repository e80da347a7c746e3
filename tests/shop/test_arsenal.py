"""The arsenal map: numbers against closed forms and the rigid model, overlaps, gaps, the page."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse
from django.utils import timezone

from clients import life
from clients.models import Ball, Surface
from lanes import arsenal
from lanes.motion import POCKET, BallSpec, Release, UniformLane, roll, roll_rigid
from lanes.motion.geometry import BALL_RADIUS_M, BOARD_M, FOOT_M
from lanes.motion.reference import MIDDLE, on_reference_lane, reaction

G = 9.80665
MPH = 0.44704


# Where a hook is seen.


@pytest.mark.parametrize("mu", [0.03, 0.06, 0.12])
def test_on_one_friction_the_hook_is_seen_where_the_parabola_says(mu):
    # A sliding ball on one friction runs a parabola (any textbook on rotating bodies): the
    # acceleration is mu g along the slip, which keeps its direction. Sent straight with the axis
    # turned by 90 deg, slip is v forward and r omega sideways.
    boards, v, revs = 2.0, 17.0 * MPH, 300.0
    release = Release(17.0, revs, 90.0, 0.0, laydown=15.0, launch_deg=0.0)
    path = roll(release, BallSpec("x"), UniformLane(mu))
    side = revs * 2 * math.pi / 60 * BALL_RADIUS_M
    slip = math.hypot(v, side)
    t = math.sqrt(2 * boards * BOARD_M * slip / (mu * G * side))
    expected = (v * t - 0.5 * mu * G * v / slip * t**2) / FOOT_M
    assert path.hook_start_ft == pytest.approx(expected, abs=0.02)


def test_the_line_is_the_one_that_the_ball_was_sent_on():
    straight = Release(17.0, 300.0, 90.0, 0.0, laydown=15.0, launch_deg=0.0)
    slanted = replace(straight, launch_deg=2.0)
    lane = UniformLane(0.06)
    one, other = (roll(r, BallSpec("x"), lane).hook_start_ft for r in (straight, slanted))
    # Turned by 2 deg: the path is the same parabola, seen along the lane instead of along the line.
    assert other == pytest.approx(one, abs=0.25)


def test_a_ball_that_never_leaves_its_line_has_no_hook():
    release = Release(17.0, 0.0, 0.0, 0.0, laydown=15.0, launch_deg=0.0)
    assert roll(release, BallSpec("x"), UniformLane(0.06)).hook_start_ft is None


# The map.


@pytest.fixture
def shelf(cast):
    """Sam with a rough solid, the same once more, a pearl and a spare ball."""
    client = cast.sam_client
    Surface.objects.filter(ball=cast.ball).update(grit=500)
    twin = Ball.objects.create(
        client=client, name="Twin", cover="solid", rg_in=2.52, differential_in=0.045, mass_lb=15
    )
    Surface.objects.create(ball=twin, grit=500)
    pearl = Ball.objects.create(client=client, name="Pearl", cover="pearl")
    Surface.objects.create(ball=pearl, grit=4000, polished=True)
    Ball.objects.create(client=client, name="S", cover="plastic", is_spare_ball=True)
    Ball.objects.create(client=client, name="Old", cover="solid", retired_at=timezone.localdate())
    cast.twin, cast.pearl = twin, pearl
    return cast


def test_the_numbers_are_those_of_the_reference_lane_by_the_students_release(shelf):
    shelf.sam_client.rotation_deg, shelf.sam_client.tilt_deg = 55, 12
    found = arsenal.arsenal_of(shelf.sam_client)
    one = next(one for one in found.balls if one.ball == shelf.ball)
    told = reaction(one.spec)  # by the middle release, which is Sam's: 17.5 mph, 350 rpm, 55, 12
    assert one.path.entry_angle_deg == pytest.approx(told.entry_angle_deg.value, abs=1e-9)
    assert one.last_20ft_boards == pytest.approx(told.last_20ft_boards.value, abs=1e-9)
    assert one.path.flare_in == pytest.approx(told.flare_in.value, abs=1e-9)
    shelf.sam_client.rev_rpm = 250
    weaker = arsenal.arsenal_of(shelf.sam_client)
    slow = next(one for one in weaker.balls if one.ball == shelf.ball)
    assert slow.head_pin_board < one.head_pin_board


def test_the_order_goes_down_and_spares_and_retired_balls_are_beside_it(shelf):
    found = arsenal.arsenal_of(shelf.sam_client)
    boards = [one.head_pin_board for one in found.balls]
    assert boards == sorted(boards, reverse=True)
    assert {str(one.ball) for one in found.balls} == {"A", "Twin", "Pearl"}
    assert [str(ball) for ball in found.spares] == ["S"]


def test_twins_overlap_and_a_gap_lies_beside_them(shelf):
    found = arsenal.arsenal_of(shelf.sam_client)
    (overlap,) = found.overlaps
    assert {str(overlap.one.ball), str(overlap.other.ball)} == {"A", "Twin"}
    assert overlap.apart_boards == pytest.approx(0.0, abs=1e-9)
    (gap,) = found.gaps
    assert str(gap.weaker.ball) == "Pearl"
    assert gap.boards > arsenal.GAP_BOARDS == 2 * (POCKET.high - POCKET.light)


def test_games_bring_the_two_together(shelf):
    def step() -> float:
        found = arsenal.arsenal_of(shelf.sam_client)
        return found.balls[0].head_pin_board - found.balls[-1].head_pin_board

    fresh = step()
    for ball in (shelf.ball, shelf.twin, shelf.pearl):
        life.write_down(ball=ball, kind="games", by=shelf.otto, on=timezone.localdate(), games=40)
    assert step() < fresh - 3.0  # a rough and a polished cover both go to the lane-worn number


def test_an_overlap_ends_where_the_release_would_no_longer_hide_it(shelf):
    # Between the two grits that just overlap and just do not, the distance passes the doubt.
    release = arsenal.release_of(shelf.sam_client).release
    spec = BallSpec("x", "solid", 500, False)
    states = []
    for grit in range(500, 4001, 250):
        other = replace(spec, grit=float(grit))
        one, two = (arsenal.on_the_map(shelf.ball, s, release) for s in (spec, other))
        apart = arsenal.apart_boards(one.path, two.path)
        doubt = 0.5 * (one.doubt_boards + two.doubt_boards)
        states.append((bool(list(arsenal.overlaps([one, two]))), apart < doubt))
    assert all(found == below for found, below in states)
    assert states[0][0]
    assert not states[-1][0]


def test_the_doubt_is_that_of_the_rigid_ball():
    spec = BallSpec("x", "solid", 1000, False, 2.50, 0.050, mass_lb=15)
    moved = []
    for name, sd in {"speed_mph": 0.5, "rev_rpm": 20.0, "rotation_deg": 5.0}.items():
        other = replace(MIDDLE, **{name: getattr(MIDDLE, name) + sd})
        one, two = on_reference_lane(spec), on_reference_lane(spec, other)
        moved.append(np.max(np.abs(one.path_board - two.path_board)))
    assert arsenal.doubt_boards(spec, MIDDLE) == pytest.approx(np.hypot.reduce(moved), abs=0.1)
    assert isinstance(one, type(roll_rigid(MIDDLE, spec, UniformLane(0.1))))


def test_an_unmeasured_release_and_a_backup_ball_are_said(shelf):
    thrown = arsenal.release_of(shelf.tess_client)
    assert set(thrown.assumed) == {"speed_mph", "rev_rpm", "rotation_deg", "tilt_deg"}
    assert "speed 17 mph (assumed)" in thrown.words
    shelf.sam_client.hook, shelf.sam_client.rotation_deg = "backup", -40.0
    assert arsenal.release_of(shelf.sam_client).release.rotation_deg == 40.0


def test_a_ball_that_cannot_be_is_told_and_the_others_stay(shelf):
    Ball.objects.filter(pk=shelf.pearl.pk).update(differential_in=0.02, intermediate_in=0.05)
    found = arsenal.arsenal_of(shelf.sam_client)
    assert "Pearl is left out" in found.problems[0]
    assert len(found.balls) == 2


# The page.


def page(browser, client) -> str:
    response = browser.get(reverse("lanes:arsenal", args=[client.pk]))
    assert response.status_code == 200
    return response.content.decode()


def test_student_coach_and_shop_see_it_and_the_shop_no_release(shelf, as_user):
    for who in (shelf.carl, shelf.sam, shelf.otto):
        html = page(as_user(who), shelf.sam_client).split('id="main"')[1]
        assert "A and Twin do the same" in html or "Twin and A do the same" in html
        assert ("350 rpm" in html) == (who != shelf.otto)
        assert "Drops the shoulder" not in html


def test_an_empty_arsenal_says_how_to_begin(cast, as_user):
    html = page(as_user(cast.otto), cast.wendy_client)
    assert "No balls to compare yet" in html
    assert "Begin with" in html
    assert "Begin with" not in page(as_user(cast.gina), cast.wendy_client)


def test_the_page_asks_the_same_number_of_queries_for_more_balls(
    shelf, as_user, django_assert_max_num_queries
):
    for number in range(8):
        ball = Ball.objects.create(client=shelf.sam_client, name=f"B{number}", cover="pearl")
        Surface.objects.create(ball=ball, grit=500 + 500 * number)
    browser = as_user(shelf.carl)
    with django_assert_max_num_queries(14):
        page(browser, shelf.sam_client)


def test_the_portal_leads_to_it(shelf, as_user):
    html = as_user(shelf.sam).get(reverse("portal")).content.decode()
    assert reverse("lanes:arsenal", args=[shelf.sam_client.pk]) in html
    assert "/arsenal/" not in as_user(shelf.carl).get(reverse("portal")).content.decode()
