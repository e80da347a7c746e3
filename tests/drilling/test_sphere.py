"""Arcs and angles on the ball, against navigation's formulas and scipy's rotations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from clients.drilling import Place
from clients.drilling.sphere import (
    destination,
    distance_in,
    distance_to_meridian_in,
    heading,
    turn_deg,
    turned,
    up_from,
)

DEG_PER_IN = 360.0 / 27.0  # 13.3333 deg an inch, exact on a 27-in ball

overs = st.floats(-13.4, 13.4)
ups = st.floats(-6.5, 6.5)
places = st.builds(Place, overs, ups)


def haversine_in(one: Place, other: Place) -> float:
    """The navigator's haversine formula, over as longitude and up as latitude."""
    lat1, lat2 = (math.radians(place.up_in * DEG_PER_IN) for place in (one, other))
    d_lat = lat2 - lat1
    d_lon = math.radians((other.over_in - one.over_in) * DEG_PER_IN)
    h = math.sin(d_lat / 2) ** 2 + math.cos(lat1) * math.cos(lat2) * math.sin(d_lon / 2) ** 2
    return math.degrees(2 * math.asin(min(1.0, math.sqrt(h)))) / DEG_PER_IN


def bearing_deg(one: Place, other: Place) -> float:
    """The navigator's initial bearing, clockwise from up, with over as east."""
    lat1, lat2 = (math.radians(place.up_in * DEG_PER_IN) for place in (one, other))
    d_lon = math.radians((other.over_in - one.over_in) * DEG_PER_IN)
    east = math.sin(d_lon) * math.cos(lat2)
    north = math.cos(lat1) * math.sin(lat2) - math.sin(lat1) * math.cos(lat2) * math.cos(d_lon)
    return math.degrees(math.atan2(east, north))


def wrapped(angle: float) -> float:
    return (angle + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize(
    ("place", "vector"),
    [
        (Place(0, 0), (0, 0, 1)),
        (Place(6.75, 0), (1, 0, 0)),  # 6.75 in along the surface is 90 deg (exact)
        (Place(0, 6.75), (0, 1, 0)),
        (Place(13.5, 0), (0, 0, -1)),  # and 13.5 in are 180
        (Place(-6.75, 0), (-1, 0, 0)),
        (Place(0, -3.375), (0, -math.sqrt(0.5), math.sqrt(0.5))),
    ],
)
def test_the_ends_of_the_frame(place: Place, vector: tuple[float, ...]) -> None:
    assert place.vector() == pytest.approx(np.array(vector), abs=1e-15)


def test_a_smaller_ball_turns_further_over_the_same_inches() -> None:
    """An 8.500-in ball is 26.704 in around: 90 deg are 6.676 in (published limits, exact)."""
    around = math.pi * 8.5
    assert around / 4 == pytest.approx(6.676, abs=5e-4)
    assert Place(around / 4, 0).vector(around) == pytest.approx(np.array([1, 0, 0]), abs=1e-15)
    assert Place.of(np.array([1.0, 0, 0]), around).over_in == pytest.approx(6.676, abs=5e-4)


@given(places)
def test_a_place_comes_back(place: Place) -> None:
    back = Place.of(place.vector())
    assert back.over_in == pytest.approx(place.over_in, abs=1e-9)
    assert back.up_in == pytest.approx(place.up_in, abs=1e-9)


@given(places, places)
def test_distance_is_the_haversine(one: Place, other: Place) -> None:
    # The haversine itself loses half its digits near the opposite side of the ball.
    expected = haversine_in(one, other)
    tolerance = 1e-9 if expected < 13.0 else 1e-6
    assert distance_in(one.vector(), other.vector()) == pytest.approx(expected, abs=tolerance)


@given(places, places)
def test_headings_are_the_navigators_bearings(one: Place, other: Place) -> None:
    far = distance_in(one.vector(), other.vector())
    if not 0.01 < far < 13.49:
        return
    at = one.vector()
    up, way = up_from(at), heading(at, other.vector())
    assert up is not None
    assert way is not None
    clockwise = -turn_deg(at, up, way)
    assert wrapped(clockwise - bearing_deg(one, other)) == pytest.approx(0.0, abs=1e-9)


@given(places, st.floats(-180, 180), st.floats(0, 13.5))
def test_a_destination_is_a_rotation_about_the_pole_of_its_arc(
    place: Place, turn: float, arc: float
) -> None:
    """scipy turns the start about the axis square to the arc."""
    at = place.vector()
    up = up_from(at)
    assert up is not None
    way = Rotation.from_rotvec(np.radians(turn) * at).apply(up)
    expected = Rotation.from_rotvec(np.radians(arc * DEG_PER_IN) * np.cross(at, way)).apply(at)
    found = destination(at, turned(at, up, turn), arc)
    assert found == pytest.approx(expected, abs=1e-12)
    assert distance_in(at, found) == pytest.approx(arc, abs=1e-9)


@given(places, overs)
def test_the_way_to_a_meridian_is_the_shortest_to_any_of_its_places(
    place: Place, over: float
) -> None:
    """Against a fine search along the circle (its step is 0.01 in, so it is 1e-4 in too long)."""
    along = np.radians(np.arange(0.0, 27.0, 0.01) * DEG_PER_IN)
    spun = np.radians(over * DEG_PER_IN)
    circle = np.array([np.cos(along) * np.sin(spun), np.sin(along), np.cos(along) * np.cos(spun)]).T
    at = place.vector()
    searched = np.degrees(np.arccos(np.clip(circle @ at, -1, 1)).min()) / DEG_PER_IN
    found = distance_to_meridian_in(at, Place(over, 1.0).vector())
    assert found <= searched + 1e-6
    assert found == pytest.approx(searched, abs=0.0051)


def test_no_direction_from_a_place_to_itself_or_to_the_other_side() -> None:
    at = Place(3.0, 1.0).vector()
    assert heading(at, at) is None
    assert heading(at, -at) is None
    assert up_from(Place(0, 6.75).vector()) is None
