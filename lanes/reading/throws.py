"""Was it a good throw? The coach's mark, else this student's own scatter.

A throw is measured against what the student meant and usually does: the board at the arrows less
the board aimed at, the laydown of the planned line, and the speed. A planned move changes the
plan, not the verdict. Scatter is taken from one shot to the next, so that a slow drift (tiring)
does not hide in it; a change of the throw itself is told by ``changes``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion.geometry import DEG_PER_BOARD

from .changes import Change
from .robust import trimmed_sd
from .series import centred_by, column, levels
from .shots import LoggedShot

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

MIN_SHOTS = 8  # fewer first balls than this show no scatter of one's own
OFF = {"arrows": 2.5, "laydown": 3.0, "speed_mph": 2.5}  # scatters away from the usual throw
# A smaller scatter than this is better than anyone reads it (assumed; FACTS section 10).
LEAST_SD = {"arrows": 0.5, "laydown": 0.5, "speed_mph": 0.2}
_WORDS = {
    "arrows": ("in", "out", "inside", "outside", "boards", "at the arrows"),
    "laydown": ("other", "other", "inside", "outside", "boards", "at laydown"),
    "speed_mph": ("fast", "slow", "over", "under", "mph", "speed"),
}


@dataclass(frozen=True)
class Throw:
    """The verdict on one throw: ``good``, ``off`` or ``unknown``, why, and how it missed."""

    verdict: str
    why: str
    miss: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return the verdict as the reading's JSON holds it."""
        return {"verdict": self.verdict, "why": self.why, "miss": self.miss or None}


@dataclass(frozen=True)
class ThrowDrift:
    """A change of the throw itself during the session: from which shot, from what to what."""

    what: str
    at: int
    ramp: bool
    p: float
    before: float
    after: float

    def words(self, shot: int) -> str:
        """Return it as a sentence; ``shot`` is the number of the shot at which it began."""
        unit = {"speed_mph": "mph"}.get(self.what, "boards")
        how = "bit by bit from" if self.ramp else "from"
        if self.what == "speed_mph":
            way = "slower" if self.after < self.before else "faster"
            return (
                f"{abs(self.after - self.before):.1f} {unit} {way} {how} about shot {shot} "
                f"({self.before:.1f} to {self.after:.1f} mph)"
            )
        where = "the arrows" if self.what == "arrows" else "laydown"
        way = "further in" if self.after > self.before else "further out"
        return f"{abs(self.after - self.before):.1f} {unit} {way} at {where} {how} shot {shot}"


@dataclass(frozen=True)
class Scatter:
    """This student's own scatter from throw to throw (robust sd), ``None`` where not readable."""

    laydown_sd: float | None
    arrows_sd: float | None
    launch_deg_sd: float | None
    speed_sd: float | None
    n: int
    speed_mph: float | None
    arrows_from_aim: float | None

    def as_json(self) -> dict[str, Any]:
        """Return the scatter as the reading's JSON holds it."""
        return {
            key: value if value is None or isinstance(value, int) else round(value, 3)
            for key, value in vars(self).items()
        }


@dataclass(frozen=True, eq=False)
class Throws:
    """All verdicts of a session with what they were judged by."""

    verdicts: list[Throw]
    scatter: Scatter
    drifts: list[ThrowDrift]

    @property
    def good(self) -> Flags:
        """Flags of the throws that are not known to be off."""
        return np.array([t.verdict != "off" for t in self.verdicts])


def step_sd(values: Array) -> float | None:
    """Return the sd that the differences between successive readings speak for.

    Blind to a slow drift. ``None`` with fewer than ``MIN_SHOTS`` readings.
    """
    known = values[np.isfinite(values)]
    if len(known) < MIN_SHOTS:
        return None
    return trimmed_sd(np.diff(known)) / float(np.sqrt(2.0))


def thrown_as_meant(shots: Sequence[LoggedShot], first: Sequence[bool]) -> Flags:
    """Flag the first deliveries that nobody marked as off: what a session is judged by."""
    marked_off = np.array([s.throw == "off" or s.foul for s in shots], dtype=bool)
    return np.asarray(np.array(first, dtype=bool) & ~marked_off)


def judge_throws(
    shots: Sequence[LoggedShot], first: Sequence[bool], changes: Sequence[Change] = ()
) -> Throws:
    """Return the verdict on every throw of a session; ``first`` flags the first deliveries.

    ``changes`` are those of the session: where the throw itself changed, it is judged by what was
    usual before.
    """
    at_rack = np.array(first, dtype=bool)
    planned = _meant(shots)
    groups = {
        "arrows": levels(shots),
        "laydown": levels(shots),
        # Speed belongs to the student, not to the line or the ball.
        "speed_mph": np.zeros(len(shots), dtype=np.int64),
    }
    usual = thrown_as_meant(shots, first)
    # The clearest first: of two changes of the same thing that one counts.
    changed = {one.what: one for one in reversed(changes) if one.cause == "throw"}
    drifts: list[ThrowDrift] = []
    off_by: dict[str, Array] = {}
    sds: dict[str, float | None] = {}
    for what in OFF:
        values = planned[what]
        spread = _by_level_sd(values, groups[what], usual)
        sds[what] = None if spread is None else max(spread, LEAST_SD[what])
        reference = usual.copy()
        if what in changed:
            drift = _drift(changed[what], values, usual)
            drifts.append(drift)
            reference &= np.arange(len(shots)) < _first_stretch(drift, usual)
        off_by[what] = _distance(values, groups[what], reference, usual)
    verdicts = [_verdict(shot, i, at_rack[i], off_by, sds) for i, shot in enumerate(shots)]
    return Throws(verdicts, _scatter(shots, usual, sds), drifts)


def _meant(shots: Sequence[LoggedShot]) -> dict[str, Array]:
    """Return the throw's columns against the plan: arrows less aim where both are known."""
    aim = column(shots, "aim")
    arrows = column(shots, "arrows")
    return {
        "arrows": np.where(np.isfinite(aim), arrows - aim, arrows) if np.isfinite(aim).any()
        else arrows,
        "laydown": column(shots, "laydown"),
        "speed_mph": column(shots, "speed_mph"),
    }  # fmt: skip


def _by_level_sd(values: Array, groups: NDArray[np.int64], use: Flags) -> float | None:
    centred = centred_by(values, groups, use)
    return step_sd(centred[use & np.isfinite(values)])


def _drift(change: Change, values: Array, use: Flags) -> ThrowDrift:
    """Return a change of the throw with the level that it left."""
    read = np.flatnonzero(use & np.isfinite(values))
    before = float(np.median(values[read[read < max(change.at, read[0] + 1)]]))
    after = before + change.effects[change.what].size
    p = change.causes["throw"]
    return ThrowDrift(change.what, change.at, change.gradual, p, before, after)


def _first_stretch(drift: ThrowDrift, use: Flags) -> int:
    """Return the index before which the student threw as usual: up to the drift's beginning.

    A ramp from the very first ball leaves the first eight as the usual.
    """
    eighth = int(np.flatnonzero(use)[MIN_SHOTS - 1]) + 1
    return max(drift.at, eighth)


def _distance(values: Array, groups: NDArray[np.int64], reference: Flags, usual: Flags) -> Array:
    """Return each reading less the usual of its level; nan where nothing was read.

    A level that begins after the reference stretch has its own usual.
    """
    out = np.full(len(values), np.nan)
    for group in np.unique(groups):
        mine = (groups == group) & np.isfinite(values)
        known = mine & reference
        if known.sum() < 3:
            known = mine & usual
        if known.sum() >= 3:
            out[mine] = values[mine] - np.median(values[known])
    return out


def _verdict(
    shot: LoggedShot,
    i: int,
    at_rack: bool,
    off_by: dict[str, Array],
    sds: dict[str, float | None],
) -> Throw:
    if shot.throw == "off":
        told = f", {shot.miss}" if shot.miss else ""
        return Throw("off", f"marked off by the coach{told}", shot.miss)
    if shot.throw == "good":
        return Throw("good", "marked good by the coach")
    if shot.foul:
        return Throw("off", "over the foul line", "other")
    if not at_rack:
        return Throw("unknown", "not a first ball; only the coach's mark counts")
    worst, reasons, seen = 0.0, "", []
    miss = ""
    for what, limit in OFF.items():
        sd, gap = sds[what], off_by[what][i]
        if sd is None or not np.isfinite(gap):
            continue
        seen.append(what)
        far = abs(gap) / sd / limit
        if far > max(worst, 1.0):
            inward, outward, more, less, unit, place = _WORDS[what]
            miss = inward if gap > 0 else outward
            side = more if gap > 0 else less
            reasons = f"{abs(gap):.1f} {unit} {side} the usual {place}"
            worst = far
    if not seen:
        return Throw("unknown", _why_unknown(shot))
    if reasons:
        return Throw("off", reasons, miss)
    named = {"arrows": "arrows", "laydown": "laydown", "speed_mph": "speed"}
    return Throw("good", f"within the student's own scatter ({', '.join(named[s] for s in seen)})")


def _why_unknown(shot: LoggedShot) -> str:
    if shot.arrows is None and shot.laydown is None and shot.speed_mph is None:
        return "no board at laydown or arrows and no speed was read"
    return f"fewer than {MIN_SHOTS} like throws to compare with"


def _scatter(shots: Sequence[LoggedShot], use: Flags, sds: dict[str, float | None]) -> Scatter:
    speed = column(shots, "speed_mph")[use]
    gap = (column(shots, "arrows") - column(shots, "aim"))[use]
    launch = column(shots, "laydown") - column(shots, "arrows")
    launch_sd = _by_level_sd(launch, levels(shots), use)
    return Scatter(
        laydown_sd=sds["laydown"],
        arrows_sd=sds["arrows"],
        launch_deg_sd=None if launch_sd is None else float(launch_sd * DEG_PER_BOARD),
        speed_sd=sds["speed_mph"],
        n=int(use.sum()),
        speed_mph=float(np.nanmedian(speed)) if np.isfinite(speed).any() else None,
        arrows_from_aim=float(np.nanmedian(gap)) if np.isfinite(gap).any() else None,
    )
