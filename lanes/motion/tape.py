"""Tape readings: the film as it was measured on the lane, board by board at several distances.

A file has the columns ``ft,board,units`` (``um`` may stand for ``units``), one reading a row, with
boards counted from the LEFT edge as on a pattern sheet. From the readings to a film:

- between two boards read at one distance, and between two distances, the film runs straight;
- beyond the outermost boards read, it is that of the nearest reading;
- before the first distance it is that of the first distance, back to the foul line;
- past the last distance it falls straight to nothing over ``TAPE_END_FT`` feet (assumed), unless
  the last distance is dry already. The pattern's length is where it comes to nothing.

What the machine put down, forward or reverse, cannot be told from what lies there.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, ClassVar

import numpy as np
from numpy.typing import NDArray

from .constants import TAPE_END_FT
from .geometry import BOARDS
from .oil import COLUMNS as SHEET_COLUMNS
from .oil import LANE_FT, UNIT_UM, Film, PatternSheet, parse_pattern
from .tables import PatternError, Problem, Table, a_board, a_number, fits, read

COLUMNS = ("ft", "board", "units")
IN_UM = "um"  # the column that may stand for units, in micrometres
_KNOWN = (*COLUMNS, IN_UM)
MAX_UNITS = 200.0  # usual films are below 100 units (from memory); more is a typing error

# Fewer readings than these leave the film to guesswork (our choice): a tape within so many feet of
# the foul line and of the one before, and no more unread boards than these side by side.
MAX_GAP_FT = 25.0
MAX_UNREAD_BOARDS = 9


@dataclass(frozen=True)
class Reading:
    """Film of so many units on one board, counted from the left edge, at one distance."""

    ft: float
    board: int
    units: float


@dataclass(frozen=True)
class TapeReadings:
    """The readings of one lane under a name; the module tells how a film comes of them."""

    name: str
    readings: tuple[Reading, ...]
    unknown_columns: tuple[str, ...] = field(default=())
    kind: ClassVar[str] = "tape"
    forward_ml: ClassVar[None] = None
    reverse_ml: ClassVar[None] = None

    @cached_property
    def distances_ft(self) -> tuple[float, ...]:
        """The distances that were read, ft, nearest first."""
        return tuple(sorted({reading.ft for reading in self.readings}))

    @property
    def length_ft(self) -> float:
        """Distance at which the film comes to nothing, ft; 0 for a dry lane."""
        return float(self._profiles[0][-1]) if self._profiles[1].any() else 0.0

    @property
    def total_ml(self) -> float:
        """Volume of the film, mL."""
        return self.film_from_left().volume_ml

    @property
    def notes(self) -> tuple[str, ...]:
        """What a reader of the numbers must know, in words."""
        last, end = self.distances_ft[-1], self.length_ft
        said = [
            f"Film from {len(self.readings)} tape readings at {_and(self.distances_ft)} ft, "
            "straight in between; forward and reverse volume cannot be told from it."
        ]
        if end > last:
            said.append(
                f"There is oil on the last tape, at {last:g} ft: taken to end by {end:g} ft "
                "(assumed)."
            )
        return tuple(said)

    def film_from_left(self) -> Film:
        """Return the film with boards counted from the left edge, as the readings count them."""
        feet, units = self._profiles
        middles = np.arange(LANE_FT) + 0.5
        film = np.array([np.interp(middles, feet, row, right=0.0) for row in units.T])
        return Film(film * UNIT_UM, self.length_ft)

    def film(self, hand: str = "right") -> Film:
        """Return the film in the bowler's own count: flipped for a right-hander."""
        film = self.film_from_left()
        return film if hand == "left" else film.mirrored()

    @cached_property
    def _profiles(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Distances (n,) and the film across the lane at each (n, 39), to where it ends."""
        feet = list(self.distances_ft)
        across = []
        for ft in feet:
            read_here = sorted((r.board, r.units) for r in self.readings if r.ft == ft)
            boards, units = zip(*read_here, strict=True)
            across.append(np.interp(np.arange(1, BOARDS + 1), boards, units))
        while len(across) > 1 and not across[-1].any() and not across[-2].any():
            feet.pop()
            across.pop()
        if across[-1].any() and feet[-1] < LANE_FT:
            feet.append(min(feet[-1] + TAPE_END_FT, LANE_FT))
            across.append(np.zeros(BOARDS))
        return np.array(feet), np.array(across)


def parse_tape(text_or_rows: str | bytes | Iterable[Mapping[str, Any]], name: str) -> TapeReadings:
    """Read tape readings from CSV text, or from rows that are already mappings.

    Accepts comma, semicolon or tab between cells and a decimal point or comma; unknown columns are
    kept as names. Raises ``PatternError`` with every problem by row, as a pattern sheet does.
    """
    table = read(text_or_rows, "a CSV file of tape readings", ",".join(COLUMNS))
    film_column = _film_column(table)
    problems: list[Problem] = []
    found: dict[tuple[float, int], tuple[int, Reading]] = {}
    for number, row in table.rows:
        reading = _read_reading(number, row, film_column, problems)
        if reading is None:
            continue
        before, _ = found.setdefault((reading.ft, reading.board), (number, reading))
        if before != number:
            where = f"board {reading.board} at {reading.ft:g} ft"
            problems.append(Problem(number, "board", f"{where} was read in row {before} already"))
    if not problems:
        problems = _too_little(found)
    if problems:
        raise PatternError(problems)
    readings = tuple(reading for _, reading in found.values())
    return TapeReadings(name, readings, table.unknown(_KNOWN))


def parse_oil(data: str | bytes, name: str) -> PatternSheet | TapeReadings:
    """Read a pattern sheet or tape readings, told apart by the header."""
    either = f"{','.join(SHEET_COLUMNS)} or {','.join(COLUMNS)}"
    header = read(data, "a CSV pattern sheet or tape readings", either).header
    return parse_tape(data, name) if is_tape(header) else parse_pattern(data, name)


def is_tape(header: Iterable[str]) -> bool:
    """Return whether a header is one of tape readings."""
    names = {name.strip().lower() for name in header}
    return "board" in names and bool(names & {"units", IN_UM})


def _film_column(table: Table) -> str:
    missing = [column for column in COLUMNS[:2] if column not in table.header]
    given = [column for column in (COLUMNS[2], IN_UM) if column in table.header]
    if not given:
        missing.append(COLUMNS[2])
    if missing:
        expected = f"expected {','.join(COLUMNS)}, or {IN_UM} for units"
        raise PatternError(
            [Problem(1, missing[0], f"column missing: {', '.join(missing)}; {expected}")]
        )
    if len(given) == 2:
        raise PatternError([Problem(1, IN_UM, "units and um both given, one of them expected")])
    return given[0]


def _read_reading(
    number: int, row: Mapping[str, Any], film_column: str, problems: list[Problem]
) -> Reading | None:
    if not fits(number, row, problems):
        return None
    one_unit = UNIT_UM if film_column == IN_UM else 1.0
    ft = a_number(number, row, "ft", 0.0, LANE_FT, problems)
    board = a_board(number, row, "board", BOARDS, problems)
    film = a_number(number, row, film_column, 0.0, MAX_UNITS * one_unit, problems)
    if ft is None or board is None or film is None:
        return None
    return Reading(ft, board, film / one_unit)


def _too_little(found: dict[tuple[float, int], tuple[int, Reading]]) -> list[Problem]:
    """Return what is missing before a film can be told, each at the row after the gap."""
    if not found:
        return [Problem(2, "", "no readings; at least one row was expected")]
    rows = {place: row for place, (row, _) in found.items()}
    distances = sorted({ft for ft, _ in rows})
    last_row = max(rows.values())
    if len(distances) < 2:
        return [
            Problem(
                last_row,
                "ft",
                f"all readings at {distances[0]:g} ft, two distances or more expected",
            )
        ]
    problems = []
    for before, ft in itertools.pairwise([0.0, *distances]):
        boards = sorted(board for at, board in rows if at == ft)
        if ft - before > MAX_GAP_FT:
            message = f"nothing read from {before:g} to {ft:g} ft"
            expected = f"a tape at least every {MAX_GAP_FT:g} ft expected"
            problems.append(Problem(rows[ft, boards[0]], "ft", f"{message}, {expected}"))
        for left, right in itertools.pairwise([0, *boards, BOARDS + 1]):
            if right - left - 1 > MAX_UNREAD_BOARDS:
                row = rows[ft, right if right <= BOARDS else left]
                message = f"boards {left + 1} to {right - 1} are not read at {ft:g} ft"
                expected = f"at most {MAX_UNREAD_BOARDS} unread side by side expected"
                problems.append(Problem(row, "board", f"{message}, {expected}"))
    return problems


def _and(distances: tuple[float, ...]) -> str:
    *first, last = (f"{ft:g}" for ft in distances)
    return f"{', '.join(first)} and {last}" if first else last
