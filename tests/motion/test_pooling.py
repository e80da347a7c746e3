"""Pooled sessions over and over: the release does not lean, and its interval holds the truth.

Truth is drawn from the fit's own priors (``planted.py``): then the mean of error over sd is nil and
95 % intervals hold the truth 95 times in 100, whatever the model. ``fit_coverage --pooled 3`` among
the benchmarks looks at every quantity.
"""

import numpy as np

from lanes.motion import fit_sessions
from lanes.motion.fit import Earlier, fit_earlier, fit_next
from lanes.motion.posterior import Layout, joint_prior
from tests.motion.planted import BALLS, LANE_PRIOR, PRIOR, planted_sessions

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


def test_a_session_that_follows_reads_as_it_does_together():
    """Yesterday's posterior as today's prior, against one fit of all: the same but for little.

    Both start from the same joint prior; what may differ is that the earlier sessions are not
    looked at again in the light of the last.
    """
    off = []
    for seed in range(8):
        _, seen = planted_sessions(seed, 4)
        together = fit_sessions(seen, BALLS, PRIOR)[-1]
        following = fit_next(fit_earlier(seen[:-1], BALLS, PRIOR), seen[-1])
        assert following.converged
        off.append((following.rotation_deg - together.rotation_deg) / together.rotation_sd)
        assert 0.9 < following.rotation_sd / together.rotation_sd < 1.1
        sd = together.entry_angle_sd
        assert np.max(np.abs(following.entry_angle - together.entry_angle) / sd) < 0.4
        apart = np.abs(following.head_pin - together.head_pin)
        assert np.mean(apart) < 0.1
        assert np.max(apart / together.head_pin_sd) < 0.7  # a wild reading may weigh otherwise
    assert np.max(np.abs(off)) < 0.3
    assert abs(np.mean(off)) < 0.1


def test_a_session_after_none_that_tells_anything_has_the_prior_that_it_always_had():
    """With one earlier session whose posterior is its prior, nothing is learned: closed form."""
    layouts = (Layout(2, 1, 0.0, None, "there"), Layout(2, 1, 0.0, None, "there"))
    mean, joint = joint_prior(layouts, PRIOR, LANE_PRIOR)
    half = len(mean) // 2
    nothing = Earlier(
        tuple(BALLS), PRIOR, LANE_PRIOR, layouts[:1], mean[:half], joint[:half, :half]
    )
    there, spread = nothing.prior(layouts[1])
    np.testing.assert_allclose(there, mean[half:], atol=1e-9)
    np.testing.assert_allclose(spread, joint[half:, half:], atol=1e-9)
