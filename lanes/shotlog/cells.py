"""One cell at a time: from what a file holds to a value, and back to text.

Of the apostrophe in front of what a spreadsheet would run as a formula (see
``clients.table_files``) only words are concerned (ball, at, note and unknown columns): numbers are
numbers, and a leave never begins with a sign.
"""

from __future__ import annotations

import datetime as dt
import re

from clients.table_files import Cell, cell_text, clean_text, escape, number_text, unescape
from lanes.reading.leaves import LeaveError, parse_leave

from .columns import Column, Kind

_CLOCK_OR_CALENDAR = dt.date | dt.time | dt.timedelta  # a datetime is a date
Value = str | int | float | bool | None

_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)")
_YES = {"yes", "y", "true", "1"}
_NO = {"no", "n", "false", "0", ""}
# "10-Jun" or "06.10.2026" is what is left of 6-10 once a spreadsheet has saved it as CSV.
_LOOKS_LIKE_DATE = re.compile(r"[0-9]+[-. /][^\W\d_]{3,}|[^\W\d_]{3,}[-. /][0-9]+|.*[-. /][0-9]{4}")


class CellError(ValueError):
    """The cell's text is no value of its column; the message says what was expected."""


def parse_cell(column: Column, cell: Cell) -> Value:
    """Return the value of a cell in a column; ``None``, ``""`` or no for an empty one.

    Raises ``CellError`` with what was wrong and what was expected.
    """
    if isinstance(cell, _CLOCK_OR_CALENDAR) and column.kind is not Kind.TEXT:
        raise CellError(_turned_into_date(column, cell))
    text = cell_text(cell)
    match column.kind:
        case Kind.WHOLE:
            return _parse_whole(column, text)
        case Kind.BOARD | Kind.NUMBER:
            return _parse_number(column, text)
        case Kind.CHOICE:
            return _parse_choice(column, text)
        case Kind.LEAVE:
            return _parse_leave(column, text)
        case Kind.YES_NO:
            return _parse_yes_no(column, text)
        case Kind.TEXT:
            return _parse_text(column, text)


def format_cell(column: Column, value: Value) -> str:
    """Return a value as the text that ``parse_cell`` reads back; text is escaped."""
    if column.kind is Kind.YES_NO:
        return "yes" if value else ""
    if column.kind is Kind.TEXT:
        return escape(clean_text(str(value)))
    if isinstance(value, float):
        return number_text(value)
    return "" if value is None else str(value)


def _parse_number(column: Column, text: str) -> float | None:
    if not text:
        return None
    if not _NUMBER.fullmatch(text):
        raise CellError(f'"{_short(text)}" is not a number; expected {column.expected}')
    number = float(text.replace(",", "."))
    if not column.low <= number <= column.high:
        what = "board " if column.kind is Kind.BOARD else ""
        raise CellError(f"{what}{_short(text)} is out of range; expected {column.expected}")
    return number


def _parse_whole(column: Column, text: str) -> int | None:
    number = _parse_number(column, text)
    if number is None:
        return None
    if not number.is_integer():
        raise CellError(f"{text} is not a whole number; expected {column.expected}")
    return int(number)


def _parse_choice(column: Column, text: str) -> str:
    word = text.lower()
    if word and word not in column.choices:
        raise CellError(f'"{_short(text)}" is not known here; expected {column.expected}')
    return word


def _parse_leave(column: Column, text: str) -> str:
    try:
        return parse_leave(text)
    except LeaveError as error:
        if _LOOKS_LIKE_DATE.fullmatch(text):
            raise CellError(
                f'"{_short(text)}" looks like a date that a spreadsheet made of a leave; '
                f"expected {column.expected}"
            ) from None
        raise CellError(f'"{_short(text)}" is no leave: {error}') from None


def _parse_yes_no(column: Column, text: str) -> bool:
    word = text.lower()
    if word not in _YES | _NO:
        raise CellError(f'"{_short(text)}" is not known here; expected {column.expected}')
    return word in _YES


def _parse_text(column: Column, text: str) -> str:
    words = unescape(text)
    if len(words) > column.max_length:
        raise CellError(f"the text has {len(words)} characters; expected {column.expected}")
    return words


def _turned_into_date(column: Column, cell: Cell) -> str:
    """Say that a spreadsheet made a date of it; a leave is guessed aloud, never taken silently."""
    message = f"the spreadsheet turned this cell into a date or time ({cell_text(cell)}"
    if column.kind is not Kind.LEAVE or not isinstance(cell, dt.date):
        return f"{message}); expected {column.expected}"
    pins = {cell.month, cell.day}
    if 2001 <= cell.year <= 2010:  # the third pin, read as a year
        pins.add(cell.year - 2000)
    guess = "-".join(str(pin) for pin in sorted(pins))
    return f"{message}, perhaps {guess}); format the column as text and type the pins again"


def _short(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"
