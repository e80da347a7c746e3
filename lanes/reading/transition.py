"""What the changes mean: front, mid or back of the lane, or a ball itself; earlier or later."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from .changes import Change, Effect
from .shots import LoggedShot
from .trends import Drift

_UNNAMED = ("", "ball")  # a log without a ball column
_WORTH_NAMING = 0.2  # another cause as likely as this is named beside the likeliest


@dataclass(frozen=True)
class _Told:
    """What a change of the lane and one of a ball have in common.

    ``p`` is the probability that something changed and that it was this.
    """

    shot: int
    p: float
    ramp: bool
    later: bool
    causes: dict[str, float]
    effects: dict[str, Effect]
    words: str

    def as_json(self) -> dict[str, Any]:
        """Return the change as the reading's JSON holds it."""
        return {
            "shot": self.shot,
            "p": round(min(self.p, 0.999), 3),
            "shape": "gradual" if self.ramp else "sudden",
            "hooks": "later" if self.later else "earlier",
            "causes": _shares(self.causes),
            "effects": _sizes(self.effects),
            "words": self.words,
        }


@dataclass(frozen=True)
class LaneChange(_Told):
    """A change of the lane as a coach reads it.

    ``where`` is front, mid or back, ``None`` where the breakpoint was not watched; ``lane`` and
    ``ball`` are set where the session has only one.
    """

    where: str | None
    where_p: dict[str, float]
    lane: int | None
    ball: str | None

    def as_json(self) -> dict[str, Any]:
        """Return the change as the reading's JSON holds it."""
        return super().as_json() | {
            "where": self.where,
            "where_p": _shares(self.where_p),
            "lane": self.lane,
            "ball": self.ball,
        }


@dataclass(frozen=True)
class BallChange(_Told):
    """A change of one ball by itself; ``beside`` names the balls thrown after it that did not."""

    ball: str
    beside: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Return the change as the reading's JSON holds it."""
        return super().as_json() | {"ball": self.ball, "beside": list(self.beside)}


def _shares(of: Mapping[str, float]) -> dict[str, float]:
    return {name: round(p, 3) for name, p in of.items()}


def _sizes(effects: Mapping[str, Effect]) -> dict[str, Any]:
    return {
        name: {"size": round(e.size, 2), "sd": round(e.sd, 2), "unit": e.unit}
        for name, e in effects.items()
    }


def read_change(change: Change, shots: Sequence[LoggedShot], used: Sequence[int]) -> LaneChange:
    """Return the lane's side of a change; ``used`` are the indices of the shots it rests on."""
    where = max(change.parts, key=lambda k: change.parts[k]) if change.parts else None
    if where is not None and change.later:
        where = "back"
    lanes = {shots[i].lane for i in used}
    balls = {shots[i].ball for i in used}
    shot = shots[change.at].shot
    return LaneChange(
        shot=shot,
        where=where,
        where_p=change.parts,
        p=change.causes["lane"],
        ramp=change.gradual,
        later=change.later,
        lane=lanes.pop() if len(lanes) == 1 else None,
        ball=balls.pop() or None if len(balls) == 1 else None,
        causes=change.causes,
        effects=change.effects,
        words=_words(shot, change, where) + _or_else(change),
    )


def read_ball_change(
    change: Change, shots: Sequence[LoggedShot], used: Sequence[int]
) -> BallChange:
    """Return a ball's side of a change; ``used`` are the indices of the shots it rests on."""
    shot = shots[change.at].shot
    after = dict.fromkeys(shots[i].ball for i in used if i >= change.at)
    beside = tuple(ball for ball in after if ball and ball != change.what)
    return BallChange(
        shot=shot,
        ball=change.what,
        p=change.causes["ball"],
        ramp=change.gradual,
        later=change.later,
        beside=beside,
        causes=change.causes,
        effects=change.effects,
        words=_ball_words(shot, change, beside) + _or_else(change),
    )


_PART_WORDS = {
    ("front", False): "the front of the lane is drying out, so the ball reads too soon",
    ("mid", False): "the mid lane is burning, so the ball makes its move sooner",
    ("back", False): "the back end has become stronger, while the breakpoint stayed",
    ("back", True): "oil has been carried down, so the ball slides longer and finishes less",
}


def _words(shot: int, change: Change, where: str | None) -> str:
    way = "later" if change.later else "earlier"
    text = f"On the same throw the ball hooks {way} {_when(shot, change)}{_much(change)}"
    if where is None:
        return f"{text}. Where on the lane cannot be told: the breakpoint was not watched."
    return f"{text}: {_PART_WORDS[where, change.later]}."


def _ball_words(shot: int, change: Change, beside: Sequence[str]) -> str:
    way = "later" if change.later else "earlier"
    text = (
        f"Ball {change.what} itself hooks {way} {_when(shot, change)}{_much(change)}"
        if change.what not in _UNNAMED
        else f"The ball itself hooks {way} {_when(shot, change)}{_much(change)}"
    )
    if beside:
        many = len(beside) > 1
        others = f"{'balls' if many else 'ball'} {' and '.join(beside)}"
        text += f"; {others}, thrown on the same lane, did not"
    elif not change.gradual:
        text += ", from one ball to the next, as a cover changes and a lane does not"
    look = "Look at its cover: sanded, wiped, polished, or full of oil."
    alone = "" if beside else " Throw another ball beside it to be sure."
    return f"{text}. {look}{alone}"


def _or_else(change: Change) -> str:
    """Name the other causes that are likely enough to be kept in mind."""
    named = {
        "throw": "a throw that changed unseen",
        "lane": "the lane",
        "ball": "the ball itself",
    }
    others = [
        f"{named[cause]} ({100 * p:.0f} %)"
        for cause, p in sorted(change.causes.items(), key=lambda one: -one[1])
        if cause != change.cause and p >= _WORTH_NAMING
    ]
    return f" It may also be {' or '.join(others)}." if others else ""


def _when(shot: int, change: Change) -> str:
    return f"bit by bit from about shot {shot}" if change.gradual else f"from about shot {shot}"


def _much(change: Change) -> str:
    told = []
    pin = change.effects.get("head_pin")
    if pin is not None and abs(pin.size) > pin.sd:
        told.append(f"{abs(pin.size):.1f} boards {'lighter' if pin.size < 0 else 'higher'}")
    feet = change.effects.get("breakpoint_ft")
    if feet is not None and abs(feet.size) > feet.sd:
        told.append(
            f"the breakpoint {abs(feet.size):.0f} ft {'later' if feet.size > 0 else 'sooner'}"
        )
    break_ = change.effects.get("breakpoint")
    if break_ is not None and abs(break_.size) > break_.sd:
        told.append(
            f"{abs(break_.size):.1f} boards further {'in' if break_.size > 0 else 'out'} there"
        )
    return f" ({', '.join(told)})" if told else ""


def session_words(
    changes: Sequence[LaneChange | BallChange], drift: Mapping[str, Drift | None], enough: bool
) -> str:
    """Return what happened to lane and balls in one or two sentences."""
    if changes:
        return " ".join(change.words for change in changes)
    if not enough:
        return "Too few first balls with a board at the head pin to tell whether the lane changed."
    pin = drift.get("head_pin")
    if pin is not None and pin.clear:
        way = "higher" if pin.per_10 > 0 else "lighter"
        return (
            f"On the same throw the hit drifts {abs(pin.per_10):.1f} boards {way} in ten balls "
            f"({pin.low:+.1f} to {pin.high:+.1f}), but no beginning stands out; keep watching."
        )
    if pin is not None:
        low, high = sorted((abs(pin.low), abs(pin.high)))
        return (
            "No change of the lane stands out from the scatter: on the same throw the hit moved "
            f"less than {max(low, high):.1f} boards in ten balls either way."
        )
    return "No change of the lane stands out from the scatter."
