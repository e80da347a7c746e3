"""The stock list as a file: looked at, then taken or not at all; and written out again.

A row is the article with its article number, or, where it has none, the one of the same name,
cover, weight and numbers. So an import that is repeated doubles nothing. The number of balls is set
and not added. An empty cell, like a column that the file lacks, says nothing of a kept article.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from clients import audit, stock
from clients.models import Ball, StockBall, StockDraft, User
from clients.table_files import (
    Cell,
    FileKind,
    TableFileError,
    TableRow,
    cell_text,
    clean_text,
    escape,
    number_text,
    read_rows,
    unescape,
)


class StockFileError(TableFileError):
    """The file cannot be read as a stock list; the message is one clear sentence or two."""


@dataclass(frozen=True)
class Column:
    """A column of the file: a field of ``StockBall``, and what is expected in it."""

    name: str
    expected: str
    help: str = ""

    @property
    def field(self) -> models.Field:
        return StockBall._meta.get_field(self.name)  # type: ignore[return-value]

    @property
    def label(self) -> str:
        return str(self.field.verbose_name)


COVERS = tuple(Ball.Cover.values)
COLUMNS = (
    Column("code", "up to 40 characters", "your article number, once in the list"),
    Column("name", "a name of up to 60 characters", "required"),
    Column("cover", f"one of {', '.join(COVERS)}", "required"),
    Column("grit", "a whole number from 80 to 10000", "of the box finish"),
    Column("polished", "yes or no", "yes where the box finish is polished"),
    Column("mass_lb", "a number from 6 to 16", "pounds"),
    Column("rg_in", "a number from 2.4 to 2.9", "inches"),
    Column("differential_in", "a number from 0 to 0.08", "inches"),
    Column("intermediate_in", "a number from 0 to 0.06", "inches"),
    Column("pin_out_in", "a number from 0 to 6.75", "inches from pin to CG"),
    Column("price", "an amount from 0 to 99999, such as 189.90", "no currency sign"),
    Column("quantity", "a whole number from 0 to 9999", "how many are there now; 1 if left out"),
    Column("note", "up to 200 characters"),
)
NAMES = tuple(column.name for column in COLUMNS)
_BY_NAME = {column.name: column for column in COLUMNS}
_TEXT = ("code", "name", "note")
FILE = FileKind(
    name="stock list",
    short="list",
    columns=NAMES,
    required=("name", "cover"),
    parted="Split it into several files.",
    error=StockFileError,
    max_bytes=5_000_000,
    max_rows=5_000,
)
MOST_EXTRA = 200  # characters of a cell in a column that is not ours

_NUMBER = re.compile(r"[+-]?([0-9]+([.,][0-9]*)?|[.,][0-9]+)")
_YES_NO = {"yes": True, "y": True, "true": True, "1": True,
           "no": False, "n": False, "false": False, "0": False}  # fmt: skip


# From a file to rows.


@dataclass(frozen=True)
class Problem:
    """One cell that cannot be taken: where, what stands there, and what was expected."""

    row: int
    column: str
    value: str
    message: str


@dataclass(frozen=True)
class Row:
    """One row of the file. ``values`` are the cells that say something, by column."""

    number: int
    values: dict[str, Any]
    extra: dict[str, str]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class Difference:
    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Changed:
    ball: StockBall
    row: Row
    fields: tuple[str, ...]
    differences: tuple[Difference, ...]


@dataclass
class Preview:
    """What taking a file would do, set against the list as it is now."""

    rows: list[Row] = field(default_factory=list)
    unknown_columns: list[str] = field(default_factory=list)
    new: list[StockBall] = field(default_factory=list)
    changed: list[Changed] = field(default_factory=list)
    same: int = 0

    @property
    def problems(self) -> list[Problem]:
        return [problem for row in self.rows for problem in row.problems]

    @property
    def bad_rows(self) -> int:
        """How many rows cannot be taken; one row may have several bad cells."""
        return sum(1 for row in self.rows if row.problems)

    @property
    def good_rows(self) -> int:
        return len(self.rows) - self.bad_rows


def keep_upload(*, filename: str, data: bytes, by: User) -> StockDraft:
    """Keep an uploaded list for its preview; nothing of it counts yet. Raises StockFileError."""
    if not read_rows(data, filename, FILE).rows:
        raise StockFileError("The file has a header row and no ball below it.")
    return StockDraft.objects.create(filename=filename[-200:], data=data, created_by=by)


def preview(draft: StockDraft) -> Preview:
    """Return what the draft would do now. Raises StockFileError for one that cannot be read."""
    table = read_rows(bytes(draft.data), draft.filename, FILE)
    found = Preview(unknown_columns=[name for name in table.columns if name not in NAMES])
    kept = list(StockBall.objects.all())
    by_code = {ball.code: ball for ball in kept if ball.code}
    by_identity = {stock.identity(ball): ball for ball in reversed(kept)}
    seen: dict[object, int] = {}
    for table_row in table.rows:
        row = _row(table_row)
        ball = None if row.problems else StockBall(**row.values, extra=row.extra)
        if ball is not None:
            row = _refused_if_twice(row, ball, seen)
        found.rows.append(row)
        if ball is None or row.problems:
            continue
        known = _known(ball, by_code, by_identity)
        if known is None:
            found.new.append(ball)
            continue
        row = _refused_if_twice(row, known, seen)
        if row.problems:
            found.rows[-1] = row
            continue
        changed = _changed(known, row)
        if changed.fields:
            found.changed.append(changed)
        else:
            found.same += 1
    return found


def _row(row: TableRow) -> Row:
    values: dict[str, Any] = {}
    problems = []
    for column in COLUMNS:
        cell = row.cells.get(column.name)
        try:
            value = _value(column, cell)
        except ValueError as error:
            problems.append(Problem(row.number, column.name, cell_text(cell)[:200], str(error)))
        else:
            if value is not None:
                values[column.name] = value
    if row.beyond:
        text = ", ".join(cell_text(cell) for cell in row.beyond[:3])
        message = (
            "the row goes on to the right of the header; with commas between cells, write a "
            "decimal point or put the number in quotation marks"
        )
        problems.append(Problem(row.number, "", text[:200], message))
    extra = {}
    for name, cell in row.cells.items():
        text = unescape(cell_text(cell))
        if name in NAMES or not text:
            continue
        if len(text) > MOST_EXTRA:
            message = f"{len(text)} characters; expected up to {MOST_EXTRA}"
            problems.append(Problem(row.number, name, text[:200], message))
        extra[name] = text
    return Row(row.number, values, extra, tuple(problems))


def _value(column: Column, cell: Cell) -> Any:
    """Return a cell as its field has it, None for an empty one. Raises ValueError in words."""
    text = cell_text(cell)
    if column.name in _TEXT:
        text = unescape(text)
    elif isinstance(cell, dt.date | dt.time | dt.timedelta):
        raise ValueError(
            f"the spreadsheet turned this cell into a date or time; expected {column.expected}"
        )
    if not text:
        if column.name in FILE.required:
            raise ValueError(f"empty; expected {column.expected}")
        return None
    wrong = ValueError(f"expected {column.expected}")
    if column.name == "polished":
        if text.lower() not in _YES_NO:
            raise wrong
        return _YES_NO[text.lower()]
    if column.name == "cover":
        text = text.lower()
    elif column.name not in _TEXT:
        if not _NUMBER.fullmatch(text) or len(text) > 20:
            raise ValueError(f"no such number; expected {column.expected}")
        text = text.replace(",", ".")
        if isinstance(column.field, models.PositiveIntegerField):
            if not float(text).is_integer():
                raise wrong
            text = str(int(float(text)))
    try:
        return column.field.clean(text, None)
    except ValidationError:
        raise wrong from None


def _refused_if_twice(row: Row, ball: StockBall, seen: dict[object, int]) -> Row:
    """Refuse a row whose article an earlier row of the file has: nobody can tell which is right."""
    marks: list[object] = [("kept", ball.pk)] if ball.pk else []
    if not ball.pk:
        marks = [("code", ball.code)] if ball.code else [("identity", stock.identity(ball))]
    for mark in marks:
        earlier = seen.setdefault(mark, row.number)
        if earlier != row.number:
            what = "code" if ball.code else "name"
            message = (
                f"this ball is in row {earlier} already; expected each once, with its quantity"
            )
            problem = Problem(row.number, what, str(ball.code or ball.name), message)
            return Row(row.number, row.values, row.extra, (*row.problems, problem))
    return row


def _known(
    ball: StockBall,
    by_code: dict[str | None, StockBall],
    by_identity: dict[tuple[object, ...], StockBall],
) -> StockBall | None:
    if ball.code and ball.code in by_code:
        return by_code[ball.code]
    twin = by_identity.get(stock.identity(ball))
    # Two article numbers are two articles, however much alike.
    return None if twin and ball.code and twin.code else twin


def _changed(known: StockBall, row: Row) -> Changed:
    fields, differences = [], []
    for name, now in row.values.items():
        before = getattr(known, name)
        if before != now:
            fields.append(name)
            column = _BY_NAME[name]
            differences.append(Difference(column.label, _text(name, before), _text(name, now)))
    if {**known.extra, **row.extra} != known.extra:
        fields.append("extra")
        for name, text in row.extra.items():
            if known.extra.get(name) != text:
                differences.append(Difference(name, known.extra.get(name, ""), text))
    return Changed(known, row, tuple(fields), tuple(differences))


@dataclass(frozen=True)
class Taken:
    """What an import did."""

    new: int
    changed: int


def take(draft: StockDraft, *, by: User) -> Taken:
    """Bring the draft's good rows into the list, all or none of them, and once only."""
    with transaction.atomic():
        stock.lock_list()
        draft = StockDraft.objects.select_for_update().get(pk=draft.pk)
        if draft.applied_at is not None:
            return Taken(0, 0)
        found = preview(draft)
        StockBall.objects.bulk_create(found.new, batch_size=500)
        for each in found.changed:
            ball = StockBall.objects.select_for_update().get(pk=each.ball.pk)
            for name, value in each.row.values.items():
                setattr(ball, name, value)
            ball.extra = {**ball.extra, **each.row.extra}
            ball.save(update_fields=[*each.fields, "updated_at"])
            audit.record(by, "stock.changed", ball, fields=list(each.fields), file=draft.filename)
        # The file has done its work; what it said is in the list.
        draft.applied_at, draft.data = timezone.now(), b""
        draft.save(update_fields=["applied_at", "data"])
        counts = {"new": len(found.new), "changed": len(found.changed), "bad": found.bad_rows}
        keys = [ball.pk for ball in found.new]
        audit.record(by, "stock.imported", draft, file=draft.filename, balls=keys, **counts)
    return Taken(len(found.new), len(found.changed))


# From the list to a file.


def as_csv(balls: Iterable[StockBall]) -> str:
    """Return the list as CSV text with a header that ``preview`` reads back; unknown columns that
    came along stand at the end."""
    balls = list(balls)
    unknown = list(dict.fromkeys(name for ball in balls for name in ball.extra))
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([*NAMES, *(escape(name) for name in unknown)])
    for ball in balls:
        cells = [_text(name, getattr(ball, name)) for name in NAMES]
        for place, name in enumerate(NAMES):
            if name in _TEXT:
                cells[place] = escape(clean_text(cells[place]))
        writer.writerow([*cells, *(escape(clean_text(ball.extra.get(n, ""))) for n in unknown)])
    return out.getvalue()


_AS_TEXT: dict[type, Callable[[Any], str]] = {
    bool: lambda value: "yes" if value else "no",
    float: number_text,
}


def _text(name: str, value: Any) -> str:
    if value is None:
        return ""
    if name == "price":
        return f"{value:.2f}"
    return _AS_TEXT.get(type(value), str)(value)
