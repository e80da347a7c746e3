"""The wall between two holes against scipy's minimiser, and the cut through it by the solids."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import minimize

from clients.drilling import Drill, Hole, Place, place_holes, wall, walls
from clients.drilling.holes import radius_in
from clients.drilling.section import section


def random_hole(rng: np.random.Generator, name: str) -> Hole:
    mouth = Place(rng.uniform(-3, 3), rng.uniform(-3, 3)).vector()
    aside = np.cross(mouth, rng.normal(size=3))
    lean = rng.uniform(0, 0.3)
    into = -math.cos(lean) * mouth + math.sin(lean) * aside / np.linalg.norm(aside)
    return Hole(name, mouth, into, rng.uniform(0.6, 1.2), rng.uniform(0.7, 3.5))


def nearest_by_scipy(one: Hole, other: Hole) -> float:
    """The least distance of the two solids: SLSQP over a point in each, from several starts.

    A point is so deep along the axis (from where the crown of the ball covers the rim), and so far
    aside in two directions square to it.
    """

    def frame(hole: Hole) -> tuple[np.ndarray, np.ndarray]:
        side = np.cross(hole.into, np.eye(3)[int(np.argmin(np.abs(hole.into)))])
        side /= np.linalg.norm(side)
        return side, np.cross(hole.into, side)

    frames = [frame(one), frame(other)]

    def point(hole: Hole, sides: tuple[np.ndarray, np.ndarray], q: np.ndarray) -> np.ndarray:
        return hole.at(0.0) + q[0] * hole.into + q[1] * sides[0] + q[2] * sides[1]

    def squared(q: np.ndarray) -> float:
        away = point(one, frames[0], q[:3]) - point(other, frames[1], q[3:])
        return float(away @ away)

    def crown(hole: Hole) -> float:
        ball, half = radius_in(), hole.size_in / 2
        return ball - math.sqrt(ball**2 - half**2)

    inside = [
        {"type": "ineq", "fun": lambda q: (one.size_in / 2) ** 2 - q[1] ** 2 - q[2] ** 2},
        {"type": "ineq", "fun": lambda q: (other.size_in / 2) ** 2 - q[4] ** 2 - q[5] ** 2},
    ]
    free = (None, None)
    bounds = [(crown(one), one.depth_in), free, free, (crown(other), other.depth_in), free, free]
    best = math.inf
    for share in (0.1, 0.5, 0.9):
        start = np.array([share * one.depth_in, 0, 0, share * other.depth_in, 0, 0])
        found = minimize(
            squared, start, method="SLSQP", bounds=bounds, constraints=inside,
            options={"ftol": 1e-14, "maxiter": 500},
        )  # fmt: skip
        if max(-min(limit["fun"](found.x) for limit in inside), 0.0) < 1e-7:
            best = min(best, found.fun)
    return math.sqrt(max(best, 0.0))


@pytest.mark.parametrize("seed", range(40))
def test_the_wall_is_what_a_minimiser_finds(seed):
    rng = np.random.default_rng(seed)
    one, other = random_hole(rng, "one"), random_hole(rng, "other")
    found = wall(one, other)
    assert found.thinnest_in == pytest.approx(nearest_by_scipy(one, other), abs=1e-4)
    if found.thinnest_in:
        assert np.linalg.norm(found.at_other - found.at_one) == pytest.approx(
            found.thinnest_in, abs=1e-12
        )


@pytest.mark.parametrize("seed", range(20))
def test_the_cut_is_where_the_plane_and_the_solids_meet(seed):
    """Each edge lies on the hole's side, in the plane, and the hole is between the edges."""
    rng = np.random.default_rng(100 + seed)
    one, other = random_hole(rng, "one"), random_hole(rng, "other")
    cut = section(one, other, wall(one, other))
    for hole in (one, other):
        left, right = cut.sides(hole)
        assert (right[:, 0] >= left[:, 0] - 1e-9).all()
        for edge, inward in ((left, right - left), (right, left - right)):
            space = cut.origin + edge[:, :1] * cut.across + edge[:, 1:] * cut.up
            off = space - hole.at(0.0)
            along = off @ hole.into
            aside = np.linalg.norm(off - along[:, None] * hole.into, axis=1)
            assert aside == pytest.approx(hole.size_in / 2, abs=1e-9)
            assert ((along >= -1e-9) & (along <= hole.depth_in + 1e-9)).all()
            step = inward[:, :1] * cut.across + inward[:, 1:] * cut.up
            middle = off + 0.5 * step
            deep = middle @ hole.into
            assert (np.linalg.norm(middle - deep[:, None] * hole.into, axis=1) <= aside).all()
    ends = cut.wall_ends
    assert np.linalg.norm(ends[1] - ends[0]) == pytest.approx(cut.wall.thinnest_in, abs=1e-9)


def usual(middle: float = 0.0, ring: float = 0.0, depth: float = 1.25) -> list[Hole]:
    drills = [
        Drill("thumb", 1.0, 2.75),
        Drill("middle", 0.97, depth, 4.375, lateral_in=middle),
        Drill("ring", 0.94, depth, 4.5, lateral_in=ring),
    ]
    return place_holes(drills, bridge_in=0.25)


def test_holes_of_a_grip_are_cut_nearly_along_their_axes():
    """For a grip's holes the cut shows each hole as wide as it is drilled, within a twentieth."""
    holes = {hole.name: hole for hole in usual(-0.375, 0.375)}
    for found in walls(holes.values()):
        cut = section(holes[found.one], holes[found.other], found)
        for hole in (cut.one, cut.other):
            left, right = cut.sides(hole)
            assert len(left) == 240
            at_bottom = float(np.linalg.norm(right[-1] - left[-1]))
            assert hole.size_in * 0.95 <= at_bottom <= hole.size_in * 1.001


@pytest.mark.parametrize("pitch", [0.3, 0.375, 0.5, 0.7])
def test_the_wall_of_mirrored_holes_by_hand(pitch):
    """Two fingers alike, leaning apart alike, are mirror images in the plane of the centre line.

    So the wall is twice what the nearer point of one keeps from that plane: the axis less the
    radius as it leans, at the crown where the bottoms lean apart, else at the bottom.
    """
    drills = [
        Drill("thumb", 1.0, 2.75),
        Drill("middle", 0.95, 1.25, 4.5, lateral_in=-pitch),
        Drill("ring", 0.95, 1.25, 4.5, lateral_in=pitch),
    ]
    _, middle, ring = place_holes(drills, bridge_in=0.25)
    assert middle.mouth[0] == pytest.approx(-ring.mouth[0], abs=1e-12)
    crown = radius_in() - math.sqrt(radius_in() ** 2 - 0.475**2)
    start, lean = ring.at(0.0)[0], ring.into[0]
    axis = start + (crown if lean > 0 else 1.25) * lean
    by_hand = 2 * (axis - 0.475 * math.sqrt(1 - lean**2))
    found = wall(middle, ring)
    assert found.thinnest_in == pytest.approx(by_hand, abs=1e-6)
    assert found.depth_in == pytest.approx(crown if lean > 0 else 1.25, abs=0.2)


def test_holes_that_meet_are_cut_too():
    holes = {hole.name: hole for hole in usual(0.5, -0.5, 2.5)}
    found = walls(holes.values())[-1]
    assert found.thinnest_in == 0.0
    cut = section(holes[found.one], holes[found.other], found)
    assert np.isfinite(cut.sides(cut.one)[0]).all()
    assert len(cut.sides(cut.one)[0]) > 100
