"""``manage.py read_log``: read a shot log from a file, without touching the database."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from lanes.management.base import NumbersCommand, bad_input, read_file, read_sheet, whole
from lanes.reading.client import ClientError, ClientFacts, parse_client
from lanes.reading.session import read_session
from lanes.reading.summary import summary
from lanes.reading.what_if import Question, Unanswerable
from lanes.shotlog.files import LogFileError, read_table
from lanes.shotlog.rows import parse_rows

_MOST = 99_999  # as a shot's number in the log


class Command(NumbersCommand):
    help = "Read a shot log: throws, hits, causes, what changed on the lane, and what to change."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("shots", metavar="SHOTS.csv", help="shot log, CSV or XLSX")
        parser.add_argument("--pattern", metavar="SHEET.csv")
        parser.add_argument("--client", metavar="CLIENT.json")
        parser.add_argument("--competition", action="store_true")
        parser.add_argument("--seed", type=whole(0, 2**31 - 1), default=1)
        parser.add_argument(
            "--what-if-from", metavar="SHOT", type=whole(1, _MOST),
            help="ask what if from this shot of the log on; left out, from where the lane changed, "
            "or for the second half",
        )  # fmt: skip
        parser.add_argument(
            "--what-if-option", metavar="N", type=whole(1, _MOST),
            help="ask what if with this option, its number in the list of options (1 the first); "
            "left out, the first that changes something",
        )  # fmt: skip

    def answer(self, options: dict[str, Any]) -> dict[str, Any]:
        path = options["shots"]
        try:
            log = parse_rows(read_table(read_file(path, "a shot log", "SHOTS"), Path(path).name))
        except LogFileError as error:
            raise bad_input(f"SHOTS: {error}") from None
        if log.problems:
            more = len(log.problems) - 1
            also = f" ({more} more like it)" if more else ""
            raise bad_input(f"SHOTS: {path}: {log.problems[0]}{also}")
        if not log.shots:
            raise bad_input(f"SHOTS: {path}: no shots; at least one row expected")
        client, balls = ClientFacts("right"), []
        if options["client"]:
            try:
                client, balls = parse_client(
                    read_file(options["client"], "a client in JSON", "--client")
                )
            except ClientError as error:
                raise bad_input(f"--client: {options['client']}: {error}") from None
        sheet = read_sheet(options["pattern"], "--pattern") if options["pattern"] else None
        question = _question(options, [shot.shot for shot in log.shots])
        try:
            reading = read_session(
                log.shots, client, balls, sheet, options["competition"], options["seed"],
                question=question,
            ).as_json()  # fmt: skip
        except Unanswerable as error:
            flag = {"from_shot": "--what-if-from", "option": "--what-if-option"}[error.field]
            raise bad_input(f"{flag}: {error}") from None
        warnings = [str(warning) for warning in log.warnings]
        reading["file"] = {"unknown_columns": list(log.unknown_columns), "warnings": warnings}
        if not options["client"]:
            reading["client"]["assumed"].insert(0, "hand")
        return reading

    def words(self, answer: dict[str, Any]) -> str:
        return summary(answer)


def _question(options: dict[str, Any], shots: list[int]) -> Question:
    """Return what the what-if is asked for; ends the command for a shot that is not there."""
    begins, option = options["what_if_from"], options["what_if_option"]
    if begins is not None and begins not in shots:
        raise bad_input(
            f"--what-if-from: {begins} given, the number of a shot in this log expected "
            f"({min(shots)} to {max(shots)})"
        )
    return Question(begins, None if option is None else option - 1)
