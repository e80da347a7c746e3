"""Gains and their intervals against scipy, statsmodels and a closed form."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm
from statsmodels.stats.weightstats import DescrStatsW

from lanes.reading.gains import gain, share

RNG = np.random.default_rng(11)


def test_the_interval_of_a_gain_is_that_of_the_paired_differences():
    """Against statsmodels' quantiles of the differences; the lanes' own spread drops out."""
    lanes = RNG.normal(0.5, 0.2, 400)  # shared by both ways: far wider than what parts them
    way, other = lanes + RNG.normal(0.05, 0.02, 400), lanes + RNG.normal(0.0, 0.02, 400)
    found = gain(way, other)
    stats = DescrStatsW(way - other)
    low, high = stats.quantile([0.05, 0.95], return_pandas=False)
    assert found.mean == pytest.approx(stats.mean)
    assert found.low == pytest.approx(low, abs=0.002)
    assert found.high == pytest.approx(high, abs=0.002)
    unpaired = norm.interval(0.9, 0.05, np.hypot(way.std(), other.std()))
    assert found.high - found.low < 0.2 * (unpaired[1] - unpaired[0])


@pytest.mark.parametrize("model_sd", [0.0, 0.03, 0.07])
def test_the_models_doubt_adds_as_the_sum_of_two_normals_does(model_sd):
    less = norm.ppf((np.arange(20_000) + 0.5) / 20_000, 0.06, 0.04)
    found = gain(less, np.zeros_like(less), model_sd)
    low, high = norm.interval(0.9, 0.06, np.hypot(0.04, model_sd))
    assert (found.low, found.high) == pytest.approx((low, high), abs=5e-4)


def test_a_gain_that_may_be_nothing_is_not_clear():
    assert not gain(np.array([0.02, -0.01, 0.03] * 9), np.zeros(27)).is_clear
    assert gain(np.array([0.02, 0.01, 0.03] * 9), np.zeros(27)).is_clear
    assert not gain(np.array([0.02, 0.01, 0.03] * 9), np.zeros(27), model_sd=0.07).is_clear
    nothing = gain(np.full(24, 0.4), np.full(24, 0.4))
    assert (nothing.mean, nothing.low, nothing.high) == (0.0, 0.0, 0.0)


def test_the_share_of_a_gain_has_the_quantiles_of_a_ratio_of_normals():
    """For a denominator that stays clear of nought, P(X/Y < r) = Phi((r my - mx) / sqrt(sx2 + r2
    sy2)) (Hinkley, Biometrika 56, 1969; from memory): solved here for 5 and 95 per cent."""
    mx, sx, my, sy = 0.14, 0.02, 0.20, 0.02
    found = share(np.full(24, mx), np.full(24, my), sx, sy)
    ratios = np.linspace(0.2, 1.4, 24_001)
    below = norm.cdf((ratios * my - mx) / np.sqrt(sx**2 + ratios**2 * sy**2))
    low, high = np.interp([0.05, 0.95], below, ratios)
    assert found.mean == pytest.approx(0.7)
    assert (found.low, found.high) == pytest.approx((low, high), abs=0.012)


def test_the_same_gain_is_all_of_it_and_nothing_has_no_share():
    whole = RNG.normal(0.3, 0.02, 24)
    same = share(whole, whole)
    assert (same.mean, same.low, same.high) == pytest.approx((1.0, 1.0, 1.0))
    assert share(whole, RNG.normal(0.0, 0.05, 24)) is None
