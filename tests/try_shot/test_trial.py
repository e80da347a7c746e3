"""Trying a shot without a page: paths, numbers, words, picture."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from lanes.motion import (
    HOUSE,
    BallSpec,
    Layer,
    PatternSheet,
    Release,
    lane_friction,
    launch_for_target,
    roll,
)
from lanes.motion.geometry import BALL_RADIUS_IN, MPH_MPS
from lanes.motion.reference import reaction
from lanes.try_shot import Trial, film_before, try_shot

DRY = PatternSheet("dry", (Layer("1", "forward", 0.0, 10.0, 1, 39, 0.0),))
SOLID = BallSpec("Solid", cover="solid", grit=2000.0)
PLASTIC = BallSpec("Plastic", cover="plastic")


def trial(*balls: BallSpec, laydown: float = 20.0, target: float = 12.5, **more) -> Trial:
    release = Release(17.5, 350.0, 55.0, 12.0, laydown, launch_for_target(laydown, target))
    return Trial(release, target, balls or (SOLID,), **more)


def test_a_ball_of_equal_moments_comes_in_as_the_textbook_sphere_does():
    # A sliding sphere ends at v0 - u0 k / (1 + k), u0 the slip at release, whatever the friction
    # (any text on mechanics; Coriolis 1835; here k = (RG / R)^2). Seen on a dry lane, where the
    # ball rolls early; rolling straight on, it keeps its direction.
    rg = 2.55
    release = Release(18.0, 250.0, 40.0, 10.0, 12.0, launch_for_target(12.0, 5.0))
    even = replace(SOLID, rg_in=rg, differential_in=0.0)
    asked = Trial(release, 5.0, (even,), oil=DRY)
    k = (rg / BALL_RADIUS_IN) ** 2
    launch, turn = math.radians(release.launch_deg), math.radians(release.rotation_deg)
    speed = release.speed_mph * MPH_MPS
    surface = release.rev_rpm * 2 * math.pi / 60 * BALL_RADIUS_IN * 0.0254
    surface *= math.cos(math.radians(release.tilt_deg))
    share = k / (1 + k)
    vx = -speed * math.sin(launch) * (1 - share) + share * surface * math.sin(turn - launch)
    vy = speed * math.cos(launch) * (1 - share) + share * surface * math.cos(turn - launch)
    [one] = try_shot(asked).rolled
    assert one.path.roll_start_ft < 45
    assert one.path.entry_angle_deg == pytest.approx(math.degrees(math.atan2(vx, vy)), abs=0.02)


def test_what_the_page_shows_is_what_the_reduced_model_says_of_an_even_ball():
    even = replace(SOLID, differential_in=0.0)
    asked = trial(even)
    [one] = try_shot(asked).rolled
    reduced = roll(asked.release, even, lane_friction(HOUSE.film(), even))
    assert one.path.head_pin_board == pytest.approx(reduced.head_pin_board, abs=0.02)
    assert one.path.breakpoint_ft == pytest.approx(reduced.breakpoint_ft, abs=0.3)
    cells = {(row.label, row.unit): row.cells for row in try_shot(asked).numbers}
    assert cells["At the head pin", "board"] == (f"{reduced.head_pin_board:.1f}",)


def test_a_left_hander_on_an_even_pattern_sees_the_mirror_image():
    right, left = try_shot(trial(SOLID)), try_shot(trial(SOLID, hand="left"))
    assert right.numbers == left.numbers
    assert right.picture.x(5) > left.picture.x(5)


def test_an_uneven_pattern_is_turned_to_the_bowlers_hand():
    # Oil on the left half alone: a right-hander's strong side is dry, a left-hander's oiled.
    uneven = PatternSheet("half", (Layer("1", "forward", 0.0, 40.0, 1, 19, 12.0),))
    [right] = try_shot(trial(SOLID, laydown=15, target=8, oil=uneven)).rolled
    [left] = try_shot(trial(SOLID, laydown=15, target=8, oil=uneven, hand="left")).rolled
    assert right.path.hook_start_ft < 15 < left.path.hook_start_ft


def test_words_compare_each_ball_with_the_first():
    answer = try_shot(trial(SOLID, PLASTIC))
    first, second = answer.differences
    solid, plastic = (one.path for one in answer.rolled)
    assert first.startswith("Solid hooks from ")
    assert f"board {solid.head_pin_board:.1f} (" in first
    lighter = solid.head_pin_board - plastic.head_pin_board
    assert second.startswith(
        f"Plastic, against Solid: meets the head pin {lighter:.1f} boards ligh"
    )


def test_two_equal_balls_are_said_to_do_the_same():
    answer = try_shot(trial(SOLID, replace(SOLID, name="Twin")))
    assert answer.differences[1] == "Twin does what Solid does, as far as anybody could see."


def test_a_ball_in_the_gutter_is_told_and_drawn_as_far_as_it_goes():
    answer = try_shot(trial(PLASTIC, laydown=10, target=2))
    [one] = answer.rolled
    assert one.path.gutter_at_ft
    told = f"gutter at {one.path.gutter_at_ft:.0f} ft"
    assert told in answer.differences[0]
    assert one.in_short == told
    cells = {(row.label, row.unit): row.cells for row in answer.numbers}
    assert cells["At the head pin", "board"] == (told,)
    assert cells["Entry angle", "deg"] == ("none",)
    assert [mark.shape for mark in answer.picture.marks].count("square") == 0  # never rolls


def test_the_picture_has_a_line_a_ball_and_marks_where_its_phases_begin():
    answer = try_shot(trial(SOLID, PLASTIC, slots=(2, 4)))
    picture = answer.picture
    assert [(line.series, line.dash) for line in picture.lines] == [(2, "dash"), (4, "dashdot")]
    solid = answer.rolled[0].path
    mine = {mark.shape for mark in picture.marks if mark.series == 2}
    assert mine == {"circle", "triangle", "square"}
    # A mark lies on its own line: the breakpoint's tip is one unit over its radius above it.
    [tip] = [m.d for m in picture.marks if m.shape == "triangle" and m.series == 2]
    x, y = picture.x(solid.breakpoint_board), picture.y(solid.breakpoint_ft)
    assert tip.startswith(f"M{x},{y - 6.0}")
    labels = [key.label for key in picture.legend]
    assert labels.count("hook begins") == 1
    assert picture.cells  # the film under it


def test_what_was_assumed_of_a_ball_is_said_with_its_value():
    [one] = try_shot(trial(BallSpec("Plain", cover="pearl", mass_lb=14.0))).rolled
    assert "grit 3000" in one.assumed
    assert "differential 0.045 in" in one.assumed
    assert "weight" not in one.assumed


def test_the_lane_is_told_with_who_bowled_before():
    words = try_shot(trial(own_before=10, left_before=5)).lane_words
    assert "ordinary house pattern, 40 ft" in words
    assert "(assumed)" in words
    assert "worn by 15 balls: 10 on your own line with Solid, 5 by left-handers" in words
    assert try_shot(trial()).lane_words.endswith("fresh")


def test_balls_before_change_the_lane():
    fresh, worn = (try_shot(trial(own_before=n)).rolled[0].path for n in (0, 40))
    # Forty balls move the head pin by something one can see (common practice, no source).
    assert abs(worn.head_pin_board - fresh.head_pin_board) > 0.5


def test_oil_that_balls_took_is_missing_where_they_went_and_none_is_made():
    fresh, worn = (film_before(trial(own_before=n)) for n in (0, 40))
    path = try_shot(trial()).rolled[0].path
    board = round(float(path.path_board[25]))  # where the ball is 25 ft down
    assert worn.um[board - 1, 25] < 0.9 * fresh.um[board - 1, 25]
    assert worn.volume_ml < fresh.volume_ml


def test_left_handers_wear_the_other_side_of_the_lane():
    fresh, worn = (film_before(trial(left_before=n)) for n in (0, 40))
    lost = (fresh.um - worn.um).sum(axis=1)
    assert lost[20:].sum() > 5 * abs(lost[:19].sum())


def test_the_reference_lane_does_not_know_the_release_or_the_oil():
    slow = trial(SOLID, PLASTIC, laydown=25, target=15, own_before=20)
    assert try_shot(slow).reference == try_shot(trial(SOLID, PLASTIC)).reference
    rows = {row.label: row.cells for row in try_shot(slow).reference}
    assert rows["Hook starts"] == tuple(
        f"{reaction(ball).hook_start_ft.value:.1f}" for ball in (SOLID, PLASTIC)
    )
