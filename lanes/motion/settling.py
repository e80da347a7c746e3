"""The state of a cover: fitted to a shop's meter, and what it does to the hook.

A cover settles by ``friction.SurfaceLaw``. Its three numbers (lane-worn number, the pad's share,
games to settle) are assumptions with bounds (``constants.py``); a shop that reads its balls with a
meter has data on them, and ``settle`` gives what is then known, as draws. From draws come ranges
for when a surface has moved the hook (``games_until``) and for the grit that brings it to a wanted
place (``grit_for``). Both are exact under one law: the logarithm of the friction in oil is linear
in what is left of the surface, and linear in the logarithm of the grit.

The prior: each number's constant is the middle, its bounds lie two sd away on either side (in
logarithm), nothing outside. Readings scatter by a share that is unknown itself, 0.05 to 0.5, 0.15
in the middle (assumed: no meter's repeatability was found). Each reading counts alike; that balls
differ among themselves is in the scatter. Bayes by a grid, so there is no chance in the fit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .balls import BallSpec
from .constants import CALIBRATION
from .friction import SURFACE_LAW, SurfaceLaw, ball_friction, lane_friction
from .path import Release, roll
from .reference import REFERENCE_FILM

FEWEST_READINGS = 6  # with fewer the constants stay as they are; a choice
DRAWS = 200
SEED = 1
INTERVAL = (0.1, 0.9)  # of a range that is told: 8 of 10
NAMES = ("lane_worn_grit", "pad_share", "settle_games")

Grid = NDArray[np.float64]

_POINTS = 21  # of the grid on each number
_ZOOMS, _UNLIKELY = 3, 1e-7  # finer grids where the readings leave little of the first
_SCATTERS = np.geomspace(0.05, 0.5, 17)
_SCATTER, _SCATTER_SD = 0.15, math.log(2.0)
# Multiplies both powers of friction; sds from the bounds of the power in oil, two sd away.
_POWER = CALIBRATION["grit_power_oil"]
_STRENGTH_SD = (
    0.5 * (1.0 - _POWER.low / _POWER.value),
    0.5 * (_POWER.high / _POWER.value - 1.0),
)


@dataclass(frozen=True)
class CoverReading:
    """A meter's reading of a cover so many games after a pad of that grit, not polished."""

    grit: float
    games: float
    number: float


@dataclass(frozen=True, eq=False)
class Settling:
    """What is known of how covers settle: the middle law, draws, and from how many readings.

    ``scatter`` is the middle of the readings' scatter, a share; ``None`` without readings.
    """

    law: SurfaceLaw
    draws: tuple[SurfaceLaw, ...]
    readings: int
    scatter: float | None = None

    @property
    def is_fitted(self) -> bool:
        return self.readings >= FEWEST_READINGS

    @property
    def scatter_percent(self) -> int | None:
        return None if self.scatter is None else round(100 * self.scatter)

    def interval(self, name: str) -> tuple[float, float]:
        """Return the range that holds 8 of 10 draws of one of ``NAMES``."""
        low, high = np.quantile([getattr(law, name) for law in self.draws], INTERVAL)
        return float(low), float(high)


def settle(readings: Sequence[CoverReading] = ()) -> Settling:
    """Return what the constants and a shop's readings say of how covers settle.

    With fewer than ``FEWEST_READINGS`` the readings are not used: the constants, with their bounds.
    Raises ``ValueError`` for a reading that cannot be.
    """
    for one in readings:
        if one.grit <= 0 or one.number <= 0 or one.games < 0:
            raise ValueError("reading: grit and number over 0, games not below 0 expected")
    used = list(readings) if len(readings) >= FEWEST_READINGS else []
    grids = [np.geomspace(CALIBRATION[name].low, CALIBRATION[name].high, _POINTS) for name in NAMES]
    p = _posterior(grids, used)
    for _ in range(_ZOOMS if used else 0):
        grids = [_zoomed(grid, _of_one(p, axis)) for axis, grid in enumerate(grids)]
        p = _posterior(grids, used)
    return Settling(
        law=_middle(grids, p) if used else SURFACE_LAW,
        draws=_draws(grids, p),
        readings=len(readings),
        scatter=_quantile(_SCATTERS, _of_one(p, 3), 0.5) if used else None,
    )


def _posterior(grids: list[Grid], used: list[CoverReading]) -> Grid:
    """Return the chance of each point of the grid and of each scatter, (n, n, n, scatters)."""
    worn, share, games = grids[0][:, None, None], grids[1][None, :, None], grids[2][None, None, :]
    log_p = _log_prior("lane_worn_grit", worn) + _log_prior("pad_share", share)
    log_p = log_p + _log_prior("settle_games", games)
    log_scatter = -0.5 * (np.log(_SCATTERS / _SCATTER) / _SCATTER_SD) ** 2
    squares = np.zeros(log_p.shape)
    for one in used:
        left = np.exp(-((one.games / games) ** 2))
        told = np.log(worn) + share * left * np.log(one.grit / worn)
        squares = squares + (math.log(one.number) - told) ** 2
    log_p = (
        log_p[..., None]
        + log_scatter
        - 0.5 * squares[..., None] / _SCATTERS**2
        - len(used) * np.log(_SCATTERS)
    )
    p = np.exp(log_p - log_p.max())
    return np.asarray(p / p.sum())


def _of_one(p: Grid, axis: int) -> Grid:
    return np.asarray(p.sum(axis=tuple(other for other in range(p.ndim) if other != axis)))


def _zoomed(grid: Grid, p: Grid) -> Grid:
    """Return a finer grid over the points that have any chance, and a point to either side."""
    likely = np.flatnonzero(p > _UNLIKELY)
    low, high = max(likely[0] - 1, 0), min(likely[-1] + 1, len(grid) - 1)
    return np.geomspace(grid[low], grid[high], _POINTS)


def _log_prior(name: str, at: Grid) -> Grid:
    row = CALIBRATION[name]
    away = np.log(at / row.value)
    sd = 0.5 * np.where(away < 0, math.log(row.value / row.low), math.log(row.high / row.value))
    return np.asarray(-0.5 * (away / sd) ** 2)


def _middle(grids: list[Grid], p: Grid) -> SurfaceLaw:
    return SurfaceLaw(*(_quantile(grid, _of_one(p, axis), 0.5) for axis, grid in enumerate(grids)))


def _quantile(at: Grid, p: Grid, share: float) -> float:
    """Return a quantile of chances on a geometric grid, each point standing for its cell."""
    edges = np.concatenate([[0.0], np.cumsum(p)])
    ln = np.log(at)
    step = ln[1] - ln[0]
    ends = np.concatenate([ln - 0.5 * step, [ln[-1] + 0.5 * step]])
    return float(np.clip(np.exp(np.interp(share, edges, ends)), at[0], at[-1]))


def _draws(grids: list[Grid], p: Grid) -> tuple[SurfaceLaw, ...]:
    """Draw laws from the grid, each within its cell, with a strength from its own bounds."""
    rng = np.random.default_rng(SEED)
    chosen = rng.choice(p.size, size=DRAWS, p=p.ravel())
    places = np.unravel_index(chosen, p.shape)
    numbers = []
    for grid, at in zip(grids, places, strict=False):
        step = math.log(grid[1] / grid[0])
        jitter = np.exp(step * rng.uniform(-0.5, 0.5, DRAWS))
        numbers.append(np.clip(grid[at] * jitter, grid[0], grid[-1]))
    away = rng.standard_normal(DRAWS)
    strength = 1.0 + away * np.where(away < 0, *_STRENGTH_SD)
    strength = np.clip(strength, _POWER.low / _POWER.value, _POWER.high / _POWER.value)
    return tuple(
        SurfaceLaw(float(a), float(b), float(c), float(d))
        for a, b, c, d in zip(*numbers, strength, strict=True)
    )


# What it does to the hook.

_SPAN, _CURVE_POINTS = 1.2, 17  # in the logarithm of the friction in oil, to either side


@dataclass(frozen=True, eq=False)
class HookCurve:
    """Where one ball's hook is seen on the reference lane, by its friction in oil.

    ``ln_mu`` rises, ``ft`` falls: more friction, an earlier hook. Straight in between; the friction
    on the dry goes along as it does with a cover's surface.
    """

    ln_mu: Grid
    ft: Grid

    def at(self, ln_mu: float) -> float:
        """Return where the hook is seen, ft; that at the end of the curve beyond it."""
        return float(np.interp(ln_mu, self.ln_mu, self.ft))

    def ln_mu_at(self, ft: float) -> float | None:
        """Return the logarithm of the friction in oil that puts the hook there; None beyond."""
        if not self.ft[-1] <= ft <= self.ft[0]:
            return None
        return float(np.interp(ft, self.ft[::-1], self.ln_mu[::-1]))


def hook_curve(ball: BallSpec, release: Release) -> HookCurve | None:
    """Return the curve of one ball by one release, None for one whose hook is hardly seen.

    Name and surface of the ball do not matter. By the reduced model, which puts a seen hook within
    a tenth of a foot of the rigid ball's. Raises ``ValueError`` for a ball that there cannot be.
    """
    return _curve(replace(ball, name="", grit=None, polished=False, games=None), release)


@lru_cache(maxsize=2048)
def _curve(ball: BallSpec, release: Release) -> HookCurve | None:
    fresh = replace(ball, grit=2000.0)
    lane = lane_friction(REFERENCE_FILM, fresh)
    dry_to_oil = CALIBRATION["grit_power_dry"].value / CALIBRATION["grit_power_oil"].value
    middle = math.log(lane.mu_oil)
    found = []
    for away in np.linspace(-_SPAN, _SPAN, _CURVE_POINTS):
        mu_oil, mu_dry = math.exp(middle + away), lane.mu_dry * math.exp(away * dry_to_oil)
        path = roll(release, fresh, replace(lane, mu_oil=mu_oil, mu_dry=mu_dry))
        if path.hook_start_ft is not None:
            found.append((middle + float(away), path.hook_start_ft))
    if len(found) < 3:
        return None
    ln_mu, ft = np.array(found).T
    return HookCurve(ln_mu, ft)


def ln_mu_oil(ball: BallSpec, law: SurfaceLaw = SURFACE_LAW) -> float:
    """Return the logarithm of a ball's friction in oil, with its surface and its games."""
    return math.log(ball_friction(ball, law)[1])


def games_until(curve: HookCurve, ball: BallSpec, law: SurfaceLaw, moved_ft: float) -> float:
    """Return after how many games on its surface the hook has moved by so much, either way.

    ``inf`` where games never move it that far.
    """
    fresh = ln_mu_oil(replace(ball, games=0.0), law)
    worn = ln_mu_oil(replace(ball, games=math.inf), law)
    start, end = curve.at(fresh), curve.at(worn)
    if abs(end - start) <= moved_ft:
        return math.inf
    there = curve.ln_mu_at(start + math.copysign(moved_ft, end - start))
    if there is None:
        return math.inf
    return law.games_at((there - worn) / (fresh - worn))


def grit_for(curve: HookCurve, ball: BallSpec, law: SurfaceLaw, ft: float) -> float | None:
    """Return the grit whose fresh, unpolished surface puts the hook there; None where none does.

    Any number over 0 may come out: whether there is such a pad is for the caller.
    """
    there = curve.ln_mu_at(ft)
    if there is None or law.strength == 0.0:
        return None
    low, high = 500.0, 2000.0
    at_low, at_high = (
        ln_mu_oil(replace(ball, grit=grit, polished=False, games=0.0), law) for grit in (low, high)
    )
    share = (there - at_low) / (at_high - at_low)
    return float(low * (high / low) ** share)
