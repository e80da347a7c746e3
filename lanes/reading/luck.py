"""Bad luck or a pattern: what this session's hits earn by the table of the pins, and what fell.

Each first ball's hit is as the fit leaves it possible: board, angle, speed and slip of every draw.
The table gives each the chance of a strike and of every leave; how many of each the session should
then have seen is a sum of unlike chances, whose distribution is computed (Poisson binomial), with
the table's own doubt mixed in. What falls well within it needs no other cause than luck.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, logit, ndtri

from lanes.motion import Draws, checkpoints, lane_friction
from lanes.pins.carry import mirror_pins, table

from .hits import in_pocket
from .leaves import pins_standing
from .physics import Physics
from .shots import LoggedShot
from .strike import Hits

Array = NDArray[np.float64]

DRAWS = 24  # of the fit, for each shot
# How far the real pins' chances may lie from the table's, one sd of the log odds: of strikes as in
# ``chances.PINS_SD`` about the middle, of a leave more, since it rests on fewer racks (assumed).
_STRIKE_DOUBT, _LEAVE_DOUBT = 0.35, 0.5
_DOUBTS = ndtri((np.arange(5) + 0.5) / 5)
LUCK = 0.05  # less likely than this is more than luck
_LUCK_OF_MANY = 0.01  # the same of one leave, since many are looked at
_HARDLY = 0.1  # expected leaves that are hardly any
FEWEST = 8  # balls; fewer tell nothing
_INTERVAL = (0.05, 0.95)


@dataclass(frozen=True)
class Count:
    """So many of ``of`` seen, ``expected`` by the table, ``low`` to ``high`` nine times in ten.

    ``p_fewer`` is the chance of so few or fewer, ``p_more`` of so many or more.
    """

    seen: int
    of: int
    expected: float
    low: int
    high: int
    p_fewer: float
    p_more: float

    @property
    def p(self) -> float:
        """The chance of something as far from what is expected, either way."""
        return min(1.0, 2.0 * min(self.p_fewer, self.p_more))


@dataclass(frozen=True, eq=False)
class Earned:
    """What the hits of some first balls earn: ``shots`` of the log, chances of a strike on each
    draw of the fit (n, draws), and of the leaves (n, draws, leaves) in ``pins``' order, as this
    hand sees them.
    """

    shots: tuple[LoggedShot, ...]
    strike: Array
    leaves: Array
    pins: tuple[tuple[int, ...], ...]

    @cached_property
    def pocket(self) -> Count | None:
        """Strikes among the balls that were read in the pocket; ``None`` where they are few."""
        met = np.array([bool(in_pocket(shot.head_pin)) for shot in self.shots], dtype=bool)
        if met.sum() < FEWEST:
            return None
        struck = sum(s.leave == "X" for s, hit in zip(self.shots, met, strict=True) if hit)
        return count(struck, self.strike[met], _STRIKE_DOUBT)

    def leave(self, leave: str) -> Count | None:
        """Return a leave's count; ``None`` for one that the table pools with the rare ones."""
        pins = tuple(sorted(pins_standing(leave) or ()))
        if len(self.shots) < FEWEST or pins not in self.pins:
            return None
        seen = sum(shot.leave == leave for shot in self.shots)
        return count(seen, self.leaves[..., self.pins.index(pins)], _LEAVE_DOUBT)


def earned(
    shots: Sequence[LoggedShot], first: Sequence[bool], physics: Physics | None, hand: str
) -> Earned | None:
    """Return what the fitted first balls with a known leave earn; ``None`` without any."""
    if physics is None:
        return None
    rows = [
        row
        for row, i in enumerate(physics.index)
        if first[i] and not shots[i].foul and pins_standing(shots[i].leave) is not None
    ]
    if not rows:
        return None
    strike = np.empty((len(rows), DRAWS))
    leaves = np.empty((len(rows), DRAWS, len(table().leaves)))
    draws = physics.fit.draws(DRAWS, 1)
    for ball in np.unique(physics.thrown[rows]):
        mine = np.flatnonzero(physics.thrown[rows] == ball)
        hits = _hits(physics, draws, [rows[k] for k in mine], int(ball), shots)
        strike[mine] = hits.strike()
        leaves[mine] = hits.leave_chances()[..., :-1]
    known = table().leaves
    pins = [mirror_pins(one) for one in known] if hand == "left" else known
    return Earned(tuple(shots[physics.index[row]] for row in rows), strike, leaves, tuple(pins))


def _hits(
    physics: Physics, draws: Draws, rows: Sequence[int], ball: int, shots: Sequence[LoggedShot]
) -> Hits:
    """Return the hits (rows, draws) of fitted shots with one ball."""
    launches = np.swapaxes(draws.launches[:, list(rows)], 0, 1)
    factors = np.array(
        [
            draws.factors_at(float(i), ball, physics.lanes.index(shots[i].lane))
            for i in (int(physics.index[row]) for row in rows)
        ]
    )
    spec = physics.balls[ball]
    seen = checkpoints(
        launches.reshape(-1, 4),
        np.tile(draws.rotation_deg, len(rows)),
        draws.tilt_deg,
        spec,
        lane_friction(physics.film, spec, law=physics.law),
        factors.reshape(-1, 4),
    )
    return Hits.of(seen.reshape(len(rows), DRAWS, -1), spec)


def count(seen: int, chances: Array, doubt: float = 0.0) -> Count:
    """Return a count of events with chances (n, draws), in doubt by one shift of their log odds.

    The exact distribution of the sum (Poisson binomial) on each draw, averaged over the draws and
    the shift.
    """
    held = logit(np.clip(chances, 1e-9, 1.0 - 1e-9))[..., None] + doubt * _DOUBTS
    pmf = sum_of(expit(held).reshape(len(chances), -1))
    reach = np.cumsum(pmf)
    low, high = (int(np.searchsorted(reach, level)) for level in _INTERVAL)
    return Count(
        seen=seen,
        of=len(chances),
        expected=float(pmf @ np.arange(len(pmf))),
        low=low,
        high=min(high, len(chances)),
        p_fewer=float(min(reach[seen], 1.0)),
        p_more=float(np.clip(1.0 - reach[seen] + pmf[seen], 0.0, 1.0)),
    )


def sum_of(chances: Array) -> Array:
    """Return the distribution (n + 1,) of how many of n independent events happen, averaged over
    columns of chances (n, columns): by its characteristic function (Y. Hong, Computational
    Statistics & Data Analysis 59, 41, 2013).
    """
    n = len(chances)
    turns = np.exp(-2j * np.pi * np.arange((n + 1) // 2 + 1) / (n + 1))
    found = np.ones((len(turns), chances.shape[1]), dtype=complex)
    for p in chances:
        found *= 1.0 + (turns[:, None] - 1.0) * p
    return np.clip(np.fft.irfft(found.mean(axis=1), n + 1), 0.0, 1.0)


def pocket_words(found: Earned | None) -> str:
    """Return whether the strikes among pocket hits are luck; ``""`` where too little was seen."""
    pocket = found.pocket if found else None
    if pocket is None:
        return ""
    told = (
        f"{pocket.of} balls met the pocket and {pocket.seen} struck; the table expects about "
        f"{pocket.expected:.0f} of such hits ({pocket.low} to {pocket.high} nine times in ten)"
    )
    if pocket.p >= LUCK:
        return f"{told}. That is within luck."
    if pocket.seen < pocket.expected:
        return (
            f"{told}. So few are hardly luck alone: watch deck exit and the corner's neighbour, or "
            "these pins carry less than the table's."
        )
    return f"{told}. So many are hardly luck alone: these pins carry more than the table's."


def leave_words(told: Count | None) -> str:
    """Return a leave's count against what was expected; ``""`` where that is not known."""
    if told is None:
        return ""
    about = f"about {told.expected:.1f}" if told.expected >= _HARDLY else "hardly any"
    words = f"{about} expected of these hits"
    # One of a kind is no pattern, however rare: some rare leave or other comes in every session.
    if told.seen > 1 and told.p_more < _LUCK_OF_MANY:
        words += ", more than luck alone explains"
    return words


def as_json(found: Earned | None) -> dict[str, Any] | None:
    """Return the strikes among pocket hits as the reading's JSON holds them."""
    pocket = found.pocket if found else None
    if pocket is None:
        return None
    return {
        "balls": pocket.of,
        "strikes": pocket.seen,
        "expected": round(pocket.expected, 1),
        "low": pocket.low,
        "high": pocket.high,
        "p": round(pocket.p, 3),
        "words": pocket_words(found),
    }
