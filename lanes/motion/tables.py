"""Reading small tables about oil, so that each fault is named by the file's row and column."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

# What a row with more cells than the header is marked by; no column is called so.
_TOO_MANY = "too many cells"


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a sheet. ``row`` is the file's line, the header being 1."""

    row: int
    field: str
    message: str

    def __str__(self) -> str:
        where = f"row {self.row}" + (f", {self.field}" if self.field else "")
        return f"{where}: {self.message}"


class PatternError(ValueError):
    """A sheet that cannot be used; ``problems`` lists every row and field at fault."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = list(problems)
        more = len(self.problems) - 1
        super().__init__(str(self.problems[0]) + (f" (and {more} more)" if more else ""))


@dataclass(frozen=True)
class Table:
    """A header in lower case, and the rows under it with their numbers in the file."""

    header: tuple[str, ...]
    rows: tuple[tuple[int, Mapping[str, Any]], ...]

    def unknown(self, columns: Sequence[str]) -> tuple[str, ...]:
        """Return the names of the columns that are not among ``columns``."""
        return tuple(name for name in self.header if name not in columns)


def read(text_or_rows: str | bytes | Iterable[Mapping[str, Any]], what: str, example: str) -> Table:
    """Read CSV text, or rows that are already mappings (numbered from 2).

    Accepts comma, semicolon or tab between cells. Raises ``PatternError`` for what is no table;
    ``what`` and ``example`` say in its message what was expected and a header of it.
    """
    if isinstance(text_or_rows, bytes):
        try:
            text_or_rows = text_or_rows.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise PatternError(
                [Problem(1, "", f"the file is not UTF-8 text; {what} was expected")]
            ) from None
    if isinstance(text_or_rows, str):
        return _read_csv(text_or_rows, what, example)
    rows = [dict(row) for row in text_or_rows]
    header = dict.fromkeys(str(key) for row in rows for key in row)
    return Table(tuple(header), tuple(enumerate(rows, start=2)))


def _read_csv(text: str, what: str, example: str) -> Table:
    text = text.lstrip("\ufeff")
    if not text.strip():
        raise PatternError([Problem(1, "", f"the file is empty; expected {example}")])
    if "\x00" in text:
        raise PatternError([Problem(1, "", f"the file is not text; {what} was expected")])
    first = text.lstrip().splitlines()[0]
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter)
    header: list[str] = []
    rows = []
    try:
        for cells in reader:
            if not any(cell.strip() for cell in cells):
                continue
            if not header:
                header = [cell.strip().lower() for cell in cells]
                continue
            row: dict[str, Any] = dict(zip(header, cells, strict=False))
            if len(cells) > len(header):
                row[_TOO_MANY] = len(cells)
            rows.append((reader.line_num, row))
    except csv.Error as error:
        raise PatternError([Problem(reader.line_num, "", f"not readable CSV: {error}")]) from None
    return Table(tuple(header), tuple(rows))


def fits(number: int, row: Mapping[str, Any], problems: list[Problem]) -> bool:
    """Return whether a row has no more cells than the header; note a problem where it has."""
    if _TOO_MANY not in row:
        return True
    message = "more cells than the header has; a decimal comma needs semicolons between cells "
    problems.append(Problem(number, "", message + "or quotes"))
    return False


def a_number(
    number: int,
    row: Mapping[str, Any],
    column: str,
    low: float,
    high: float,
    problems: list[Problem],
) -> float | None:
    """Return a cell's number, decimal point or comma; ``None`` and a problem for any other."""
    raw = row.get(column)
    text = "" if raw is None else str(raw).strip()
    expected = f"a number from {low:g} to {high:g} expected"
    if not text:
        problems.append(Problem(number, column, f"empty, {expected}"))
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not low <= value <= high:
        problems.append(Problem(number, column, f"{text[:40]!r} given, {expected}"))
        return None
    return value


def a_board(
    number: int, row: Mapping[str, Any], column: str, boards: int, problems: list[Problem]
) -> int | None:
    """Return a cell's whole board from 1 to ``boards``; ``None`` and a problem for any other."""
    value = a_number(number, row, column, 1, boards, problems)
    if value is not None and value != int(value):
        problems.append(Problem(number, column, f"{value:g} given, a whole board expected"))
        return None
    return None if value is None else int(value)
