"""Robust linear regression with prior knowledge of some coefficients.

Readings by eye have heavy tails, so every trend is a Huber M-estimate: squares for ordinary
residuals, absolute values beyond 1.345 scales (P. J. Huber, Robust Statistics, 1981). Without a
prior the estimate and its covariance are those of ``statsmodels`` RLM with HuberT (checked in the
tests).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

Array = NDArray[np.floating[Any]]

HUBER = 1.345  # 95 % efficient when the errors are normal
_MAD_TO_SD = 0.6744897501960817  # median absolute deviation of a unit normal
_ROUNDS = 50
_TINY = 1e-9


@dataclass(frozen=True, eq=False)
class RobustFit:
    """Coefficients (p,), their covariance (p, p), residual scale and degrees of freedom."""

    coef: Array
    cov: Array
    scale: float
    dof: int
    residuals: Array

    def interval(self, column: int, level: float = 0.95) -> tuple[float, float]:
        """Return the two-sided Student interval of one coefficient."""
        half = stdtrit(self.dof, 0.5 + level / 2.0) * np.sqrt(self.cov[column, column])
        return float(self.coef[column] - half), float(self.coef[column] + half)


def median_sd(values: Array, centre: float | None = None) -> float:
    """Return the standard deviation that the median absolute deviation speaks for."""
    centre = float(np.median(values)) if centre is None else centre
    return float(np.median(np.abs(values - centre))) / _MAD_TO_SD


_KEPT = 0.9
_TRIMMED_MEAN = 0.6573  # mean of |z| over the nearest 90 % of a unit normal


def trimmed_sd(deviations: Array) -> float:
    """Return the standard deviation that the nearest nine tenths of the deviations speak for.

    As blind to a few wild readings as the median, and not as coarse when readings are rounded.
    """
    size = np.sort(np.abs(deviations))
    kept = size[: max(1, int(np.ceil(_KEPT * len(size))))]
    return float(kept.mean()) / _TRIMMED_MEAN


def huber(
    design: Array,
    y: Array,
    prior_mean: Array | None = None,
    prior_precision: Array | None = None,
    floor: float = _TINY,
) -> RobustFit:
    """Fit ``y`` (n,) on ``design`` (n, p) by Huber's M-estimate.

    ``prior_mean`` and ``prior_precision`` (p,), in 1 / variance, hold what is known of each
    coefficient beforehand (precision 0: nothing). ``floor`` keeps the scale from falling below
    the rounding of the readings. Needs n > p.
    """
    n, p = design.shape
    mean = np.zeros(p) if prior_mean is None else prior_mean
    precision = np.zeros(p) if prior_precision is None else prior_precision
    free = int((precision == 0).sum())
    weights: Array = np.ones(n)
    coef: Array = np.zeros(p)
    scale = 1.0
    for round_ in range(_ROUNDS):
        spread = scale**2 if round_ else max(float(np.var(y)), _TINY)
        normal = (design.T * weights) @ design + spread * np.diag(precision)
        right = design.T @ (weights * y) + spread * precision * mean
        new: Array = np.linalg.lstsq(normal, right, rcond=None)[0]
        residuals = y - design @ new
        scale = max(median_sd(residuals, 0.0), floor)
        far = np.abs(residuals) / scale
        weights = np.minimum(1.0, HUBER / np.maximum(far, _TINY))
        if np.max(np.abs(new - coef)) < 1e-8 * (1.0 + np.max(np.abs(new))) and round_:
            coef = new
            break
        coef = new
    # Huber's H1 covariance: psi is the clipped residual, psi' one inside the clip and 0 beyond.
    psi = np.clip(residuals / scale, -HUBER, HUBER)
    slope = (np.abs(residuals / scale) <= HUBER).astype(float)
    inside = max(slope.mean(), 1.0 / n)
    correction = 1.0 + p / n * slope.var() / inside**2
    dof = max(n - free, 1)
    variance = correction**2 * scale**2 * (psi @ psi) / max(n - free, 1) / inside**2
    cov = np.linalg.pinv(design.T @ design / max(variance, _TINY) + np.diag(precision))
    return RobustFit(coef, cov, float(scale), dof, residuals)
