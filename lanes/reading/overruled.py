"""What the coach says against a reading: in the words of its report, and for the next reading.

The reading itself stays as it was computed. In the words of its report, what the coach says of a
throw changes its verdict and the counts, what they say of lane or ball the changes and the
session's verdict, and a cause stands before the computed one. The next reading of the session takes
what is said of its shots as marks: one that was the throw is a miss, which tells nothing of the
lane; one that was the lane, the ball or chance was thrown well and tells of them. No Django here.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from .shots import LoggedShot

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


def marks(rulings: Iterable[Ruling]) -> dict[int, str]:
    """Return what counts of each shot's throw, ``good`` or ``off``, by the shot's number.

    That is the coach's word on the throw; without one, what their word on the cause says of it.
    """
    rulings = list(rulings)
    behind = causes_of(rulings).items()
    found = {shot: "off" if cause == "throw" else "good" for shot, cause in behind}
    return found | {r.shot: r.value for r in rulings if r.kind == "throw" and r.shot is not None}


def causes_of(rulings: Iterable[Ruling]) -> dict[int, str]:
    """Return what the coach says was behind each shot, by the shot's number."""
    return {r.shot: r.value for r in rulings if r.kind == "cause" and r.shot is not None}


def whys_of(rulings: Iterable[Ruling]) -> dict[int, str]:
    """Return why each marked throw counts as it does, by the shot's number."""
    rulings = list(rulings)
    behind, of_throws = causes_of(rulings), {r.shot for r in rulings if r.kind == "throw"}
    return {
        shot: "as the coach says"
        if shot in of_throws
        else f"the coach says that it was {CAUSES[behind[shot]]}"
        for shot in marks(rulings)
    }


def marked(shots: Sequence[LoggedShot], rulings: Sequence[Ruling]) -> list[LoggedShot]:
    """Return a log in which the coach's word on a shot is its mark."""
    found = marks(rulings)
    return [
        replace(shot, throw=found[shot.shot], miss=shot.miss if found[shot.shot] == "off" else "")
        if shot.shot in found
        else shot
        for shot in shots
    ]


def certain(cause: str) -> dict[str, float]:
    """Return a cause that is told and not computed, as shares that add up to 1."""
    return {kind: float(kind == cause) for kind in CAUSES}


def said_words(rulings: Sequence[Ruling]) -> str:
    """Return which shots a reading takes as the coach says, in a sentence; empty for none."""
    behind = causes_of(rulings)
    groups: dict[tuple[str, str], list[int]] = {}
    for shot, mark in sorted(marks(rulings).items()):
        groups.setdefault((mark, behind.get(shot, "")), []).append(shot)
    told = []
    for (mark, cause), mine in sorted(groups.items(), key=lambda group: group[1]):
        many = len(mine) > 1
        kind = THROWS[mark]
        which = " and ".join(filter(None, [", ".join(map(str, mine[:-1])), str(mine[-1])]))
        counts = f"shots {which} count as {kind}s" if many else f"shot {which} counts as a {kind}"
        told.append(counts + (f", since it was {CAUSES[cause]}" if cause else ""))
    return f"As the coach says, {'; '.join(told)}." if told else ""


def overruled(reading: dict[str, Any], rulings: Iterable[Ruling]) -> dict[str, Any]:
    """Return the reading's JSON with the coach's verdicts in it; the one given is not changed."""
    rulings = list(rulings)
    if not rulings:
        return reading
    found = dict(reading)
    throws, whys, causes = marks(rulings), whys_of(rulings), causes_of(rulings)
    if throws:
        found["shots"] = [
            _with_cause(_with_throw(shot, throws, whys), causes.get(shot["shot"]))
            for shot in reading["shots"]
        ]
        judged = [s["throw"]["verdict"] for s in found["shots"] if s.get("first_ball", True)]
        counts = {name: judged.count(name) for name in ("good", "off")}
        found["counts"] = {**reading["counts"], **counts}
    for ruling in rulings:
        if ruling.kind == "lane":
            found = _with_lane(found, ruling)
    return found


def _with_throw(
    shot: dict[str, Any], throws: dict[int, str], whys: dict[int, str]
) -> dict[str, Any]:
    verdict = throws.get(shot["shot"])
    if verdict is None:
        return shot
    miss = shot["throw"].get("miss") if verdict == "off" else None
    return {**shot, "throw": {"verdict": verdict, "why": whys[shot["shot"]], "miss": miss}}


def _with_cause(shot: dict[str, Any], said: str | None) -> dict[str, Any]:
    if said is None:
        return shot
    before = shot.get("said")
    computed = before["computed"] if before else shot["cause"]
    return {**shot, "cause": certain(said), "said": {"cause": said, "computed": computed}}


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
