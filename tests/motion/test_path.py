"""What a path says of itself, and what holds for any legal release."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lanes.motion import (
    HOUSE,
    BallSpec,
    Layer,
    PatternSheet,
    Release,
    UniformLane,
    checkpoints,
    lane_friction,
    launch_for_target,
    roll,
)
from lanes.motion.geometry import BALL_RADIUS_M, LANE_WIDTH_M
from lanes.motion.path import LIMITS, slide, starts_from

BALL = BallSpec("made up", "solid", 2000, False, 2.52, 0.045)
HOUSE_LANE = lane_friction(None, BALL)


def ordinary(**changes):
    facts = {
        "speed_mph": 17.5,
        "rev_rpm": 340,
        "rotation_deg": 55,
        "tilt_deg": 12,
        "laydown": 20,
        "launch_deg": launch_for_target(20, 11.5),
    }
    return Release(**(facts | changes))


def test_an_ordinary_ball_on_the_house_pattern_hooks_into_the_pocket_side():
    path = roll(ordinary(), BALL, HOUSE_LANE)
    assert 0 < path.breakpoint_board < path.arrows_board < 20
    assert 35 < path.breakpoint_ft < 45
    assert 15 < path.head_pin_board < 23
    assert 3 < path.entry_angle_deg < 6  # 4 to 6 deg are called good (research article)
    assert path.hook_start_ft < path.roll_start_ft < 59.5
    assert path.slip_at_pins_mps == 0.0
    # 17.9 mph at release is 15.1 to 15.3 mph when fully rolling, a loss of 2.5 to 3 mph (4B, f).
    assert 2 < 17.5 - path.speed_at_pins_mph < 3.5


def test_path_phases_follow_one_another():
    path = roll(ordinary(), BALL, HOUSE_LANE)
    order = [phase for i, phase in enumerate(path.path_phase) if phase not in path.path_phase[:i]]
    assert order == ["skid", "hook", "roll"]
    assert path.path_ft[0] == 0.0
    assert path.path_ft[-1] == pytest.approx(59.5)
    assert path.path_board[-1] == pytest.approx(path.head_pin_board, abs=1e-6)
    assert np.all(np.diff(path.path_mph) <= 1e-9)


def test_a_ball_that_never_rolls_out_says_so():
    path = roll(ordinary(speed_mph=19, launch_deg=1.0), BALL, UniformLane(0.03))
    assert path.roll_start_ft is None
    assert path.slip_at_pins_mps > 0.5
    assert "roll" not in path.path_phase


def test_a_ball_in_the_gutter_has_no_head_pin():
    path = roll(ordinary(launch_deg=launch_for_target(20, 3)), BALL, HOUSE_LANE)
    assert path.gutter_at_ft is not None
    assert path.head_pin_board is None
    assert path.entry_angle_deg is None
    assert path.path_ft[-1] == pytest.approx(path.gutter_at_ft)
    assert path.path_board[-1] == pytest.approx(0.5, abs=0.02)
    seen = checkpoints(
        np.array([[20, launch_for_target(20, 3), 17.5, 340]]), 55, 12, BALL, HOUSE_LANE
    )
    assert np.isfinite(seen[0, 0])
    assert np.isnan(seen[0, 3:]).all()


def test_a_ball_thrown_inward_has_no_breakpoint():
    path = roll(ordinary(laydown=10, launch_deg=-0.5), BALL, HOUSE_LANE)
    assert path.breakpoint_board is None
    assert path.breakpoint_ft is None


def test_a_ball_without_spin_goes_straight():
    # Common sense and the closed form: slip and velocity are in line.
    path = roll(ordinary(rev_rpm=0, launch_deg=0.0), BALL, HOUSE_LANE)
    assert path.path_board == pytest.approx(np.full(len(path.path_board), 20.0), abs=1e-9)


def test_opening_the_launch_costs_as_much_entry_angle_once_rolled_out():
    # The whole release turns with the launch, so one degree of launch is one degree of entry.
    a = roll(ordinary(launch_deg=2.0), BALL, HOUSE_LANE).entry_angle_deg
    b = roll(ordinary(launch_deg=3.0), BALL, HOUSE_LANE).entry_angle_deg
    assert a - b == pytest.approx(1.0, abs=1e-6)


def test_more_oil_and_less_friction_hook_later():
    plain = roll(ordinary(), BALL, HOUSE_LANE)
    oily = roll(ordinary(), BALL, lane_friction(None, BALL, oil_scale=1.3))
    weak = roll(ordinary(), BALL, lane_friction(None, BALL, scale=0.8))
    assert oily.head_pin_board < plain.head_pin_board
    assert weak.head_pin_board < plain.head_pin_board


def test_covers_and_surfaces_order_as_the_trade_says():
    # Common practice, no source: plastic hardly hooks, polish and fine grit hook later.
    def board(**facts):
        ball = BallSpec("x", rg_in=2.52, **facts)
        line = ordinary(launch_deg=launch_for_target(20, 13))  # closed enough for plastic
        return roll(line, ball, lane_friction(None, ball)).head_pin_board

    solid = board(cover="solid", grit=2000, polished=False)
    assert board(cover="pearl", grit=2000, polished=False) < solid
    assert board(cover="solid", grit=4000, polished=False) < solid
    assert board(cover="solid", grit=2000, polished=True) < solid
    assert board(cover="plastic", grit=4000, polished=True) < solid - 5


releases = st.builds(
    Release, **{name: st.floats(low, high) for name, (low, high) in LIMITS.items()}
)
lanes = st.one_of(
    st.floats(0.005, 0.5).map(UniformLane),
    st.builds(
        lambda oil, scale: lane_friction(None, BALL, oil_scale=oil, scale=scale),
        st.floats(0.1, 3),
        st.floats(0.3, 2),
    ),
)


@settings(max_examples=300, deadline=None)
@given(releases, lanes)
def test_no_legal_release_gives_nan(release, lane):
    path = roll(release, BALL, lane)
    numbers = [value for value in vars(path).values() if isinstance(value, float)]
    assert all(math.isfinite(value) for value in numbers)
    for values in (path.path_ft, path.path_board, path.path_mph):
        assert np.isfinite(values).all()
    assert np.all(np.diff(path.path_ft) > 0)
    assert (path.head_pin_board is None) == (path.gutter_at_ft is not None)
    assert path.time_s > 0


@settings(max_examples=100, deadline=None)
@given(releases, st.floats(0.3, 2))
def test_roll_and_checkpoints_say_the_same(release, scale):
    lane = lane_friction(None, BALL, scale=scale)
    launch = np.array([[release.laydown, release.launch_deg, release.speed_mph, release.rev_rpm]])
    seen = checkpoints(launch, release.rotation_deg, release.tilt_deg, BALL, lane)[0]
    path = roll(release, BALL, lane)
    told = [
        path.arrows_board,
        path.breakpoint_board,
        path.breakpoint_ft,
        path.head_pin_board,
        path.entry_angle_deg,
        path.slip_at_pins_mps,
        path.speed_at_pins_mph,
    ]
    for one, other in zip(seen, told, strict=True):
        assert np.isnan(one) if other is None else one == pytest.approx(other, abs=0.01)


@settings(max_examples=100, deadline=None)
@given(releases)
def test_the_lane_has_no_handedness_of_its_own(release):
    # The same throw seen from the other edge: mirrored place, launch, rotation and film.
    sheet = PatternSheet("uneven", (Layer("1", "forward", 0.0, 40.0, 3, 24, 9.0),))
    turned = np.array([[-release.launch_deg]])
    other_way = np.array([[40 - release.laydown, turned[0, 0], release.speed_mph, release.rev_rpm]])
    one_way = other_way.copy()
    one_way[0, :2] = release.laydown, release.launch_deg
    ends = []
    for launch, rotation, hand in (
        (one_way, release.rotation_deg, "right"),
        (other_way, -release.rotation_deg, "left"),
    ):
        lane = lane_friction(sheet.film(hand), BALL)
        start = starts_from(launch, rotation, release.tilt_deg, BALL_RADIUS_M)[0]
        ends.append(slide(start, BALL.k, lane, 18.0).track[-1])
    assert ends[0][1] == pytest.approx(LANE_WIDTH_M - ends[1][1], abs=1e-7)
    assert ends[0][0] == pytest.approx(ends[1][0], abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(releases)
def test_a_left_hander_on_the_mirrored_sheet_throws_the_same_path(release):
    layers = (
        Layer("1", "forward", 0.0, 40.0, 3, 24, 9.0),
        Layer("2", "reverse", 5.0, 38.0, 10, 36, 8.0),
    )
    mirrored = tuple(
        Layer(a.layer, a.direction, a.from_ft, a.to_ft, 40 - a.last_board, 40 - a.first_board, a.ml)
        for a in layers
    )
    right = lane_friction(PatternSheet("a", layers).film("right"), BALL)
    left = lane_friction(PatternSheet("b", mirrored).film("left"), BALL)
    a, b = roll(release, BALL, right), roll(release, BALL, left)
    assert a.path_board == pytest.approx(b.path_board, abs=1e-12)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"speed_mph": 0.0}, "speed_mph"),
        ({"rev_rpm": -1}, "rev_rpm"),
        ({"laydown": 55}, "laydown"),
        ({"tilt_deg": math.nan}, "tilt_deg"),
    ],
)
def test_a_release_out_of_reach_names_the_field(change, name):
    with pytest.raises(ValueError, match=name):
        ordinary(**change)


def test_house_is_the_default():
    given_house = lane_friction(HOUSE.film(), BALL)
    assert np.array_equal(given_house.film, HOUSE_LANE.film)
