"""Static weights against a Monte Carlo, scipy's integrals and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from clients.drilling import Drill, Hole, Place, place_holes
from clients.drilling.holes import radius_in
from clients.drilling.weights import (
    after_drilling,
    before_drilling,
    mean_density_g_cm3,
    taken_out,
    volume_and_moment,
)

RADIUS = radius_in()
LEANING = Drill("thumb", 1.0625, 2.75, None, -0.375, 0.25)
GRIP = [
    LEANING,
    Drill("middle", 0.97, 1.5, 4.375, 0.25, 0.125),
    Drill("ring", 0.94, 1.25, 4.5, 0.125, -0.125),
]
HOLES = place_holes(GRIP, bridge_in=0.25)


def frame(hole: Hole) -> np.ndarray:
    out = -hole.into
    side = np.cross(out, [1.0, 0.3, 0.2])
    side /= np.linalg.norm(side)
    return np.array([side, np.cross(out, side), out])


@pytest.mark.parametrize("hole", HOLES, ids=lambda hole: hole.name)
def test_volume_and_moment_are_the_direct_integral(hole):
    """scipy's adaptive integral over the disc, in Cartesian coordinates of another frame."""
    axes = frame(hole)
    at = axes @ hole.at(0.0)
    bottom = (axes @ hole.at(hole.depth_in))[2]
    a = hole.size_in / 2

    def over(weigh) -> float:
        def height(y: float, x: float) -> float:
            top = math.sqrt(RADIUS**2 - x**2 - y**2)
            return weigh(x, y, top)

        half = lambda x: math.sqrt(max(0.0, a**2 - (x - at[0]) ** 2))  # noqa: E731
        return dblquad(
            height, at[0] - a, at[0] + a, lambda x: at[1] - half(x), lambda x: at[1] + half(x),
            epsabs=1e-10, epsrel=1e-10,
        )[0]  # fmt: skip

    volume, moment = volume_and_moment(hole)
    assert volume == pytest.approx(over(lambda x, y, top: top - bottom), abs=1e-7)
    direct = [
        over(lambda x, y, top: x * (top - bottom)),
        over(lambda x, y, top: y * (top - bottom)),
        over(lambda x, y, top: (top**2 - bottom**2) / 2),
    ]
    assert axes @ moment == pytest.approx(direct, abs=1e-6)


def test_a_monte_carlo_of_the_drilled_ball_weighs_the_same():
    """Points thrown into the ball: those in a hole are gone; the rest have their moment."""
    rng = np.random.default_rng(11)
    density = mean_density_g_cm3(15.0)
    oz_each = 15.0 * 16.0  # all points of the ball together
    count = 6_000_000
    cube = rng.uniform(-RADIUS, RADIUS, (count, 3))
    ball = cube[np.einsum("ij,ij->i", cube, cube) <= RADIUS**2]
    gone = np.zeros(len(ball), dtype=bool)
    for hole in HOLES:
        off = ball - hole.at(0.0)
        along = off @ hole.into
        aside = np.einsum("ij,ij->i", off, off) - along**2
        gone |= (aside <= (hole.size_in / 2) ** 2) & (along <= hole.depth_in) & (along > -1.0)
    moment = -ball[gone].sum(axis=0) * oz_each / len(ball) / RADIUS
    weight = gone.sum() * oz_each / len(ball)
    before = before_drilling(Place(1.0, 0.5), 3.0)
    after = after_drilling(before, HOLES, density)
    # About 40,000 points fall into holes: 1 % of 4 oz, and as much of the moments.
    assert after.vector - before.vector == pytest.approx(moment, abs=0.03)
    assert sum(taken_out(hole, density)[0] for hole in HOLES) == pytest.approx(weight, abs=0.05)


def test_a_straight_hole_has_a_closed_form():
    """A hole at the centre of the top: caps and cylinders of any book of formulas."""
    a, depth = 0.5, 2.5
    hole = Hole("x", np.array([0, 0, 1.0]), np.array([0, 0, -1.0]), 2 * a, depth)
    volume, moment = volume_and_moment(hole)
    rim = math.sqrt(RADIUS**2 - a**2)
    cap = math.pi * (RADIUS - rim) ** 2 * (3 * RADIUS - (RADIUS - rim)) / 3
    assert volume == pytest.approx(cap + math.pi * a**2 * (rim - (RADIUS - depth)), abs=1e-12)
    assert moment[:2] == pytest.approx([0, 0], abs=1e-12)


def test_before_drilling_all_of_it_points_at_the_cg():
    """By hand: 3 oz with the CG a quarter turn over is side weight alone; an eighth, both alike."""
    side = before_drilling(Place(6.75, 0), 3.0)
    assert (side.top_oz, side.side_oz) == pytest.approx((0.0, 3.0), abs=1e-12)
    both = before_drilling(Place(0, 3.375), 3.0)
    assert (both.top_oz, both.finger_oz) == pytest.approx((3 / math.sqrt(2),) * 2, abs=1e-12)


def test_the_mean_density_is_mass_over_volume():
    """16 lb in a 27-in ball: 7257.48 g over 5446.9 cm3 (pi D^3 / 6, D = 27 / pi in)."""
    volume = math.pi * (27 / math.pi * 2.54) ** 3 / 6
    assert mean_density_g_cm3(16) == pytest.approx(16 * 453.59237 / volume, rel=1e-12)
