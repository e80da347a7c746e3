"""Pooled sessions over and over: the release does not lean, and its interval holds the truth.

Truth is drawn from the fit's own priors (``planted.py``): then the mean of error over sd is nil and
95 % intervals hold the truth 95 times in 100, whatever the model. ``fit_coverage --pooled 3`` among
the benchmarks looks at every quantity.
"""

import numpy as np

from lanes.motion import fit_sessions
from tests.motion.planted import BALLS, PRIOR, planted_sessions

SETS, SESSIONS = 100, 3


def test_the_pooled_release_is_unbiased_and_its_intervals_hold_the_truth():
    off = []
    for seed in range(SETS):
        truths, seen = planted_sessions(seed, SESSIONS)
        fit = fit_sessions(seen, BALLS, PRIOR)[-1]
        assert fit.converged
        off.append((fit.rotation_deg - truths[-1].rotation) / fit.rotation_sd)
    standard_error = np.std(off) / np.sqrt(SETS)
    assert abs(np.mean(off)) < 2.0 * standard_error
    assert 0.90 <= np.mean(np.abs(off) < 1.96) <= 0.98
