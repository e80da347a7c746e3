"""Files of pattern sheets and tape readings: from a file, or from what was pasted, to text under
our columns.

Between the steps of an import a sheet travels as CSV text. Its rows keep the places that they had
in the file, so that a message names the row that the person sees.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from clients.table_files import FileKind, TableFileError, cell_text, first_sheet, formulas_in
from lanes.motion.geometry import BOARDS, FOOT_M
from lanes.motion.oil import COLUMNS
from lanes.motion.tape import is_tape

MAX_BYTES = 1_000_000  # a sheet is a few dozen rows, tapes at ten distances 390
MAX_ROWS = 1200
WORKBOOK = b"PK\x03\x04"  # how an XLSX file, a zip archive, begins
MAX_COLUMNS = 40
REQUIRED = COLUMNS[1:]
LABELS = {
    "layer": "Layer",
    "direction": "Direction",
    "from_ft": "From, distance",
    "to_ft": "To, distance",
    "first_board": "First board",
    "last_board": "Last board",
    "ml": "Volume",
}


class SheetFileError(ValueError):
    """The file is no pattern sheet; the message says in one sentence or two why."""


_SHEET = FileKind(
    name="pattern sheet",
    short="sheet",
    columns=tuple(COLUMNS),
    required=REQUIRED,
    parted="",
    max_bytes=MAX_BYTES,
    max_rows=MAX_ROWS,
    max_columns=MAX_COLUMNS,
)


# From a file to text.


def check_size(size: int, filename: str) -> None:
    """Refuse a file by its size in bytes, so that a caller need not read it first."""
    if size > MAX_BYTES:
        raise SheetFileError(
            f"{filename} has {size / 1e6:.1f} MB; a pattern sheet may have "
            f"{MAX_BYTES / 1e6:.0f} MB."
        )


def text_of(data: bytes, filename: str) -> str:
    """Return the text of a CSV or XLSX file; the content decides which it is."""
    if not data.strip():
        raise SheetFileError(f"{filename} is empty. Expected a header such as {','.join(COLUMNS)}.")
    check_size(len(data), filename)
    if data.startswith(WORKBOOK):
        return _text_of_workbook(data, filename)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if any(character < " " and character not in "\t\r\n" for character in text):
        raise SheetFileError(f"{filename} is no text. Expected a CSV (UTF-8) or XLSX sheet.")
    return text


def _text_of_workbook(data: bytes, filename: str) -> str:
    def cells(sheet: Any, formulas: list[str]) -> list[list[Any]]:
        rows = list(sheet.iter_rows(max_row=MAX_ROWS + 1, max_col=MAX_COLUMNS))
        formulas.extend(formulas_in(cell for row in rows for cell in row))
        return [[cell.value for cell in row] for row in rows]

    try:
        rows, formulas = first_sheet(data, _SHEET, cells)
    except TableFileError as error:
        raise SheetFileError(f"{filename} is not read: {error}") from error
    except Exception as error:  # the library raises whatever a damaged part made it stumble over
        raise SheetFileError(
            f"{filename} cannot be read as a workbook. Save it as .xlsx again, or as CSV."
        ) from error
    if formulas:
        raise SheetFileError(
            f"{filename} holds formulas ({', '.join(formulas[:5])}); paste the values instead."
        )
    if not any(value is not None for row in rows for value in row):
        raise SheetFileError(f"{filename} has nothing in its first sheet.")
    return _write([cell_text(value) for value in row] for row in rows)


def _write(rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in rows:
        cells = list(row)
        while cells and not cells[-1]:
            cells.pop()
        writer.writerow(cells)
    return out.getvalue()


def _rows(text: str) -> list[list[str]]:
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    try:
        return [
            [cell.strip() for cell in row]
            for row in csv.reader(io.StringIO(text), delimiter=delimiter)
        ]
    except csv.Error as error:
        raise SheetFileError(f"The sheet cannot be read as CSV: {error}.") from error


# Columns that are named otherwise.


@dataclass(frozen=True)
class Columns:
    """The header of a sheet, and some cells of each column to know it by."""

    names: tuple[str, ...]
    samples: tuple[str, ...]

    @property
    def are_ours(self) -> bool:
        names = {name.lower() for name in self.names}
        return is_tape(names) or all(column in names for column in REQUIRED)

    def guess(self, ours: str) -> str:
        """Return the place of the column that is called like ours, as text, or nothing."""
        for place, name in enumerate(self.names):
            if "_".join(name.lower().split()) == ours:
                return str(place)
        return ""


def columns_of(text: str) -> Columns:
    """Return the sheet's columns. Raises SheetFileError for a sheet that has none."""
    rows = [row for row in _rows(text) if any(row)]
    if not rows:
        raise SheetFileError(f"The sheet is empty. Expected a header such as {','.join(COLUMNS)}.")
    if len(rows) > MAX_ROWS or len(rows[0]) > MAX_COLUMNS:
        raise SheetFileError(
            f"The sheet has {len(rows)} rows and {len(rows[0])} columns; expected up to "
            f"{MAX_ROWS} and {MAX_COLUMNS}."
        )
    header, body = rows[0], rows[1:4]
    samples = (
        ", ".join(row[place] for row in body if place < len(row) and row[place])
        for place in range(len(header))
    )
    return Columns(tuple(header), tuple(samples))


@dataclass(frozen=True)
class Mapping:
    """Which column of a sheet holds which of ours, and how it counts."""

    places: dict[str, int]
    all_direction: str = ""  # where the sheet has no column for it
    right_from_right: bool = False  # the last board is counted from the right edge
    metres: bool = False
    microlitres: bool = False


def mapped(text: str, mapping: Mapping) -> str:
    """Return the sheet under our columns, each row in its place; what is no number stays as it is,
    so that reading the sheet names it."""
    header_seen = False
    rows: list[list[str]] = []
    for row in _rows(text):
        if not any(row):
            rows.append([])
        elif not header_seen:
            header_seen = True
            rows.append(list(COLUMNS))
        else:
            rows.append(_mapped_row(row, mapping))
    return _write(rows)


def _mapped_row(row: list[str], mapping: Mapping) -> list[str]:
    cells = {ours: row[at] if at < len(row) else "" for ours, at in mapping.places.items()}
    cells["direction"] = mapping.all_direction or _direction(cells.get("direction", ""))
    for ours in ("from_ft", "to_ft"):
        cells[ours] = _scaled(cells[ours], 1 / FOOT_M if mapping.metres else 1)
    cells["ml"] = _scaled(cells["ml"], 1e-3 if mapping.microlitres else 1)
    boards = [
        _board(cells["first_board"], from_right=False),
        _board(cells["last_board"], from_right=mapping.right_from_right),
    ]
    if all(board.isdecimal() for board in boards):
        boards.sort(key=int)
    cells["first_board"], cells["last_board"] = boards
    return [cells.get(ours, "") for ours in COLUMNS]


def _direction(text: str) -> str:
    """Return forward or reverse for a word that begins like it."""
    first = text[:1].lower()
    return {"f": "forward", "r": "reverse"}.get(first, text)


def _scaled(text: str, factor: float) -> str:
    if factor == 1:
        return text
    try:
        return f"{float(text.replace(',', '.')) * factor:.4f}".rstrip("0").rstrip(".")
    except ValueError:
        return text


def _board(text: str, *, from_right: bool) -> str:
    """Return a board counted from the left edge; 2L and 2R say themselves which edge they mean."""
    number, side = text, ""
    if text[-1:].upper() in ("L", "R"):
        number, side = text[:-1].strip(), text[-1:].upper()
    if not number.isdecimal():
        return text
    if side == "R" or (from_right and not side):
        return str(BOARDS + 1 - int(number))
    return str(int(number))
