"""The calibration table of the numbers page, from the constants themselves.

    .venv/bin/python -m tests.benchmarks.calibration_table            prints it
    .venv/bin/python -m tests.benchmarks.calibration_table --write    puts it into the page

A test holds the two equal.
"""

from __future__ import annotations

import sys
from pathlib import Path

from lanes import motion
from lanes.motion.constants import CALIBRATION

PAGE = Path(motion.__file__).with_name("NUMBERS.md")
HEAD = "| parameter | value | lowest | highest | unit | where from |\n|---|--:|--:|--:|---|---|\n"


def table() -> str:
    """Return the table in Markdown, one row a parameter, in the order of the constants."""
    return HEAD + "".join(
        f"| {row.name} | {row.value:g} | {row.low:g} | {row.high:g} | {row.unit} | {row.source} |\n"
        for row in CALIBRATION.values()
    )


def in_page(page: str) -> str:
    """Return the table that stands in a page's text: from its head to the first empty line."""
    begin = page.index(HEAD)
    return page[begin:].split("\n\n", 1)[0].rstrip("\n") + "\n"


if __name__ == "__main__":
    if "--write" in sys.argv:
        text = PAGE.read_text(encoding="utf-8")
        PAGE.write_text(text.replace(in_page(text), table()), encoding="utf-8")
    else:
        print(table(), end="")
