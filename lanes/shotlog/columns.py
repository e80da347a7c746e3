"""The columns of a shot log: their order, what each holds, its limits and its name on screen."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from lanes.reading.shots import MISSES, NEIGHBOUR_PINS, THROWS


class Kind(Enum):
    """What a column's cells hold."""

    WHOLE = "whole number"
    BOARD = "board"
    NUMBER = "number"
    CHOICE = "choice"
    LEAVE = "leave"
    YES_NO = "yes or no"
    TEXT = "text"


@dataclass(frozen=True)
class Column:
    """One column. ``low`` and ``high`` are both allowed; ``unit`` is the unit of both."""

    name: str
    label: str
    kind: Kind
    low: float = 0
    high: float = 0
    unit: str = ""
    choices: tuple[str, ...] = ()
    max_length: int = 0

    @property
    def is_number(self) -> bool:
        """Say whether the cells are numbers, so that a sheet may show them as such."""
        return self.kind in (Kind.WHOLE, Kind.BOARD, Kind.NUMBER)

    @property
    def expected(self) -> str:
        """What a good cell holds, in words that finish the sentence "expected ..."."""
        span = f"{self.low:g} to {self.high:g}"
        match self.kind:
            case Kind.WHOLE:
                return f"a whole number from {span}"
            case Kind.BOARD:
                return f"a board from {span}, such as 17.5"
            case Kind.NUMBER:
                return f"{span} {self.unit}"
            case Kind.CHOICE:
                return f"{', '.join(self.choices[:-1])} or {self.choices[-1]}, or nothing"
            case Kind.LEAVE:
                return "the standing pins such as 3-6-10, or X, / or 0"
            case Kind.YES_NO:
                return "yes, no or nothing"
            case Kind.TEXT:
                return f"at most {self.max_length} characters"


def _whole(name: str, label: str, low: int, high: int) -> Column:
    return Column(name, label, Kind.WHOLE, low, high)


def _board(name: str, label: str, low: float = 0, high: float = 40) -> Column:
    # The lane is 39 boards wide, from 0 (the edge on the strong side) to 39 (lane specification).
    # One board over is left for a reading at the far edge; anything else is a typing error.
    return Column(name, label, Kind.BOARD, low, high, "boards")


def _choice(name: str, label: str, choices: tuple[str, ...]) -> Column:
    return Column(name, label, Kind.CHOICE, choices=choices)


def _text(name: str, label: str, max_length: int) -> Column:
    return Column(name, label, Kind.TEXT, max_length=max_length)


# The limits only catch typing errors. They are generous on purpose: a strange shot is a shot.
COLUMNS = (
    _whole("shot", "Shot", 1, 99_999),
    _whole("game", "Game", 1, 999),
    _whole("frame", "Frame", 1, 10),  # ten frames make a game (playing rules)
    _whole("delivery", "Delivery", 1, 3),  # three at most, in the tenth frame (playing rules)
    _whole("lane", "Lane", 1, 999),
    _text("ball", "Ball", 60),
    # The sliding foot may start beside the lane: the approach is wider than the boards.
    _board("stand", "Stand", -10, 50),
    _board("aim", "Aim at the arrows"),
    _board("laydown", "Laydown"),
    _board("arrows", "Arrows"),
    _board("breakpoint", "Breakpoint"),
    # 60 ft from the foul line to the head pin's spot (lane specification).
    Column("breakpoint_ft", "Breakpoint distance", Kind.NUMBER, 0, 60, "feet"),
    _board("head_pin", "Head pin"),
    _board("deck_exit", "Deck exit"),
    Column("leave", "Leave", Kind.LEAVE),
    _choice("neighbour_pin", "Pin beside the corner", NEIGHBOUR_PINS),
    _choice("throw", "Throw", THROWS),
    _choice("miss", "Miss", MISSES),
    # From a small child's push to well over the fastest adult (common practice, no source).
    Column("speed_mph", "Speed", Kind.NUMBER, 5, 35, "mph"),
    Column("rev_rpm", "Rev rate", Kind.NUMBER, 0, 800, "rpm"),
    Column("foul", "Foul", Kind.YES_NO),
    _text("at", "Time", 40),
    _text("note", "Note", 300),
)
NAMES = tuple(column.name for column in COLUMNS)
BY_NAME = {column.name: column for column in COLUMNS}
