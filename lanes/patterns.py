"""The oil on file: pattern sheets and tape readings, kept once, drawn, and written out."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict

from clients import audit
from clients.models import User
from clients.names import NameTaken, refused_if_taken
from lanes.models import Pattern
from lanes.motion.oil import COLUMNS as SHEET_COLUMNS
from lanes.motion.oil import PatternSheet, parse_pattern
from lanes.motion.tape import COLUMNS as TAPE_COLUMNS
from lanes.motion.tape import TapeReadings, parse_tape
from lanes.pictures import LanePicture


def sheet_of(pattern: Pattern) -> PatternSheet | TapeReadings:
    """Return the sheet, or the tape readings, that a row of the database keeps."""
    if pattern.kind == Pattern.Kind.TAPE:
        return parse_tape(pattern.readings, pattern.name)
    return parse_pattern(pattern.layers, pattern.name)


def same_sheet(oil: PatternSheet | TapeReadings) -> Pattern | None:
    """Return the pattern on file that has exactly these rows, under whatever name."""
    kept = _rows(oil)
    same_length = Pattern.objects.filter(length_ft=oil.length_ft, kind=oil.kind)
    return next((row for row in same_length if (row.layers or row.readings) == kept), None)


def import_pattern(
    sheet: PatternSheet | TapeReadings, *, note: str = "", by: User
) -> tuple[Pattern, bool]:
    """Keep a sheet or tape readings; return the row and whether it is new. The same rows are kept
    once.

    Raises NameTaken where other oil has the name.
    """
    found = same_sheet(sheet)
    if found:
        return found, False
    is_tape = isinstance(sheet, TapeReadings)
    pattern = Pattern(
        name=sheet.name,
        kind=sheet.kind,
        layers=[] if is_tape else _rows(sheet),
        readings=_rows(sheet) if is_tape else [],
        volume_ml=round(sheet.total_ml, 3),
        length_ft=sheet.length_ft,
        note=note,
        imported_by=by,
    )
    taken = (
        f"There is another sheet called {sheet.name}, with other oil. "
        "Give this one a name of its own."
    )
    try:
        with refused_if_taken(taken):
            pattern.save()
            audit.record(by, "pattern.imported", pattern)
    except NameTaken:
        twin = same_sheet(sheet)  # a second tap that was faster
        if twin:
            return twin, False
        raise
    return pattern, True


def _rows(oil: PatternSheet | TapeReadings) -> list[dict[str, object]]:
    rows = oil.readings if isinstance(oil, TapeReadings) else oil.layers
    return [asdict(row) for row in rows]


def write_csv(oil: PatternSheet | TapeReadings) -> str:
    """Return the file that the `oil` command and the import read back as the same."""
    columns = TAPE_COLUMNS if isinstance(oil, TapeReadings) else SHEET_COLUMNS
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(columns)
    for row in _rows(oil):
        cells = (row[name] for name in columns)
        writer.writerow([f"{cell:.15g}" if isinstance(cell, float) else cell for cell in cells])
    return out.getvalue()


def read_across(tape: TapeReadings) -> list[tuple[int, list[float | None]]]:
    """Return each board that was read with its film at every distance, units, None where not."""
    found = {(reading.ft, reading.board): reading.units for reading in tape.readings}
    boards = sorted({reading.board for reading in tape.readings})
    return [(board, [found.get((ft, board)) for ft in tape.distances_ft]) for board in boards]


def picture_of(sheet: PatternSheet | TapeReadings) -> LanePicture:
    """Return the film from above, in the sheet's own count from the left edge."""
    film = sheet.film_from_left()
    heaviest = float(film.um.max())
    picture = LanePicture(
        title=f"Oil film of {sheet.name or 'the sheet'} from above",
        description=(
            f"The oil is {sheet.length_ft:g} ft long and {sheet.total_ml:.1f} mL in all; the film "
            f"is up to {heaviest:.1f} µm thick. The table of zones gives the same in numbers. "
            "Boards are counted from the left edge."
        ),
        hand="left",
        key="film",
    )
    picture.add_film(film)
    picture.add_film_numbers(film)
    return picture
