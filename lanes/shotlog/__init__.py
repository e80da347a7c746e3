"""The shot log as a file: CSV and XLSX in, CSV and XLSX out.

No Django here. ``read_table`` turns bytes into cells or refuses the file with one message,
``parse_rows`` turns cells into shots and lists what it could not, ``write_csv`` and ``write_xlsx``
write shots back.
"""

from .cells import CellError, format_cell, parse_cell
from .columns import BY_NAME, COLUMNS, NAMES, Column
from .files import MAX_BYTES, MAX_ROWS, LogFileError, Table, TableRow, check_size, read_table
from .rows import LogRow, ParsedLog, Problem, parse_rows
from .write import write_csv, write_xlsx

__all__ = [
    "BY_NAME",
    "COLUMNS",
    "MAX_BYTES",
    "MAX_ROWS",
    "NAMES",
    "CellError",
    "Column",
    "LogFileError",
    "LogRow",
    "ParsedLog",
    "Problem",
    "Table",
    "TableRow",
    "check_size",
    "format_cell",
    "parse_cell",
    "parse_rows",
    "read_table",
    "write_csv",
    "write_xlsx",
]
