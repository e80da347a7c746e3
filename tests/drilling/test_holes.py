"""Where holes lie, and the wall between them, against dense points and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial import cKDTree
from scipy.spatial.transform import Rotation

from clients.drilling import Drill, Hole, HoleError, Place, place_holes, wall
from clients.drilling.holes import edge_in, radius_in, walls
from clients.drilling.sphere import distance_in, up_from

THUMB = Drill("thumb", 1.0, 2.75)
MIDDLE = Drill("middle", 0.97, 1.5, 4.375)
RING = Drill("ring", 0.94, 1.5, 4.5)
RADIUS = radius_in()


def by_name(holes: list[Hole]) -> dict[str, Hole]:
    return {hole.name: hole for hole in holes}


def test_spans_and_bridge_come_out_along_the_cover():
    h = by_name(place_holes([THUMB, MIDDLE, RING], bridge_in=0.3125))
    edges = {name: edge_in(hole.size_in) for name, hole in h.items()}
    for finger, span in (("middle", 4.375), ("ring", 4.5)):
        between = distance_in(h["thumb"].mouth, h[finger].mouth)
        assert between - edges["thumb"] - edges[finger] == pytest.approx(span, abs=1e-9)
    bridge = distance_in(h["middle"].mouth, h["ring"].mouth) - edges["middle"] - edges["ring"]
    assert bridge == pytest.approx(0.3125, abs=1e-9)


def test_the_grip_centre_is_half_the_mean_span_from_the_thumb():
    thumb, middle, ring = place_holes([THUMB, MIDDLE, RING], bridge_in=0.25)
    assert thumb.place.over_in == pytest.approx(0.0, abs=1e-12)
    assert -thumb.place.up_in - edge_in(1.0) == pytest.approx(4.4375 / 2, abs=1e-9)
    # The middle finger lies away from the axis side, the ring finger toward it, for either hand.
    assert middle.place.over_in < 0 < ring.place.over_in
    # The centre line cuts the bridge in half: its middle, by scipy's rotation along the arc.
    turn = np.cross(middle.mouth, ring.mouth)
    along = (edge_in(0.97) + 0.125) / RADIUS
    half = Rotation.from_rotvec(along * turn / np.linalg.norm(turn)).apply(middle.mouth)
    assert half[0] == pytest.approx(0.0, abs=1e-12)


def test_without_a_thumb_the_spans_run_from_the_palm_mark():
    middle, ring = place_holes([MIDDLE, RING], bridge_in=0.25)
    centre = Place(0, 0).vector()
    assert distance_in(centre, middle.mouth) == pytest.approx(4.375 + edge_in(0.97), abs=1e-9)
    assert distance_in(centre, ring.mouth) == pytest.approx(4.5 + edge_in(0.94), abs=1e-9)


def test_a_pitch_is_how_far_the_axis_misses_the_centre():
    drills = [Drill("thumb", 1.0, 2.75, None, -0.25, 0.125), MIDDLE, RING]
    thumb = place_holes(drills)[0]
    start = thumb.at(0.0)
    foot = start - (start @ thumb.into) * thumb.into
    assert np.linalg.norm(foot) == pytest.approx(math.hypot(0.25, 0.125), abs=1e-12)
    # Reverse leans the thumb's bottom away from the grip centre, down; right is right. The foot
    # is square to the axis, which leans by asin(pitch / radius).
    leant = math.sqrt(1 - (math.hypot(0.25, 0.125) / RADIUS) ** 2)
    up = up_from(thumb.mouth)
    assert foot @ up == pytest.approx(-0.25 * leant, abs=1e-12)
    assert foot @ np.cross(up, thumb.mouth) == pytest.approx(0.125 * leant, abs=1e-12)
    left = place_holes(drills, right_handed=False)[0]
    start = left.at(0.0)
    foot = start - (start @ left.into) * left.into
    assert foot[0] == pytest.approx(-0.125 * leant, abs=1e-12)


def test_forward_leans_a_finger_hole_under_the_palm():
    straight = place_holes([MIDDLE, RING])[0]
    forward = place_holes([Drill("middle", 0.97, 1.5, 4.375, 0.5), RING])[0]
    assert forward.at(1.5)[1] < straight.at(1.5)[1]


def points(hole: Hole, rng: np.random.Generator, count: int = 15_000) -> np.ndarray:
    """Random points of a hole's wall and bottom, inside the ball."""
    side = np.cross(hole.into, [1.0, 0.0, 0.0])
    side /= np.linalg.norm(side)
    other = np.cross(hole.into, side)
    angle = rng.uniform(0, 2 * math.pi, count)
    deep = rng.uniform(-0.1, hole.depth_in, count)
    rim = hole.size_in / 2 * (np.cos(angle)[:, None] * side + np.sin(angle)[:, None] * other)
    cloud = hole.at(0.0) + deep[:, None] * hole.into + rim
    flat = hole.at(hole.depth_in) + rim * np.sqrt(rng.uniform(0, 1, count))[:, None]
    cloud = np.vstack([cloud, flat])
    return cloud[np.linalg.norm(cloud, axis=1) <= RADIUS]


@pytest.mark.parametrize(
    ("forward", "one", "other", "bridge"),
    [(0, 0, 0, 0.25), (0.5, -0.5, 0.375, 0.5), (-0.5, -0.25, 0.25, 0.3125), (0.75, -0.4, 0.4, 0.2)],
)
def test_the_wall_is_what_points_on_both_walls_leave(forward, one, other, bridge):
    """Against a cloud of points on the holes' walls and a tree of neighbours (scipy)."""
    rng = np.random.default_rng(5)
    drills = [
        THUMB,
        Drill("middle", 0.97, 2.0, 4.375, forward, one),
        Drill("ring", 0.94, 1.5, 4.5, 0.0, other),
    ]
    _, middle, ring = place_holes(drills, bridge_in=bridge)
    found = wall(middle, ring).thinnest_in
    cloud, tree = points(middle, rng), cKDTree(points(ring, rng))
    nearest = float(tree.query(cloud, distance_upper_bound=1.0)[0].min())
    if found == 0.0:  # they run into each other: so do the clouds
        assert nearest < 0.04
    else:
        # The rim of a hole that leans lies a little off the upright one's.
        assert found - 0.01 < nearest < found + 0.03


def test_two_straight_parallel_holes_leave_their_distance():
    """By hand: parallel axes 2 in apart, diameters 1 and 0.5 in, leave 1.25 in."""
    up = np.array([0.0, 0.0, 1.0])
    x = 1.0 / RADIUS
    mouths = [np.array([way * x, 0.0, math.sqrt(1 - x**2)]) for way in (-1, 1)]
    one = Hole("one", mouths[0], -up, 1.0, 2.0)
    other = Hole("other", mouths[1], -up, 0.5, 2.0)
    assert wall(one, other).thinnest_in == pytest.approx(1.25, abs=1e-9)


def test_holes_that_meet_leave_no_wall():
    drills = [
        Drill("middle", 1.0, 3.5, 4.375, 0.0, 1.0),
        Drill("ring", 1.0, 3.5, 4.375, 0.0, -1.0),
    ]
    assert walls(place_holes(drills, bridge_in=0.2))[0].thinnest_in == 0.0


def test_a_fit_that_no_ball_can_have_is_refused():
    with pytest.raises(HoleError) as said:
        place_holes([THUMB, Drill("middle", 0.97, 1.5)])
    assert said.value.field == "span_in"
    with pytest.raises(HoleError, match="differ by more"):
        place_holes([THUMB, MIDDLE, Drill("ring", 0.94, 1.5, 6.0)], bridge_in=0.25)
