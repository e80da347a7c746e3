"""Shots back into a file, with the unknown columns that came along.

What ``parse_rows`` read is what is written: the two are each other's inverse. The only loss is in
XLSX, where a number keeps 15 digits, as in every spreadsheet.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

import openpyxl
from openpyxl.cell import WriteOnlyCell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

from lanes.reading.shots import LoggedShot

from .cells import clean_text, escape, format_cell
from .columns import BY_NAME, COLUMNS, NAMES

Kept = Mapping[int, Mapping[str, str]]  # cells of unknown columns by shot number

_TEXT_FORMAT = "@"
_SHEET_TITLE = "Shot log"


def write_csv(shots: Iterable[LoggedShot], kept: Kept | None = None) -> str:
    """Return the shots as CSV text with a header; ``kept`` adds unknown columns at the end.

    With no shots it is an empty log to fill in. Encode as UTF-8; put a byte-order mark in front
    (``utf-8-sig``) for a spreadsheet that would guess the encoding otherwise.
    """
    shots, unknown = _with_unknown_columns(shots, kept)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*NAMES, *(escape(name) for name in unknown)])
    for shot in shots:
        writer.writerow([*_known_cells(shot), *_unknown_cells(shot, kept, unknown)])
    return out.getvalue()


def write_xlsx(shots: Iterable[LoggedShot], kept: Kept | None = None) -> bytes:
    """Return the shots as an XLSX workbook of one sheet; see ``write_csv``.

    Numbers are numbers. Everything else, and above all the leave, is text in columns formatted as
    text, since a spreadsheet makes a date of 6-10 otherwise, also of one typed in later.
    """
    shots, unknown = _with_unknown_columns(shots, kept)
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet(_SHEET_TITLE)
    sheet.freeze_panes = "B2"
    is_number = [column.is_number for column in COLUMNS] + [False] * len(unknown)
    for index, number in enumerate(is_number, start=1):
        dimension = sheet.column_dimensions[get_column_letter(index)]
        dimension.width = 13
        if not number:
            dimension.number_format = _TEXT_FORMAT
    header = [*NAMES, *(escape(name) for name in unknown)]
    sheet.append([_text_cell(sheet, name, bold=True) for name in header])
    for shot in shots:
        numbers_and_text = [
            getattr(shot, column.name) if column.is_number else _text_cell(sheet, text)
            for column, text in zip(COLUMNS, _known_cells(shot), strict=True)
        ]
        more = [_text_cell(sheet, text) for text in _unknown_cells(shot, kept, unknown)]
        sheet.append(numbers_and_text + more)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _with_unknown_columns(
    shots: Iterable[LoggedShot], kept: Kept | None
) -> tuple[Sequence[LoggedShot], list[str]]:
    """Return the shots, and the unknown columns that any of them has, in order of appearance."""
    shots = list(shots)
    names = (name for shot in shots for name in (kept or {}).get(shot.shot, {}))
    return shots, [name for name in dict.fromkeys(names) if name not in BY_NAME]


def _known_cells(shot: LoggedShot) -> list[str]:
    return [format_cell(column, getattr(shot, column.name)) for column in COLUMNS]


def _unknown_cells(shot: LoggedShot, kept: Kept | None, unknown: list[str]) -> list[str]:
    cells = (kept or {}).get(shot.shot, {})
    return [escape(clean_text(cells.get(name, ""))) for name in unknown]


def _text_cell(sheet: object, text: str, *, bold: bool = False) -> WriteOnlyCell | None:
    if not text:
        return None
    cell = WriteOnlyCell(sheet, text)
    cell.data_type = "s"  # text, whatever it begins with
    cell.number_format = _TEXT_FORMAT
    if bold:
        cell.font = Font(bold=True)
    return cell
