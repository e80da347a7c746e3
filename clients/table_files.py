"""Tables that people send as CSV or XLSX: from the bytes of a file to cells, and text back to them.

One reader for every kind of list: shot logs, pattern sheets, the shop's stock. The content decides
what a file is, not its name. Everything that could be dangerous is refused before it is parsed:
size, packed size, formulas. What a list is called and how large it may be stands in a ``FileKind``.

No Django here, and nothing of ours.

A spreadsheet runs text that begins with = + - or @ as a formula. So an exported text like that
gets an apostrophe in front, and the import takes it off again.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
import unicodedata
import warnings
import zipfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, TypeVar

import openpyxl
from openpyxl.cell.read_only import EMPTY_CELL

T = TypeVar("T")
Cell = str | int | float | bool | dt.datetime | dt.date | dt.time | dt.timedelta | None

MAX_SHEET_ROW = 1_048_576  # the last row of a worksheet (Office Open XML, from memory)

_ZIP = (b"PK\x03\x04", b"PK\x05\x06")
# The packings that can be read up to a size and no further.
_BOUNDED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
_DELIMITERS = ",;\t"
_RISKY = re.compile(r"'*[=+\-@]")
_ESCAPED = re.compile(r"'+[=+\-@]")
_HIDDEN = {"Cc", "Cs"}  # control characters and halves of characters
_NO_CHARACTERS = "\ufffe\uffff"  # not allowed in XML 1.0


class TableFileError(ValueError):
    """The file cannot be read as such a list; the message is one clear sentence or two."""


@dataclass(frozen=True)
class FileKind:
    """What a list is called, which columns it has, and how much of it is read.

    ``required`` are the columns that the header must have; ``parted`` says what to do with too many
    rows; ``error`` is what is raised.
    """

    name: str
    short: str
    columns: tuple[str, ...]
    required: tuple[str, ...]
    parted: str
    error: type[TableFileError] = TableFileError
    max_bytes: int = 5_000_000
    max_rows: int = 5_000
    max_columns: int = 100
    # A full-size list as XLSX unpacks to well under 10 MB; a zip bomb to gigabytes.
    max_unpacked: int = 25_000_000


@dataclass(frozen=True)
class TableRow:
    """One row that is not blank. ``number`` is its row in the file, the first row being 1.

    ``cells`` holds the columns by name; ``beyond`` what stands to the right of the header.
    """

    number: int
    cells: dict[str, Cell]
    beyond: tuple[Cell, ...] = ()


@dataclass(frozen=True)
class Rows:
    """A file's columns by their names here, and its rows."""

    columns: tuple[str, ...]
    rows: tuple[TableRow, ...]


# Cells.


def clean_text(text: str) -> str:
    """Return text on one line, with single blanks and nothing that a file cannot hold."""
    one_line = " ".join(text.split())
    if one_line.isprintable():  # nearly always
        return one_line
    shown = "".join(
        c for c in one_line if unicodedata.category(c) not in _HIDDEN and c not in _NO_CHARACTERS
    )
    return " ".join(shown.split())


def escape(text: str) -> str:
    """Return text that no spreadsheet takes for a formula."""
    return "'" + text if _RISKY.match(text) else text


def unescape(text: str) -> str:
    """Undo ``escape``; other apostrophes stay."""
    return text[1:] if _ESCAPED.match(text) else text


def cell_text(cell: Cell) -> str:
    """Return a cell as a person would type it: 10.0 is ``10``, a time is ``18:05``."""
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case float():
            return number_text(cell)
        case dt.datetime():
            midnight = cell.time() == dt.time()
            return cell.strftime("%Y-%m-%d" if midnight else f"%Y-%m-%d {_clock(cell.time())}")
        case dt.time():
            return cell.strftime(_clock(cell))
        case _:
            return clean_text(str(cell))


def number_text(number: float) -> str:
    """Return the shortest decimal text that reads back as the same number, without exponent."""
    text = format(Decimal(repr(float(number))), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _clock(time: dt.time) -> str:
    return "%H:%M:%S" if time.second else "%H:%M"


# Files.


def check_size(size: int, kind: FileKind) -> None:
    """Refuse a file by its size in bytes, so that a caller need not read it first."""
    if size > kind.max_bytes:
        raise kind.error(
            f"The file is too large: {size / 1e6:.1f} MB, where a {kind.name} may have "
            f"{kind.max_bytes / 1e6:.0f} MB."
        )
    if size == 0:
        raise kind.error(
            f"The file is empty. Expected a header row such as {','.join(kind.columns)}."
        )


def read_rows(data: bytes, filename: str, kind: FileKind) -> Rows:
    """Return the table in a CSV or XLSX file.

    CSV is UTF-8 with or without a byte-order mark, parted by comma, semicolon or tab. Of a
    workbook the first sheet is read. Raises ``kind.error`` where the file cannot be used.
    """
    check_size(len(data), kind)
    if data.startswith(_OLD_WORKBOOK):
        raise kind.error(
            f"{filename} is an old or password-protected workbook. "
            "Save it as .xlsx without a password, or as CSV."
        )
    if data.startswith(_ZIP):
        return _read_xlsx(data, filename, kind)
    return _read_csv(data, filename, kind)


def _read_csv(data: bytes, filename: str, kind: FileKind) -> Rows:
    text = _decode(data, filename, kind)
    if not text.strip():
        check_size(0, kind)
    delimiter = _delimiter(text, kind)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        return _build_table(enumerate(reader, start=1), "The file", kind)
    except csv.Error as error:
        raise kind.error(
            f"Line {reader.line_num} cannot be read as CSV ({error}). "
            "Look for a quotation mark that is not closed."
        ) from None


def _decode(data: bytes, filename: str, kind: FileKind) -> str:
    no_text = kind.error(
        f"{filename} holds binary data, not text. Expected a {kind.name} as CSV (UTF-8) or XLSX."
    )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if b"\0" in data:
            raise no_text from None
        line = data.count(b"\n", 0, error.start) + 1
        raise kind.error(
            f"{filename} is not UTF-8 text (line {line}). Save it as CSV UTF-8 or as .xlsx."
        ) from None
    if any(c < " " and c not in "\t\r\n" for c in text):
        raise no_text
    return text


def _delimiter(text: str, kind: FileKind) -> str:
    """Return the delimiter that finds the most of our columns in the header row."""
    header = next(line for line in text.splitlines() if line.strip())
    return max(
        _DELIMITERS,
        key=lambda mark: sum(_column_name(c, kind) in kind.columns for c in header.split(mark)),
    )


def _read_xlsx(data: bytes, filename: str, kind: FileKind) -> Rows:
    def table(sheet: Any, formulas: list[str]) -> Rows:
        rows = _sheet_rows(sheet, formulas, kind)
        return _build_table(rows, f'The sheet "{sheet.title}"', kind)

    try:
        found, formulas = first_sheet(data, kind, table)
    except kind.error:
        raise
    except Exception as error:  # the library raises whatever a damaged part made it stumble over
        raise kind.error(
            f"{filename} cannot be read as an XLSX workbook. Open it in a spreadsheet and save it "
            "as .xlsx again, or as CSV."
        ) from error
    if formulas:
        some = ", ".join(formulas[:5]) + (" and others" if len(formulas) > 5 else "")
        holds = "Cell {} holds a formula" if len(formulas) == 1 else "Cells {} hold formulas"
        raise kind.error(f"{holds.format(some)}; paste the values instead.")
    return found


def first_sheet(
    data: bytes, kind: FileKind, read: Callable[[Any, list[str]], T]
) -> tuple[T, list[str]]:
    """Return what ``read`` makes of a workbook's first sheet, and the places of its formulas.

    ``read`` gets the sheet and a list to note formulas in. Raises ``kind.error`` for a workbook
    that is refused, and whatever the library stumbles over in a damaged one.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions that we do not use
        book = openpyxl.load_workbook(
            unpack(data, kind), read_only=True, data_only=False, keep_links=False
        )
        sheet = book.worksheets[0]
        sheet.reset_dimensions()  # some programs write a wrong size; rows are counted instead
        formulas: list[str] = []
        return read(sheet, formulas), formulas


def unpack(data: bytes, kind: FileKind) -> io.BytesIO:
    """Return the workbook with its parts unpacked, none of them larger than it says.

    The sizes in a packed file are only claimed. Reading each part no further than its claim, and
    parsing the copy, bounds the memory that a bad file can take.
    """
    plain = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as packed, zipfile.ZipFile(plain, "w") as copy:
        parts = packed.infolist()
        size = sum(part.file_size for part in parts)
        if size > kind.max_unpacked:
            raise kind.error(
                f"The workbook unpacks to {size / 1e6:.0f} MB; a {kind.name} may have "
                f"{kind.max_unpacked / 1e6:.0f} MB. Copy the {kind.short} alone into a new "
                "workbook."
            )
        for part in parts:
            if part.compress_type not in _BOUNDED:
                raise kind.error("The workbook is packed in a way that spreadsheets do not use.")
            with packed.open(part) as stream:
                content = stream.read(part.file_size)
            # No honest workbook declares entities; in UTF-16 every other byte is 0.
            if b"<!DOCTYPE" in content.replace(b"\0", b""):
                raise kind.error("The workbook holds a document type declaration; not read.")
            copy.writestr(part.filename, content)
    plain.seek(0)
    return plain


def _sheet_rows(
    sheet: Any, formulas: list[str], kind: FileKind
) -> Iterator[tuple[int, list[Cell]]]:
    """Yield the sheet's rows with their numbers, and note where formulas stand."""
    for number, row in enumerate(sheet.iter_rows(max_col=kind.max_columns + 1), start=1):
        if number > MAX_SHEET_ROW:
            raise kind.error(f"The sheet has a row beyond {MAX_SHEET_ROW}; not read.")
        filled = [cell for cell in row if cell is not EMPTY_CELL]
        if filled:  # a sheet may go on for a million empty rows
            formulas.extend(formulas_in(filled))
            yield number, [cell.value for cell in row]


def formulas_in(cells: Iterable[Any]) -> list[str]:
    """Return the places of the cells that hold formulas: ``["B2"]``."""
    return [cell.coordinate for cell in cells if cell.data_type == "f"]


def _build_table(rows: Iterable[tuple[int, Sequence[Cell]]], where: str, kind: FileKind) -> Rows:
    """Return the table whose header is the first row that is not blank."""
    columns: list[str] = []
    table_rows: list[TableRow] = []
    for number, cells in rows:
        if not any(cell_text(cell) for cell in cells):
            continue
        if not columns:
            columns = _header([cell_text(cell) for cell in cells], where, kind)
            continue
        if len(table_rows) == kind.max_rows:
            raise kind.error(f"{where} has more than {kind.max_rows} rows. {kind.parted}")
        beyond = tuple(cell for cell in cells[len(columns) :] if cell_text(cell))
        table_rows.append(TableRow(number, dict(zip(columns, cells, strict=False)), beyond))
    if not columns:
        check_size(0, kind)
    return Rows(tuple(columns), tuple(table_rows))


def _header(cells: list[str], where: str, kind: FileKind) -> list[str]:
    while not cells[-1]:
        cells.pop()
    if len(cells) > kind.max_columns:
        raise kind.error(f"{where} has more than {kind.max_columns} columns.")
    columns = [_column_name(cell, kind) for cell in cells]
    for required in kind.required:
        if required not in columns:
            found = ", ".join(f'"{clean_text(cell)[:30]}"' for cell in cells[:8])
            more = " and others" if len(cells) > 8 else ""
            others = ",".join(name for name in kind.columns if name not in kind.required)
            raise kind.error(
                f'{where} has no column "{required}" in its first row. Found {found}{more}; '
                f"expected {' and '.join(kind.required)} and any of {others}."
            )
    for position, name in enumerate(columns, start=1):
        if not name:
            raise kind.error(f"{where} has no name for column {position} in its header.")
        if columns.count(name) > 1:
            raise kind.error(f'{where} has the column "{name}" more than once.')
    return columns


def _column_name(text: str, kind: FileKind) -> str:
    """Return our name for a header that differs only in case, blanks or hyphens, else itself."""
    words = unescape(clean_text(text))
    name = words.strip("'\"").lower().replace(" ", "_").replace("-", "_")
    return name if name in kind.columns else words
