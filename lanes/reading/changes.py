"""When something changed during a session: steps and ramps against no change at all.

Every place at which a change could begin is tried, as a step (it was different from then on) and
as a ramp (it grew from then on). What the throw, the ball, the lane and a planned move explain is
taken out first. The evidence is the Bayes factor under a g-prior for linear models (Liang et al.,
J. Am. Stat. Assoc. 103 (2008) 410-423), averaged over places and shapes and added up over the
check-points. A change is reported only when, besides, the same search over sessions of pure noise
with the same gaps and the same correlation between check-points finds as much less than
``FALSE_ALARM`` of the time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .robust import huber
from .series import RESOLUTION, Series

Array = NDArray[np.float64]

FALSE_ALARM = 0.03  # of sessions in which nothing changed
FALSE_SECOND = 0.005  # of sessions with one change: a second needs more evidence
PRIOR = 1.0 / 3.0  # lanes that change within a session: common practice, no source
G = 10.0  # prior variance of a change, in units of what the session could tell
MIN_SIDE = 5  # shots needed on either side of a change
LEAST_P = 0.6  # a change less likely than this is not worth a coach's time
MAX_CHANGES = 2
NOISE_SESSIONS = 399
_CLIP = 3.5  # scales beyond which a reading counts no more


@dataclass(frozen=True)
class Effect:
    """How far one check-point moved through a change, with its standard error."""

    size: float
    sd: float
    unit: str


@dataclass(frozen=True)
class Change:
    """One change: where in the log it began, its shape, its probability, and what moved.

    ``at`` is the index of the first shot after the change, ``low`` and ``high`` the indices that
    hold 90 % of the probability. ``ramp`` is a change that grew until the end.
    """

    at: int
    low: int
    high: int
    ramp: bool
    p: float
    p_noise: float
    effects: dict[str, Effect]


def change_shape(order: NDArray[Any], change: Change, end: float) -> Array:
    """Return the change's course, 0 before and 1 at its full size, at places in the log's order."""
    return _shape(order, change.at + 1.0, change.ramp, end)


@dataclass(frozen=True, eq=False)
class _Prepared:
    """A series with everything known taken out: residuals and what a change would look like."""

    series: Series
    order: Array
    scale: float
    residual: Array  # (n,) clipped, before projection
    projection: Array  # (n, n) takes out level and throw
    shapes: Array  # (candidates, n) every candidate change, projected
    power: Array  # (candidates,) what is left of each candidate


def _candidates(orders: Array) -> list[tuple[float, bool]]:
    """Return ``(place, is ramp)`` of every candidate, places in the log's order."""
    inner = orders[MIN_SIDE : len(orders) - MIN_SIDE + 1]
    starts = np.concatenate([orders[:1], inner])
    return [(float(o), False) for o in inner] + [(float(o), True) for o in starts]


def _shape(order: NDArray[Any], place: float, ramp: bool, end: float) -> Array:
    if ramp:
        return np.asarray(np.maximum(order - place, 0.0) / max(end - place, 1.0))
    return np.asarray(order >= place, dtype=float)


def _prepare(series: Series, candidates: list[tuple[float, bool]], end: float) -> _Prepared:
    known = series.prior_precision > 0
    time = (series.order - series.order.mean()) / max(float(np.ptp(series.order)), 1.0)
    # The scale is taken next to a bend in time, so that a change does not hide in it.
    bend = np.column_stack([series.design, time, time**2, time**3])
    enough = len(series.y) > bend.shape[1] + 2
    fit = huber(
        bend if enough else series.design,
        series.y,
        np.append(series.prior_mean, np.zeros(3)) if enough else series.prior_mean,
        np.append(series.prior_precision, np.zeros(3)) if enough else series.prior_precision,
        floor=RESOLUTION[series.name],
    )
    start = fit.residuals
    # A wild reading is pulled in to the clip, around what the bend says.
    pulled = series.y - start + np.clip(start, -_CLIP * fit.scale, _CLIP * fit.scale)
    known_part = series.design[:, known] @ series.prior_mean[known]
    # (I + D P^-1 D')^-1 with level free: what the throw and the level cannot explain.
    normal = series.design.T @ series.design + fit.scale**2 * np.diag(series.prior_precision)
    projection = np.eye(len(series.y)) - series.design @ np.linalg.pinv(normal) @ series.design.T
    raw = np.array([_shape(series.order, place, ramp, end) for place, ramp in candidates])
    shapes = raw @ projection
    power = np.einsum("cn,cn->c", shapes, raw)
    for i, (place, ramp) in enumerate(candidates):
        after = series.order >= place
        # Too few shots on one side: this check-point has no say on that place.
        if after.sum() < MIN_SIDE or (not ramp and (~after).sum() < MIN_SIDE):
            power[i] = 0.0
    power[power < 1e-6] = 0.0
    return _Prepared(
        series, series.order, fit.scale, pulled - known_part, projection, shapes, power
    )


def _log_evidence(part: _Prepared, residuals: Array) -> Array:
    """Log Bayes factor of each candidate against no change, (candidates, sessions).

    With m degrees of freedom left by level and throw and R2 the candidate's share of what is
    left: (1 + g)^((m - 1) / 2) / (1 + g (1 - R2))^(m / 2), Liang et al. (2008), equation 6.
    """
    freedom = len(part.series.y) - int((part.series.prior_precision == 0).sum())
    found = part.shapes @ residuals
    total = np.einsum("ns,ns->s", residuals, part.projection @ residuals)
    power = np.where(part.power > 0, part.power, np.inf)[:, None]
    share = np.clip(found**2 / power / np.maximum(total, 1e-12), 0.0, 1.0 - 1e-12)
    evidence = 0.5 * (freedom - 1) * np.log1p(G) - 0.5 * freedom * np.log1p(G * (1.0 - share))
    return np.asarray(np.where(part.power[:, None] > 0, evidence, 0.0))


def _log_mean_exp(values: Array) -> Array:
    top = values.max(axis=0)
    return np.asarray(top + np.log(np.mean(np.exp(values - top), axis=0)))


def _correlation(parts: Sequence[_Prepared], length: int) -> Array:
    """Correlation of the check-points' residuals on the same shots, (s, s), positive definite."""
    table = np.full((length, len(parts)), np.nan)
    for j, part in enumerate(parts):
        table[part.series.index, j] = (part.projection @ part.residual) / part.scale
    found = np.eye(len(parts))
    for i in range(len(parts)):
        for j in range(i):
            both = np.isfinite(table[:, i]) & np.isfinite(table[:, j])
            if both.sum() >= 8:
                a, b = table[both, i], table[both, j]
                norm = np.sqrt((a @ a) * (b @ b))
                found[i, j] = found[j, i] = 0.95 * (a @ b) / norm if norm > 0 else 0.0
    values, vectors = np.linalg.eigh(found)
    return np.asarray(vectors @ np.diag(np.maximum(values, 1e-3)) @ vectors.T)


def find_changes(
    series: Sequence[Series],
    length: int,
    seed: int = 1,
    false_alarm: float = FALSE_ALARM,
    most: int = MAX_CHANGES,
) -> list[Change]:
    """Return the changes that all the series together speak for, the clearest first.

    ``length`` is the number of shots in the log that the series' ``index`` points into. Each
    change that is found is taken out before the next is looked for. Empty with too few shots.
    """
    rng = np.random.default_rng(seed)
    found: list[Change] = []
    current = [s for s in series if len(s.y) >= 2 * MIN_SIDE + s.design.shape[1]]
    while current and len(found) < most:
        orders = np.unique(np.concatenate([s.order for s in current]))
        candidates = _candidates(orders)
        end = float(orders[-1])
        parts = [_prepare(s, candidates, end) for s in current]
        change, place = _best(parts, candidates, length, rng)
        if change is None or change.p_noise > false_alarm or change.p < LEAST_P:
            break
        found.append(change)
        false_alarm = min(false_alarm, FALSE_SECOND)
        current = [_without(s, *place, end) for s in current]
    return found


def _best(
    parts: list[_Prepared],
    candidates: list[tuple[float, bool]],
    length: int,
    rng: np.random.Generator,
) -> tuple[Change | None, tuple[float, bool]]:
    """Return the likeliest single change and its place, with its probabilities."""
    correlation = _correlation(parts, length)
    shared = np.abs(correlation - np.eye(len(parts))).sum() / len(parts)
    temper = 1.0 / (1.0 + shared)
    root = np.linalg.cholesky(correlation)
    noise = rng.standard_normal((length, NOISE_SESSIONS, len(parts))) @ root.T
    seen = np.zeros((len(candidates), 1))
    pure = np.zeros((len(candidates), NOISE_SESSIONS))
    for j, part in enumerate(parts):
        seen += temper * _log_evidence(part, part.residual[:, None])
        pure += temper * _log_evidence(part, noise[part.series.index, :, j])
    possible = np.any([part.power > 0 for part in parts], axis=0)
    if not possible.any():
        return None, candidates[0]
    evidence = float(_log_mean_exp(seen[possible])[0])
    by_chance = _log_mean_exp(pure[possible])
    p_noise = (1.0 + float((by_chance >= evidence).sum())) / (1.0 + NOISE_SESSIONS)
    odds = PRIOR / (1.0 - PRIOR) * np.exp(min(evidence, 50.0))
    weight = np.where(possible, np.exp(seen[:, 0] - seen[possible].max()), 0.0)
    is_ramp = np.array([ramp for _, ramp in candidates])
    ramp = bool(weight[is_ramp].sum() > weight[~is_ramp].sum())
    weight = np.where(is_ramp == ramp, weight, 0.0)
    best = int(np.argmax(weight))
    share = np.cumsum(weight) / weight.sum()
    places = [int(place) - 1 for place, _ in candidates]
    effects = {
        part.series.name: Effect(
            float(part.shapes[best] @ part.residual / part.power[best]),
            float(part.scale / np.sqrt(part.power[best])),
            part.series.unit,
        )
        for part in parts
        if part.power[best] > 0
    }
    change = Change(
        at=places[best],
        low=places[int(np.searchsorted(share, 0.05))],
        high=places[int(np.searchsorted(share, 0.95))],
        ramp=ramp,
        p=float(odds / (1.0 + odds)),
        p_noise=p_noise,
        effects=effects,
    )
    return change, candidates[best]


def _without(series: Series, place: float, ramp: bool, end: float) -> Series:
    """Return the series with a change added to what is already explained."""
    shape = _shape(series.order, place, ramp, end)
    return replace(
        series,
        design=np.column_stack([series.design, shape]),
        prior_mean=np.append(series.prior_mean, 0.0),
        prior_precision=np.append(series.prior_precision, 0.0),
    )
