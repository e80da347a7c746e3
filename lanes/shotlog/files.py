"""From the bytes of a file to a table of cells, or one message that says why not.

The content decides what a file is, not its name. Everything that could be dangerous is refused
before it is parsed: size, packed size, formulas.
"""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import openpyxl
from openpyxl.cell.read_only import EMPTY_CELL

from .cells import Cell, cell_text, clean_text, unescape
from .columns import BY_NAME, NAMES

# A session is a few hundred rows of about a hundred characters; these leave room for a season.
MAX_BYTES = 5_000_000
MAX_ROWS = 5_000
MAX_COLUMNS = 100
# A full-size log as XLSX unpacks to well under 10 MB; a zip bomb to gigabytes.
MAX_UNPACKED_BYTES = 25_000_000
MAX_SHEET_ROW = 1_048_576  # the last row of a worksheet (Office Open XML, from memory)

_ZIP = (b"PK\x03\x04", b"PK\x05\x06")
# The packings that can be read up to a size and no further.
_BOUNDED = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_OLD_WORKBOOK = b"\xd0\xcf\x11\xe0"
_DELIMITERS = ",;\t"


class LogFileError(ValueError):
    """The file cannot be read as a shot log; the message is one clear sentence or two."""


@dataclass(frozen=True)
class TableRow:
    """One row that is not blank. ``number`` is its row in the file, the first row being 1.

    ``cells`` holds the columns by name; ``beyond`` what stands to the right of the header.
    """

    number: int
    cells: dict[str, Cell]
    beyond: tuple[Cell, ...] = ()


@dataclass(frozen=True)
class Table:
    """A file's columns by their names here, and its rows."""

    columns: tuple[str, ...]
    rows: tuple[TableRow, ...]

    @property
    def unknown_columns(self) -> list[str]:
        """The columns that a shot log does not have, as the file names them."""
        return [name for name in self.columns if name not in BY_NAME]


def check_size(size: int) -> None:
    """Refuse a file by its size in bytes, so that a caller need not read it first."""
    if size > MAX_BYTES:
        raise LogFileError(
            f"The file is too large: {size / 1e6:.1f} MB, where a shot log may have "
            f"{MAX_BYTES / 1e6:.0f} MB."
        )
    if size == 0:
        raise LogFileError(f"The file is empty. Expected a header row such as {','.join(NAMES)}.")


def read_table(data: bytes, filename: str) -> Table:
    """Return the table in a CSV or XLSX file.

    CSV is UTF-8 with or without a byte-order mark, parted by comma, semicolon or tab. Of a
    workbook the first sheet is read. Raises ``LogFileError`` where the file cannot be used.
    """
    check_size(len(data))
    if data.startswith(_OLD_WORKBOOK):
        raise LogFileError(
            f"{filename} is an old or password-protected workbook. "
            "Save it as .xlsx without a password, or as CSV."
        )
    if data.startswith(_ZIP):
        return _read_xlsx(data, filename)
    return _read_csv(data, filename)


def _read_csv(data: bytes, filename: str) -> Table:
    text = _decode(data, filename)
    if not text.strip():
        check_size(0)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    try:
        return _build_table(enumerate(reader, start=1), "The file")
    except csv.Error as error:
        raise LogFileError(
            f"Line {reader.line_num} cannot be read as CSV ({error}). "
            "Look for a quotation mark that is not closed."
        ) from None


def _decode(data: bytes, filename: str) -> str:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if b"\0" in data:
            raise _not_a_log(filename) from None
        line = data.count(b"\n", 0, error.start) + 1
        raise LogFileError(
            f"{filename} is not UTF-8 text (line {line}). Save it as CSV UTF-8 or as .xlsx."
        ) from None
    if any(c < " " and c not in "\t\r\n" for c in text):
        raise _not_a_log(filename)
    return text


def _not_a_log(filename: str) -> LogFileError:
    return LogFileError(
        f"{filename} holds binary data, not text. Expected a shot log as CSV (UTF-8) or XLSX."
    )


def _delimiter(text: str) -> str:
    """Return the delimiter that finds the most of our columns in the header row."""
    header = next(line for line in text.splitlines() if line.strip())
    return max(
        _DELIMITERS, key=lambda mark: sum(_column_name(c) in BY_NAME for c in header.split(mark))
    )


def _read_xlsx(data: bytes, filename: str) -> Table:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that we do not use
            return _read_workbook(unpack(data))
    except LogFileError:
        raise
    except Exception as error:  # the library raises whatever a damaged part made it stumble over
        raise LogFileError(
            f"{filename} cannot be read as an XLSX workbook. Open it in a spreadsheet and save it "
            "as .xlsx again, or as CSV."
        ) from error


def unpack(data: bytes) -> io.BytesIO:
    """Return the workbook with its parts unpacked, none of them larger than it says.

    The sizes in a packed file are only claimed. Reading each part no further than its claim, and
    parsing the copy, bounds the memory that a bad file can take.
    """
    plain = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as packed, zipfile.ZipFile(plain, "w") as copy:
        parts = packed.infolist()
        size = sum(part.file_size for part in parts)
        if size > MAX_UNPACKED_BYTES:
            raise LogFileError(
                f"The workbook unpacks to {size / 1e6:.0f} MB; a shot log may have "
                f"{MAX_UNPACKED_BYTES / 1e6:.0f} MB. Copy the log alone into a new workbook."
            )
        for part in parts:
            if part.compress_type not in _BOUNDED:
                raise LogFileError("The workbook is packed in a way that spreadsheets do not use.")
            with packed.open(part) as stream:
                content = stream.read(part.file_size)
            # No honest workbook declares entities; in UTF-16 every other byte is 0.
            if b"<!DOCTYPE" in content.replace(b"\0", b""):
                raise LogFileError("The workbook holds a document type declaration; not read.")
            copy.writestr(part.filename, content)
    plain.seek(0)
    return plain


def _read_workbook(plain: io.BytesIO) -> Table:
    book = openpyxl.load_workbook(plain, read_only=True, data_only=False, keep_links=False)
    sheet = book.worksheets[0]
    sheet.reset_dimensions()  # some programs write a wrong size; rows are counted instead
    formulas: list[str] = []
    table = _build_table(_sheet_rows(sheet, formulas), f'The sheet "{sheet.title}"')
    if formulas:
        some = ", ".join(formulas[:5]) + (" and others" if len(formulas) > 5 else "")
        holds = "Cell {} holds a formula" if len(formulas) == 1 else "Cells {} hold formulas"
        raise LogFileError(f"{holds.format(some)}; paste the values instead.")
    return table


def _sheet_rows(sheet: Any, formulas: list[str]) -> Iterator[tuple[int, list[Cell]]]:
    """Yield the sheet's rows with their numbers, and note where formulas stand."""
    for number, row in enumerate(sheet.iter_rows(max_col=MAX_COLUMNS + 1), start=1):
        if number > MAX_SHEET_ROW:
            raise LogFileError(f"The sheet has a row beyond {MAX_SHEET_ROW}; not read.")
        filled = [cell for cell in row if cell is not EMPTY_CELL]
        if filled:  # a sheet may go on for a million empty rows
            formulas.extend(cell.coordinate for cell in filled if cell.data_type == "f")
            yield number, [cell.value for cell in row]


def _build_table(rows: Iterable[tuple[int, Sequence[Cell]]], where: str) -> Table:
    """Return the table whose header is the first row that is not blank."""
    columns: list[str] = []
    table_rows: list[TableRow] = []
    for number, cells in rows:
        if not any(cell_text(cell) for cell in cells):
            continue
        if not columns:
            columns = _header([cell_text(cell) for cell in cells], where)
            continue
        if len(table_rows) == MAX_ROWS:
            raise LogFileError(f"{where} has more than {MAX_ROWS} rows. Split it into sessions.")
        beyond = tuple(cell for cell in cells[len(columns) :] if cell_text(cell))
        table_rows.append(TableRow(number, dict(zip(columns, cells, strict=False)), beyond))
    if not columns:
        check_size(0)
    return Table(tuple(columns), tuple(table_rows))


def _header(cells: list[str], where: str) -> list[str]:
    while not cells[-1]:
        cells.pop()
    if len(cells) > MAX_COLUMNS:
        raise LogFileError(f"{where} has more than {MAX_COLUMNS} columns.")
    columns = [_column_name(cell) for cell in cells]
    if "shot" not in columns:
        found = ", ".join(f'"{clean_text(cell)[:30]}"' for cell in cells[:8])
        more = " and others" if len(cells) > 8 else ""
        raise LogFileError(
            f'{where} has no column "shot" in its first row. Found {found}{more}; expected shot '
            f"and any of {','.join(NAMES[1:])}."
        )
    for position, name in enumerate(columns, start=1):
        if not name:
            raise LogFileError(f"{where} has no name for column {position} in its header.")
        if columns.count(name) > 1:
            raise LogFileError(f'{where} has the column "{name}" more than once.')
    return columns


def _column_name(text: str) -> str:
    """Return our name for a header that differs only in case, blanks or hyphens, else itself."""
    words = unescape(clean_text(text))
    name = words.strip("'\"").lower().replace(" ", "_").replace("-", "_")
    return name if name in BY_NAME else words
