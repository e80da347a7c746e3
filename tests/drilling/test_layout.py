"""Layouts: worked values of spherical trigonometry, and every way of telling one brought back."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.drilling import Layout, LayoutError, Place

PAP = Place(5.0, 0.5)

paps = st.builds(Place, st.floats(0, 8), st.floats(-3, 3))
distances = st.floats(0.01, 13.4)
angles = st.floats(-179.9, 179.9)


@pytest.mark.parametrize(
    ("pin_to_pap", "angle_at_pap", "pin_to_val"),
    # Right spherical triangle, sin b = sin p sin V: the table of the shared facts, section 6.
    [
        (3.375, 45, 2.2500),
        (4.5, 30, 1.9244),
        (6.75, 30, 2.2500),
        (5, 40, 2.7129),
        (4, 70, 3.6687),
        (2, 90, 2.0000),
    ],
)
def test_pin_to_val(pin_to_pap: float, angle_at_pap: float, pin_to_val: float) -> None:
    layout = Layout.from_angles(PAP, pin_to_pap, 60, angle_at_pap)
    assert layout.pin_to_val_in == pytest.approx(pin_to_val, abs=5e-5)


@pytest.mark.parametrize(
    ("pin_to_pap", "angle_at_pin", "mass_bias_to_pap"),
    # Cosine rule with a quarter turn, cos c = sin p cos D: same table.
    [
        (3.375, 45, 4.5000),
        (3.375, 60, 5.1971),
        (5, 90, 6.7500),
        (4.5, 40, 3.6329),
        (4, 30, 3.4500),
    ],
)
def test_mass_bias_to_pap(pin_to_pap: float, angle_at_pin: float, mass_bias_to_pap: float) -> None:
    layout = Layout.from_angles(PAP, pin_to_pap, angle_at_pin, 40)
    assert layout.mass_bias_to_pap_in == pytest.approx(mass_bias_to_pap, abs=5e-5)


def test_places_that_can_be_seen_without_a_formula() -> None:
    """PAP on the midline a quarter turn over: the arcs run along the axes of the frame."""
    side = Layout.from_angles(Place(6.75, 0), 2.75, 90, 90)
    assert (side.pin.over_in, side.pin.up_in) == pytest.approx((4.0, 0.0), abs=1e-12)
    # At the pin the arc to the PAP points over; a right angle toward the VAL's lower arm is down.
    assert side.mass_bias is not None
    assert side.mass_bias.up_in == pytest.approx(-6.75, abs=1e-6)
    above = Layout.from_angles(Place(6.75, 0), 3.0, 90, 0)
    assert (above.pin.over_in, above.pin.up_in) == pytest.approx((6.75, 3.0), abs=1e-12)
    # From a pin on the VAL above the PAP the arc to it points down: the quarter turn ends at the
    # grip centre.
    assert above.mass_bias is not None
    assert (above.mass_bias.over_in, above.mass_bias.up_in) == pytest.approx((0, 0), abs=1e-9)
    assert above.pin_to_val_in == pytest.approx(0.0, abs=1e-9)
    beyond = Layout(Place(5, 0), Place(7, 0))
    assert beyond.angle_at_pap_deg == pytest.approx(-90, abs=1e-9)
    assert beyond.pin_to_val_in == pytest.approx(2.0, abs=1e-12)
    assert beyond.pin_to_grip_centre_in == pytest.approx(7.0, abs=1e-12)


def test_the_mass_bias_turns_toward_the_lower_arm_of_the_val() -> None:
    """As documented: a larger angle at the pin takes a usual mass bias down and to the grip."""
    for smaller, larger in pairwise((0, 15, 30, 45)):
        one = Layout.from_angles(PAP, 4.0, smaller, 45).mass_bias
        other = Layout.from_angles(PAP, 4.0, larger, 45).mass_bias
        assert one is not None
        assert other is not None
        assert other.up_in < one.up_in
        assert other.over_in < one.over_in


@given(paps, distances, angles, angles)
def test_angles_come_back_from_the_places(
    pap: Place, pin_to_pap: float, at_pin: float, at_pap: float
) -> None:
    made = Layout.from_angles(pap, pin_to_pap, at_pin, at_pap)
    read = Layout(pap, made.pin, made.mass_bias)
    # An angle is as sharp as its arc is long: a hundredth of an inch holds 11 digits of it.
    assert read.pin_to_pap_in == pytest.approx(pin_to_pap, abs=1e-9)
    assert read.angle_at_pin_deg == pytest.approx(at_pin, abs=1e-9)
    assert read.angle_at_pap_deg == pytest.approx(at_pap, abs=1e-9)
    assert read.pin_to_mass_bias_in == pytest.approx(6.75, abs=1e-9)


@given(
    paps,
    st.floats(0.1, 6.2),
    st.floats(0, 180),
    st.floats(0, 180),
)
def test_distances_come_back(pap: Place, pin_to_pap: float, at_pin: float, at_pap: float) -> None:
    """The distances of a layout make a layout with the same distances."""
    made = Layout.from_angles(pap, pin_to_pap, at_pin, at_pap)
    assert made.mass_bias_to_pap_in is not None
    back = Layout.from_distances(
        pap, made.pin_to_pap_in, made.mass_bias_to_pap_in, made.pin_to_val_in, at_pap <= 90
    )
    assert back.pin_to_pap_in == pytest.approx(made.pin_to_pap_in, abs=1e-9)
    assert back.mass_bias_to_pap_in == pytest.approx(made.mass_bias_to_pap_in, abs=1e-9)
    assert back.pin_to_val_in == pytest.approx(made.pin_to_val_in, abs=1e-9)


@given(
    paps,
    st.floats(0.5, 6.75),
    st.floats(5, 175),
    st.floats(0, 85) | st.floats(95, 180),
)
def test_angles_come_back_from_the_distances(
    pap: Place, pin_to_pap: float, at_pin: float, at_pap: float
) -> None:
    """Away from the folds, where one distance belongs to a whole range of angles (V near 90)."""
    made = Layout.from_angles(pap, pin_to_pap, at_pin, at_pap)
    assert made.mass_bias_to_pap_in is not None
    back = Layout.from_distances(
        pap, made.pin_to_pap_in, made.mass_bias_to_pap_in, made.pin_to_val_in, at_pap <= 90
    )
    assert back.angle_at_pin_deg == pytest.approx(at_pin, abs=1e-9)
    assert back.angle_at_pap_deg == pytest.approx(at_pap, abs=1e-9)
    assert back.pin.over_in == pytest.approx(made.pin.over_in, abs=1e-9)
    assert back.pin.up_in == pytest.approx(made.pin.up_in, abs=1e-9)


@given(st.floats(26.704, 27.002), st.floats(0.5, 6), st.floats(5, 175), st.floats(5, 175))
def test_a_ball_of_another_size(
    around: float, pin_to_pap: float, at_pin: float, at_pap: float
) -> None:
    made = Layout.from_angles(PAP, pin_to_pap, at_pin, at_pap, around)
    read = Layout(PAP, made.pin, made.mass_bias, around)
    assert read.pin_to_pap_in == pytest.approx(pin_to_pap, abs=1e-9)
    assert read.pin_to_mass_bias_in == pytest.approx(around / 4, abs=1e-9)
    assert read.angle_at_pin_deg == pytest.approx(at_pin, abs=1e-9)
    sine = math.sin(2 * math.pi * pin_to_pap / around) * math.sin(math.radians(at_pap))
    assert read.pin_to_val_in == pytest.approx(
        abs(math.asin(sine)) * around / (2 * math.pi), abs=1e-7
    )


def test_a_pin_on_the_axis_has_no_angles_and_says_so() -> None:
    on_axis = Layout.from_angles(PAP, 0.0, 60, 45)
    assert on_axis.pin_to_pap_in == pytest.approx(0.0, abs=1e-12)
    assert on_axis.mass_bias is None
    assert on_axis.angle_at_pin_deg is None
    assert on_axis.angle_at_pap_deg is None
    assert any("on the axis" in note for note in on_axis.notes)
    measured = Layout(PAP, PAP, Place(5.0, -6.25))
    assert measured.mass_bias_to_pap_in == pytest.approx(6.75, abs=1e-12)
    assert measured.angle_at_pin_deg is None
    assert measured.angle_at_pap_deg is None


def test_a_symmetric_ball_has_no_mass_bias() -> None:
    layout = Layout.from_angles(PAP, 4.5, None, 45)
    assert layout.mass_bias is None
    assert layout.angle_at_pin_deg is None
    assert layout.mass_bias_to_pap_in is None
    assert layout.angle_at_pap_deg == pytest.approx(45, abs=1e-9)
    assert any("No mass bias" in note for note in layout.notes)


def test_a_mass_bias_measured_at_a_wrong_place_is_said() -> None:
    made = Layout.from_angles(PAP, 4.0, 50, 40)
    assert made.mass_bias is not None
    assert made.notes == []
    moved = Place(made.mass_bias.over_in, made.mass_bias.up_in + 0.5)
    assert any("measure again" in note for note in Layout(PAP, made.pin, moved).notes)


@pytest.mark.parametrize(
    ("distances", "field"),
    [
        ((0.0, 5.0, 0.0), "pin_to_pap_in"),
        ((3.0, 1.0, 1.0), "mass_bias_to_pap_in"),
        ((3.0, 6.0, 3.5), "pin_to_val_in"),
    ],
)
def test_distances_that_no_ball_has(distances: tuple[float, float, float], field: str) -> None:
    with pytest.raises(LayoutError) as error:
        Layout.from_distances(PAP, *distances)
    assert error.value.field == field


def test_no_val_through_the_top_of_the_ball() -> None:
    with pytest.raises(LayoutError) as error:
        Layout.from_angles(Place(0, 6.75), 4.0, 50, 40)
    assert error.value.field == "pap"


@given(st.floats(0.1, 6.7), st.floats(1, 179), st.floats(1, 179))
def test_the_three_arcs_at_right_angles_make_the_third_axis(
    pin_to_pap: float, at_pin: float, at_pap: float
) -> None:
    """Direction cosines of the PAP on pin, mass bias and the axis square to both square to one."""
    made = Layout.from_angles(PAP, pin_to_pap, at_pin, at_pap)
    assert made.mass_bias is not None
    pin, mass_bias, pap = (place.vector() for place in (made.pin, made.mass_bias, PAP))
    third = np.cross(pin, mass_bias)
    cosines = np.array([pap @ pin, pap @ mass_bias, pap @ third])
    assert float(cosines @ cosines) == pytest.approx(1.0, abs=1e-12)
    assert abs(cosines[2]) == pytest.approx(
        abs(math.sin(2 * math.pi * pin_to_pap / 27) * math.sin(math.radians(at_pin))), abs=1e-9
    )
