"""A coach's own reading error from repeated readings, against statsmodels' analysis of variance."""

import math

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import integrate, optimize, stats
from statsmodels.formula.api import ols

from lanes.motion import ReadingError, reading_error_from

DEFAULT = ReadingError()


def read_again(rng, scale, shots, times=2, freedom=4, name="head_pin"):
    true = rng.normal(17.5, 2.0, shots)
    errors = scale * rng.standard_t(freedom, (shots, times))
    return [[{name: float(x)} for x in row] for row in true[:, None] + errors]


def anova_sd(repeats, name="head_pin"):
    """Error sd as the root of the residual mean square of a one-way analysis of variance."""
    rows = [(i, r[name]) for i, readings in enumerate(repeats) for r in readings]
    table = pd.DataFrame(rows, columns=["shot", "read"])
    found = sm.stats.anova_lm(ols("read ~ C(shot)", data=table).fit())
    return math.sqrt(found.loc["Residual", "mean_sq"])


def test_it_agrees_with_the_analysis_of_variance_on_even_errors():
    # Normal errors, for which that analysis is the best there is.
    rng = np.random.default_rng(1)
    ratios = []
    for _ in range(20):
        repeats = read_again(rng, 0.6, 60, times=3, freedom=1e6)
        ratios.append(reading_error_from(repeats).error.head_pin / anova_sd(repeats))
    assert np.std(ratios) < 0.05
    assert np.mean(ratios) == pytest.approx(_scale_of_normal(), rel=0.04)


def _scale_of_normal():
    """Scale of the Student t (4) that comes nearest to a standard normal (expected score nil)."""

    def score(s):
        return integrate.quad(
            lambda x: (5 * (x / s) ** 2 / (4 + (x / s) ** 2) - 1) * stats.norm.pdf(x), -9, 9
        )[0]

    return optimize.brentq(score, 0.3, 2.0)


def test_heavy_tails_are_read_with_less_scatter_than_an_analysis_of_variance():
    rng = np.random.default_rng(2)
    ours, theirs = [], []
    for _ in range(60):
        repeats = read_again(rng, 0.9, 40)
        ours.append(math.log(reading_error_from(repeats).error.head_pin))
        theirs.append(math.log(anova_sd(repeats)))
    assert np.mean(ours) == pytest.approx(math.log(0.9), abs=0.05)
    assert np.std(ours) < 0.9 * np.std(theirs)


@pytest.mark.parametrize("scale", [0.5, 0.9, 1.6])
def test_the_interval_holds_the_truth(scale):
    rng = np.random.default_rng(3)
    held = []
    for _ in range(100):
        low, high = reading_error_from(read_again(rng, scale, 30)).interval["head_pin"]
        held.append(low < scale < high)
    assert 0.88 <= np.mean(held) <= 0.99


def test_few_repeats_stay_near_the_usual_error_and_say_so():
    rng = np.random.default_rng(4)
    moved = []
    for _ in range(30):
        few = reading_error_from(read_again(rng, 3.0, 2))
        moved.append(math.log(few.error.head_pin / DEFAULT.head_pin))
    assert 0.0 < np.mean(moved) < 0.6 * math.log(3.0 / DEFAULT.head_pin)
    assert "Too few repeats" in few.notes[0]
    assert "head_pin" in few.notes[0]
    many = reading_error_from(read_again(rng, 3.0, 60))
    assert many.error.head_pin == pytest.approx(3.0, rel=0.25)
    assert "head_pin" not in many.notes[0]
    low, high = few.interval["head_pin"]
    assert high / low > many.interval["head_pin"][1] / many.interval["head_pin"][0]


def test_without_repeats_it_is_the_default():
    none = reading_error_from([])
    assert none.error == DEFAULT
    once = reading_error_from([[{"arrows": 12.0}], [{"arrows": 11.0}, {"arrows": math.nan}]])
    assert once.error == DEFAULT
    assert once.repeats["arrows"] == 0


def test_one_slip_of_the_pen_hardly_matters():
    rng = np.random.default_rng(5)
    repeats = read_again(rng, 0.9, 40)
    calm = reading_error_from(repeats).error.head_pin
    repeats[0][0]["head_pin"] += 15.0
    assert reading_error_from(repeats).error.head_pin == pytest.approx(calm, rel=0.12)


def test_an_unknown_check_point_is_named():
    with pytest.raises(ValueError, match="'deck'"):
        reading_error_from([[{"deck": 1.0}, {"deck": 2.0}]])
