"""Places on a ball, and the arcs and angles between them.

A place is told as a PAP is: so many inches *over* from the grip centre along the midline, then so
many *up* along the surface, square to the midline. Over is toward the bowler's own axis side for
both hands, up is toward the fingers; so the numbers of a left-hander are those of a right-hander,
and only a drawing mirrors.

As a unit vector a place is ``(cos(up) sin(over), sin(up), cos(up) cos(over))``: z goes out through
the grip centre, x toward over, y up. For a right-hander who looks at the ball from outside, x is to
the right. Angles are positive **anticlockwise in that right-hander's view**.

Inches run along the surface of a ball ``around_in`` inches around, 27 unless said otherwise, so
that 6.75 in are a right angle. Everything here is exact spherical geometry.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Vector = NDArray[np.float64]

AROUND_IN = 27.0  # circumference; the ball specification allows 26.704 to 27.002 in
_UP = np.array([0.0, 1.0, 0.0])
# Nearer than this to a place or to the one opposite, an arc has no direction (a hundred millionth
# of an inch; a shop's tape is read to a thirty-second).
_NO_ARC = 1e-9


@dataclass(frozen=True)
class Place:
    """A place on the ball in inches over and up from the grip centre."""

    over_in: float
    up_in: float

    def vector(self, around_in: float = AROUND_IN) -> Vector:
        """Return the place as a unit vector, shape (3,)."""
        over, up = radians(self.over_in, around_in), radians(self.up_in, around_in)
        return np.array(
            [math.cos(up) * math.sin(over), math.sin(up), math.cos(up) * math.cos(over)]
        )

    @classmethod
    def of(cls, vector: Vector, around_in: float = AROUND_IN) -> Place:
        """Return the place of a unit vector, over between half a turn either way."""
        x, y, z = (float(part) for part in vector)
        over, up = math.atan2(x, z), math.atan2(y, math.hypot(x, z))
        return cls(inches(over, around_in), inches(up, around_in))


GRIP_CENTRE = Place(0.0, 0.0)


def radians(arc_in: float, around_in: float = AROUND_IN) -> float:
    """Return the angle at the ball's centre, in radians, under an arc in inches."""
    return arc_in / around_in * 2.0 * math.pi


def inches(angle: float, around_in: float = AROUND_IN) -> float:
    """Return the arc in inches over an angle in radians at the ball's centre."""
    return angle / (2.0 * math.pi) * around_in


def distance_in(one: Vector, other: Vector, around_in: float = AROUND_IN) -> float:
    """Return the shortest way along the surface between two unit vectors, inches."""
    apart = math.atan2(float(np.linalg.norm(np.cross(one, other))), float(one @ other))
    return inches(apart, around_in)


def heading(at: Vector, toward: Vector) -> Vector | None:
    """Return the unit tangent at ``at`` of the arc toward another place, shape (3,).

    ``None`` where the two are one place or opposite ones: then there is no such direction.
    """
    tangent = toward - (toward @ at) * at
    length = float(np.linalg.norm(tangent))
    return tangent / length if length > _NO_ARC else None


def up_from(at: Vector) -> Vector | None:
    """Return the unit tangent that points up; ``None`` at the top and the bottom of the ball."""
    return heading(at, _UP)


def turn_deg(at: Vector, first: Vector, second: Vector) -> float:
    """Return the angle at ``at`` from one tangent to another, -180 to 180, anticlockwise."""
    across = float(np.cross(first, second) @ at)
    return math.degrees(math.atan2(across, float(first @ second)))


def turned(at: Vector, tangent: Vector, by_deg: float) -> Vector:
    """Return the tangent at ``at`` turned anticlockwise by so many degrees."""
    angle = math.radians(by_deg)
    return np.asarray(math.cos(angle) * tangent + math.sin(angle) * np.cross(at, tangent))


def destination(
    start: Vector, tangent: Vector, arc_in: float, around_in: float = AROUND_IN
) -> Vector:
    """Return where one gets to, a unit vector, going ``arc_in`` inches along a tangent."""
    angle = radians(arc_in, around_in)
    end = math.cos(angle) * start + math.sin(angle) * tangent
    return np.asarray(end / np.linalg.norm(end))


def distance_to_meridian_in(at: Vector, through: Vector, around_in: float = AROUND_IN) -> float:
    """Return the shortest way from a place to the full circle that runs up through another.

    Zero where ``through`` is the top or the bottom: every such circle runs through it.
    """
    square = np.cross(_UP, through)
    length = float(np.linalg.norm(square))
    if length <= _NO_ARC:
        return 0.0
    pole = square / length
    off = math.atan2(abs(float(at @ pole)), float(np.linalg.norm(np.cross(at, pole))))
    return inches(off, around_in)
