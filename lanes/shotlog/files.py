"""Shot-log files: the shared reader of ``clients.table_files`` with a shot log's columns."""

from __future__ import annotations

from dataclasses import dataclass

from clients.table_files import FileKind, Rows, TableFileError, TableRow, read_rows
from clients.table_files import check_size as check_size_of

from .columns import BY_NAME, NAMES

__all__ = [
    "MAX_BYTES",
    "MAX_ROWS",
    "LogFileError",
    "Table",
    "TableRow",
    "check_size",
    "read_table",
]


class LogFileError(TableFileError):
    """The file cannot be read as a shot log; the message is one clear sentence or two."""


# A session is a few hundred rows of about a hundred characters; these leave room for a season.
SHOT_LOG = FileKind(
    name="shot log",
    short="log",
    columns=tuple(NAMES),
    required=("shot",),
    parted="Split it into sessions.",
    error=LogFileError,
    max_bytes=5_000_000,
    max_rows=5_000,
)
MAX_BYTES = SHOT_LOG.max_bytes
MAX_ROWS = SHOT_LOG.max_rows


@dataclass(frozen=True)
class Table(Rows):
    """A log's columns by their names here, and its rows."""

    @property
    def unknown_columns(self) -> list[str]:
        """The columns that a shot log does not have, as the file names them."""
        return [name for name in self.columns if name not in BY_NAME]


def check_size(size: int) -> None:
    """Refuse a file by its size in bytes, so that a caller need not read it first."""
    check_size_of(size, SHOT_LOG)


def read_table(data: bytes, filename: str) -> Table:
    """Return the table in a CSV or XLSX file. Raises ``LogFileError`` where it cannot be used."""
    found = read_rows(data, filename, SHOT_LOG)
    return Table(found.columns, found.rows)
