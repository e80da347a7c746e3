"""Simpler ways to answer the same questions, on the same logs: what the reading has to beat.

- CUSUM of the head pin, two-sided, reference half a sd, limit five (Montgomery, Statistical Quality
  Control, from memory), set up on the first twelve good balls; its change began where the sum last
  left nought.
- PELT of ``ruptures`` on the head pin (least squares, penalty 3 sd^2 log n).
- A least-squares trend of the head pin by ``statsmodels``: told where p < 0.05.
- "Change the ball after two flat tens" (a seven for a left-hander), common practice.
- Always stay.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import ruptures
import statsmodels.api as sm

from lanes.reading import series, trends

SET_UP = 12
REFERENCE, LIMIT = 0.5, 5.0
FLAT_WITHIN = 12  # balls between the two
TREND_P = 0.05


def _head_pins(shots) -> tuple[np.ndarray, np.ndarray]:
    index = [i for i, s in enumerate(shots) if s.head_pin is not None and s.throw != "off"]
    return np.array(index), np.array([shots[i].head_pin for i in index], dtype=float)


def _sd(values: np.ndarray) -> float:
    """The sd that successive differences speak for, as control charts take it."""
    return max(float(np.mean(np.abs(np.diff(values))) / 1.128), 0.5)


def cusum(shots) -> dict[str, Any]:
    """Return where the CUSUM first told of a change, and where that began; -1 for none."""
    index, values = _head_pins(shots)
    if len(values) <= SET_UP:
        return {"told": -1, "at": -1, "way": 0}
    mean, sd = float(values[:SET_UP].mean()), _sd(values[:SET_UP])
    up = down = 0.0
    up_from = down_from = SET_UP
    for i in range(SET_UP, len(values)):
        z = (values[i] - mean) / sd
        up, down = max(0.0, up + z - REFERENCE), max(0.0, down - z - REFERENCE)
        up_from = i + 1 if up == 0.0 else up_from
        down_from = i + 1 if down == 0.0 else down_from
        if up > LIMIT or down > LIMIT:
            begun = up_from if up > LIMIT else down_from
            return {"told": int(index[i]), "at": int(index[begun]), "way": 1 if up > LIMIT else -1}
    return {"told": -1, "at": -1, "way": 0}


def pelt(shots) -> dict[str, Any]:
    """Return the first break that PELT finds in the head pin; -1 for none."""
    index, values = _head_pins(shots)
    if len(values) < 10:
        return {"at": -1, "way": 0}
    penalty = 3.0 * _sd(values) ** 2 * np.log(len(values))
    found = ruptures.Pelt(model="l2", min_size=5, jump=1).fit(values).predict(pen=penalty)[:-1]
    if not found:
        return {"at": -1, "way": 0}
    later, before = values[found[-1] :].mean(), values[: found[0]].mean()
    return {"at": int(index[found[0]]), "way": 1 if later > before else -1}


def trend(shots, true_drift: float | None) -> dict[str, Any]:
    """Return the least-squares trend, boards in ten balls, its 90 % interval, whether told."""
    index, values = _head_pins(shots)
    if len(values) < 8:
        return {"told": False, "way": 0, "row": None}
    fit = sm.OLS(values, sm.add_constant((index + 1.0) / 10.0)).fit()
    low, high = fit.conf_int(alpha=0.10)[1]
    row = None
    if true_drift is not None:
        row = [round(float(v), 3) for v in (fit.params[1], low, high, true_drift)]
    return {
        "told": bool(fit.pvalues[1] < TREND_P),
        "way": 1 if fit.params[1] > 0 else -1,
        "row": row,
    }


def two_flat(shots, hand: str) -> int:
    """Return the index of the ball after whose flat corner the rule changes the ball; -1: never."""
    corner = "10" if hand == "right" else "7"
    flat = [i for i, s in enumerate(shots) if s.leave == corner and s.neighbour_pin == "flat"]
    for before, after in pairwise(flat):
        if after - before <= FLAT_WITHIN:
            return after
    return -1


def all_of(shots, hand: str, true_drift: float | None) -> dict[str, Any]:
    """Return what every rival says of one log."""
    return {
        "cusum": cusum(shots),
        "pelt": pelt(shots),
        "trend": trend(shots, true_drift),
        "two flat": two_flat(shots, hand),
    }


def drift_against_statsmodels(shots) -> float | None:
    """Return the greatest difference of a drift from ``statsmodels`` RLM on the same numbers.

    Of the arrows, whose drift the reading takes without prior slopes, so that both are asked the
    same: Huber's M-estimate with levels for lines, boards in ten balls.
    """
    use = np.array([s.throw != "off" for s in shots])
    values = series.column(shots, "arrows")
    found = series.build("arrows", values, shots, use, throw=False)
    ours = trends.drift(found)
    if found is None or ours is None:
        return None
    time = (found.order - found.order.mean()) / 10.0
    design = np.column_stack([found.design, time])
    theirs = sm.RLM(found.y, design, M=sm.robust.norms.HuberT()).fit(
        scale_est=_Floored(series.RESOLUTION["arrows"]), tol=1e-10, maxiter=500
    )
    return round(abs(float(theirs.params[-1]) - ours.per_10), 5)


class _Floored:
    """The median scale of statsmodels, never below the rounding of readings, as ours is."""

    def __init__(self, floor: float) -> None:
        self.floor = floor

    def __call__(self, model, resid) -> float:
        return max(float(sm.robust.scale.mad(resid, center=0.0)), self.floor)
