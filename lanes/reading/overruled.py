"""A reading with what the coach says against it: for the words of a report. No Django in here.

The reading itself stays as it was computed. What the coach says of a throw changes its verdict and
the counts, what they say of lane or ball the changes and the session's verdict; a cause stands
beside the computed one. Chances and options are only weighed anew by the next reading of the
session.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

THROWS = {"good": "good throw", "off": "missed throw"}
CAUSES = {"throw": "the throw", "lane": "the lane", "ball": "the ball", "chance": "chance"}
PLACES = {"front": "in the front", "mid": "in the mid-lane", "back": "at the back end"}
NO_CHANGE = "no"
THE_BALL = "ball"  # it was not the lane, the ball itself changed
HOOKS = ("earlier", "later")


@dataclass(frozen=True)
class Ruling:
    """One overruling: ``kind`` throw, cause, lane or option; ``shot`` a number where it is of one.

    ``value`` is ``good`` or ``off``; ``throw``, ``lane``, ``ball`` or ``chance``; ``no``, a place
    of ``PLACES`` or ``ball``; an option's title. ``from_shot`` and ``hooks`` tell of a change.
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
    """Return what the coach says of lane and ball, as a clause."""
    if ruling.value == NO_CHANGE:
        return "neither the lane nor a ball changed"
    since = f" from shot {ruling.from_shot} on" if ruling.from_shot else ""
    way = ruling.hooks or HOOKS[0]
    if ruling.value == THE_BALL:
        return f"the ball itself hooks {way}{since}, the lane is as it was"
    return f"the ball hooks {way} {PLACES[ruling.value]}{since}"


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
    told = reading["transition"]
    changes: dict[str, list[dict[str, Any]]] = {"changes": [], "ball_changes": []}
    if ruling.value == NO_CHANGE:
        kind = "none" if kind == "lane" or (kind == "ball" and told.get("ball_changes")) else kind
    else:
        shots = reading["shots"]
        first = ruling.from_shot or next(iter(shot["shot"] for shot in shots), 1)
        thrown = [shot.get("ball") for shot in shots if shot["shot"] >= first]
        change = {
            "shot": first, "p": 1.0, "hooks": ruling.hooks or HOOKS[0],
            "words": f"As the coach says, {lane_words(ruling)}.",
        }  # fmt: skip
        if ruling.value == THE_BALL:
            ball: dict[str, Any] = {"ball": next(iter(thrown), None), "beside": []}
            changes["ball_changes"] = [change | ball]
        else:
            changes["changes"] = [change | {"where": ruling.value, "lane": None, "ball": None}]
        kind = kind if kind == "throw" else "ball" if ruling.value == THE_BALL else "lane"
    return {
        **reading,
        "transition": {**told, **changes},
        "verdict": {**reading["verdict"], "kind": kind},
    }
