"""The harness's ball against outside references, so that its sessions rest on mechanics.

Cases a to e: FACTS section 4B (computed from the textbook equations, spherical inertia). The full
rigid ball: scipy's DOP853 on the same physics written another way (angular momentum and a rotation
matrix in space).
"""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from . import ball, lane

BARE = np.zeros((lane.ROWS, lane.COLUMNS))


def constant(mu):
    return np.array([mu, 0.0, 1.0, 0.0, 1.0, 0.0, 0.0])


def follow(v0, rpm, rotation, law, until, radius=0.108, film=BARE, tilt=0.0):
    throw = np.array([20.0, 0.0, v0 / ball.MPH, rpm, rotation, tilt])
    equal = np.full(3, 0.4 * radius**2)
    state, time = ball.follow_one(
        throw, film, law, equal, np.array([1.0, 0, 0, 0]), until, radius, step=0.002
    )
    state[0] -= 19.5 * ball.BOARD
    return state, time


def test_case_a_constant_friction_to_rolling():
    state, time = follow(8.0, 300, 45, constant(0.10), 12.7812)
    assert state[0] == pytest.approx(0.6084, abs=0.005)
    assert time == pytest.approx(1.7752, abs=0.003)
    assert state[2:4] == pytest.approx([0.6855, 6.3998], abs=0.02)
    later = follow(8.0, 300, 45, constant(0.10), 16.0)[0]
    assert later[2:4] == pytest.approx([0.6855, 6.3998], abs=0.002)


@pytest.mark.parametrize("mu", [0.12, 0.20])
def test_case_b_the_end_does_not_depend_on_friction(mu):
    state, _ = follow(8.0, 416, 45, constant(mu), 18.2)
    assert state[2:4] == pytest.approx([0.9505, 6.6648], abs=0.002)


def test_case_c_faster_ball():
    state, time = follow(8.9408, 350, 45, constant(0.12), 13.2136)
    assert state[0] == pytest.approx(0.6553, abs=0.005)
    assert time == pytest.approx(1.6387, abs=0.003)


def zones():
    film = np.zeros_like(BARE)
    film[:, :40] = 100.0  # thick as far as 40 ft
    return film, np.array([0.20, 0.04, 1e-3, 8.0, 1.0, 0.0, 0.0])


def test_case_d_two_zones_without_spin():
    film, law = zones()
    state, time = follow(8.0, 0, 0, law, 40 * ball.FOOT, film=film)
    assert (time, state[3]) == (pytest.approx(1.5856, abs=2e-3), pytest.approx(7.3780, abs=5e-3))
    state, time = follow(8.0, 0, 0, law, 60 * ball.FOOT, film=film)
    assert (time, state[3]) == (pytest.approx(2.5290, abs=4e-3), pytest.approx(5.7143, abs=5e-3))


def test_case_e_two_zones_with_side_roll():
    film, law = zones()
    state, time = follow(8.0, 300, 60, law, 40 * ball.FOOT, 0.10795, film)
    assert state[0] == pytest.approx(0.2066, abs=2e-3)
    state, time = follow(8.0, 300, 60, law, 60 * ball.FOOT, 0.10795, film)
    assert state[0] == pytest.approx(0.7720, abs=4e-3)
    assert np.degrees(np.arctan2(state[2], state[3])) == pytest.approx(7.709, abs=0.05)
    assert time == pytest.approx(2.4931, abs=4e-3)


def test_unequal_moments_against_scipy():
    film = lane.lay(lane.layers(40.0, 25.0))
    law = lane.law("solid", 2000, False)
    moments = ball.moments_of(2.48, 0.055, 0.02)
    attitude = ball.attitude_for(55, 12, 3.4)
    throw = np.array([20.0, 2.8, 17.5, 350, 55, 12])
    begin = ball.starts(throw, attitude)[0]
    w, x, y, z = attitude
    turn = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )
    momentum = turn @ (moments * begin[8:11])
    down = np.array([0.0, 0.0, -ball.RADIUS])

    def rates(_t, s):
        r = s[4:13].reshape(3, 3)
        spin = r @ ((r.T @ s[13:16]) / moments)
        slip = np.append(s[2:4], 0.0) + np.cross(spin, down)
        u = float(np.hypot(slip[0], slip[1]))
        mu = ball.friction(ball.film_at(film, s[0], s[1]), u, law)
        force = -mu * ball.G * np.tanh(u / ball._CREEP) * slip / max(u, 1e-9)
        force[2] = 0.0
        turned = np.cross(spin, r, axisa=0, axisb=0, axisc=0)
        return np.concatenate([s[2:4], force[:2], turned.ravel(), np.cross(down, force)])

    def there(_t, s):
        return s[1] - ball.PINS_FT * ball.FOOT

    there.terminal = True
    start = np.concatenate([begin[:4], turn.ravel(), momentum])
    found = solve_ivp(
        rates, (0, 4), start, "DOP853", events=there, rtol=1e-8, atol=1e-9, max_step=0.01
    )
    theirs = found.y_events[0][0]
    # The equations are the same: a finer step than the harness's comes to the same path. Its own is
    # worth a twentieth of a board and a tenth of a degree.
    for step, boards, degrees in ((0.001, 0.02, 0.03), (ball.STEP, 0.05, 0.10)):
        ours, time = ball.follow_one(
            throw, film, law, moments, attitude, ball.PINS_FT * ball.FOOT, step=step
        )
        assert (ours[0] - theirs[0]) / ball.BOARD == pytest.approx(0.0, abs=boards)
        turned = np.arctan2(ours[2], ours[3]) - np.arctan2(theirs[2], theirs[3])
        assert np.degrees(turned) == pytest.approx(0.0, abs=degrees)
        assert time == pytest.approx(found.t_events[0][0], abs=2e-3)
