"""What one way to play gains over another: paired on the same drawn lanes, with its interval."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

INTERVAL = (5.0, 95.0)  # per cent of what the drawn lanes say
NORMAL_90 = 1.645
_SHARES = 4000  # draws for the interval of a ratio
MOST_SHARE = 1.5  # a ratio beyond says no more than "all of it"


@dataclass(frozen=True)
class Gain:
    """A gain in the chance of a strike, 0 to 1, with its 90 % interval."""

    mean: float
    low: float
    high: float

    @property
    def is_clear(self) -> bool:
        """Whether it stands clear of nothing."""
        return self.low > 0.0

    def as_json(self) -> dict[str, float]:
        return {name: round(getattr(self, name), 4) for name in ("mean", "low", "high")}


def gain(way: Array, other: Array, model_sd: float = 0.0) -> Gain:
    """Return what ``way`` (draws,) gains over ``other`` (draws,), chances on the same lanes.

    The lanes drawn give the differences; ``model_sd`` is the doubt that they do not hold, since the
    lane is not quite the model, and is added in quadrature on either side.
    """
    less = np.asarray(way) - np.asarray(other)
    mean = float(less.mean())
    low, high = (float(value) for value in np.percentile(less, INTERVAL))
    model = NORMAL_90 * model_sd
    return Gain(
        mean,
        mean - float(np.hypot(max(mean - low, 0.0), model)),
        mean + float(np.hypot(max(high - mean, 0.0), model)),
    )


def share(
    part: Array, whole: Array, part_sd: float = 0.0, whole_sd: float = 0.0, seed: int = 1
) -> Gain | None:
    """Return the part of one gain (draws,) that another gets, with its interval; 1 is all of it.

    ``None`` where the whole gain is not clear of nothing: then there is nothing to have a part of.
    """
    if not gain(whole, np.zeros_like(whole), whole_sd).is_clear:
        return None
    rng = np.random.default_rng(seed)
    lane = rng.integers(0, len(whole), _SHARES)
    top = part[lane] + part_sd * rng.standard_normal(_SHARES)
    bottom = whole[lane] + whole_sd * rng.standard_normal(_SHARES)
    ratio = np.where(bottom > 0.0, top / np.where(bottom > 0.0, bottom, 1.0), MOST_SHARE)
    low, high = np.percentile(np.clip(ratio, 0.0, MOST_SHARE), INTERVAL)
    mean = float(np.clip(part.mean() / whole.mean(), 0.0, MOST_SHARE))
    return Gain(mean, min(float(low), mean), max(float(high), mean))
