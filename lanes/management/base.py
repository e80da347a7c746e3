"""What the number commands share: JSON or words as answer, one line and exit 2 for bad input."""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from argparse import ArgumentParser, ArgumentTypeError
from collections.abc import Callable
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from lanes.motion import Oil, PatternError, parse_oil
from lanes.sheet_files import WORKBOOK, SheetFileError, text_of

LARGEST_FILE_BYTES = 5 * 1024 * 1024


def bad_input(message: str) -> CommandError:
    """Return the error that ends a command with exit code 2 and one line on standard error."""
    return CommandError(" ".join(message.split()), returncode=2)


def number(low: float, high: float) -> Callable[[str], float]:
    """Return an argument type: a number in a range, decimal point or comma."""

    def parse(text: str) -> float:
        try:
            value = float(text.replace(",", "."))
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise ArgumentTypeError(
                f"{text[:40]!r} given, a number from {low:g} to {high:g} expected"
            )
        return value

    return parse


def whole(low: int, high: int) -> Callable[[str], int]:
    """Return an argument type: a whole number in a range."""

    def parse(text: str) -> int:
        if not text.isascii() or not text.isdigit() or not low <= int(text) <= high:
            raise ArgumentTypeError(
                f"{text[:40]!r} given, a whole number from {low} to {high} expected"
            )
        return int(text)

    return parse


def read_file(path: str, what: str, option: str) -> bytes:
    """Return a file's bytes, or end the command saying which option names an unusable file."""
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        reason = (error.strerror or "not readable").lower()
        raise bad_input(f"{option}: {path}: {reason}; {what} expected") from None
    if len(data) > LARGEST_FILE_BYTES:
        megabytes = LARGEST_FILE_BYTES // (1024 * 1024)
        raise bad_input(f"{option}: {path}: larger than {megabytes} MB; {what} expected")
    return data


def read_sheet(path: str, option: str) -> Oil:
    """Return the pattern sheet or the tape readings in a CSV or XLSX file, told apart by header.

    Ends the command naming the row at fault.
    """
    data: bytes | str = read_file(path, "a pattern sheet or tape readings", option)
    try:
        if data.startswith(WORKBOOK):
            data = text_of(data, "the workbook")
        return parse_oil(data, Path(path).stem)
    except (PatternError, SheetFileError) as error:
        raise bad_input(f"{option}: {path}: {error}") from None


class NumbersCommand(BaseCommand, ABC):
    """A command that computes one answer: ``answer`` returns it, ``words`` puts it in words.

    With ``--json`` the answer is printed as one JSON object, without it as a readable summary.
    """

    requires_system_checks: list[str] = []

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> ArgumentParser:
        parser = super().create_parser(prog_name, subcommand, allow_abbrev=False, **kwargs)
        from_command_line = self._called_from_command_line

        def error(message: str) -> None:
            if not from_command_line:
                raise bad_input(message)
            parser.exit(2, f"{subcommand}: {' '.join(message.split())}\n")

        parser.error = error  # argparse would print its usage first
        parser.add_argument("--json", action="store_true", help="print one JSON object")
        return parser

    def handle(self, *args: Any, **options: Any) -> None:
        answer = self.answer(options)
        if options["json"]:
            self.stdout.write(json.dumps(answer, allow_nan=False))
        else:
            self.stdout.write(self.words(answer))

    @abstractmethod
    def answer(self, options: dict[str, Any]) -> dict[str, Any]:
        """Return the JSON-safe answer."""

    @abstractmethod
    def words(self, answer: dict[str, Any]) -> str:
        """Return the answer as text for a reader."""
