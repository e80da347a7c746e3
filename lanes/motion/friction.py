"""Friction between a ball and the lane: the oil film, the cover and its surface.

The law is ``mu = mu_dry - (mu_dry - mu_oil) (1 - exp(-film / soak))``: Coulomb friction that falls
from its dry value to its oiled one as the film grows. Its form is that of our reference case; the
published pair is 0.04 in oil, whatever the film, and 0.20 dry. No published number ties friction to
film thickness, so every constant is a **calibration parameter** (``constants.py``): assumed,
bounded, and corrected by the fit to what was seen (``fit.py``). Balls are compared by the ratio of
their friction only.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .balls import BallSpec
from .constants import (
    BACK_RAMP_FT,
    COVER_FACTORS,
    FRONT_UNTIL_FT,
    GRIT_POWER_DRY,
    GRIT_POWER_OIL,
    LANE_WORN_GRIT,
    MID_FROM_FT,
    MU_DRY,
    MU_OIL,
    PAD_SHARE,
    POLISH_DRY,
    POLISH_OIL,
    REFERENCE_GRIT,
    SETTLE_GAMES,
    SMEAR_BOARDS,
    SMEAR_FT,
    SOAK_UNITS,
)
from .geometry import BOARD_M, FOOT_M
from .oil import HOUSE, Film

# What counts as straight in `Lane.stride`, sized so that no path ends 0.01 board off for it: a bend
# in units of what soaks, one across counting in part since a path crosses few boards, weighed by
# how friction falls with film on a lane worn to this part.
_STRAIGHT, _ACROSS, _WORN = 0.01, 0.3, 0.7

GRID_FT = 66  # the film grid of a lane, with dry feet past the deck so that no path leaves it


@dataclass(frozen=True)
class LaneState:
    """How a lane differs from its sheet; 1 everywhere is the lane as oiled.

    ``front`` and ``mid`` multiply the film before about 20 ft and beyond it, ``back`` multiplies
    the dry friction beyond the pattern's end: ``mid`` below 1 is burn, ``back`` below 1 carrydown.
    """

    front: float = 1.0
    mid: float = 1.0
    back: float = 1.0


@dataclass(frozen=True, eq=False)
class Lane:
    """One lane as one ball feels it.

    ``film`` has shape (39, 66): units of oil by board (bowler's own count) and foot, smeared.
    ``scale`` multiplies the friction everywhere. Build it with ``lane_friction``.
    """

    film: NDArray[np.float64]
    length_ft: float
    mu_dry: float
    mu_oil: float
    soak: float
    scale: float = 1.0
    state: LaneState = LaneState()

    @cached_property
    def law(self) -> NDArray[np.float64]:
        """The numbers that the kernels take: mu_oil, mu_dry, 1 / soak, length in ft."""
        return np.array([self.mu_oil, self.mu_dry, 1.0 / self.soak, self.length_ft])

    @cached_property
    def stride(self) -> NDArray[np.int64]:
        """Feet (39, 66) that one step of a path may go from each place, 1 or 2.

        It is 2 where the film bends so little at the next foot, along and across, on the board and
        those beside it, that friction there would not tell.
        """
        film = np.pad(self.film / self.soak, 1, mode="edge")
        here = film[1:-1, 1:-1]
        along = np.abs(film[1:-1, :-2] - 2.0 * here + film[1:-1, 2:])
        across = np.abs(film[:-2, 1:-1] - 2.0 * here + film[2:, 1:-1])
        bend = (along + _ACROSS * across) * np.exp(-_WORN * here)
        bend = np.pad(bend, ((1, 1), (0, 1)), mode="edge")
        bend = np.maximum(np.maximum(bend[:-2], bend[1:-1]), bend[2:])[:, 1:]
        return np.where(bend < _STRAIGHT, 2, 1)

    @cached_property
    def factors(self) -> NDArray[np.float64]:
        """Scale, front, mid and back, as the kernels take them for each path."""
        return np.array([self.scale, self.state.front, self.state.mid, self.state.back])

    def mu(self, x: ArrayLike, y: ArrayLike) -> NDArray[np.float64]:
        """Return the friction coefficient at ``x``, ``y`` in metres (broadcast)."""
        x, y = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
        board = np.clip(x / BOARD_M - 0.5, 0.0, self.film.shape[0] - 1.0)
        feet = y / FOOT_M
        row = np.clip(feet - 0.5, 0.0, self.film.shape[1] - 1.0)
        i = np.minimum(board.astype(int), self.film.shape[0] - 2)
        j = np.minimum(row.astype(int), self.film.shape[1] - 2)
        a, b = board - i, row - j
        oil = (1 - a) * ((1 - b) * self.film[i, j] + b * self.film[i, j + 1])
        oil = oil + a * ((1 - b) * self.film[i + 1, j] + b * self.film[i + 1, j + 1])
        front = np.clip((MID_FROM_FT - feet) / (MID_FROM_FT - FRONT_UNTIL_FT), 0.0, 1.0)
        back = np.clip((feet - self.length_ft) / BACK_RAMP_FT, 0.0, 1.0)
        oil = oil * (self.state.front * front + self.state.mid * (1 - front))
        dry = self.mu_dry * (1 + back * (self.state.back - 1))
        return self.scale * (self.mu_oil + (dry - self.mu_oil) * np.exp(-oil / self.soak))

    def with_state(self, state: LaneState, scale: float | None = None) -> Lane:
        """Return the same lane in another state, and for another friction scale if given."""
        return replace(self, state=state, scale=self.scale if scale is None else scale)


@dataclass(frozen=True)
class SurfaceLaw:
    """How a cover's number settles with games, and how strongly it tells on friction.

    ``lane_worn_grit`` is the number that games bring every cover to, ``pad_share`` how much of the
    way from there to the pad's own number a fresh surface goes (in logarithm), ``settle_games`` the
    games until 37 % of that is left. ``strength`` multiplies both powers of friction. The defaults
    are the calibration constants; a shop with a meter has numbers of its own (``settling.py``).
    """

    lane_worn_grit: float = LANE_WORN_GRIT
    pad_share: float = PAD_SHARE
    settle_games: float = SETTLE_GAMES
    strength: float = 1.0

    def left(self, games: float) -> float:
        """Return the share of a fresh surface that is left after so many games."""
        return math.exp(-((games / self.settle_games) ** 2))

    def games_at(self, left: float) -> float:
        """Return after how many games that share is left, the inverse of ``left``; 0 to 1."""
        return math.inf if left <= 0.0 else self.settle_games * math.sqrt(-math.log(left))

    def number(self, grit: float, games: float = 0.0) -> float:
        """Return the number of a cover ``games`` games after a pad of that ``grit``.

        It lies between the pad's number and a lane-worn cover's and goes back to the latter with
        games, slowly at first: in logarithm, ``pad_share exp(-(games / settle_games)^2)`` of the
        way is left.
        """
        share = self.pad_share * self.left(games)
        return float(self.lane_worn_grit * (grit / self.lane_worn_grit) ** share)


SURFACE_LAW = SurfaceLaw()


def surface_number(grit: float, games: float = 0.0) -> float:
    """Return a cover's number by the calibration constants, see ``SurfaceLaw.number``."""
    return SURFACE_LAW.number(grit, games)


def ball_friction(ball: BallSpec, law: SurfaceLaw = SURFACE_LAW) -> tuple[float, float, float]:
    """Return ``(mu_dry, mu_oil, soak in units)`` of a ball on an average lane (assumed values)."""
    full = ball.filled()
    assert full.cover is not None
    assert full.grit is not None
    assert full.games is not None
    dry, oil, soak = COVER_FACTORS[full.cover]
    rough = law.number(REFERENCE_GRIT) / law.number(full.grit, full.games)
    dry *= rough ** (GRIT_POWER_DRY * law.strength)
    oil *= rough ** (GRIT_POWER_OIL * law.strength)
    if full.polished:
        dry *= POLISH_DRY ** law.left(full.games)
        oil *= POLISH_OIL ** law.left(full.games)
    return MU_DRY * dry, MU_OIL * oil, SOAK_UNITS * soak


def lane_friction(
    film: Film | None,
    ball: BallSpec,
    oil_scale: float = 1.0,
    dry_scale: float = 1.0,
    scale: float = 1.0,
    state: LaneState | None = None,
    law: SurfaceLaw = SURFACE_LAW,
) -> Lane:
    """Return the lane that ``ball`` meets on ``film`` (bowler's own count; ``None``: house).

    ``oil_scale`` multiplies all the film, ``dry_scale`` the dry friction, ``scale`` the friction
    everywhere; ``state`` is how the lane has changed, ``law`` how covers settle.
    """
    film = HOUSE.film() if film is None else film
    dry, oil, soak = ball_friction(ball, law)
    return Lane(
        film=_smeared(film.units) * oil_scale,
        length_ft=film.length_ft,
        mu_dry=dry * dry_scale,
        mu_oil=oil,
        soak=soak,
        scale=scale,
        state=state or LaneState(),
    )


def UniformLane(mu: float) -> Lane:  # noqa: N802 - reads as the kind of lane that it makes
    """Return a lane with one friction value everywhere."""
    if not 0.0 < mu < 1.0:
        raise ValueError("mu: a friction coefficient between 0 and 1 expected")
    return Lane(np.zeros((39, GRID_FT)), 0.0, mu, mu, 1.0)


def _smeared(units: NDArray[np.float64]) -> NDArray[np.float64]:
    """Spread the film by a Gaussian both ways; oil does not leave the lane at its edges."""
    boards, feet = units.shape
    wide = np.zeros((boards, GRID_FT))
    wide[:, :feet] = units
    return _kernel(boards, SMEAR_BOARDS) @ wide @ _kernel(GRID_FT, SMEAR_FT).T


@cache
def _kernel(n: int, sd: float) -> NDArray[np.float64]:
    gap = np.arange(n)[:, None] - np.arange(n)[None, :]
    weights = np.exp(-0.5 * (gap / sd) ** 2)
    return np.asarray(weights / weights.sum(axis=0, keepdims=True))
