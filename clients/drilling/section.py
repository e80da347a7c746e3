"""A cut through two holes, where the wall between them is thinnest.

The plane holds the shortest way from hole to hole and, as nearly as it can, both axes: it is
spanned by that way and the mean of the two axes' directions. Where the nearest points lie on the
holes' sides the shortest way is square to both axes and meets them, so that each hole is cut along
its axis or within the angle between the two. What is not in the plane is seen square onto it.

In the plane, points are (across, up) in inches from the middle of the wall. Up is out of the ball.
Across goes from the first hole of the pair to the second.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .holes import Hole, Wall, radius_in
from .sphere import Place, Vector

Points = NDArray[np.float64]

_LEVELS = 240  # at which a hole is cut across


@dataclass(frozen=True, eq=False)
class Section:
    """The plane: a point of it, and its two directions, unit vectors (3,)."""

    one: Hole
    other: Hole
    wall: Wall
    origin: Vector
    across: Vector
    up: Vector

    def flat(self, points: Vector) -> Points:
        """Return points (..., 3), inches from the ball's centre, as (across, up), (..., 2)."""
        away = points - self.origin
        return np.stack([away @ self.across, away @ self.up], axis=-1)

    def off_in(self, point: Vector) -> float:
        """Return how far a point lies from the plane, toward the eye positive."""
        return float((point - self.origin) @ np.cross(self.across, self.up))

    @property
    def centre(self) -> Points:
        """The middle of the circle in which the plane cuts the ball."""
        return self.flat(np.zeros(3))

    @property
    def radius_in(self) -> float:
        """The radius of that circle."""
        return math.sqrt(radius_in(self.one.around_in) ** 2 - self.off_in(np.zeros(3)) ** 2)

    @property
    def wall_ends(self) -> Points:
        """Both ends of the thinnest wall, (2, 2)."""
        return self.flat(np.array([self.wall.at_one, self.wall.at_other]))

    def place(self, place: Place) -> tuple[Points, float]:
        """Return a place on the cover as it is seen, and how far it lies from the plane."""
        point = radius_in(self.one.around_in) * place.vector(self.one.around_in)
        return self.flat(point), self.off_in(point)

    def axis(self, hole: Hole, beyond_in: float = 0.0) -> Points:
        """Return both ends of a hole's axis, (2, 2), drawn on by so much at either end."""
        deep = hole.depth_in or 0.0
        return self.flat(np.array([hole.at(-beyond_in), hole.at(deep + beyond_in)]))

    def sides(self, hole: Hole, above_in: float = 0.0) -> tuple[Points, Points]:
        """Return the cut's two edges from ``above_in`` over the mouth to the bottom, (n, 2) each.

        At each level the plane cuts the hole's disc in a chord; levels that it misses are left out.
        The first edge is the one further back along ``across``.
        """
        normal = np.cross(self.across, self.up)
        chord = np.cross(normal, hole.into)
        length = float(np.linalg.norm(chord))
        if length < 1e-9:  # cut square across its axis: no edges along it
            return np.empty((0, 2)), np.empty((0, 2))
        chord /= length
        if chord @ self.across < 0.0:
            chord = -chord
        aside = np.cross(hole.into, chord)
        levels = np.linspace(-above_in, hole.depth_in or 0.0, _LEVELS)
        middles = hole.at(0.0) + levels[:, None] * hole.into
        # How far the chord lies from the axis, square to both.
        away = ((self.origin - middles) @ normal) / float(aside @ normal)
        half = hole.size_in / 2.0
        cut = np.abs(away) < half
        middles = middles[cut] + away[cut, None] * aside
        reach = np.sqrt(half**2 - away[cut] ** 2)[:, None] * chord
        return self.flat(middles - reach), self.flat(middles + reach)


def section(one: Hole, other: Hole, wall: Wall) -> Section:
    """Return the cut through the thinnest wall of two holes."""
    depth = (one.into + other.into) / 2.0
    across = wall.at_other - wall.at_one
    if wall.thinnest_in == 0.0:  # they meet, and no wall tells the way
        across = other.at(0.0) - one.at(0.0)
    across = across / np.linalg.norm(across)
    up = -(depth - (depth @ across) * across)
    up = up / np.linalg.norm(up)
    # A wall from bottom to side leans; the picture stands upright all the same.
    normal = np.cross(across, up)
    middle = (wall.at_one + wall.at_other) / 2.0
    out = middle - (middle @ normal) * normal
    up = out / np.linalg.norm(out)
    across = np.cross(up, normal)
    return Section(one, other, wall, middle, across, up)
