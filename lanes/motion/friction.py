"""Friction between a ball and the lane: the oil film, the cover and its surface.

The law is ``mu = mu_dry - (mu_dry - mu_oil) (1 - exp(-film / soak))``: Coulomb friction that falls
from its dry value to its oiled one as the film grows. Its form is that of our reference case; the
published pair 0.04 in oil and 0.20 dry brackets it. No published number ties friction to film
thickness, so every constant here is a **calibration parameter**: assumed, bounded, and corrected
by the fit to what was seen (``fit.py``). Balls are compared by the ratio of their friction only.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .balls import BallSpec
from .geometry import BOARD_M, FOOT_M
from .oil import HOUSE, Film

# Calibration parameters of an average reactive ball (bounds in brackets). Set so that ordinary
# releases on the house pattern make the lines that coaches log, and so that the forgiveness across
# the lane comes near the measured robot table (see tests/motion/test_robot_table.py).
MU_DRY = 0.205  # [0.12, 0.30]
MU_OIL = 0.013  # [0.005, 0.06]
SOAK_UNITS = 4.9  # film at which 63 % of the friction is lost, units [1, 10]

# Share of a reactive solid's friction, dry and in oil, and how much film the cover shrugs off
# (assumed; urethane reads early, plastic hardly reads).
COVER_FACTORS = {
    "solid": (1.04, 1.05, 1.05),
    "hybrid": (1.00, 1.00, 1.00),
    "pearl": (0.96, 0.93, 0.95),
    "urethane": (0.80, 1.15, 1.10),
    "plastic": (0.55, 0.70, 0.80),
}
REFERENCE_GRIT = 2000.0
GRIT_EXPONENT_DRY = 0.05  # rougher is stronger; assumed [0, 0.15]
GRIT_EXPONENT_OIL = 0.12  # ... and more so where there is oil; assumed [0, 0.25]
POLISH_FACTORS = (0.96, 0.90)  # dry, oil; assumed [0.8, 1]

# A ball's track and the machine's buffer brush both smear the sheet's sharp edges (assumed).
SMEAR_BOARDS = 1.0
SMEAR_FT = 1.5
GRID_FT = 66  # the film grid of a lane, with dry feet past the deck so that no path leaves it

# Where "front", "mid" and "back" change over, ft. The back begins where the oil ends.
FRONT_UNTIL_FT = 15.0
MID_FROM_FT = 25.0
BACK_RAMP_FT = 4.0


@dataclass(frozen=True)
class LaneState:
    """How a lane differs from its sheet; 1 everywhere is the lane as oiled.

    ``front`` and ``mid`` multiply the film before about 20 ft and beyond it, ``back`` multiplies
    the dry friction beyond the pattern's end: ``mid`` below 1 is burn, ``back`` below 1 carrydown.
    """

    front: float = 1.0
    mid: float = 1.0
    back: float = 1.0


# What ten ordinary balls do to a lane, as shares of its state (assumed; 40 balls then move the head
# pin by a few boards, as a trial of film depletion did). The fit finds a session's own rates.
WEAR_PER_TEN = LaneState(front=0.98, mid=0.94, back=0.99)


def worn(balls_before: float) -> LaneState:
    """Return the assumed state of a lane after so many balls by nobody in particular."""
    tens = balls_before / 10.0
    return LaneState(WEAR_PER_TEN.front**tens, WEAR_PER_TEN.mid**tens, WEAR_PER_TEN.back**tens)


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
        """The numbers that the kernels take: mu_oil, mu_dry, soak, length in ft."""
        return np.array([self.mu_oil, self.mu_dry, self.soak, self.length_ft])

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


def ball_friction(ball: BallSpec) -> tuple[float, float, float]:
    """Return ``(mu_dry, mu_oil, soak in units)`` of a ball on an average lane (assumed values)."""
    full = ball.filled()
    assert full.cover is not None
    assert full.grit is not None
    dry, oil, soak = COVER_FACTORS[full.cover]
    rough = REFERENCE_GRIT / full.grit
    dry *= rough**GRIT_EXPONENT_DRY
    oil *= rough**GRIT_EXPONENT_OIL
    if full.polished:
        dry *= POLISH_FACTORS[0]
        oil *= POLISH_FACTORS[1]
    return MU_DRY * dry, MU_OIL * oil, SOAK_UNITS * soak


def lane_friction(
    film: Film | None,
    ball: BallSpec,
    oil_scale: float = 1.0,
    dry_scale: float = 1.0,
    scale: float = 1.0,
    state: LaneState | None = None,
) -> Lane:
    """Return the lane that ``ball`` meets on ``film`` (bowler's own count; ``None``: house).

    ``oil_scale`` multiplies all the film, ``dry_scale`` the dry friction, ``scale`` the friction
    everywhere; ``state`` is how the lane has changed.
    """
    film = HOUSE.film() if film is None else film
    dry, oil, soak = ball_friction(ball)
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
