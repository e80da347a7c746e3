"""How often the fit's 95 % intervals hold the truth, over made-up sessions.

    python -m tests.benchmarks.fit_coverage [SESSIONS] [--pooled 3] [--rigid]

Truth is drawn from the stated priors, within the calibration's bounds: 40 shots with two balls,
heavy-tailed reading errors, a fifth of the readings missing. ``--rigid`` lets rigid balls with
layouts drawn at random throw it, whose unequal moments the fit does not know. ``--pooled`` fits so
many sessions of a student together and looks at the last; beside it stands what that session says
alone.
"""

from __future__ import annotations

import argparse
import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from lanes.motion import SessionFit, fit_session, fit_sessions
from lanes.motion.fit import MODEL_ANGLE_SD
from tests.motion.planted import BALLS, PRIOR, SHOTS, Truth, planted_sessions

Array = NDArray[np.float64]

NORMAL_95 = 1.96
_MIDDLE = SHOTS // 2
_KINDS = {
    "launch direction": "deg",
    "laydown": "boards",
    "head pin": "boards",
    "entry angle": "deg",
    "entry angle, model's doubt left out": "deg",
    "drift, front": "in 10 balls",
    "drift, mid": "in 10 balls",
    "drift, back": "in 10 balls",
    "ball ratio": "log",
    "rotation": "deg",
    "ball x lane friction": "log",
}


def looked_at(fit: SessionFit, truth: Truth) -> Iterator[tuple[Array, Array]]:
    """Yield error and stated sd of each quantity, in the order of ``_KINDS``."""
    on = np.isfinite(truth.angle)  # not the balls in the gutter
    yield fit.launches[:, 1] - truth.launches[:, 1], fit.launches_sd[:, 1]
    yield fit.launches[:, 0] - truth.launches[:, 0], fit.launches_sd[:, 0]
    yield (fit.head_pin - truth.head_pin)[on], fit.head_pin_sd[on]
    angle = (fit.entry_angle - truth.angle)[on]
    yield angle, fit.entry_angle_sd[on]
    yield angle, np.sqrt(fit.entry_angle_sd**2 - MODEL_ANGLE_SD**2)[on]
    for i in range(3):
        yield fit.drift[i : i + 1] - truth.drift[i], fit.drift_sd[i : i + 1]
    ratio, ratio_sd = fit.ball_ratio(0, 1)
    yield _log(ratio, ratio_sd, truth.scale[0] - truth.scale[1])
    yield np.array([fit.rotation_deg - truth.rotation]), np.array([fit.rotation_sd])
    product, product_sd = fit.friction(0, _MIDDLE)
    yield _log(product, product_sd, truth.friction(0, _MIDDLE))


def _log(value: float, sd: float, true_log: float) -> tuple[Array, Array]:
    return np.array([math.log(value) - true_log]), np.array([sd / value])


def measured(
    sessions: int, pooled: int = 1, rigid: bool = False, alone: bool = False
) -> dict[str, tuple[float, float, float]]:
    """Return for each quantity: share of truth within 95 %, mean of error / sd, median sd."""
    found: dict[str, list[tuple[Array, Array]]] = {name: [] for name in _KINDS}
    for seed in range(sessions):
        truths, seen = planted_sessions(seed, pooled, rigid=rigid)
        if alone:
            fit = fit_session(seen[-1].shots, BALLS, PRIOR, None)
        else:
            fit = fit_sessions(seen, BALLS, PRIOR)[-1]
        for name, pair in zip(_KINDS, looked_at(fit, truths[-1]), strict=True):
            found[name].append(pair)
    out = {}
    for name, pairs in found.items():
        off, sd = (np.concatenate(column) for column in zip(*pairs, strict=True))
        share = float(np.mean(np.abs(off) < NORMAL_95 * sd))
        out[name] = (share, float(np.mean(off / sd)), float(np.median(sd)))
    return out


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("sessions", type=int, nargs="?", default=200)
    parser.add_argument("--pooled", type=int, default=1)
    parser.add_argument("--rigid", action="store_true")
    options = parser.parse_args()
    print(
        f"{options.sessions} times {options.pooled} session(s) of {SHOTS} shots, "
        f"{'rigid balls' if options.rigid else 'the reduced model'}"
    )
    print(f"{'':36}{'in 95 %':>9}{'mean z':>8}{'median sd':>11}")
    table = measured(options.sessions, options.pooled, options.rigid)
    alone = {}
    if options.pooled > 1:
        alone = measured(options.sessions, options.pooled, options.rigid, alone=True)
    for name, (share, shift, sd) in table.items():
        besides = ""
        if alone:
            once = alone[name]
            besides = f"   alone {once[0]:.1%}, {once[1]:.2f}, {once[2]:.3f}"
        print(f"{name:36}{share:>9.1%}{shift:>8.2f}{sd:>11.3f} {_KINDS[name]}{besides}")


if __name__ == "__main__":
    main()
