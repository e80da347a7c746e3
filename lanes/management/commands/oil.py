"""``manage.py oil SHEET.csv``: what a pattern sheet puts on the lane, or what tapes found there."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from lanes.management.base import NumbersCommand, read_sheet
from lanes.motion import summary
from lanes.motion.oil import BOARD_BANDS, DISTANCE_BANDS


class Command(NumbersCommand):
    help = "Volumes, length, ratios, film by zone and rule-of-31 exit board of a lane's oil."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("sheet", metavar="SHEET.csv", help="pattern sheet or tape readings")

    def answer(self, options: dict[str, Any]) -> dict[str, Any]:
        return summary(read_sheet(options["sheet"], "SHEET.csv"))

    def words(self, answer: dict[str, Any]) -> str:
        ratio = answer["ratio"]
        exit_board = answer["rule_of_31_exit_board"]
        lines = [
            f"{answer['name']}: {answer['length_ft']:g} ft, {answer['total_ml']:g} mL"
            + (
                f" ({answer['forward_ml']:g} forward, {answer['reverse_ml']:g} reverse), "
                f"{answer['layers']} layers"
                if answer["kind"] == "pattern"
                else " on the lane"
            ),
            *answer["notes"],
            f"Ratio, middle to track (boards 18L-18R to 3-7): {_to_one(ratio['crosswise'])}",
            f"Ratio, inside to outside (10-10): {_to_one(ratio['inside_outside'])}",
            "Exit board by the rule of 31 (common practice): "
            + (f"{exit_board:g}" if exit_board is not None else "none, pattern too short"),
            "Film in units, boards from the left edge:",
            "      ft" + "".join(f"{f'{first}-{last}':>8}" for first, last in BOARD_BANDS),
        ]
        film = {(zone["from_ft"], zone["first_board"]): zone for zone in answer["film_by_zone"]}
        for start, end in DISTANCE_BANDS:
            cells = (film[start, first]["film_units"] for first, _ in BOARD_BANDS)
            lines.append(f"{f'{start}-{end}':>8}" + "".join(f"{cell:8.1f}" for cell in cells))
        if answer["unknown_columns"]:
            lines.append("Columns not used: " + ", ".join(answer["unknown_columns"]))
        return "\n".join(lines)


def _to_one(value: float | None) -> str:
    return "none, the outside is dry" if value is None else f"{value:.1f}:1"
