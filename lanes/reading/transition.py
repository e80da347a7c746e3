"""What the changes mean on the lane: earlier or later hook, and front, mid or back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import log_ndtr

from .changes import Change, Effect
from .shots import LoggedShot
from .trends import Drift

# How often each part is behind a change before anything is seen (common practice, no source): the
# mid lane dries most, the front later, the back end changes by carrydown or by being cleared.
_PRIOR = {"front": 0.25, "mid": 0.50, "back": 0.25}
# Changes of a part that are worth expecting, in the tenths that signatures are given for.
_USUAL_TENTHS = 4.0
# The model's signature is taken for right within a quarter of what moved.
_MODEL_DOUBT = 0.25
_BREAKPOINT = ("breakpoint", "breakpoint_ft")
_ONLY_BREAKPOINT_DISTANCE_FT = 1.5  # carrydown may hold the ball a little longer, too (assumed)


@dataclass(frozen=True)
class LaneChange:
    """A change of the lane as a coach reads it.

    ``where`` is front, mid or back, ``None`` where the breakpoint was not watched; ``lane`` and
    ``ball`` are set where the session has only one.
    """

    shot: int
    where: str | None
    where_p: dict[str, float]
    p: float
    ramp: bool
    later: bool
    lane: int | None
    ball: str | None
    effects: dict[str, Effect]
    words: str

    def as_json(self) -> dict[str, Any]:
        """Return the change as the reading's JSON holds it."""
        return {
            "shot": self.shot,
            "where": self.where,
            "where_p": {k: round(v, 3) for k, v in self.where_p.items()},
            "p": round(min(self.p, 0.999), 3),
            "shape": "gradual" if self.ramp else "sudden",
            "hooks": "later" if self.later else "earlier",
            "lane": self.lane,
            "ball": self.ball,
            "effects": {
                name: {"size": round(e.size, 2), "sd": round(e.sd, 2), "unit": e.unit}
                for name, e in self.effects.items()
            },
            "words": self.words,
        }


def place_probabilities(
    effects: Mapping[str, Effect], signatures: Mapping[str, Mapping[str, float]]
) -> dict[str, float]:
    """Return how likely front, mid and back are behind a change; empty without the breakpoint.

    Each part's signature (what it does to breakpoint, its distance and the head pin, from the
    motion model) is scaled by an unknown amount and held against what moved. Front and mid only
    ever lose oil; the back end may gain (carrydown) or lose friction.
    """
    if not any(name in effects for name in _BREAKPOINT):
        return {}
    names = [name for name in (*_BREAKPOINT, "head_pin") if name in effects]
    moved = np.array([effects[name].size for name in names])
    logs: dict[str, float] = {}
    for part, prior in _PRIOR.items():
        sign = np.array([signatures[part][name] for name in names])
        variance = np.array([effects[name].sd ** 2 for name in names])
        variance = variance + (_MODEL_DOUBT * moved) ** 2
        if part == "back" and "breakpoint_ft" in names:
            variance[names.index("breakpoint_ft")] += _ONLY_BREAKPOINT_DISTANCE_FT**2
        precision = float(sign @ (sign / variance)) + _USUAL_TENTHS**-2
        pull = float(sign @ (moved / variance)) / precision
        log = -0.5 * float(np.sum(np.log(variance) + moved**2 / variance))
        log += -0.5 * np.log(precision * _USUAL_TENTHS**2) + 0.5 * pull**2 * precision
        if part != "back":  # only a loss of oil: half of the amounts
            log += float(log_ndtr(pull * np.sqrt(precision))) + np.log(2.0)
        logs[part] = float(np.log(prior) + log)
    top = max(logs.values())
    total = sum(np.exp(v - top) for v in logs.values())
    return {part: float(np.exp(v - top) / total) for part, v in logs.items()}


def read_change(
    change: Change,
    shots: Sequence[LoggedShot],
    used: Sequence[int],
    signatures: Mapping[str, Mapping[str, float]] | None,
) -> LaneChange:
    """Return the lane's side of a change; ``used`` are the indices of the shots it rests on."""
    probabilities = place_probabilities(change.effects, signatures) if signatures else {}
    where = max(probabilities, key=lambda k: probabilities[k]) if probabilities else None
    later = _later(change.effects)
    if where is not None and later:
        where = "back"
    lanes = {shots[i].lane for i in used}
    balls = {shots[i].ball for i in used}
    shot = shots[change.at].shot
    return LaneChange(
        shot=shot,
        where=where,
        where_p=probabilities,
        p=change.p,
        ramp=change.ramp,
        later=later,
        lane=lanes.pop() if len(lanes) == 1 else None,
        ball=balls.pop() or None if len(balls) == 1 else None,
        effects=change.effects,
        words=_words(shot, change, where, later),
    )


def _later(effects: Mapping[str, Effect]) -> bool:
    """Say whether the ball hooks later than before: lighter at the pins, or a longer skid."""
    votes = 0.0
    for name, sign in (("head_pin", -1.0), ("breakpoint", -1.0), ("breakpoint_ft", 1.0)):
        if name in effects and effects[name].sd > 0:
            votes += sign * effects[name].size / effects[name].sd
    return votes > 0


_PART_WORDS = {
    ("front", False): "the front of the lane is drying out, so the ball reads too soon",
    ("mid", False): "the mid lane is burning, so the ball makes its move sooner",
    ("back", False): "the back end has become stronger, while the breakpoint stayed",
    ("back", True): "oil has been carried down, so the ball slides longer and finishes less",
}


def _words(shot: int, change: Change, where: str | None, later: bool) -> str:
    when = f"bit by bit from about shot {shot}" if change.ramp else f"from about shot {shot}"
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
    much = f" ({', '.join(told)})" if told else ""
    way = "later" if later else "earlier"
    text = f"On the same throw the ball hooks {way} {when}{much}"
    if where is None:
        return f"{text}. Where on the lane cannot be told: the breakpoint was not watched."
    return f"{text}: {_PART_WORDS[where, later]}."


def session_words(
    changes: Sequence[LaneChange], drift: Mapping[str, Drift | None], enough: bool
) -> str:
    """Return what happened to the lane in one or two sentences."""
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
