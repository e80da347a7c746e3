"""What would have come next and what another way would have brought, in a student's words.

From a reading's JSON; a reading of before may hold neither. The numbers stand apart from the words,
so that a page can keep them behind a tap, and the limits stand beside both.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from lanes import words

LIMITS = (
    "Computed from the shots of this lesson; ranges hold nine of ten. Real pins leave a little "
    "more than computed ones. Other bowlers change the lane too, and on another line you may throw "
    "otherwise: neither is in this."
)
_FEWER = 0.1  # of the later balls that must strike less often before it is said (assumed)


@dataclass(frozen=True)
class Part:
    """One thing that is told: a heading, calm words, and the numbers behind them."""

    heading: str
    words: str
    numbers: list[str]


def outlook(
    reading: dict[str, Any], shown: Collection[int], advised: dict[str, Any] | None
) -> list[Part]:
    """Return what a student is told of it.

    ``shown`` are the numbers of the options that the coach shows, ``advised`` the one that the
    student is asked to try: an option that the coach left out is not told here either.
    """
    found = []
    if rows := reading.get("forecast"):
        found.append(Part("Had you gone on like this", _gone_on(rows), [_row(row) for row in rows]))
    told = reading.get("what_if")
    if told and told["option"] in shown:
        option = reading["options"][told["option"]]
        step = words.step(option, reading["client"]["hand"])
        if step:
            said = _another_way(told, step, option is advised, reading["verdict"]["kind"])
            found.append(Part("Had you done it another way", said, _compared(told)))
    return found


def _gone_on(rows: list[dict[str, Any]]) -> str:
    parts = [f"{_whole(row['strikes']['mean'])} of the next {row['balls']}" for row in rows]
    text = f"On the same line about {', and '.join(parts)} balls would have struck."
    first, last = rows[0], rows[-1]
    more = last["balls"] - first["balls"]
    if more:
        later = (last["strikes"]["mean"] - first["strikes"]["mean"]) / more
        if first["strikes"]["mean"] / first["balls"] - later >= _FEWER:
            text += " The later ones bring fewer, since the lane goes on changing."
    return text


def _row(row: dict[str, Any]) -> str:
    text = f"Next {row['balls']} balls: {_range(row['strikes'])} strikes"
    if row.get("pocket"):
        text += f", {_range(row['pocket'])} in the pocket"
    if row.get("head_pin"):
        pin = row["head_pin"]
        text += (
            f"; by then your usual ball meets the head pin at board {pin['mean']:.1f} "
            f"({pin['low']:.1f} to {pin['high']:.1f})"
        )
    return f"{text}."


def _another_way(told: dict[str, Any], step: str, is_advised: bool, kind: str) -> str:
    since = f"from shot {told['from_shot']} on, with the same throws"
    asked = (
        f"Say you had done what “To change” asks {since}."
        if is_advised
        else f"Say you had done this {since}: {step}."
    )
    gain = told["gain"]
    if gain["low"] > 0.0:
        found = "More balls would likely have struck."
        if not is_advised:
            found += " First comes the throw." if kind == "throw" else " Nothing to change for now."
    elif gain["high"] < 0.0:
        found = "Fewer balls would likely have struck."
    else:
        found = "Whether more balls would have struck, this lesson cannot tell."
    return f"{asked} {found}"


def _compared(told: dict[str, Any]) -> list[str]:
    thrown, other = told["as_thrown"]["strikes"], told["with_option"]["strikes"]
    return [
        f"{told['shots']} first balls from shot {told['from_shot']} on: "
        f"{told['happened']['strikes']} struck, {_whole(thrown['mean'])} as computed "
        f"({_range(thrown)}).",
        f"The other way: about {_whole(other['mean'])} ({_range(other)}).",
    ]


def _whole(value: float) -> int:
    return round(value)


def _range(spread: dict[str, float]) -> str:
    return f"{spread['low']:.0f} to {spread['high']:.0f}"
