"""Pattern sheets: what the oil machine was told to put down, and the film that follows from it.

A sheet's boards are counted 1 to 39 from the LEFT edge of the lane, as the file says. The film is
turned into the bowler's own count in one place, ``PatternSheet.film``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, ClassVar, Protocol

import numpy as np
from numpy.typing import NDArray

from .constants import BRUSH_FT, BRUSH_SHARE
from .geometry import BOARD_M, BOARDS, FOOT_M
from .tables import PatternError, Problem, a_board, a_number, fits, read

COLUMNS = ("layer", "direction", "from_ft", "to_ft", "first_board", "last_board", "ml")
_REQUIRED = COLUMNS[1:]
DIRECTIONS = ("forward", "reverse")
LANE_FT = 60  # the film grid's length: one cell a foot
MAX_LAYER_ML = 60.0  # typical total 20 to 30 mL a lane (from memory); more is a typing error

# One unit of oil is 0.0167 cm3 on a square foot (governing body's definition, from memory), which
# is a film of 0.180 micrometres.
UNIT_CM3_PER_FT2 = 0.0167
UNIT_UM = UNIT_CM3_PER_FT2 / (FOOT_M * 100.0) ** 2 * 1e4
CELL_M2 = BOARD_M * FOOT_M


@dataclass(frozen=True)
class Layer:
    """So many mL spread evenly over boards (both included, from the left edge) and distance."""

    layer: str
    direction: str
    from_ft: float
    to_ft: float
    first_board: int
    last_board: int
    ml: float

    def shares_by_foot(self) -> NDArray[np.float64]:
        """Return which share of the layer lies on each foot of the lane, (60,); they sum to 1.

        The layer is even over its distance, and the machine's buffer brush goes on laying oil past
        its end: toward the pins in a forward layer, toward the foul line in a reverse one. It
        starts there with a share ``BRUSH_SHARE`` of the layer's film, less where the layer was too
        short to fill the brush, and falls off over ``BRUSH_FT``. What it carries on is missing from
        the layer; what would leave the lane stays in it.
        """
        edges = np.arange(LANE_FT + 1, dtype=float)
        past = edges - self.to_ft if self.direction == "forward" else self.from_ft - edges
        filled = BRUSH_SHARE * -math.expm1(-(self.to_ft - self.from_ft) / BRUSH_FT)
        carried = filled * BRUSH_FT * -np.expm1(-np.maximum(past, 0.0) / BRUSH_FT)
        along = np.diff(np.clip(edges, self.from_ft, self.to_ft)) + np.abs(np.diff(carried))
        return np.asarray(along / along.sum())


@dataclass(frozen=True, eq=False)
class Film:
    """Oil film by board and foot: ``um`` has shape (39, 60), micrometres, boards in one count.

    Row ``i`` is board ``i + 1`` counted from the bowler's strong side (or from the left edge, for a
    film made with ``hand="left"`` or by ``PatternSheet.film_from_left``); column ``j`` covers the
    distance from ``j`` to ``j + 1`` ft. ``length_ft`` is the pattern's length.
    """

    um: NDArray[np.float64]
    length_ft: float

    @property
    def units(self) -> NDArray[np.float64]:
        """The same film in the governing body's unit, shape (39, 60)."""
        return self.um / UNIT_UM

    @property
    def volume_ml(self) -> float:
        """Volume that lies on the lane, mL: the sum of film times area."""
        return float(self.um.sum() * CELL_M2)  # 1 um on 1 m2 is 1 mL

    def mirrored(self) -> Film:
        """Return the same film with its boards counted from the other edge."""
        return Film(self.um[::-1].copy(), self.length_ft)


class Oil(Protocol):
    """What is known of the oil on a lane: a pattern sheet, or tape readings (``tape.py``).

    ``kind`` is ``pattern`` or ``tape``. ``forward_ml`` and ``reverse_ml`` are ``None`` where nobody
    knows what the machine put down, and ``notes`` says what was assumed to make a film of it.
    """

    @property
    def name(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def length_ft(self) -> float: ...
    @property
    def total_ml(self) -> float: ...
    @property
    def forward_ml(self) -> float | None: ...
    @property
    def reverse_ml(self) -> float | None: ...
    @property
    def unknown_columns(self) -> tuple[str, ...]: ...
    @property
    def notes(self) -> tuple[str, ...]: ...
    def film_from_left(self) -> Film: ...
    def film(self, hand: str = "right") -> Film: ...


@dataclass(frozen=True)
class PatternSheet:
    """A named list of layers, as put down."""

    name: str
    layers: tuple[Layer, ...]
    unknown_columns: tuple[str, ...] = field(default=())
    kind: ClassVar[str] = "pattern"
    notes: ClassVar[tuple[str, ...]] = ()

    @property
    def forward_ml(self) -> float:
        """Volume of the forward layers, mL."""
        return float(sum(layer.ml for layer in self.layers if layer.direction == "forward"))

    @property
    def reverse_ml(self) -> float:
        """Volume of the reverse layers, mL."""
        return float(sum(layer.ml for layer in self.layers if layer.direction == "reverse"))

    @property
    def total_ml(self) -> float:
        """Volume of all layers, mL."""
        return self.forward_ml + self.reverse_ml

    @property
    def length_ft(self) -> float:
        """Distance at which the last layer with oil in it ends, ft."""
        return max((layer.to_ft for layer in self.layers if layer.ml > 0), default=0.0)

    def film_from_left(self) -> Film:
        """Return the film with boards counted from the left edge, as the sheet counts them."""
        um = np.zeros((BOARDS, LANE_FT))
        for layer in self.layers:
            boards = layer.last_board - layer.first_board + 1
            per_foot = layer.ml * layer.shares_by_foot() / (boards * CELL_M2)
            um[layer.first_board - 1 : layer.last_board] += per_foot
        return Film(um, self.length_ft)

    def film(self, hand: str = "right") -> Film:
        """Return the film in the bowler's own count: flipped for a right-hander.

        The sheet counts from the left edge, a right-hander from the right one.
        """
        film = self.film_from_left()
        return film if hand == "left" else film.mirrored()


def parse_pattern(
    text_or_rows: str | bytes | Iterable[Mapping[str, Any]], name: str = ""
) -> PatternSheet:
    """Read a pattern sheet from CSV text, or from rows that are already mappings.

    Accepts comma, semicolon or tab between cells and a decimal point or comma. Unknown columns are
    kept as names in ``unknown_columns``. Raises ``PatternError`` with every problem found; row
    numbers are the file's own, with the header as row 1.
    """
    table = read(text_or_rows, "a CSV pattern sheet", ",".join(COLUMNS))
    missing = [column for column in _REQUIRED if column not in table.header]
    if missing:
        message = f"column missing: {', '.join(missing)}; expected {','.join(COLUMNS)}"
        raise PatternError([Problem(1, missing[0], message)])
    problems: list[Problem] = []
    layers: list[Layer] = []
    for number, row in table.rows:
        layer = _read_layer(number, row, len(layers) + 1, problems)
        if layer is not None:
            layers.append(layer)
    if not table.rows:
        problems.append(Problem(2, "", "no layers; at least one row was expected"))
    if problems:
        raise PatternError(problems)
    return PatternSheet(name, tuple(layers), table.unknown(COLUMNS))


def _read_layer(
    number: int, row: Mapping[str, Any], count: int, problems: list[Problem]
) -> Layer | None:
    before = len(problems)
    if not fits(number, row, problems):
        return None
    direction = str(row.get("direction") or "").strip().lower()
    if direction not in DIRECTIONS:
        problems.append(
            Problem(number, "direction", f"{direction!r} given, forward or reverse expected")
        )
    from_ft = a_number(number, row, "from_ft", 0.0, LANE_FT, problems)
    to_ft = a_number(number, row, "to_ft", 0.0, LANE_FT, problems)
    first = a_board(number, row, "first_board", BOARDS, problems)
    last = a_board(number, row, "last_board", BOARDS, problems)
    ml = a_number(number, row, "ml", 0.0, MAX_LAYER_ML, problems)
    if from_ft is not None and to_ft is not None and not from_ft < to_ft:
        problems.append(
            Problem(number, "to_ft", f"{to_ft:g} given, more than from_ft {from_ft:g} expected")
        )
    if first is not None and last is not None and first > last:
        problems.append(
            Problem(number, "last_board", f"{last} given, at least first_board {first} expected")
        )
    if (
        len(problems) > before
        or from_ft is None
        or to_ft is None
        or first is None
        or last is None
        or ml is None
    ):
        return None
    label = str(row.get("layer") or "").strip() or str(count)
    return Layer(label, direction, from_ft, to_ft, first, last, ml)


# Board bands from the left edge and distance bands of the summary.
BOARD_BANDS = ((1, 5), (6, 10), (11, 15), (16, 24), (25, 29), (30, 34), (35, 39))
DISTANCE_BANDS = ((0, 10), (10, 20), (20, 30), (30, 40), (40, 50), (50, 60))


def ratios(film: Film) -> dict[str, float | None]:
    """Return the two ratios in use, over the oiled length; ``None`` where the outside is dry.

    ``crosswise``: mean film on boards 18 left to 18 right over the mean of boards 3 to 7 on both
    sides (supplier glossary's definition). ``inside_outside``: mean film between the second arrows
    (boards 10 to 10) over the mean of the boards outside them (governing body's article, 2007).
    """
    across = film.um.sum(axis=1)
    middle = across[17:22].mean()
    track = np.concatenate([across[2:7], across[32:37]]).mean()
    inside = across[9:30].mean()
    outside = np.concatenate([across[:9], across[30:]]).mean()
    return {
        "crosswise": float(middle / track) if track > 0 else None,
        "inside_outside": float(inside / outside) if outside > 0 else None,
    }


def rule_of_31(length_ft: float) -> float | None:
    """Return the exit board at the end of the oil, length less 31 (common practice, no physics).

    The ball's breakpoint usually lies beyond it. ``None`` for a pattern shorter than 32 ft, where
    the rule names no board.
    """
    exit_board = length_ft - 31.0
    return exit_board if exit_board >= 1.0 else None


def summary(oil: Oil) -> dict[str, Any]:
    """Return what the ``oil`` command prints: volumes, length, ratios, exit board, film by zone.

    What is not known of tape readings (forward and reverse volume, layers) is ``None``.
    """
    film = oil.film_from_left()
    zones = []
    for start, end in DISTANCE_BANDS:
        for first, last in BOARD_BANDS:
            mean = float(film.um[first - 1 : last, start:end].mean())
            zones.append(
                {
                    "from_ft": start,
                    "to_ft": end,
                    "first_board": first,
                    "last_board": last,
                    "film_um": round(mean, 3),
                    "film_units": round(mean / UNIT_UM, 2),
                }
            )
    exit_board = rule_of_31(oil.length_ft)
    found = {key: None if value is None else round(value, 2) for key, value in ratios(film).items()}
    forward, reverse = oil.forward_ml, oil.reverse_ml
    return {
        "name": oil.name,
        "kind": oil.kind,
        "total_ml": round(oil.total_ml, 3),
        "forward_ml": None if forward is None else round(forward, 3),
        "reverse_ml": None if reverse is None else round(reverse, 3),
        "length_ft": oil.length_ft,
        "ratio": found,
        "rule_of_31_exit_board": exit_board,
        "film_by_zone": zones,
        "boards_from": "left",
        "layers": len(oil.layers) if isinstance(oil, PatternSheet) else None,
        "notes": list(oil.notes),
        "unknown_columns": list(oil.unknown_columns),
    }


def _house() -> PatternSheet:
    loads = [
        ("forward", 0, 36, 2, 3.6),
        ("forward", 0, 40, 5, 5.2),
        ("forward", 0, 40, 10, 6.6),
        ("forward", 2, 34, 12, 5.6),
        ("reverse", 8, 40, 6, 4.7),
        ("reverse", 4, 34, 12, 2.4),
    ]
    layers = [
        Layer(str(i), direction, float(start), float(end), first, BOARDS + 1 - first, ml)
        for i, (direction, start, end, first, ml) in enumerate(loads, start=1)
    ]
    return PatternSheet("ordinary house pattern", tuple(layers))


# The prior where nobody knows the sheet: 40 ft, 28 mL, heavy in the middle and thin outside (usual
# house pattern 35 to 45 ft, several coaching pages; typical total 20 to 30 mL, from memory). The
# layers themselves are ours: fitted, with the friction of ``constants.py`` held, to the forgiveness
# that a throwing robot met across a lane and to ordinary lines that end in the pocket (see
# tests/motion/test_robot_table.py).
HOUSE = _house()
