"""The kernel against scipy's DOP853 on the full sliding equations with a spin vector.

The reference integrates place, velocity and the three-dimensional spin of a ball of equal moments
(rtol 1e-10) and looks the oil up by its own interpolation, so that neither the reduction to one
state nor the kernel's friction is taken on trust. It also shows the signs of rotation and tilt.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.interpolate import RegularGridInterpolator

from lanes.motion import BallSpec, LaneState, Release, lane_friction, parse_pattern, roll
from lanes.motion.geometry import BALL_RADIUS_M, BOARD_M, FOOT_M, GRAVITY, MPH_MPS
from lanes.motion.path import trace_launches

SHEET = """direction,from_ft,to_ft,first_board,last_board,ml
forward,0,34,2,38,6
forward,0,40,8,30,8
reverse,6,38,10,28,9
"""
BALL = BallSpec("made up", "solid", 2000, False, 2.52, 0.045)
RELEASES = [
    Release(17.7, 330, 55, 9, 20, 2.9),
    Release(16.3, 360, 50, 11, 21, 3.3),
    Release(18.6, 430, 65, 14, 24, 3.6),
    Release(14.5, 300, 40, 20, 15, 1.0),
    Release(20.0, 520, 75, 5, 28, 4.2),
    Release(17.0, 250, 20, 30, 18, 1.2),
]


def reference(release, lane, k):
    """Head-pin x and angle from the full equations, in a right-handed frame: X right, Y on."""
    width = 39 * BOARD_M
    centres = (np.arange(39) + 0.5) * BOARD_M
    feet = (np.arange(lane.film.shape[1]) + 0.5) * FOOT_M
    film = RegularGridInterpolator((centres, feet), lane.film)

    def friction(right, on):
        x = np.clip(width - right, centres[0], centres[-1])
        y = np.clip(on, feet[0], feet[-1])
        ft = on / FOOT_M
        front = min(max((25.0 - ft) / 10.0, 0.0), 1.0)
        back = min(max((ft - lane.length_ft) / 4.0, 0.0), 1.0)
        oil = film((x, y)) * (lane.state.front * front + lane.state.mid * (1 - front))
        dry = lane.mu_dry * (1 + back * (lane.state.back - 1))
        return lane.scale * float(dry - (dry - lane.mu_oil) * (1 - math.exp(-oil / lane.soak)))

    down = np.array([0.0, 0.0, -BALL_RADIUS_M])

    def slip(state):
        return state[2:4] + np.cross(state[4:7], down)[:2]

    def slope(_, state):
        u = slip(state)
        pull = -friction(state[0], state[1]) * GRAVITY * u / np.hypot(*u)
        # I = k m R^2, so the spin changes by R x F over it.
        spin = np.cross(down, [*pull, 0.0]) / (k * BALL_RADIUS_M**2)
        return np.concatenate([state[2:4], pull, spin])

    def rolls(_, state):
        return np.hypot(*slip(state)) - 1e-4

    def arrives(_, state):
        return state[1] - 59.5 * FOOT_M

    rolls.terminal = arrives.terminal = True
    speed = release.speed_mph * MPH_MPS
    launch, turn, tilt = (
        math.radians(v) for v in (release.launch_deg, release.rotation_deg, release.tilt_deg)
    )
    velocity = [speed * math.sin(launch), speed * math.cos(launch)]  # outward is to the right
    # The axis: to the left at rotation 0, turned back toward the bowler, raised by the tilt.
    left = np.array([-math.cos(launch), math.sin(launch), 0.0])
    back = np.array([-math.sin(launch), -math.cos(launch), 0.0])
    axis = math.cos(tilt) * (math.cos(turn) * left + math.sin(turn) * back)
    axis[2] = math.sin(tilt)
    spin = release.rev_rpm * 2 * math.pi / 60 * axis
    first = [width - (release.laydown - 0.5) * BOARD_M, 0.0, *velocity, *spin]
    path = solve_ivp(
        slope, (0, 10), first, method="DOP853", rtol=1e-10, atol=1e-12, events=[rolls, arrives],
        max_step=0.02,
    )  # fmt: skip
    X, Y, VX, VY = path.y[:4, -1]
    rest = (59.5 * FOOT_M - Y) / VY
    return (width - (X + VX * rest)) / BOARD_M + 0.5, math.degrees(math.atan2(-VX, VY))


@pytest.mark.parametrize("state", [LaneState(), LaneState(0.8, 0.6, 0.95)])
@pytest.mark.parametrize("release", RELEASES)
def test_head_pin_to_a_hundredth_of_a_board(release, state):
    lane = lane_friction(parse_pattern(SHEET).film("right"), BALL, scale=1.1, state=state)
    launch = np.array([[release.laydown, release.launch_deg, release.speed_mph, release.rev_rpm]])
    found = trace_launches(launch, release.rotation_deg, release.tilt_deg, BALL, lane)[0]
    board, angle = reference(release, lane, BALL.k)
    assert found[4] == pytest.approx(board, abs=0.01)
    assert found[5] == pytest.approx(angle, abs=0.01)
    path = roll(release, BALL, lane)
    if path.gutter_at_ft is None:
        assert path.head_pin_board == pytest.approx(board, abs=0.01)
        assert path.entry_angle_deg == pytest.approx(angle, abs=0.01)


def test_lane_looks_friction_up_like_the_kernel():
    # One small step along the lane takes mu g dt off the speed.
    from lanes.motion.path import slide, starts_from

    lane = lane_friction(parse_pattern(SHEET).film("right"), BALL, state=LaneState(0.9, 0.8, 0.9))
    start = starts_from(np.array([[12.0, 0.0, 17.0, 0.0]]), 0.0, 0.0, BALL_RADIUS_M)[0]
    slid = slide(start, BALL.k, lane, 59.5 * FOOT_M, time_step=1e-3)
    time, x, y, s = slid.track[::40].T
    mu = lane.mu(x, y)
    taken = np.diff(s) / np.diff(time) / GRAVITY
    smooth = 0.5 * (mu[1:] + mu[:-1])
    slipping = slid.track[-1, 3] - s[1:] > 1e-6
    assert taken[slipping] == pytest.approx(smooth[slipping], abs=0.003)


@pytest.mark.parametrize("state", [LaneState(), LaneState(0.8, 0.7, 1.2), LaneState(1.3, 0.9, 0.8)])
def test_once_it_rolls_the_full_equations_end_as_the_release_alone_says(state):
    """Row 19 of the facts: v_f = v0/(1+k) + s k/(1+k) whatever the lane. Built into the kernel, so
    it is asked of the reference, and of the kernel beside it."""
    release = Release(15.0, 330, 55, 9, 22, 2.6)
    lane = lane_friction(parse_pattern(SHEET).film("right"), BALL, scale=1.1, state=state)
    share = BALL.k / (1 + BALL.k)
    v0, turn = release.speed_mph * MPH_MPS, math.radians(release.rotation_deg)
    surface = release.rev_rpm * 2 * math.pi / 60 * BALL_RADIUS_M * math.cos(math.radians(9))
    across = share * surface * math.sin(turn)
    along = v0 * (1 - share) + share * surface * math.cos(turn)
    end = math.degrees(math.atan2(across, along)) - release.launch_deg
    assert reference(release, lane, BALL.k)[1] == pytest.approx(end, abs=0.005)
    path = roll(release, BALL, lane)
    assert path.roll_start_ft is not None
    assert path.entry_angle_deg == pytest.approx(end, abs=0.005)
