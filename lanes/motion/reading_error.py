"""A coach's own reading error, from the same shots read more than once.

Repeated readings of a shot (a clip looked at again, two people at the lane) differ by their errors
alone. Their scale is that of a Student t with the fit's degrees of freedom, found as most probable
under a prior at the default error, so that a few repeats move it a little and many decide.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from .problem import T_FREEDOM
from .seen import SEEN, ReadingError

Array = NDArray[np.float64]

_PRIOR_SD = 0.5  # of the log of an error: between 0.4 and 2.7 times the default (assumed)
# Readings more than shots, at a check-point, below which the default is named instead (assumed: the
# 95 % interval of eight repeats still reaches from 0.6 to 1.7 times what they show).
FEWEST = 8
_NORMAL_95 = 1.96

# The least error that is believed. Half boards, whole feet and tens of rpm are written down, which
# alone makes an error of half a step over sqrt(3), spread evenly; two readings that agree show no
# less. At 60 ft half a board cannot be told apart (one coaching page; FACTS section 10): there it
# is half a board either way.
FINEST = {
    "laydown": 0.25 / math.sqrt(3.0),
    "arrows": 0.25 / math.sqrt(3.0),
    "breakpoint": 0.25 / math.sqrt(3.0),
    "breakpoint_ft": 0.5 / math.sqrt(3.0),
    "head_pin": 0.5 / math.sqrt(3.0),
    "speed_mph": 0.05 / math.sqrt(3.0),
    "rev_rpm": 5.0 / math.sqrt(3.0),
}
_ROUND = dict.fromkeys(SEEN, 0.05) | {"breakpoint_ft": 0.1, "speed_mph": 0.02, "rev_rpm": 1.0}
_FAR, _FINE = 8.0, 0.125  # reach and mesh of the sum over what was really there, in scales
# Scales tried, as logs against the default: from past a hair's breadth to past any eye.
_TRIED = np.linspace(-3.0, 3.0, 61)


@dataclass(frozen=True)
class ErrorEstimate:
    """An estimated reading error.

    ``interval`` holds the 95 % interval at each check-point, ``repeats`` the number of readings
    more than shots that it rests on, ``notes`` where they are too few to say.
    """

    error: ReadingError
    interval: dict[str, tuple[float, float]]
    repeats: dict[str, int]
    notes: list[str]


def reading_error_from(
    repeats: Sequence[Sequence[dict[str, float]]], default: ReadingError | None = None
) -> ErrorEstimate:
    """Return the reading error that repeated readings of the same shots show.

    ``repeats`` has an entry a shot: two or more readings, each a dict from a check-point's name
    (``lanes.motion.seen.SEEN``) to what was read, with what was not read left out or nan. Raises
    ``ValueError`` for an unknown name.
    """
    default = default or ReadingError()
    for readings in repeats:
        for name in (name for reading in readings for name in reading):
            if name not in SEEN:
                raise ValueError(f"repeats: {name!r} given, one of {', '.join(SEEN)} expected")
    sizes: dict[str, float] = {}
    interval: dict[str, tuple[float, float]] = {}
    count: dict[str, int] = {}
    few = []
    for name in SEEN:
        shots = [
            np.array([r[name] for r in readings if math.isfinite(r.get(name, math.nan))])
            for readings in repeats
        ]
        shots = [shot for shot in shots if len(shot) > 1]
        count[name] = sum(len(shot) - 1 for shot in shots)
        usual = getattr(default, name)
        log, sd = _most_probable(shots, usual)
        sizes[name] = usual * math.exp(log)
        interval[name] = (
            usual * math.exp(log - _NORMAL_95 * sd),
            usual * math.exp(log + _NORMAL_95 * sd),
        )
        if count[name] < FEWEST:
            few.append(name)
    notes = []
    if few:
        notes.append(
            f"Too few repeats to tell the reading error of: {', '.join(few)}. "
            f"At least {FEWEST} second readings are needed; until then mostly the usual error."
        )
    return ErrorEstimate(replace(default, **sizes), interval, count, notes)


def error_to_use(
    estimate: ErrorEstimate, default: ReadingError | None = None
) -> tuple[ReadingError, tuple[str, ...]]:
    """Return the error for a fit, and the check-points where it is the coach's own.

    The usual error stands where there are too few repeats. An own one is no less than what repeats
    can show (``FINEST``), and rounded, so that one repeat more does not change every reading.
    """
    default = default or ReadingError()
    own = tuple(name for name in SEEN if estimate.repeats[name] >= FEWEST)
    sizes = {
        name: max(FINEST[name], _ROUND[name] * round(getattr(estimate.error, name) / _ROUND[name]))
        for name in own
    }
    return replace(default, **{name: round(size, 3) for name, size in sizes.items()}), own


def _most_probable(shots: Sequence[Array], usual: float) -> tuple[float, float]:
    """Return the log of the scale against the usual one, and its sd."""
    if not shots:
        return 0.0, _PRIOR_SD
    # Only how readings differ counts, and people write half boards: few kinds of shots, many alike.
    kinds = Counter(tuple(np.round(np.sort(shot - shot.min()), 6).tolist()) for shot in shots)

    def cost(log: float) -> float:
        scale = usual * math.exp(log)
        told = sum(
            times * _log_evidence(np.array(kind) / scale, scale) for kind, times in kinds.items()
        )
        return 0.5 * (log / _PRIOR_SD) ** 2 - told

    costs = np.array([cost(log) for log in _TRIED])
    # The least lies on the parabola through the best of the scales tried and its two neighbours.
    best = int(np.clip(np.argmin(costs), 1, len(costs) - 2))
    before, here, after = costs[best - 1 : best + 2]
    step = float(_TRIED[1] - _TRIED[0])
    bend = max((before + after - 2.0 * here) / step**2, 1.0 / _PRIOR_SD**2)
    log = float(_TRIED[best] + (before - after) / (2.0 * step) / bend)
    return log, 1.0 / math.sqrt(bend)


def _log_evidence(readings: Array, scale: float) -> float:
    """Log density of a shot's readings, in scales, with what was really there left open.

    The true board is anything; it is summed out over a grid fine against one error.
    """
    middle = np.arange(readings.min() - _FAR, readings.max() + _FAR, _FINE)
    off = readings[:, None] - middle[None, :]
    tails = -0.5 * (T_FREEDOM + 1.0) * np.log1p(off**2 / T_FREEDOM)
    total = tails.sum(axis=0)
    peak = float(total.max())
    summed = float(np.exp(total - peak).sum()) * _FINE
    return peak + math.log(summed) - (len(readings) - 1) * math.log(scale)
