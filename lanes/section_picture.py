"""A cut through two holes as a drawing, to scale: the wall between them where it is thinnest.

The geometry is `clients.drilling.section`; here it gets a place on paper. Two fingers are seen from
the thumb, thumb and finger from the bowler's right with the thumb on the left, so **a left-hander's
fingers are drawn mirrored**, here and nowhere else. `lanes/layout/section.html` draws it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from clients import inches
from clients.drilling import Drill, Hole, Place, Wall
from clients.drilling.section import Points, Section, section
from lanes.ball_picture import SHAPES

WIDE = 400.0  # drawing units
THUMB = "thumb"
NEAR_IN = 0.5  # a mark on the cover is in the picture where it lies this near to the plane
_BESIDE_IN, _BELOW_IN, _OVER_IN = 0.55, 0.3, 0.4  # of ball beside and below the holes, over mouths
_LINE = 17.0  # from line to line of text
_LONG = 150.0  # a wall as wide has its figure above it, a smaller one at the end of a leader


@dataclass(frozen=True)
class Label:
    x: float
    y: float
    text: str
    anchor: str = "middle"
    kind: str = ""


@dataclass(frozen=True)
class Stroke:
    d: str
    kind: str


@dataclass
class SectionPicture:
    """One cut; `description` is read out by a screen reader, `is_thin` asks for the warning."""

    key: str
    title: str
    is_thin: bool
    height: float = 0.0
    scale: float = 1.0  # drawing units to the inch
    description: str = ""
    body: str = ""
    holes: list[str] = field(default_factory=list)
    strokes: list[Stroke] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    width: ClassVar[float] = WIDE


def section_pictures(
    holes: Iterable[Hole],
    walls: Iterable[Wall],
    drills: Iterable[Drill],
    *,
    bridge: str,
    marks: Mapping[str, Place],
    left_handed: bool,
    thin_in: float,
    key: str,
) -> list[SectionPicture]:
    """Return a cut for each wall: between the fingers first, then from each finger to the thumb.

    ``drills`` are the holes as the fit sheet records them, ``bridge`` what it says of
    the bridge, ``marks`` the places of pin and CG.
    """
    by_name = {hole.name: hole for hole in holes}
    told = {drill.name: drill for drill in drills}
    return [
        _Drawing(
            section(by_name[wall.one], by_name[wall.other], wall),
            told,
            bridge,
            left_handed,
            SectionPicture(
                f"{key}-{number}", f"{wall.one} and {wall.other}", wall.thinnest_in < thin_in
            ),
        ).done(marks)
        for number, wall in enumerate(sorted(walls, key=lambda w: THUMB in (w.one, w.other)))
    ]


class _Drawing:
    """One picture while it is drawn."""

    def __init__(
        self,
        cut: Section,
        drills: Mapping[str, Drill],
        bridge: str,
        left_handed: bool,
        picture: SectionPicture,
    ) -> None:
        self.cut, self.drills, self.picture = cut, drills, picture
        self.fingers = THUMB not in (cut.one.name, cut.other.name)
        self.bridge = bridge
        self.flip = -1.0 if left_handed and self.fingers else 1.0
        self.toward = -1.0 if left_handed and not self.fingers else 1.0
        self.pair = (cut.one, cut.other) if self.flip > 0 else (cut.other, cut.one)
        self.edges = {hole.name: cut.sides(hole, _OVER_IN) for hole in self.pair}
        bottoms = [edge for hole in self.pair for edge in cut.sides(hole)]
        points = self._turned(np.concatenate(bottoms))
        self.left = float(points[:, 0].min()) - _BESIDE_IN
        scale = WIDE / (float(points[:, 0].max()) + _BESIDE_IN - self.left)
        self.centre = self._turned(cut.centre)
        self.top = float(self.centre[1]) + cut.radius_in
        self.low = float(points[:, 1].min()) - _BELOW_IN
        self.above = 3.9 * _LINE  # room for names and the dimension over the cover
        picture.scale = scale

    def done(self, marks: Mapping[str, Place]) -> SectionPicture:
        picture = self.picture
        self._body()
        for hole in self.pair:
            self._hole(hole)
        self._wall()
        self._dimension()
        seen = [words for name, place in marks.items() if (words := self._mark(name, place))]
        self._below(seen)
        picture.description = self._in_words(seen)
        return picture

    # From inches in the plane to the drawing.

    def _turned(self, points: Points) -> Points:
        return points * np.array([self.flip, 1.0])

    def _drawn(self, points: Points) -> Points:
        """Return points of the plane, already turned, in drawing units."""
        scale = self.picture.scale
        x = (points[..., 0] - self.left) * scale
        y = self.above + (self.top - points[..., 1]) * scale
        return np.stack([x, y], axis=-1)

    def _cover(self, angles: Points, out_in: float = 0.0) -> Points:
        """Return points so far outside the cover, by angle from upright, drawn."""
        reach = self.cut.radius_in + out_in
        away = np.stack([reach * np.sin(angles), reach * np.cos(angles)], axis=-1)
        return self._drawn(self.centre + away)

    def _angle(self, point: Points) -> float:
        off = point - self.centre
        return math.atan2(off[0], off[1])

    def _line(self, points: Points, kind: str) -> None:
        self.picture.strokes.append(Stroke(_path(points), kind))

    def _say(self, x: float, y: float, text: str, anchor: str = "middle", kind: str = "") -> None:
        self.picture.labels.append(Label(round(x, 1), round(y, 1), text, anchor, kind))

    # What is drawn.

    def _mouth(self, hole: Hole) -> tuple[float, float]:
        """Return the angles at which a hole's two edges come through the cover, left to right."""
        found = []
        for edge in self.edges[hole.name]:
            points = self._turned(edge)
            out = np.linalg.norm(points - self.centre, axis=1) - self.cut.radius_in
            # Edges run from outside in: from far to near, so that the crossing is the last outside.
            at = np.interp(0.0, out[::-1], np.arange(len(out))[::-1]) if len(out) else 0.0
            place = [np.interp(at, np.arange(len(out)), points[:, k]) for k in (0, 1)]
            found.append(self._angle(np.array(place)))
        return min(found), max(found)

    def _body(self) -> None:
        """The ball's cut face, and its cover where no hole is."""
        wide = WIDE / self.picture.scale
        sides = [
            math.asin(max(-1.0, min(1.0, (x - self.centre[0]) / self.cut.radius_in)))
            for x in (self.left, self.left + wide)
        ]
        rim = self._cover(np.linspace(sides[0], sides[1], 200))
        floor = self._drawn(np.array([[0.0, self.low]]))[0, 1]
        corners = np.array([[rim[-1, 0], floor], [rim[0, 0], floor]])
        self.picture.body = _path(np.concatenate([rim, corners])) + "Z"
        start = sides[0]
        for low, high in sorted(self._mouth(hole) for hole in self.pair):
            if low > start:
                self._line(self._cover(np.linspace(start, low, 60)), "cover")
            start = max(start, high)
        self._line(self._cover(np.linspace(start, sides[1], 60)), "cover")

    def _hole(self, hole: Hole) -> None:
        one, other = (self._turned(edge) for edge in self.edges[hole.name])
        self.picture.holes.append(_path(self._drawn(np.concatenate([one, other[::-1]]))) + "Z")
        inside = [
            edge[np.linalg.norm(edge - self.centre, axis=1) <= self.cut.radius_in]
            for edge in (one, other)
        ]
        self._line(self._drawn(np.concatenate([inside[0], inside[1][::-1]])), "side")
        self._line(self._drawn(self._turned(self.cut.axis(hole, 0.25))), "axis")
        mouth = self._turned(self.cut.flat(hole.at(0.0)))
        inward = (self.centre - mouth) / np.linalg.norm(self.centre - mouth)
        deep = (hole.depth_in or 0.0) + 0.15
        self._line(self._drawn(np.array([mouth, mouth + deep * inward])), "radius")
        x, y = self._drawn(mouth - (0.25 + 4.0 / self.picture.scale) * inward)
        self._say(x, y - _LINE, hole.name, kind="name")
        self._say(x, y, f"{inches.fraction(hole.size_in)} in")

    def _wall(self) -> None:
        wall, thin = self.cut.wall, "thin" if self.picture.is_thin else ""
        ends = self._drawn(self._turned(self.cut.wall_ends))
        ends = ends[np.argsort(ends[:, 0])]
        middle = ends.mean(axis=0)
        floor = float(self._drawn(np.array([[0.0, self.low]]))[0, 1])
        said = f"wall {wall.thinnest_in:.2f} in"
        if wall.thinnest_in == 0.0:
            self.picture.strokes.append(
                Stroke(_ring(float(middle[0]), float(middle[1]), 7.0), "wall thin")
            )
            said = "they meet"
        else:
            self._line(ends, f"wall {thin}".strip())
            for x, y in ends:
                self.picture.strokes.append(Stroke(_ring(x, y, 2.5), f"wall end {thin}".strip()))
        if np.linalg.norm(ends[1] - ends[0]) > _LONG:
            slope = (ends[1, 1] - ends[0, 1]) / (ends[1, 0] - ends[0, 0])
            self._say(middle[0], middle[1] - 10.0 - 30.0 * abs(slope), said, kind=thin)
        else:
            x, y = middle
            self._line(np.array([[x, y + 4.0], [x, floor - _LINE]]), "leader")
            self._say(middle[0], floor - 5.0, f"{said}, {wall.depth_in:.1f} in deep", kind=thin)

    def _dimension(self) -> None:
        """What the fit sheet tells between the two mouths: the bridge, or the span."""
        (_, low), (high, _) = sorted(self._mouth(hole) for hole in self.pair)
        if high <= low:
            return
        out = 9.0 / self.picture.scale
        self._line(self._cover(np.linspace(low, high, 40), out), "dimension")
        for end in (low, high):
            ticks = [self._cover(np.array([end]), part * out)[0] for part in (0.2, 1.7)]
            self._line(np.array(ticks), "dimension")
        x, y = self._cover(np.array([(low + high) / 2.0]), out)[0]
        if self.fingers:
            self._line(np.array([[x, y], [x, _LINE + 4.0]]), "leader")
            self._say(x, _LINE, self.bridge)
        else:
            [finger] = [hole for hole in self.pair if hole.name != THUMB]
            span = self.drills[finger.name].span_in
            if span is not None:
                self._say(x, y - 7.0, f"span {inches.fraction(span)} in")

    def _mark(self, name: str, place: Place) -> str:
        """Draw a mark on the cover that lies near the plane; return it in words."""
        point, off = self.cut.place(place)
        point, off = self._turned(point), off * self.toward
        x, y = self._drawn(point)
        if abs(off) > NEAR_IN or not 8.0 < x < WIDE - 8.0 or point[1] < self.low:
            return ""
        self.picture.strokes.append(Stroke(SHAPES[name.lower()](x, y), name.lower()))
        where = "in the plane" if abs(off) < 0.05 else f"{abs(off):.1f} in "
        if abs(off) >= 0.05:
            where += "in front" if off > 0.0 else "behind"
        edge = x > WIDE - 50.0
        self._say(x + (-9.0 if edge else 9.0), y + 5.0, name, "end" if edge else "start", "mark")
        return f"{name} {where}"

    def _below(self, seen: Sequence[str]) -> None:
        """Depths and pitches as they are recorded, where the marks are, and the scale."""
        y = float(self._drawn(np.array([[0.0, self.low]]))[0, 1]) + _LINE + 3.0
        first, second = sorted(
            self.pair, key=lambda hole: float(self._turned(self.cut.flat(hole.at(0.0)))[0])
        )
        for hole, x, anchor in ((first, 6.0, "start"), (second, WIDE - 6.0, "end")):
            for row, line in enumerate(self._recorded(hole)):
                self._say(x, y + row * _LINE, line, anchor, "" if row else "name")
        for row, line in enumerate(seen, start=1):
            self._say(WIDE / 2.0, y + row * _LINE, line)
        y += 3.6 * _LINE
        inch = self.picture.scale
        start = (WIDE - inch) / 2.0
        self._line(np.array([[start, y], [start + inch, y]]), "bar")
        for x in (start, start + inch):
            self._line(np.array([[x, y - 4.0], [x, y + 4.0]]), "bar")
        self._say(start + inch + 6.0, y + 4.0, "1 in", "start")
        self.picture.height = y + 12.0

    def _recorded(self, hole: Hole) -> Sequence[str]:
        drill = self.drills[hole.name]
        return (
            f"{hole.name}: {inches.fraction(hole.depth_in or 0.0)} in deep",
            _pitch(drill.forward_in, "forward", "reverse"),
            _pitch(drill.lateral_in, "right", "left"),
        )

    def _in_words(self, seen: Sequence[str]) -> str:
        wall = self.cut.wall
        thinnest = (
            "They run into each other."
            if wall.thinnest_in == 0.0
            else f"The wall is thinnest {wall.depth_in:.1f} in deep: {wall.thinnest_in:.2f} in"
            + (", a thin one." if self.picture.is_thin else ".")
        )
        holes = [
            f"{hole.name.capitalize()} hole {inches.fraction(hole.size_in)} in wide, "
            f"{inches.fraction(hole.depth_in or 0.0)} in deep, pitch "
            f"{_pitch(self.drills[hole.name].forward_in, 'forward', 'reverse')} and "
            f"{_pitch(self.drills[hole.name].lateral_in, 'right', 'left')}."
            for hole in self.pair
        ]
        eye = "the thumb" if self.fingers else "the bowler's right"
        words = [f"Cut through both holes, seen from {eye}.", thinnest, *holes]
        if seen:
            words.append(f"On the cover: {', '.join(seen)}.")
        return " ".join(words)


def _pitch(value: float, plus: str, minus: str) -> str:
    if not value:
        return f"{plus} 0"
    return f"{plus if value > 0 else minus} {inches.fraction(abs(value))} in"


def _path(points: Points) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _ring(x: float, y: float, r: float) -> str:
    return f"M{x - r:.1f} {y:.1f}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0Z"
