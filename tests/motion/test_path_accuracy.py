"""How far the path's long steps lie from the equations they solve, over all that is ordinary.

``test_against_ode.py`` holds a dozen paths to scipy on the full equations. Here random releases on
patterns from gentle to sharp-edged, fresh and worn, are held to scipy's DOP853 on the reduced
equations, and many more to the same kernel in steps of half a millisecond, which the first check
shows to be the better of the two.
"""

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lanes.motion import BallSpec, LaneState, Layer, PatternSheet, lane_friction
from lanes.motion import path as paths
from lanes.motion.geometry import BALL_RADIUS_M, BOARD_M, FOOT_M, GRAVITY

BALLS = (
    BallSpec("strong", "solid", 500, False, 2.46),
    BallSpec("shiny", "pearl", 4000, True, 2.54),
    BallSpec("early", "urethane", 1000, False, 2.57),
    BallSpec("spare", "plastic", 3000, True, 2.75),
)


def sheet(*layers):
    return PatternSheet("made up", tuple(Layer(str(i), *row) for i, row in enumerate(layers)))


FILMS = {
    "house": None,
    "two ways": sheet(("forward", 0.0, 40.0, 8, 30, 9.0), ("reverse", 6.0, 38.0, 10, 28, 9.0)).film(
        "right"
    ),
    "short": sheet(("forward", 0.0, 32.0, 2, 38, 12.0)).film("right"),
    "long": sheet(("forward", 0.0, 45.0, 2, 38, 14.0)).film("right"),
    "narrow": sheet(("forward", 0.0, 40.0, 12, 28, 16.0)).film("right"),  # sharp edges, no house
}


def ordinary(rng, n):
    """Launches (n, 4), rotation, tilt and lane factors: what students throw on lanes in use."""
    launches = np.column_stack(
        [
            rng.uniform(8, 34, n),
            rng.uniform(-1, 5, n),
            rng.uniform(12, 22, n),
            rng.uniform(60, 550, n),
        ]
    )
    factors = np.column_stack(
        [
            rng.uniform(low, high, n)
            for low, high in ((0.6, 1.5), (0.7, 1.1), (0.4, 1.1), (0.7, 1.3))
        ]
    )
    return launches, rng.uniform(5, 90, n), rng.uniform(0, 40, n), factors


def traced(launches, rotation, tilt, ball, lane, factors, longest=None):
    with pytest.MonkeyPatch.context() as patch:
        if longest is not None:
            patch.setattr(paths, "LONGEST_STEP", longest)
        return paths.trace_launches(launches, rotation, tilt, ball, lane, factors)


@pytest.mark.parametrize("name", FILMS)
def test_every_ordinary_path_ends_within_a_hundredth_of_a_board(name):
    rng = np.random.default_rng(5)
    for ball in BALLS:
        lane = lane_friction(FILMS[name], ball)
        throws = ordinary(rng, 50)
        found = traced(*throws[:3], ball, lane, throws[3])
        fine = traced(*throws[:3], ball, lane, throws[3], longest=0.0005)
        stays = np.isnan(fine[:, 7])  # what lies in the gutter has no board at the pins
        assert stays.sum() > 15
        off = np.abs(found - fine)[stays]
        assert off[:, 0].max() < 0.01  # arrows, boards
        assert off[:, 1].max() < 0.01  # breakpoint, boards
        assert off[:, 2].max() < 0.05  # breakpoint, ft: a flat place, hard to tell along the lane
        assert off[:, 4].max() < 0.01  # head pin, boards
        assert off[:, 5].max() < 0.005  # entry angle, deg
        assert off[:, 6].max() < 0.005  # slip, m/s


def reduced(launch, rotation, tilt, ball, lane):
    """Head-pin board and entry angle by DOP853 (rtol 1e-10) on the reduced equations."""
    x, vx, vy, ux, uy = paths.starts_from(launch[None], rotation, tilt, BALL_RADIUS_M)[0]
    slip = math.hypot(ux, uy)
    ex, ey, end = ux / slip, uy / slip, slip * ball.k / (1 + ball.k)

    def slope(_, state):
        pull = GRAVITY * float(lane.mu(state[0], state[1]))
        return [vx - ex * state[2], vy - ey * state[2], pull]

    def rolls(_, state):
        return state[2] - end

    def arrives(_, state):
        return state[1] - 59.5 * FOOT_M

    rolls.terminal = arrives.terminal = True
    x, y, s = solve_ivp(
        slope, (0, 10), [x, 0, 0], "DOP853", rtol=1e-10, atol=1e-12, events=[rolls, arrives],
        max_step=0.02,
    ).y[:, -1]  # fmt: skip
    vx, vy = vx - ex * s, vy - ey * s
    board = (x + vx * (59.5 * FOOT_M - y) / vy) / BOARD_M + 0.5
    return board, math.degrees(math.atan2(vx, vy))


@pytest.mark.parametrize("name", FILMS)
def test_fine_steps_are_the_equations(name):
    rng = np.random.default_rng(7)
    ball = BALLS[0]
    plain = lane_friction(FILMS[name], ball)
    launches, rotation, tilt, factors = ordinary(rng, 4)
    fine = traced(launches, rotation, tilt, ball, plain, factors, longest=0.0005)
    for i in np.flatnonzero(np.isnan(fine[:, 7])):
        scale, front, mid, back = map(float, factors[i])
        lane = lane_friction(FILMS[name], ball, scale=scale, state=LaneState(front, mid, back))
        board, angle = reduced(launches[i], float(rotation[i]), float(tilt[i]), ball, lane)
        assert fine[i, 4] == pytest.approx(board, abs=0.001)
        assert fine[i, 5] == pytest.approx(angle, abs=0.001)
