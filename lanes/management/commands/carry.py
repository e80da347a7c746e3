"""``manage.py carry``: what one hit is worth, from the computed table."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from lanes.management.base import NumbersCommand, number
from lanes.pins.carry import (
    DEFAULT_MASS_LB,
    DEFAULT_SLIP_MPS,
    DEFAULT_SPEED_MPH,
    MASS_RANGE,
    SLIP_RANGE,
    SPEED_RANGE,
    carry,
)
from lanes.pins.surface import ANGLE_RANGE, BOARD_RANGE

_SHOWN = 0.0005  # leaves less likely than this are left out of the answer


class Command(NumbersCommand):
    help = "Chance of a strike, likely leaves and deck exit of one hit."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--board", type=number(*BOARD_RANGE), required=True, help="at the head-pin plane"
        )
        parser.add_argument(
            "--angle", type=number(*ANGLE_RANGE), required=True, help="entry angle in degrees"
        )
        parser.add_argument("--speed-mph", type=number(*SPEED_RANGE), default=DEFAULT_SPEED_MPH)
        parser.add_argument("--mass-lb", type=number(*MASS_RANGE), default=DEFAULT_MASS_LB)
        parser.add_argument("--slip-mps", type=number(*SLIP_RANGE), default=DEFAULT_SLIP_MPS)
        parser.add_argument("--hand", choices=("right", "left"), default="right")

    def answer(self, options: dict[str, Any]) -> dict[str, Any]:
        told = carry(
            options["board"],
            options["angle"],
            options["speed_mph"],
            options["slip_mps"],
            options["hand"],
            options["mass_lb"],
        )
        return {
            "strike": round(told.strike, 4),
            "strike_se": round(told.strike_se, 4),
            "deck_exit_board": round(told.deck_exit_board, 2),
            "deck_exit_sd": round(told.deck_exit_sd, 2),
            "leaves": [
                {"pins": leave.name, "p": round(leave.p, 4)}
                for leave in told.leaves
                if leave.p >= _SHOWN
            ],
            "corner": {way: round(p, 4) for way, p in told.corner.items()},
            "corner_left": {way: round(p, 4) for way, p in told.corner_left.items()},
            "inside": told.inside,
            "checked": told.checked,
            "table": told.version,
        }

    def words(self, answer: dict[str, Any]) -> str:
        lines = [
            f"Strike: {answer['strike']:.0%} (the table's own error {answer['strike_se']:.1%}).",
            f"The ball leaves the deck near board {answer['deck_exit_board']:.1f}.",
            "Left standing otherwise:",
        ]
        lines += [f"  {leave['pins']:<12} {leave['p']:6.1%}" for leave in answer["leaves"][:8]]
        lines.append(f"Computed pins, table {answer['table']}.")
        if not answer["inside"]:
            lines.append("No racks were run at such hits: this is a guess from their neighbours.")
        lines.append(
            "The computed pins carry too well in the pocket: compare hits, do not forecast."
            if answer["checked"]
            else "Not borne out by a second computation."
        )
        return "\n".join(lines)
