"""The rigid ball against scipy's DOP853 (rtol 1e-10) on Euler's equations, unequal moments too.

The reference (``rigid_reference.py``) shares neither equations nor code with the kernel. A single
path is held to 0.005 board and degree, many at once to 0.02, flare to 0.03 in.
"""

import math

import numpy as np
import pytest

from lanes.motion import (
    BallSpec,
    LaneState,
    Orientation,
    Release,
    UniformLane,
    checkpoints_rigid,
    lane_friction,
    roll_rigid,
)
from lanes.motion.constants import ROLLING_RESISTANCE

from .rigid_reference import BOARD, FOOT, RADIUS, Ball, friction_of, held_at_release, rings

SYMMETRIC = BallSpec("s", "solid", 2000, False, 2.50, 0.050, 0.0, 15, 3.375, 90, 45)
ASYMMETRIC = BallSpec("a", "pearl", 3000, True, 2.48, 0.054, 0.020, 15, 5.0, 35, 70)
STRONG = BallSpec("m", "hybrid", 1000, False, 2.47, 0.060, 0.028, 16, 4.0, 60, 20)
WEAK = BallSpec("w", "urethane", 1000, False, 2.65, 0.020, 0.004, 14, 2.0, 120, 100)

ORDINARY = Release(17.5, 340, 55, 12, 20, 2.9)
CASES = {
    "symmetric": (SYMMETRIC, ORDINARY, None),
    "asymmetric": (ASYMMETRIC, Release(16.3, 400, 60, 16, 22, 3.3), None),
    "worn lane": (STRONG, Release(18.6, 430, 65, 14, 26, 3.9), LaneState(0.8, 0.6, 0.95)),
    "few revs": (WEAK, Release(17.0, 250, 20, 30, 18, 1.2), None),
    "slips to the pins": (ASYMMETRIC, Release(19.5, 300, 75, 5, 24, 2.5), 0.05),
    "slips again": (STRONG, Release(15.0, 450, 25, 10, 25, 4.5), 0.09),
}


def judged(ball, release, lane, resistance):
    """Head-pin board, entry angle, roll start in ft and flare in inches of the reference."""
    o = Orientation.of(ball)
    turn = held_at_release(
        release.rotation_deg, release.tilt_deg, release.launch_deg, o.pap, o.pin, o.mass_bias
    )
    low, high = ball.rg_in * 0.0254, (ball.rg_in + ball.differential_in) * 0.0254
    third = high - ball.intermediate_in * 0.0254
    speed, launch = release.speed_mph * 0.44704, math.radians(release.launch_deg)
    pap = np.array([o.pin, o.mass_bias, np.cross(o.pin, o.mass_bias)]) @ o.pap
    start = np.concatenate(
        [
            [-(release.laydown - 0.5) * BOARD, 0.0],
            [speed * math.sin(launch), speed * math.cos(launch)],
            release.rev_rpm * 2 * math.pi / 60 * pap,
            turn.ravel(),
        ]
    )
    model = Ball([low**2, high**2, third**2], friction_of(lane), resistance)
    end, roll_y, pieces = model.run(start)
    poles, radius, middle = rings(pieces, roll_y)
    if roll_y is not None and roll_y < middle[-1]:
        last = np.array([np.interp(roll_y, middle, part) for part in poles.T])
        last, last_radius = last / np.linalg.norm(last), np.interp(roll_y, middle, radius)
    else:
        last, last_radius = poles[-1], radius[-1]
    # The farthest point of the last ring from the first one, found by walking round it.
    across = np.cross(last, [1.0, 0.3, -0.2])
    across /= np.linalg.norm(across)
    walk = np.radians(np.arange(0, 360, 0.05))[:, None]
    tip = math.radians(last_radius)
    ring = math.cos(tip) * last + math.sin(tip) * (
        np.cos(walk) * across + np.sin(walk) * np.cross(last, across)
    )
    off = np.degrees(np.arccos(np.clip(ring @ poles[0], -1, 1))) - radius[0]
    return (
        -end[0] / BOARD + 0.5,
        math.degrees(math.atan2(-end[2], end[3])),
        None if roll_y is None else roll_y / FOOT,
        np.abs(off).max() / 360 * 27,
        len(pieces),
    )


@pytest.mark.parametrize("case", CASES)
def test_head_pin_angle_and_flare(case):
    ball, release, state = CASES[case]
    lane = UniformLane(state) if isinstance(state, float) else lane_friction(None, ball)
    lane = lane.with_state(state) if isinstance(state, LaneState) else lane
    board, angle, roll_ft, flare, pieces = judged(ball, release, lane, ROLLING_RESISTANCE)
    assert (pieces > 2) == (case == "slips again")
    path = roll_rigid(release, ball, lane)
    assert path.gutter_at_ft is None
    assert path.head_pin_board == pytest.approx(board, abs=0.005)
    assert path.entry_angle_deg == pytest.approx(angle, abs=0.005)
    assert path.flare_in == pytest.approx(flare, abs=0.03)
    if roll_ft is None:
        assert path.roll_start_ft is None
    else:
        assert path.roll_start_ft == pytest.approx(roll_ft, abs=0.01)
    launch = np.array([[release.laydown, release.launch_deg, release.speed_mph, release.rev_rpm]])
    seen = checkpoints_rigid(launch, release.rotation_deg, release.tilt_deg, ball, lane)[0]
    assert seen[3] == pytest.approx(board, abs=0.02)
    assert seen[4] == pytest.approx(angle, abs=0.02)
    assert seen[7] == pytest.approx(flare, abs=0.03)


def test_the_balls_radius_is_the_cores():
    from lanes.motion.geometry import BALL_RADIUS_M

    assert pytest.approx(BALL_RADIUS_M, rel=1e-12) == RADIUS
