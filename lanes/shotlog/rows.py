"""From a table to shots: good rows become shots, the others are listed with what was expected."""

from __future__ import annotations

from dataclasses import dataclass, field

from lanes.reading.shots import LoggedShot

from .cells import CellError, Value, cell_text, parse_cell, unescape
from .checks import Problem, doubtful_shots
from .columns import BY_NAME, COLUMNS
from .files import Table, TableRow


@dataclass(frozen=True)
class LogRow:
    """One row of the file as a person wrote it, and the shot in it if every cell is good.

    ``cells`` holds known and unknown columns as text, ``extra`` the unknown ones that are not
    empty.
    """

    number: int
    cells: dict[str, str]
    extra: dict[str, str]
    shot: LoggedShot | None
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class ParsedLog:
    """What a file holds. A row with a problem gives no shot; every other row does.

    ``rows`` is in the file's order, ``shots`` in the order of their numbers. ``warnings`` are
    doubts about rows that are taken all the same.
    """

    rows: tuple[LogRow, ...]
    columns: tuple[str, ...]
    unknown_columns: tuple[str, ...]
    shots: list[LoggedShot] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)

    @property
    def problems(self) -> list[Problem]:
        """Everything that kept a row from becoming a shot."""
        return [problem for row in self.rows for problem in row.problems]

    @property
    def kept(self) -> dict[int, dict[str, str]]:
        """The cells of unknown columns by shot number, as ``write_csv`` takes them."""
        return {row.shot.shot: row.extra for row in self.rows if row.shot and row.extra}


def parse_rows(table: Table) -> ParsedLog:
    """Return the shots of a table together with every problem and every doubt.

    A shot number that comes twice counts the first time; the later row is a problem, since
    nobody but the coach can tell which of the two is right.
    """
    rows: list[LogRow] = []
    row_of_shot: dict[int, int] = {}
    for table_row in table.rows:
        row = _parse_row(table_row, row_of_shot)
        if row.shot:
            row_of_shot[row.shot.shot] = row.number
        rows.append(row)
    shots = sorted((row.shot for row in rows if row.shot), key=lambda shot: shot.shot)
    return ParsedLog(
        rows=tuple(rows),
        columns=table.columns,
        unknown_columns=tuple(table.unknown_columns),
        shots=shots,
        warnings=doubtful_shots(shots, row_of_shot),
    )


def _parse_row(row: TableRow, row_of_shot: dict[int, int]) -> LogRow:
    values: dict[str, Value] = {}
    problems: list[Problem] = []
    for column in COLUMNS:
        cell = row.cells.get(column.name)
        try:
            values[column.name] = parse_cell(column, cell)
        except CellError as error:
            problems.append(Problem(row.number, column.name, cell_text(cell), str(error)))
    problems += _whole_row_problems(row, values, row_of_shot)
    if values.get("delivery", 0) is None:
        values["delivery"] = 1
    cells = {name: cell_text(cell) for name, cell in row.cells.items()}
    extra = {name: unescape(text) for name, text in cells.items() if text and name not in BY_NAME}
    shot = None if problems else LoggedShot(**values)  # type: ignore[arg-type]
    return LogRow(row.number, cells, extra, shot, tuple(problems))


def _whole_row_problems(
    row: TableRow, values: dict[str, Value], row_of_shot: dict[int, int]
) -> list[Problem]:
    problems = []
    number = values.get("shot", 0)
    if number is None:
        expected = BY_NAME["shot"].expected
        problems.append(Problem(row.number, "shot", "", f"no shot number; expected {expected}"))
    elif number in row_of_shot:
        assert isinstance(number, int)
        problems.append(
            Problem(
                row.number,
                "shot",
                str(number),
                f"shot {number} is in row {row_of_shot[number]} already; expected each number once",
            )
        )
    if row.beyond:
        text = ", ".join(cell_text(cell) for cell in row.beyond[:3])
        problems.append(
            Problem(
                row.number,
                "",
                text,
                "the row goes on to the right of the header; with commas between cells, write a "
                "decimal point or put the number in quotation marks",
            )
        )
    return problems
