"""A reading with what the coach says against it: for the words of a report. No Django in here.

The reading itself stays as it was computed. What the coach says of a throw changes its verdict and
the counts, what they say of the lane its changes and the session's verdict; a cause stands beside
the computed one. Chances and options are only weighed anew by the next reading of the session.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

THROWS = {"good": "good throw", "off": "missed throw"}
CAUSES = {"throw": "the throw", "lane": "the lane", "ball": "the ball", "chance": "chance"}
PLACES = {"front": "in the front", "mid": "in the mid-lane", "back": "at the back end"}
NO_CHANGE = "no"
HOOKS = ("earlier", "later")


@dataclass(frozen=True)
class Ruling:
    """One overruling: ``kind`` throw, cause, lane or option; ``shot`` a number where it is of one.

    ``value`` is ``good`` or ``off``; ``throw``, ``lane``, ``ball`` or ``chance``; ``no`` or a place
    of ``PLACES``; an option's title. ``from_shot`` and ``hooks`` tell of a change of the lane.
    """

    kind: str
    value: str
    shot: int | None = None
    from_shot: int | None = None
    hooks: str = ""

    @property
    def words(self) -> str:
        """What the coach says, to go behind "Coach says:"."""
        if self.kind == "lane":
            return lane_words(self)
        return {**THROWS, **CAUSES}.get(self.value, self.value)


def lane_words(ruling: Ruling) -> str:
    """Return what the coach says of the lane, as a clause."""
    if ruling.value == NO_CHANGE:
        return "the lane did not change"
    since = f" from shot {ruling.from_shot} on" if ruling.from_shot else ""
    return f"the ball hooks {ruling.hooks or HOOKS[0]} {PLACES[ruling.value]}{since}"


def overruled(reading: dict[str, Any], rulings: Iterable[Ruling]) -> dict[str, Any]:
    """Return the reading's JSON with the coach's verdicts in it; the one given is not changed."""
    rulings = list(rulings)
    if not rulings:
        return reading
    found = dict(reading)
    throws = {r.shot: r.value for r in rulings if r.kind == "throw"}
    if throws:
        found["shots"] = [_with_throw(shot, throws.get(shot["shot"])) for shot in reading["shots"]]
        judged = [s["throw"]["verdict"] for s in found["shots"] if s.get("first_ball", True)]
        counts = {name: judged.count(name) for name in ("good", "off")}
        found["counts"] = {**reading["counts"], **counts}
    for ruling in rulings:
        if ruling.kind == "lane":
            found = _with_lane(found, ruling)
    return found


def _with_throw(shot: dict[str, Any], verdict: str | None) -> dict[str, Any]:
    if verdict is None:
        return shot
    miss = shot["throw"].get("miss") if verdict == "off" else None
    return {**shot, "throw": {"verdict": verdict, "why": "as the coach says", "miss": miss}}


def _with_lane(reading: dict[str, Any], ruling: Ruling) -> dict[str, Any]:
    kind = reading["verdict"]["kind"]
    changes: list[dict[str, Any]] = []
    if ruling.value == NO_CHANGE:
        kind = "none" if kind == "lane" else kind
    else:
        first = ruling.from_shot or next(iter(s["shot"] for s in reading["shots"]), 1)
        words = f"As the coach says, {lane_words(ruling)}."
        changes = [
            {
                "shot": first, "where": ruling.value, "p": 1.0, "hooks": ruling.hooks or HOOKS[0],
                "lane": None, "ball": None, "words": words,
            }
        ]  # fmt: skip
        kind = kind if kind == "throw" else "lane"
    return {
        **reading,
        "transition": {**reading["transition"], "changes": changes},
        "verdict": {**reading["verdict"], "kind": kind},
    }
