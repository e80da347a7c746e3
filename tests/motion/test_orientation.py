"""Where pin and mass bias lie: exact spherical geometry, and moments that a ball can have."""

import math

import numpy as np
import pytest

from lanes.motion import BallSpec, Orientation
from lanes.motion.orientation import moments

INCH = 27 / (2 * math.pi)


def arc(one, other):
    return math.acos(np.clip(one @ other, -1, 1)) * INCH


# Section 6 of the facts: on a 27-in ball.
@pytest.mark.parametrize(
    ("pin_to_pap", "at_pap", "pin_to_val"),
    [(3.375, 45, 2.2500), (4.5, 30, 1.9244), (6.75, 30, 2.2500), (5, 40, 2.7129),
     (4, 70, 3.6687), (2, 90, 2.0000)],
)  # fmt: skip
def test_pin_to_val(pin_to_pap, at_pap, pin_to_val):
    o = Orientation.from_angles(pin_to_pap, 60, at_pap)
    assert arc(o.pin, o.pap) == pytest.approx(pin_to_pap, abs=1e-9)
    # The VAL is the circle through the PAP and the top (y), so its pole is z.
    assert math.asin(o.pin[2]) * INCH == pytest.approx(pin_to_val, abs=1e-4)


@pytest.mark.parametrize(
    ("pin_to_pap", "at_pin", "mb_to_pap"),
    [(3.375, 45, 4.5000), (3.375, 60, 5.1971), (5, 90, 6.7500), (4.5, 40, 3.6329),
     (4, 30, 3.4500)],
)  # fmt: skip
def test_mass_bias_to_pap(pin_to_pap, at_pin, mb_to_pap):
    o = Orientation.from_angles(pin_to_pap, at_pin, 45)
    assert arc(o.mass_bias, o.pap) == pytest.approx(mb_to_pap, abs=1e-4)
    assert o.mass_bias @ o.pin == pytest.approx(0, abs=1e-12)


def test_the_pin_is_up_and_on_the_grips_side_and_the_mass_bias_turns_down():
    o = Orientation.from_angles(4.5, 90, 45)
    assert o.pin[1] > 0
    assert o.pin[2] > 0
    assert o.mass_bias[1] < 0
    assert np.linalg.det(o.axes) == pytest.approx(1)


def test_a_pin_on_the_axis_is_the_limit_of_one_near_it():
    at, near = (Orientation.from_angles(p, 40, 70) for p in (0.0, 1e-7))
    for one, other in zip(at.axes, near.axes, strict=True):
        assert one == pytest.approx(other, abs=1e-6)


def test_a_measured_mass_bias_is_brought_square_to_the_pin():
    o = Orientation(np.array([1, 0, 0]), np.array([0, 0, 2]), np.array([0, 1, 0.1]))
    assert o.pin == pytest.approx([0, 0, 1])
    assert o.mass_bias == pytest.approx([0, 1, 0])


@pytest.mark.parametrize("mass_bias", [[0, 0, 1], [0, 0, 0], [0, 0.1, 1]])
def test_a_mass_bias_on_the_pin_is_refused(mass_bias):
    with pytest.raises(ValueError, match="mass_bias"):
        Orientation(np.array([1, 0, 0]), np.array([0, 0, 1]), np.array(mass_bias))


def test_a_direction_that_is_nothing_is_refused():
    with pytest.raises(ValueError, match="direction"):
        Orientation(np.zeros(3), np.array([0, 0, 1]), np.array([0, 1, 0]))


def test_of_a_ball_takes_its_layout():
    ball = BallSpec("b", pin_to_pap_in=5, angle_at_pin_deg=35, angle_at_pap_deg=70)
    one, other = Orientation.of(ball), Orientation.from_angles(5, 35, 70)
    assert np.array_equal(one.axes, other.axes)


# RG about an axis at an angle from the pin (section 6): 2.50 and 2.55 give 2.52512 at 45 degrees
# and 2.51259 at 30.
@pytest.mark.parametrize(("pin_to_pap", "rg"), [(3.375, 2.52512), (2.25, 2.51259)])
def test_rg_about_the_axis(pin_to_pap, rg):
    ball = BallSpec("b", rg_in=2.50, differential_in=0.05, pin_to_pap_in=pin_to_pap)
    o = Orientation.of(ball)
    about = (o.axes @ o.pap) ** 2 @ moments(ball)
    assert math.sqrt(about) / 0.0254 == pytest.approx(rg, abs=1e-5)
    # The reduced model's k lies half way, in moment, from the low one to that.
    half = (2.50**2 + rg**2) / 2
    assert ball.k == pytest.approx(half / INCH**2, abs=1e-6)


def test_k_of_an_asymmetric_ball_agrees_with_its_tensor():
    ball = BallSpec("b", rg_in=2.48, differential_in=0.054, intermediate_in=0.02,
                    pin_to_pap_in=4, angle_at_pin_deg=35)  # fmt: skip
    o = Orientation.of(ball)
    j = moments(ball) / 0.0254**2 / INCH**2
    assert ball.k == pytest.approx((j[0] + (o.axes @ o.pap) ** 2 @ j) / 2, rel=1e-12)


def test_moments_of_an_asymmetric_ball():
    ball = BallSpec("b", rg_in=2.48, differential_in=0.05, intermediate_in=0.02)
    assert np.sqrt(moments(ball)) / 0.0254 == pytest.approx([2.48, 2.53, 2.51])


def test_an_intermediate_differential_over_the_whole_is_refused():
    ball = BallSpec("b", differential_in=0.01, intermediate_in=0.02)
    with pytest.raises(ValueError, match=r"intermediate_in: 0\.02 given, at most"):
        moments(ball)


def test_a_differential_is_assumed_no_smaller_than_the_intermediate_that_is_known():
    assert BallSpec("b", "plastic", intermediate_in=0.03).filled().differential_in == 0.03
