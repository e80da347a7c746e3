"""The rigid ball of equal moments against rows 17 to 22 and cases a to g of 4B of the facts.

The numbers are computed from the sliding sphere's closed form (any mechanics text; Coriolis 1835
for the parabola). Here nothing is built in: the spin vector is integrated, and that the end does
not depend on friction is found. Without rolling resistance, which the closed form leaves out.
"""

import math

import numpy as np
import pytest

from lanes.motion import BallSpec, Lane, LaneState, Orientation, Release, UniformLane, roll
from lanes.motion.geometry import MPH_MPS
from lanes.motion.rigid import rigid_starts, roll_rigid, tumble

FORTY_FT, SIXTY_FT = 40 * 0.3048, 60 * 0.3048
ANY = Orientation.from_angles(4.2, 70, 35)


def start(speed, rpm, rotation, launch=0.0, tilt=0.0):
    launches = np.array([[20.0, launch, speed / MPH_MPS, rpm]])
    return rigid_starts(launches, rotation, tilt, ANY)[0]


def slide(first, k, radius, lane, distance, gravity=9.80665):
    inertia = np.full(3, k * radius**2)
    return tumble(first, inertia, lane, distance, radius, gravity, resistance=0.0)


def two_zones(first, k, radius):
    """Slide on 0.04 to 40 ft, then on 0.20 to 60 ft (friction pair published, Frohlich 2004)."""
    oiled = slide(first, k, radius, UniformLane(0.04), FORTY_FT)
    x = oiled.track[-1, 1]
    vx, vy, *spin = oiled.track[-1, 3:8]
    handed_on = np.array([-x, 0.0, -vx, vy, 1.0, 0.0, 0.0, 0.0, *spin])
    return oiled, slide(handed_on, k, radius, UniformLane(0.20), SIXTY_FT - FORTY_FT)


def rolling(slid):
    """Time, x, y where it first rolls."""
    return slid.track[np.argmax(slid.track[:, 10] == 1.0), :3]


def velocity(slid):
    return slid.track[-1, 3:5]


def angle(slid):
    return math.degrees(math.atan2(*velocity(slid)))


def speed(slid):
    return float(np.hypot(*velocity(slid)))


def sideways(slid, first):
    return slid.track[-1, 1] + first[0]


def test_case_a_uniform_lane():
    first = start(8.0, 300, 45)
    slid = slide(first, 0.4, 0.108, UniformLane(0.10), SIXTY_FT)
    assert np.hypot(*slid.track[0, 8:10]) == pytest.approx(6.0931, abs=1e-4)
    time, x, y = rolling(slid)
    assert (time, x + first[0], y) == pytest.approx((1.7752, 0.6084, 12.7812), abs=1e-4)
    assert velocity(slid) == pytest.approx([0.6855, 6.3998], abs=1e-4)
    assert speed(slid) == pytest.approx(6.4364, abs=1e-4)
    assert angle(slid) == pytest.approx(6.1136, abs=1e-4)


@pytest.mark.parametrize(("mu", "seconds"), [(0.04, 4.1782), (0.20, 0.8356)])
def test_case_b_the_end_does_not_depend_on_friction(mu, seconds):
    slid = slide(start(8.0, 416, 45), 0.4, 0.108, UniformLane(mu), 40.0)
    assert rolling(slid)[0] == pytest.approx(seconds, abs=1e-4)
    assert velocity(slid) == pytest.approx([0.9505, 6.6648], abs=1e-4)
    assert speed(slid) == pytest.approx(6.7322, abs=1e-4)
    assert angle(slid) == pytest.approx(8.1167, abs=1e-4)


@pytest.mark.parametrize("seed", range(8))
def test_row_19_the_end_is_the_same_under_any_friction_map(seed):
    """v_f = v0/(1+k) + s k/(1+k), with s = omega x R at release: an exact invariant."""
    rng = np.random.default_rng(seed)
    film = rng.uniform(0.0, 30.0, (39, 66)) * (rng.random((39, 66)) < rng.uniform(0.2, 0.9))
    state = LaneState(*rng.uniform(0.5, 1.5, 3))
    lane = Lane(film, rng.uniform(20, 55), rng.uniform(0.15, 0.35), rng.uniform(0.03, 0.1), 5.0,
                state=state)  # fmt: skip
    v0, rpm, k, radius = rng.uniform(6, 10), rng.uniform(0, 600), rng.uniform(0.33, 0.43), 0.108
    rotation, tilt, launch = rng.uniform(-90, 90), rng.uniform(0, 60), rng.uniform(-4, 4)
    slid = slide(start(v0, rpm, rotation, launch, tilt), k, radius, lane, 60.0)
    assert slid.track[-1, 10] == 1.0
    surface = rpm * 2 * math.pi / 60 * radius * math.cos(math.radians(tilt))
    out, turn = math.radians(launch), math.radians(rotation - launch)
    end = [
        (-v0 * math.sin(out) + k * surface * math.sin(turn)) / (1 + k),
        (v0 * math.cos(out) + k * surface * math.cos(turn)) / (1 + k),
    ]
    assert velocity(slid) == pytest.approx(end, abs=1e-6)
    # The upright part of the spin has no couple on it.
    upright = rpm * 2 * math.pi / 60 * math.sin(math.radians(tilt))
    assert slid.track[-1, 7] == pytest.approx(upright, abs=1e-9)


def test_case_c_twenty_miles_an_hour():
    first = start(8.9408, 350, 45)
    slid = slide(first, 0.4, 0.108, UniformLane(0.12), SIXTY_FT)
    time, x, y = rolling(slid)
    assert (time, x + first[0], y) == pytest.approx((1.6387, 0.6553, 13.2136), abs=1e-4)
    assert speed(slid) == pytest.approx(7.2304, abs=1e-4)
    assert angle(slid) == pytest.approx(6.3502, abs=1e-4)


def test_case_d_and_row_21_two_zones_without_spin():
    oiled, dry = two_zones(start(8.0, 0, 0), 0.4, 0.108)
    assert oiled.track[-1, 0] == pytest.approx(1.5856, abs=1e-4)
    assert speed(oiled) == pytest.approx(7.3780, abs=1e-4)
    assert oiled.track[-1, 0] + rolling(dry)[0] == pytest.approx(2.4339, abs=1e-4)
    assert FORTY_FT + rolling(dry)[2] == pytest.approx(17.7448, abs=1e-4)
    assert speed(dry) == pytest.approx(5.7143, abs=1e-4)
    assert oiled.track[-1, 0] + dry.track[-1, 0] == pytest.approx(2.5290, abs=1e-4)


def test_case_e_two_zones_with_spin():
    first = start(8.0, 300, 60)
    oiled, dry = two_zones(first, 0.4, 0.10795)
    assert oiled.track[-1, 0] == pytest.approx(1.5794, abs=1e-4)
    assert sideways(oiled, first) == pytest.approx(0.2066, abs=1e-4)
    assert speed(oiled) == pytest.approx(7.4430, abs=1e-4)
    assert angle(oiled) == pytest.approx(2.014, abs=1e-3)
    assert oiled.track[-1, 0] + rolling(dry)[0] == pytest.approx(2.2767, abs=1e-4)
    assert FORTY_FT + rolling(dry)[2] == pytest.approx(16.9463, abs=1e-4)
    assert rolling(dry)[1] + first[0] == pytest.approx(0.5904, abs=1e-4)
    assert oiled.track[-1, 0] + dry.track[-1, 0] == pytest.approx(2.4931, abs=1e-4)
    assert sideways(dry, first) == pytest.approx(0.7720, abs=1e-4)
    assert speed(dry) == pytest.approx(6.2553, abs=1e-4)
    assert angle(dry) == pytest.approx(7.709, abs=1e-3)


@pytest.mark.parametrize(
    ("k", "at_sixty", "aside", "end", "entry"),
    [(0.4, 2.4519, 0.3877, 6.7330, 6.312), ((2.5 / 4.25) ** 2, 2.4442, 0.3431, 6.8531, 5.365)],
)
def test_case_f_and_row_22_published_release(k, at_sixty, aside, end, entry):
    # Release of Ji et al., AIP Advances 15, 045222 (2025); use for direction and speed.
    first = start(8.0018, 416, 45, launch=1.8)
    oiled, dry = two_zones(first, k, 0.10795)
    assert oiled.track[-1, 0] + dry.track[-1, 0] == pytest.approx(at_sixty, abs=1e-4)
    assert sideways(dry, first) == pytest.approx(aside, abs=1e-4)
    assert speed(dry) == pytest.approx(end, abs=1e-4)
    assert angle(dry) == pytest.approx(entry, abs=1e-3)
    if k == 0.4:
        assert oiled.track[-1, 0] == pytest.approx(1.5727, abs=1e-4)
        assert sideways(oiled, first) == pytest.approx(-0.1019, abs=1e-4)
        assert FORTY_FT + rolling(dry)[2] == pytest.approx(15.893, abs=1e-3)


@pytest.mark.parametrize(
    ("v0", "mu", "seconds", "metres", "end", "digits"),
    [
        # Halliday/Resnick/Walker ch. 11 (data from memory): the book gives 1.2 s, 8.6 m, 6.1 m/s.
        (8.5, 0.21, 1.18, 8.60, 6.07, 5e-3),
        # Row 18: textbook bowling ball, answers computed.
        (8.10, 0.19, 1.243, 8.629, 5.786, 5e-4),
    ],
)
def test_case_g_and_row_18_textbook_balls(v0, mu, seconds, metres, end, digits):
    slid = slide(start(v0, 0, 0), 0.4, 0.11, UniformLane(mu), SIXTY_FT, gravity=9.8)
    time, _, y = rolling(slid)
    assert (time, y, speed(slid)) == pytest.approx((seconds, metres, end), abs=digits)


def test_row_17_sliding_without_spin():
    v0, mu, g = 7.3, 0.13, 9.80665
    slid = slide(start(v0, 0, 0), 0.4, 0.108, UniformLane(mu), 30.0)
    time, _, y = rolling(slid)
    assert time == pytest.approx(2 * v0 / (7 * mu * g), rel=1e-5)
    assert y == pytest.approx(12 * v0**2 / (49 * mu * g), rel=1e-5)
    assert speed(slid) == pytest.approx(5 / 7 * v0, rel=1e-9)


def test_rolling_resistance_slows_as_its_couple_says():
    # A rolling sphere with the normal force c R ahead loses c g / (1 + k): energy over distance.
    v0, k, c = 7.0, 0.4, 0.01
    first = start(v0, v0 / 0.108 * 60 / (2 * math.pi), 0)
    slid = tumble(first, np.full(3, k * 0.108**2), UniformLane(0.2), 15.0, 0.108, resistance=c)
    assert slid.track[0, 10] == 1.0
    lost = c * 9.80665 / (1 + k)
    assert speed(slid) == pytest.approx(math.sqrt(v0**2 - 2 * lost * 15.0), abs=1e-6)


@pytest.mark.parametrize("mu", [0.02, 0.05])
def test_slip_left_at_the_pins_and_its_side(mu):
    # 4A of the facts: du/dt = -mu g (1 + 1/k), in a direction that never turns.
    release = Release(17.5, 340.0, 55.0, 12.0, laydown=20.0, launch_deg=2.0)
    ball = BallSpec("ball", rg_in=2.5, differential_in=0.0)
    path = roll_rigid(release, ball, UniformLane(mu), ANY)
    k = (2.5 / (27 / (2 * math.pi))) ** 2
    v0 = 17.5 * MPH_MPS
    surface = 340 * 2 * math.pi / 60 * math.cos(math.radians(12)) * 27 / (2 * math.pi) * 0.0254
    turn, out = math.radians(55 - 2), math.radians(2)
    first = np.array([
        -v0 * math.sin(out) - surface * math.sin(turn),
        v0 * math.cos(out) - surface * math.cos(turn),
    ])  # fmt: skip
    left = np.hypot(*first) - mu * 9.80665 * (1 + 1 / k) * path.time_s
    assert left > 0.5
    assert path.slip_at_pins_mps == pytest.approx(left, abs=1e-4)
    assert path.slip_side_mps == pytest.approx(left * first[0] / np.hypot(*first), abs=1e-4)


def test_slip_at_the_pins_agrees_with_the_reduced_model():
    ball = BallSpec("ball", rg_in=2.5, differential_in=0.0)
    release = Release(19.0, 300.0, 70.0, 5.0, laydown=20.0, launch_deg=1.0)
    one, other = (f(release, ball, UniformLane(0.06)) for f in (roll, roll_rigid))
    assert one.slip_at_pins_mps > 0.5
    assert one.slip_at_pins_mps == pytest.approx(other.slip_at_pins_mps, abs=1e-4)
