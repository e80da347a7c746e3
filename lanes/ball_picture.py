"""The ball as a drawing: seen square from one side, what lies behind dashed.

A view looks at the ball along the line to its middle, so that places keep their distances from the
middle of the view only near it. Places and rings are given in the frame of places on the ball
(``clients.drilling``), in which every bowler is a right-hander; **a left-hander's ball is drawn
mirrored**, here and nowhere else. ``lanes/layout/ball.html`` draws it; colours are classes of
``layout_sheet.css``, and marks differ by shape as well.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from clients.drilling import Hole, Place
from clients.drilling.sphere import Vector, up_from
from lanes.motion.flare import Rings

RADIUS = 150.0  # drawing units
MARGIN = 46.0  # for labels
_STEPS = 240  # of a full circle
_LETTER, _LINE = 7.6, 15.0  # about what a label takes
_AWAY = 13.0  # of a label from its mark


@dataclass(frozen=True)
class Curve:
    """A line on the ball, a piece of it that is in front or behind."""

    d: str
    kind: str
    hidden: bool


@dataclass(frozen=True)
class Spot:
    """A mark with its label."""

    d: str
    kind: str
    hidden: bool
    label: str = ""
    x: float = 0.0
    y: float = 0.0
    anchor: str = "start"


@dataclass
class BallView:
    """One view, filled layer by layer; ``description`` is read out by a screen reader."""

    key: str
    title: str
    toward: Vector
    up: Vector
    left_handed: bool = False
    description: str = ""
    curves: list[Curve] = field(default_factory=list)
    spots: list[Spot] = field(default_factory=list)
    _taken: list[tuple[float, float, float, float]] = field(default_factory=list, repr=False)

    size: ClassVar[float] = 2.0 * (RADIUS + MARGIN)
    middle: ClassVar[float] = RADIUS + MARGIN
    radius: ClassVar[float] = RADIUS

    def seen(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return x, y of the drawing and the depth toward the eye, (..., 3), of unit vectors."""
        right = np.cross(self.up, self.toward)
        across = points @ right * (-1.0 if self.left_handed else 1.0)
        return np.stack(
            [
                self.middle + RADIUS * across,
                self.middle - RADIUS * (points @ self.up),
                points @ self.toward,
            ],
            axis=-1,
        )

    def add_line(self, points: NDArray[np.float64], kind: str) -> None:
        """Draw a line through unit vectors (n, 3), its hidden pieces apart from the others."""
        drawn = self.seen(points)
        behind = drawn[:, 2] < -1e-9
        start = 0
        for hidden, run in itertools.groupby(behind):
            count = len(list(run))
            # A piece begins where the last one ended, so that no gap shows.
            piece = drawn[max(0, start - 1) : start + count]
            start += count
            if len(piece) > 1:
                d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y, _ in piece)
                self.curves.append(Curve(d, kind, bool(hidden)))

    def add_rings(self, rings: Rings) -> None:
        """Draw the rings of the track: the first, the last, and those between them fainter."""
        last = len(rings.poles) - 1
        for number, (pole, radius) in enumerate(zip(rings.poles, rings.radius_deg, strict=True)):
            kind = {0: "ring first", last: "ring last"}.get(number, "ring")
            self.add_line(circle(pole, math.radians(radius)), kind)

    def add_holes(self, holes: Iterable[Hole]) -> None:
        for hole in holes:
            rim = self.seen(circle(hole.mouth, hole.edge_in / hole.around_in * 2.0 * math.pi))
            d = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y, _ in rim) + "Z"
            hidden = bool(self.seen(hole.mouth)[2] < 0.0)
            self.spots.append(Spot(d, "hole", hidden))
            if not hidden:  # no label lies on it
                (left, top, _), (right, bottom, _) = rim.min(axis=0), rim.max(axis=0)
                self._taken.append((float(left), float(top), float(right), float(bottom)))

    def add_mark(self, place: Place, kind: str, label: str) -> None:
        """Put a mark at a place; its label goes where there is room."""
        x, y, depth = (float(value) for value in self.seen(place.vector()))
        hidden = depth < -1e-9
        at_x, at_y, anchor = self._room(x, y, label)
        self.spots.append(Spot(SHAPES[kind](x, y), kind, hidden, label, at_x, at_y, anchor))

    def _room(self, x: float, y: float, label: str) -> tuple[float, float, str]:
        """Return where the label stands: outward if that is free, else another way around."""
        out = math.atan2(y - self.middle, (x - self.middle) or 1e-9)
        wide = _LETTER * len(label)
        best = None
        for turn in (0, 45, -45, 90, -90, 135, -135, 180):
            for away in (_AWAY, 1.8 * _AWAY):
                angle = out + math.radians(turn)
                px, py = x + away * math.cos(angle), y + away * math.sin(angle)
                anchor = "start" if math.cos(angle) >= 0 else "end"
                left = px if anchor == "start" else px - wide
                box = (left, py - _LINE / 2, left + wide, py + _LINE / 2)
                best = best or (px, py, anchor, box)
                inside = box[0] >= 2 and box[2] <= self.size - 2
                if inside and not any(_overlap(box, other) for other in self._taken):
                    best = (px, py, anchor, box)
                    break
            else:
                continue
            break
        assert best is not None
        self._taken.append(best[3])
        self._taken.append((x - 6, y - 6, x + 6, y + 6))
        return round(best[0], 1), round(best[1], 1), best[2]


def grip_side(*, left_handed: bool, key: str = "grip") -> BallView:
    """Return the view square onto the grip centre, fingers up."""
    return BallView(
        key,
        "Grip side",
        np.array([0.0, 0.0, 1.0]),
        np.array([0.0, 1.0, 0.0]),
        left_handed,
    )


def axis_side(pap: Place, *, left_handed: bool, key: str = "axis") -> BallView:
    """Return the view square onto the PAP, the upper arm of the VAL up."""
    toward = pap.vector()
    up = up_from(toward)
    if up is None:
        raise ValueError("pap: a place with a vertical axis line expected")
    return BallView(key, "Axis side", toward, up, left_handed)


def circle(pole: Vector, radius: float) -> NDArray[np.float64]:
    """Return a closed circle of angular ``radius`` about a pole, (n, 3)."""
    pole = np.asarray(pole, dtype=float)
    pole = pole / np.linalg.norm(pole)
    side = np.cross(pole, np.eye(3)[int(np.argmin(np.abs(pole)))])
    side /= np.linalg.norm(side)
    turn = np.linspace(0.0, 2.0 * math.pi, _STEPS + 1)[:, None]
    rim = np.cos(turn) * side + np.sin(turn) * np.cross(pole, side)
    return np.asarray(math.cos(radius) * pole + math.sin(radius) * rim)


def arc(start: Vector, end: Vector) -> NDArray[np.float64]:
    """Return the shorter great arc between two places, (n, 3)."""
    apart = math.atan2(float(np.linalg.norm(np.cross(start, end))), float(start @ end))
    if apart < 1e-9 or math.pi - apart < 1e-9:
        return np.array([start, end])
    part = np.linspace(0.0, 1.0, 60)[:, None]
    return np.asarray(
        (np.sin((1.0 - part) * apart) * start + np.sin(part * apart) * end) / math.sin(apart)
    )


def meridian(through: Place) -> NDArray[np.float64]:
    """Return the full circle that runs up through a place: the centre line, or the VAL."""
    over = Place(through.over_in + 6.75, 0.0).vector()
    return circle(over, math.pi / 2.0)


MIDLINE = circle(np.array([0.0, 1.0, 0.0]), math.pi / 2.0)


def _overlap(one: Sequence[float], other: Sequence[float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _disc(x: float, y: float, r: float) -> str:
    return f"M{x - r:.1f} {y:.1f}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0Z"


def _cross(x: float, y: float) -> str:
    return f"M{x - 7:.1f} {y:.1f}h14M{x:.1f} {y - 7:.1f}v14"


SHAPES = {
    "pin": lambda x, y: _disc(x, y, 5.0),
    "cg": lambda x, y: _disc(x, y, 5.0) + f"M{x - 5:.1f} {y:.1f}h10M{x:.1f} {y - 5:.1f}v10",
    "bias": lambda x, y: f"M{x:.1f} {y - 7:.1f}l6.1 10.5h-12.2Z",
    "pap": lambda x, y: _cross(x, y) + _disc(x, y, 4.0),
    "grip": lambda x, y: f"M{x - 4:.1f} {y - 4:.1f}h8v8h-8Z",
    "palm": _cross,
}
