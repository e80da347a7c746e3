"""A chart of the head-pin boards by shot: what was seen, and what another way would have brought.

Coordinates for one drawing, as `lanes.pictures` makes them. What was seen is marked by shape (a
strike by another one), the other way is a band with a dashed middle, the pocket a strip, a change a
line across with its word. Boards grow upward.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from lanes.change_marks import ChangeMark
from lanes.motion.geometry import POCKET
from lanes.pictures import mark_shape

_LEFT, _RIGHT, _TOP, _BOTTOM = 42.0, 10.0, 10.0, 44.0
_LEAST_SPAN = 8.0  # boards
_LEVELS, _LEVEL = 3, 14.0  # of the words beside changes, so that neighbours do not cover each other
_FARTHEST = (6.0, 34.0)  # boards; a ball beyond is drawn at the edge


@dataclass(frozen=True)
class Tick:
    at: float
    text: str


@dataclass(frozen=True)
class Mark:
    d: str
    struck: bool


@dataclass(frozen=True)
class Line:
    """A change as drawn: across at ``x``, its word at ``y`` on the side with room."""

    kind: str
    x: float
    y: float
    word: str
    is_left: bool


@dataclass(frozen=True)
class HeadPinChart:
    """Give it a what-if's ``by_shot``, the numbers of the shots that struck, and the session's
    changes; those before the first shot are not drawn.
    """

    title: str
    by_shot: list[dict[str, Any]]
    struck: set[int]
    marked: Sequence[ChangeMark] = ()
    width: ClassVar[float] = 340.0
    height: ClassVar[float] = 250.0

    @property
    def left(self) -> float:
        return _LEFT

    @property
    def right(self) -> float:
        return self.width - _RIGHT

    @property
    def top(self) -> float:
        return _TOP

    @property
    def bottom(self) -> float:
        return self.height - _BOTTOM

    @property
    def middle_x(self) -> float:
        return (self.left + self.right) / 2.0

    @property
    def middle_y(self) -> float:
        return (self.top + self.bottom) / 2.0

    @property
    def boards(self) -> tuple[float, float]:
        """The ends of the axis, whole boards."""
        values = [POCKET.light, POCKET.high]
        for shot in self.by_shot:
            values += [shot["seen"]] if shot["seen"] is not None else []
            values += shot["asked"] or []
        low = max(math.floor(min(values)) - 1.0, _FARTHEST[0])
        high = min(math.ceil(max(values)) + 1.0, _FARTHEST[1])
        return low, max(high, low + _LEAST_SPAN)

    def x(self, shot: float) -> float:
        first, last = self.by_shot[0]["shot"], self.by_shot[-1]["shot"]
        part = (shot - first) / max(last - first, 1)
        return round(self.left + 8.0 + part * (self.right - self.left - 16.0), 1)

    def y(self, board: float) -> float:
        low, high = self.boards
        part = (min(max(board, low), high) - low) / (high - low)
        return round(self.bottom - part * (self.bottom - self.top), 1)

    @property
    def pocket(self) -> dict[str, float]:
        top, bottom = self.y(POCKET.high), self.y(POCKET.light)
        return {"y": top, "height": round(bottom - top, 1)}

    @property
    def board_ticks(self) -> list[Tick]:
        low, high = self.boards
        step = 2 if high - low <= 14.0 else 5
        first = math.ceil(low / step) * step
        return [Tick(self.y(board), str(board)) for board in range(first, int(high) + 1, step)]

    @property
    def shot_ticks(self) -> list[Tick]:
        first, last = self.by_shot[0]["shot"], self.by_shot[-1]["shot"]
        step = 5 if last - first <= 30 else 10
        ticks = range(math.ceil(first / step) * step, last + 1, step)
        return [Tick(self.x(shot), str(shot)) for shot in ticks]

    @property
    def marks(self) -> list[Mark]:
        return [
            Mark(
                mark_shape(
                    "square" if shot["shot"] in self.struck else "circle",
                    self.x(shot["shot"]), self.y(shot["seen"]), 3.5,
                ),
                shot["shot"] in self.struck,
            )
            for shot in self.by_shot
            if shot["seen"] is not None
        ]  # fmt: skip

    @property
    def asked(self) -> list[tuple[float, float, float, float]]:
        found = []
        for shot in self.by_shot:
            if shot["asked"]:
                low, middle, high = (self.y(board) for board in shot["asked"])
                found.append((self.x(shot["shot"]), low, middle, high))
        return found

    @property
    def band(self) -> str:
        around = [(x, low) for x, low, _, _ in self.asked]
        around += [(x, high) for x, _, _, high in reversed(self.asked)]
        return " ".join(f"{x},{y}" for x, y in around)

    @property
    def line(self) -> str:
        return " ".join(f"{x},{y}" for x, _, y, _ in self.asked)

    @property
    def changes(self) -> list[ChangeMark]:
        first, last = self.by_shot[0]["shot"], self.by_shot[-1]["shot"]
        return [change for change in self.marked if first <= change.shot <= last]

    @property
    def lines(self) -> list[Line]:
        found = []
        for place, change in enumerate(self.changes):
            x = round(max(self.x(change.shot - 0.5), self.left), 1)
            y = self.top + 12.0 + _LEVEL * (place % _LEVELS)
            found.append(Line(change.kind, x, y, change.what, x > self.middle_x))
        return found

    @property
    def legend(self) -> list[dict[str, str]]:
        return [
            {"d": mark_shape("square", 16, 8, 4.0), "label": "seen, a strike"},
            {"d": mark_shape("circle", 16, 8, 4.0), "label": "seen, no strike"},
        ]

    @property
    def description(self) -> str:
        """What the chart shows, for somebody who cannot see it."""
        seen = [shot["seen"] for shot in self.by_shot if shot["seen"] is not None]
        asked = [shot["asked"] for shot in self.by_shot if shot["asked"]]
        said = []
        if seen:
            said.append(f"Seen: from board {min(seen):.1f} to {max(seen):.1f}")
        if asked:
            low, high = min(a[0] for a in asked), max(a[2] for a in asked)
            first, last = asked[0][1], asked[-1][1]
            said.append(
                f"with the other way likely from board {low:.1f} to {high:.1f}, in the middle "
                f"{first:.1f} on the first of these shots and {last:.1f} on the last"
            )
        said += [f"from {change.label} sure" for change in self.changes]
        pocket = f"the pocket is board {POCKET.light:g} to {POCKET.high:g}"
        return "; ".join([*said, pocket]) + "."
