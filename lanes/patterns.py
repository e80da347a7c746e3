"""Pattern sheets on file: kept once however often they are imported, drawn, and written out."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict

from clients import audit
from clients.models import User
from clients.names import NameTaken, refused_if_taken
from lanes.models import Pattern
from lanes.motion.oil import COLUMNS, PatternSheet, parse_pattern
from lanes.pictures import LanePicture


def sheet_of(pattern: Pattern) -> PatternSheet:
    """Return the sheet that a row of the database keeps."""
    return parse_pattern(pattern.layers, pattern.name)


def same_sheet(sheet: PatternSheet) -> Pattern | None:
    """Return the pattern on file that has exactly these layers, under whatever name."""
    layers = _layers(sheet)
    same_length = Pattern.objects.filter(length_ft=sheet.length_ft)
    return next((pattern for pattern in same_length if pattern.layers == layers), None)


def import_pattern(sheet: PatternSheet, *, note: str = "", by: User) -> tuple[Pattern, bool]:
    """Keep a sheet; return its row and whether it is new. The same layers are kept once.

    Raises NameTaken where another sheet, with other layers, has the name.
    """
    found = same_sheet(sheet)
    if found:
        return found, False
    pattern = Pattern(
        name=sheet.name,
        layers=_layers(sheet),
        volume_ml=round(sheet.total_ml, 3),
        length_ft=sheet.length_ft,
        note=note,
        imported_by=by,
    )
    taken = (
        f"There is another sheet called {sheet.name}, with other layers. "
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


def _layers(sheet: PatternSheet) -> list[dict[str, object]]:
    return [asdict(layer) for layer in sheet.layers]


def write_csv(sheet: PatternSheet) -> str:
    """Return the sheet as the file that the `oil` command and the import read."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for layer in sheet.layers:
        row = asdict(layer)
        writer.writerow(
            [f"{row[name]:g}" if isinstance(row[name], float) else row[name] for name in COLUMNS]
        )
    return out.getvalue()


def picture_of(sheet: PatternSheet) -> LanePicture:
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
