"""What throws on the lanes drawn are worth: chance with its interval, pocket, and both together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lanes.motion import POCKET

Array = NDArray[np.float64]

# How far the real pins' chance may lie from the table's, one sd: other ways to compute come within
# 16 points of it, racks of a house differ (assumed; sized, as the doubts of ``options``, on
# sessions drawn as those of tests/proof, with other seeds than the committed ones).
PINS_SD = 0.105
_INTERVAL = (5.0, 95.0)
_NORMAL_90 = 1.645


def merit(chance: Array, pocket: Array) -> Array:
    """Return what options are ranked by: the mean of strike chance and share of pocket hits.

    What a hit is worth is known from two sides: racks computed by one solver, whose chances off
    the pocket nothing published supports, and the trade's pocket, in which most strikes are made.
    A line is chosen that both speak for.
    """
    return np.asarray(0.5 * (chance + pocket))


def in_pocket(board: Array) -> NDArray[np.bool_]:
    """Say which boards at the head pin lie in the pocket; nan does not."""
    return (board >= POCKET.light) & (board <= POCKET.high)


def interval(strike: Array) -> tuple[float, float]:
    """Return the 90 % interval of a chance from those of throws on lanes drawn (draws, throws).

    The doubt of the pins is added to that of the lanes.
    """
    chance, pins = float(strike.mean()), _NORMAL_90 * PINS_SD
    low, high = np.percentile(by_lane(strike), _INTERVAL)
    below, above = max(chance - low, 0.0), max(high - chance, 0.0)
    return (
        float(max(chance - np.hypot(below, pins), 0.0)),
        float(min(chance + np.hypot(above, pins), 1.0)),
    )


def by_lane(strike: Array) -> Array:
    """Return chances (draws,) from those of throws (draws, throws), without the throws' scatter.

    Few throws on a lane scatter about its chance; by as much as their own spread says, the lanes
    are drawn toward their mean (moments, as in any text on random effects).
    """
    chance = strike.mean(axis=1)
    scatter = strike.var(axis=1, ddof=1).mean() / strike.shape[1]
    kept = max(1.0 - scatter / max(float(chance.var(ddof=1)), 1e-12), 0.0)
    return np.asarray(chance.mean() + np.sqrt(kept) * (chance - chance.mean()))
