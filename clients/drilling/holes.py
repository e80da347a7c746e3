"""Holes in a ball: where a fit puts them, and how much wall is left between them.

A hole is a straight cylinder with a flat bottom. Its axis runs through the middle of its mouth on
the ball's sphere and misses the ball's centre by its pitch, as the ball stands off the spindle by
that much on a press. Pitch is written down, never proposed: *forward* leans the bottom toward the
grip centre, *reverse* away from it, *lateral* square to that.

Where a hole lies is common practice, no source: the centre line runs from the middle of the thumb
hole to the middle of the bridge, and the grip centre lies on it half the mean span from the thumb
hole's edge. Without a thumb hole the spans run from the mark at the palm's centre, which is the
grip centre then. Spans and the bridge are inches along the cover between the edges of the holes.
The middle finger is on the side away from the bowler's axis for both hands, so that a left-hander's
numbers are a right-hander's; only the lateral pitch is told by right and left and is turned here.

Lengths are inches; vectors are in the frame of ``sphere``, times the ball's radius.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from .sphere import (
    AROUND_IN,
    GRIP_CENTRE,
    Place,
    Vector,
    destination,
    heading,
    inches,
    radians,
    turned,
)

ASSUMED_BRIDGE_IN = 0.25  # where the sheet leaves it out (common practice, no source)
# How many times two cylinders are projected onto each other; the gap then moves by less than _STILL
_TURNS, _STILL = 20_000, 1e-9


class HoleError(ValueError):
    """A fit that no ball can have; ``field`` names the number at fault."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


@dataclass(frozen=True)
class Drill:
    """One hole as a fit sheet tells it, inches.

    ``forward_in`` is negative for reverse; ``lateral_in`` is positive to the right for either hand.
    ``span_in`` is that of a finger hole, ``None`` for the thumb's.
    """

    name: str
    size_in: float
    depth_in: float | None = None
    span_in: float | None = None
    forward_in: float = 0.0
    lateral_in: float = 0.0


@dataclass(frozen=True, eq=False)
class Hole:
    """One hole in the ball: the middle of its mouth, and the way its drill goes.

    ``mouth`` and ``into`` are unit vectors (3,); the axis is ``radius * mouth + s * into``.
    """

    name: str
    mouth: Vector
    into: Vector
    size_in: float
    depth_in: float | None
    around_in: float = AROUND_IN

    @property
    def place(self) -> Place:
        return Place.of(self.mouth, self.around_in)

    @property
    def edge_in(self) -> float:
        """From the middle of the mouth to its edge along the cover, the lean left out."""
        return edge_in(self.size_in, self.around_in)

    def at(self, depth_in: float) -> Vector:
        """Return the point of the axis so deep under the mouth, inches from the ball's centre."""
        return radius_in(self.around_in) * self.mouth + depth_in * self.into


@dataclass(frozen=True)
class Wall:
    """What is left between two holes: at its thinnest, and how deep that is.

    ``at_one`` and ``at_other`` (3,) are the nearest points of the two, inches from the ball's
    centre: the wall lies between them.
    """

    one: str
    other: str
    thinnest_in: float
    depth_in: float
    at_one: Vector = field(compare=False, repr=False)
    at_other: Vector = field(compare=False, repr=False)


def radius_in(around_in: float = AROUND_IN) -> float:
    """Return the ball's radius, inches."""
    return around_in / (2.0 * math.pi)


def edge_in(size_in: float, around_in: float = AROUND_IN) -> float:
    """Return the arc along the cover from the middle of a straight hole to its edge, inches."""
    return inches(math.asin(0.5 * size_in / radius_in(around_in)), around_in)


def place_holes(
    drills: Iterable[Drill],
    *,
    bridge_in: float | None = None,
    right_handed: bool = True,
    around_in: float = AROUND_IN,
) -> list[Hole]:
    """Return where the holes of a fit lie in the ball.

    ``drills`` are named ``thumb``, ``middle`` and ``ring``; any may be missing. One finger alone
    lies on the centre line. Raises ``HoleError`` for a finger hole without a span, and for spans
    and a bridge that make no triangle.
    """
    by_name = {drill.name: drill for drill in drills}
    thumb = by_name.get("thumb")
    fingers = [by_name[name] for name in ("middle", "ring") if name in by_name]
    for finger in fingers:
        if finger.span_in is None:
            raise HoleError("span_in", f"the {finger.name} finger's span is needed")
    spans = [finger.span_in for finger in fingers if finger.span_in is not None]
    thumb_edge = edge_in(thumb.size_in, around_in) if thumb else 0.0
    below = thumb_edge + sum(spans) / len(spans) / 2.0 if thumb and spans else 0.0
    if thumb and not spans:
        below = thumb_edge
    start = Place(0.0, -below).vector(around_in)
    holes = []
    if thumb:
        holes.append(_leaning(thumb, start, right_handed, around_in))
    ways = _ways(fingers, thumb_edge, bridge_in, around_in)
    up = heading(start, np.array([0.0, 1.0, 0.0]))
    assert up is not None
    for finger, (arc, turn_deg) in zip(fingers, ways, strict=True):
        mouth = destination(start, turned(start, up, turn_deg), arc, around_in)
        holes.append(_leaning(finger, mouth, right_handed, around_in))
    return holes


def _ways(
    fingers: list[Drill], thumb_edge: float, bridge_in: float | None, around_in: float
) -> list[tuple[float, float]]:
    """Return for each finger how far it lies from the start, and how many degrees off "up".

    Spherical triangle of start, middle and ring finger; the centre line cuts the bridge in half.
    """
    arcs = [thumb_edge + (f.span_in or 0.0) + edge_in(f.size_in, around_in) for f in fingers]
    if len(fingers) < 2:
        return [(arc, 0.0) for arc in arcs]
    bridge = ASSUMED_BRIDGE_IN if bridge_in is None else bridge_in
    edges = [edge_in(f.size_in, around_in) for f in fingers]
    a, b = (radians(arc, around_in) for arc in arcs)
    c = radians(sum(edges) + bridge, around_in)
    cosine = (math.cos(c) - math.cos(a) * math.cos(b)) / (math.sin(a) * math.sin(b))
    if not -1.0 <= cosine <= 1.0:
        raise HoleError("span_in", "the two spans differ by more than bridge and holes allow")
    apart = math.acos(cosine)
    # The middle of the bridge: from the middle finger along the arc to the ring finger.
    part = radians(edges[0] + bridge / 2.0, around_in)
    at_middle = math.acos(
        max(-1.0, min(1.0, (math.cos(b) - math.cos(a) * math.cos(c)) / (math.sin(a) * math.sin(c))))
    )
    toward = math.atan2(
        math.sin(part) * math.sin(at_middle),
        math.cos(part) * math.sin(a) - math.sin(part) * math.cos(a) * math.cos(at_middle),
    )
    # Anticlockwise from outside is away from the axis side, where the middle finger is.
    return [
        (arcs[0], math.degrees(toward)),
        (arcs[1], math.degrees(toward - apart)),
    ]


def _leaning(drill: Drill, mouth: Vector, right_handed: bool, around_in: float) -> Hole:
    """Return the hole with the lean that its pitches give it."""
    forward = heading(mouth, GRIP_CENTRE.vector(around_in))
    up = heading(mouth, np.array([0.0, 1.0, 0.0]))
    assert up is not None
    if forward is None:
        forward = up
    right = np.cross(up, mouth) if right_handed else -np.cross(up, mouth)
    # Lateral is square to forward, and on the right's side of it.
    across = np.cross(forward, mouth)
    across = across if across @ right >= 0.0 else -across
    off = (drill.forward_in * forward + drill.lateral_in * across) / radius_in(around_in)
    lean = float(np.linalg.norm(off))
    if lean >= 1.0:
        raise HoleError("forward_in", "a pitch under the ball's radius expected")
    into = off - math.sqrt(1.0 - lean**2) * mouth
    return Hole(drill.name, mouth, into, drill.size_in, drill.depth_in, around_in)


def walls(holes: Iterable[Hole]) -> list[Wall]:
    """Return the wall between each pair of holes whose depths are known."""
    deep = [hole for hole in holes if hole.depth_in is not None]
    return [wall(one, other) for one, other in combinations(deep, 2)]


def wall(one: Hole, other: Hole) -> Wall:
    """Return the smallest distance between two holes as solid cylinders; 0 where they meet.

    Both are convex, so that projecting onto one and the other in turn ends at the nearest points
    (Cheney and Goldstein, Proc. Am. Math. Soc. 10, 448, 1959).
    """
    point = one.at((one.depth_in or 0.0) / 2.0)
    gap = math.inf
    there = point
    for _ in range(_TURNS):
        there = _nearest(other, point)
        point = _nearest(one, there)
        now = float(np.linalg.norm(there - point))
        if gap - now < _STILL:
            gap = now
            break
        gap = now
    deep = float((point - one.at(0.0)) @ one.into)
    return Wall(one.name, other.name, gap if gap > 1e-6 else 0.0, deep, point, there)


def _nearest(hole: Hole, point: Vector) -> Vector:
    """Return the point of a hole's cylinder nearest to a point.

    It begins where the rim of an upright hole lies under the crown of the ball.
    """
    start, radius = hole.at(0.0), hole.size_in / 2.0
    ball = radius_in(hole.around_in)
    crown = ball - math.sqrt(ball**2 - radius**2)
    off = point - start
    along = float(off @ hole.into)
    aside = off - along * hole.into
    out = float(np.linalg.norm(aside))
    if out > radius:
        aside = aside * (radius / out)
    along = min(max(along, crown), hole.depth_in or 0.0)
    return np.asarray(start + along * hole.into + aside)
