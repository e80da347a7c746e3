"""How far each check-point drifted over the session, next to the throw, with its interval."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .robust import huber
from .series import RESOLUTION, Series

MIN_SHOTS = 8  # fewer good first balls than this say nothing about a trend


@dataclass(frozen=True)
class Drift:
    """Change of one check-point per ten balls, with a 95 % interval.

    For the down-lane check-points it is the change that the throw does not explain: on the same
    throw, ball and planned line.
    """

    per_10: float
    low: float
    high: float
    n: int
    unit: str

    @property
    def clear(self) -> bool:
        """Say whether the interval leaves out no drift at all."""
        return self.low > 0.0 or self.high < 0.0

    def as_json(self) -> dict[str, Any]:
        """Return the drift as the reading's JSON holds it."""
        return {
            "per_10": round(self.per_10, 3),
            "low": round(self.low, 3),
            "high": round(self.high, 3),
            "n": self.n,
            "unit": self.unit,
        }


def drift(series: Series | None) -> Drift | None:
    """Return the robust drift of a series, ``None`` with too few shots or no spread in time."""
    if series is None or len(series.y) < MIN_SHOTS:
        return None
    time = (series.order - series.order.mean()) / 10.0
    design = np.column_stack([series.design, time])
    if np.linalg.matrix_rank(design) < design.shape[1] or len(series.y) <= design.shape[1]:
        return None
    fit = huber(
        design,
        series.y,
        np.append(series.prior_mean, 0.0),
        np.append(series.prior_precision, 0.0),
        floor=RESOLUTION[series.name],
    )
    low, high = fit.interval(-1)
    own = max(float(np.sqrt(fit.cov[-1, -1])), 1e-9)
    wider = float(np.hypot(own, series.drift_sd)) / own
    per_10 = float(fit.coef[-1])
    low, high = per_10 - wider * (per_10 - low), per_10 + wider * (high - per_10)
    return Drift(per_10, low, high, len(series.y), series.unit)
