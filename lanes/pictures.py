"""The lane from above: coordinates for one drawing that every page shares.

The foul line is at the bottom. Across, the lane is to scale; along, it is compressed. Boards are
those of the bowler's own count, so board 1 lies at the right for a right-hander and at the left
for a left-hander (and for a pattern sheet, which counts from the left edge). Nothing here mirrors
anything but the drawing itself. ``lanes/parts/lane.html`` draws it; colours are classes of
``pictures.css``, and every line and mark also differs by dash or shape.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import ClassVar

import numpy as np

from lanes.motion.geometry import ARROWS_FT, BOARDS, DECK_EXIT_FT, pin_spots
from lanes.motion.oil import BOARD_BANDS, DISTANCE_BANDS, Film

PER_BOARD = 8.0  # drawing units across
PER_FOOT = 9.0  # drawing units along: 1 ft across would be 90, so ten times compressed
LEFT, RIGHT, TOP, BOTTOM = 44.0, 8.0, 8.0, 46.0  # margins; the distances stand at the left
GUTTER_SHOWN = 14.0  # 70 to scale; nothing is read there
END_FT = 63.0

DASHES = ("solid", "dash", "dot", "dashdot")
SHAPES = ("circle", "square", "triangle", "diamond", "cross", "plus")
# Upper limits of the film's shades, micrometres. Fixed, so that two sheets can be compared.
FILM_STEPS_UM = (0.02, 0.5, 1.0, 2.0, 4.0)


@dataclass(frozen=True)
class Cell:
    """A rectangle of one film shade."""

    x: float
    y: float
    width: float
    height: float
    level: int


@dataclass(frozen=True)
class Text:
    x: float
    y: float
    text: str


@dataclass(frozen=True)
class Line:
    """A path: `points` as SVG writes them."""

    points: str
    label: str
    series: int
    dash: str
    end: Text | None = None


@dataclass(frozen=True)
class Area:
    points: str
    label: str
    series: int


@dataclass(frozen=True)
class Mark:
    d: str
    label: str
    series: int
    shape: str


@dataclass(frozen=True)
class Key:
    """One line of the legend: what it looks like and what it is."""

    kind: str  # "line", "mark", "area" or "film"
    label: str
    series: int
    look: str = ""
    d: str = ""


@dataclass(frozen=True)
class Pin:
    x: float
    y: float
    number: int


@dataclass
class LanePicture:
    """A drawing to be filled layer by layer.

    `title` and `description` are read out by a screen reader: the description says in words what
    the drawing shows. `key` makes ids unique where a page has several drawings.
    """

    title: str
    description: str
    hand: str = "right"
    key: str = "lane"
    cells: list[Cell] = field(default_factory=list)
    numbers: list[Text] = field(default_factory=list)
    areas: list[Area] = field(default_factory=list)
    lines: list[Line] = field(default_factory=list)
    marks: list[Mark] = field(default_factory=list)
    legend: list[Key] = field(default_factory=list)
    film_unit: str = ""

    width: ClassVar[float] = LEFT + GUTTER_SHOWN * 2 + BOARDS * PER_BOARD + RIGHT
    height: ClassVar[float] = TOP + END_FT * PER_FOOT + BOTTOM

    def x(self, board: float) -> float:
        """Return the drawing's x of a board; board b is centred b - 0.5 boards from its edge."""
        from_edge = (board - 0.5) * PER_BOARD
        lane_left = LEFT + GUTTER_SHOWN
        if self.hand == "right":
            return round(lane_left + BOARDS * PER_BOARD - from_edge, 1)
        return round(lane_left + from_edge, 1)

    def y(self, ft: float) -> float:
        """Return the drawing's y at a distance from the foul line."""
        return round(TOP + (END_FT - ft) * PER_FOOT, 1)

    def _points(self, points: Iterable[tuple[float, float]]) -> str:
        return " ".join(f"{self.x(board)},{self.y(ft)}" for ft, board in points)

    # Layers.

    def add_film(self, film: Film) -> None:
        """Shade the oil film; its boards must be in the count that this drawing uses."""
        levels = np.searchsorted(FILM_STEPS_UM, film.um, side="right")
        for first, last, start, end, level in _blocks(levels):
            left = min(self.x(first - 0.5), self.x(last + 0.5))
            self.cells.append(
                Cell(
                    left,
                    self.y(end),
                    round((last - first + 1) * PER_BOARD, 1),
                    round((end - start) * PER_FOOT, 1),
                    level,
                )
            )
        lows = FILM_STEPS_UM[1:]
        self.legend.append(Key("film", f"up to {lows[0]:g} µm of oil", 0, "1"))
        for level, (low, high) in enumerate(itertools.pairwise(lows), start=2):
            self.legend.append(Key("film", f"{low:g} to {high:g} µm", 0, str(level)))
        self.legend.append(Key("film", f"over {lows[-1]:g} µm", 0, str(len(lows) + 1)))

    def add_film_numbers(self, film: Film) -> None:
        """Write the mean film of each zone into it, µm, so that no shade has to be judged."""
        self.film_unit = "µm"
        for start, end in DISTANCE_BANDS:
            for first, last in BOARD_BANDS:
                mean = float(film.um[first - 1 : last, start:end].mean())
                if mean >= FILM_STEPS_UM[0]:
                    y = self.y(start + 0.65 * (end - start)) + 4  # clear of the arrows
                    self.numbers.append(Text(self.x((first + last) / 2), y, f"{mean:.1f}"))

    def add_path(
        self,
        points: Iterable[tuple[float, float]],
        label: str,
        *,
        series: int = 1,
        dash: str = "solid",
        name_at_end: bool = False,
    ) -> None:
        """Draw a path through (ft, board) points as a line, `dash` one of DASHES."""
        assert dash in DASHES
        points = list(points)
        if len(points) < 2:
            return
        end = None
        if name_at_end:
            end = Text(self.x(points[-1][1]), self.y(min(points[-1][0], 58.0)), label)
        self.lines.append(Line(self._points(points), label, series, dash, end))
        self.legend.append(Key("line", label, series, dash))

    def add_band(
        self, points: Iterable[tuple[float, float, float]], label: str, *, series: int = 1
    ) -> None:
        """Draw an uncertainty band from (ft, low board, high board) points."""
        points = list(points)
        if len(points) < 2:
            return
        around = [(ft, low) for ft, low, _ in points] + [
            (ft, high) for ft, _, high in reversed(points)
        ]
        self.areas.append(Area(self._points(around), label, series))
        self.legend.append(Key("area", label, series))

    def add_mark(
        self,
        board: float,
        ft: float,
        label: str,
        *,
        shape: str = "circle",
        series: int = 1,
        r: float = 5.0,
        key: str = "",
    ) -> None:
        """Draw a point; marks of one shape and label share a line of the legend.

        `key` is that line's words where a shape means the same in every series.
        """
        d = mark_shape(shape, self.x(board), self.y(ft), r)
        self.marks.append(Mark(d, label, series, shape))
        shape_alone = mark_shape(shape, 16, 8)
        line = Key("mark", key or label, 0 if key else series, shape, shape_alone)
        if line not in self.legend:
            self.legend.append(line)

    @property
    def film_shapes(self) -> list[tuple[int, str]]:
        """One SVG path for all rectangles of a shade, as (level, path)."""
        levels = sorted({cell.level for cell in self.cells})
        return [
            (
                level,
                "".join(
                    f"M{cell.x},{cell.y}h{cell.width}v{cell.height}h-{cell.width}z"
                    for cell in self.cells
                    if cell.level == level
                ),
            )
            for level in levels
        ]

    # What every drawing has.

    @property
    def lane(self) -> dict[str, float]:
        """The lane's own edges, and those of the gutters shown."""
        left, top, bottom = LEFT + GUTTER_SHOWN, self.y(DECK_EXIT_FT), self.y(0)
        return {
            "left": left,
            "right": left + BOARDS * PER_BOARD,
            "top": top,
            "bottom": bottom,
            "width": BOARDS * PER_BOARD,
            "height": round(bottom - top, 1),
            "gutter_left": LEFT,
            "gutter": GUTTER_SHOWN,
            "middle": left + BOARDS * PER_BOARD / 2,
            "label_y": bottom + 18,
            "caption_y": bottom + 38,
        }

    @property
    def board_lines(self) -> list[Text]:
        """Every fifth board, numbered in the bowler's own count."""
        return [Text(self.x(b), self.y(0) + 18, str(b)) for b in range(5, BOARDS, 5)]

    @property
    def foot_lines(self) -> list[Text]:
        return [Text(LEFT - 6, self.y(ft), str(ft)) for ft in range(0, 61, 10)]

    @property
    def arrows(self) -> list[str]:
        """The seven arrows, every fifth board, drawn on the plane where they are read."""
        y = self.y(ARROWS_FT)
        return [
            f"M{x - 3.5},{y + 5} L{x},{y - 5} L{x + 3.5},{y + 5}z"
            for x in (self.x(board) for board in range(5, 36, 5))
        ]

    @property
    def pins(self) -> list[Pin]:
        """The ten pins on their true spots."""
        return [
            Pin(self.x(board), self.y(ft), number)
            for number, (board, ft) in pin_spots(self.hand).items()
        ]


def mark_shape(shape: str, x: float, y: float, r: float = 5.0) -> str:
    """Return the SVG path of a mark around a point."""
    match shape:
        case "circle":
            return f"M{x - r},{y} a{r},{r} 0 1 0 {2 * r},0 a{r},{r} 0 1 0 {-2 * r},0z"
        case "square":
            return f"M{x - r},{y - r} h{2 * r} v{2 * r} h{-2 * r}z"
        case "triangle":
            return f"M{x},{y - r - 1} L{x + r + 1},{y + r} L{x - r - 1},{y + r}z"
        case "diamond":
            return f"M{x},{y - r - 1} L{x + r + 1},{y} L{x},{y + r + 1} L{x - r - 1},{y}z"
        case "cross":
            return f"M{x - r},{y - r} L{x + r},{y + r} M{x - r},{y + r} L{x + r},{y - r}"
        case "plus":
            return f"M{x - r},{y} h{2 * r} M{x},{y - r} v{2 * r}"
    raise ValueError(f"{shape!r} is not one of {', '.join(SHAPES)}")


def _blocks(levels: np.ndarray) -> Iterable[tuple[int, int, int, int, int]]:
    """Cut a grid of shades into few rectangles: (first board, last board, from ft, to ft, level).

    Runs along each board first, then equal runs on neighbouring boards become one.
    """
    open_runs: dict[tuple[int, int, int], int] = {}
    for row in range(len(levels) + 1):
        runs = set(_runs(levels[row])) if row < len(levels) else set()
        for run in [run for run in open_runs if run not in runs]:
            start, end, level = run
            yield open_runs.pop(run) + 1, row, start, end, level
        for run in runs:
            open_runs.setdefault(run, row)


def _runs(row: np.ndarray) -> Iterable[tuple[int, int, int]]:
    edges = [0, *(np.flatnonzero(np.diff(row)) + 1).tolist(), len(row)]
    for start, end in itertools.pairwise(edges):
        if row[start]:
            yield start, end, int(row[start])
