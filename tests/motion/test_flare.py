"""Rings on the ball: exact cases on a 27-in ball, where 6.75 in are a right angle."""

import math

import numpy as np
import pytest

from lanes.motion import Rings, clearance_in, flare_in
from lanes.motion.flare import between_in

X, Y, Z = np.eye(3)


def turned(degrees):
    """A pole turned away from x toward y."""
    a = math.radians(degrees)
    return math.cos(a) * X + math.sin(a) * Y


def rings(*rows):
    poles, radius, at = zip(*rows, strict=True)
    return Rings(np.array(poles), np.array(radius, float), np.array(at, float))


def test_great_circles_part_by_the_angle_between_their_poles():
    # A sixth of a right angle is 1.125 in.
    assert flare_in(rings((X, 90, 1), (turned(15), 90, 50))) == pytest.approx(1.125)


def test_circles_about_one_pole_part_by_their_radii():
    assert flare_in(rings((X, 104, 1), (X, 97, 50))) == pytest.approx(7 / 360 * 27)


def test_the_two_add_up_on_one_side():
    told = flare_in(rings((X, 100, 1), (turned(20), 95, 25), (turned(30), 98, 50)))
    assert told == pytest.approx((30 + 2) / 360 * 27)


def test_one_ring_or_none_is_no_flare():
    assert flare_in(rings((X, 100, 1))) == 0.0
    assert flare_in(Rings(np.empty((0, 3)), np.empty(0), np.empty(0))) == 0.0


def test_widest_distance_agrees_with_walking_round_the_ring():
    rng = np.random.default_rng(3)
    walk = np.linspace(0, 2 * np.pi, 20001)[:, None]
    for _ in range(50):
        one, other = rng.normal(size=(2, 3))
        one, other = one / np.linalg.norm(one), other / np.linalg.norm(other)
        first, second = rng.uniform(5, 175, 2)
        across = np.cross(other, one)
        across /= np.linalg.norm(across)
        tip = math.radians(second)
        ring = math.cos(tip) * other + math.sin(tip) * (
            np.cos(walk) * across + np.sin(walk) * np.cross(other, across)
        )
        off = np.abs(np.degrees(np.arccos(np.clip(ring @ one, -1, 1))) - first).max()
        told = between_in(one, first, other, second)
        assert told == pytest.approx(off / 360 * 27, abs=1e-4)


def test_until_ends_between_rings():
    both = rings((X, 100, 10), (turned(10), 96, 20), (turned(20), 92, 30))
    assert len(both.until(None).poles) == 3
    assert len(both.until(40.0).poles) == 3
    half = both.until(15.0)
    assert half.at_ft == pytest.approx([10, 15])
    assert half.radius_deg == pytest.approx([100, 98])
    assert half.poles[-1] == pytest.approx(turned(5))
    assert len(both.until(5.0).poles) == 0


def test_clearance_of_holes():
    ring = rings((X, 90, 1))
    # On the ring, a quarter turn away along it, and two inches to either side of it.
    two = 2 / 27 * 2 * math.pi
    places = np.array([Y, Z, [math.sin(two), math.cos(two), 0], [-math.sin(two), 0, math.cos(two)]])
    assert clearance_in(ring, places, 0.5) == pytest.approx([-0.5, -0.5, 1.5, 1.5])
    assert clearance_in(ring, places[2], [0.25]) == pytest.approx([1.75])


def test_clearance_is_that_of_the_nearest_ring():
    both = rings((X, 90, 1), (turned(10), 90, 2))
    # x turned by 85 degrees lies 5 degrees inside the first ring and 15 inside the second.
    assert clearance_in(both, turned(85), 0.0) == pytest.approx([5 / 360 * 27])


def test_no_rings_leave_all_room():
    none = Rings(np.empty((0, 3)), np.empty(0), np.empty(0))
    assert clearance_in(none, np.array([X, Y]), 0.5).tolist() == [math.inf, math.inf]
