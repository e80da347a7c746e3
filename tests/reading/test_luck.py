"""Bad luck or a pattern: the distribution of unlike chances, and what a session's hits earn."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from lanes.pins.carry import table
from lanes.reading.luck import (
    FEWEST,
    Count,
    Earned,
    count,
    earned,
    leave_words,
    pocket_words,
    sum_of,
)
from lanes.reading.session import Reader
from lanes.reading.shots import LoggedShot

from .simulator import session
from .test_options import BALLS, RIGHT


@given(st.integers(1, 60), st.floats(0.0, 1.0))
def test_equal_chances_are_the_binomial(n, p):
    expected = stats.binom.pmf(np.arange(n + 1), n, p)
    assert sum_of(np.full((n, 1), p)) == pytest.approx(expected, abs=1e-12)


@given(st.lists(st.floats(0.0, 1.0), min_size=1, max_size=8))
def test_unlike_chances_are_those_of_all_ways_in_which_they_can_happen(chances):
    pmf = np.zeros(len(chances) + 1)
    for ways in product((0, 1), repeat=len(chances)):
        pmf[sum(ways)] += np.prod(
            [p if way else 1 - p for p, way in zip(chances, ways, strict=True)]
        )
    assert sum_of(np.array(chances)[:, None]) == pytest.approx(pmf, abs=1e-12)


def test_a_count_without_doubt_is_tested_as_scipy_tests_it():
    chances = np.full((20, 3), 0.7)
    told = count(9, chances)
    assert told.expected == pytest.approx(14.0)
    assert told.p_fewer == pytest.approx(stats.binom.cdf(9, 20, 0.7))
    assert told.p_more == pytest.approx(stats.binom.sf(8, 20, 0.7))
    assert (told.low, told.high) == tuple(stats.binom.ppf((0.05, 0.95), 20, 0.7))
    # What is in doubt is less surely a pattern.
    assert count(9, chances, doubt=0.5).p > told.p


def test_luck_is_called_a_pattern_as_rarely_as_said():
    """Sessions drawn from the chances themselves: at most one in twenty looks like more."""
    rng = np.random.default_rng(4)
    wrong = 0
    for _ in range(400):
        chances = rng.uniform(0.2, 0.95, (25, 1))
        wrong += count(int((rng.random(25) < chances[:, 0]).sum()), chances).p < 0.05
    assert stats.binomtest(wrong, 400, 0.05, alternative="greater").pvalue > 0.01


def of_pocket(strikes, n=20, chance=0.7):
    shots = [LoggedShot(i, head_pin=17.5, leave="X" if i < strikes else "10") for i in range(n)]
    leaves = np.full((n, 2, 1), 0.06)
    return Earned(tuple(shots), np.full((n, 2), chance), leaves, ((10,),))


def test_the_words_tell_luck_from_a_pattern():
    assert pocket_words(of_pocket(12)).endswith("That is within luck.")
    assert "14 of such hits" in pocket_words(of_pocket(12))
    assert "So few are hardly luck alone" in pocket_words(of_pocket(4))
    assert "So many are hardly luck alone" in pocket_words(of_pocket(20))
    assert pocket_words(of_pocket(4, n=FEWEST - 1)) == ""
    assert pocket_words(None) == ""
    assert leave_words(of_pocket(18).leave("10")) == "about 1.3 expected of these hits"
    assert leave_words(of_pocket(10).leave("10")).endswith("more than luck alone explains")
    # One of a kind is no pattern: in 50 balls with a hundred leaves of one in ten thousand each,
    # some of them comes up in two sessions of five.
    alone = Count(seen=1, of=50, expected=0.005, low=0, high=0, p_fewer=1.0, p_more=0.005)
    assert leave_words(alone) == "hardly any expected of these hits"
    assert leave_words(replace(alone, seen=2)).endswith("more than luck alone explains")
    assert of_pocket(10).leave("2-8-10") is None


def test_what_is_expected_is_what_these_hits_give_when_thrown_again():
    """A session's leaves replaced by falls drawn from the table at its own fitted hits: over many
    such sessions the counts come to what is expected, and a left-hander sees the mirror."""
    shots = session("nothing", 5)
    found = Reader(shots, RIGHT, BALLS, None, True, 1, None)
    found.look()
    right = earned(found.shots, found.first.tolist(), found.physics, "right")
    rng = np.random.default_rng(2)
    per_draw = right.strike.sum(axis=0)
    struck = [
        (rng.random(len(right.shots)) < right.strike[:, rng.integers(right.strike.shape[1])]).sum()
        for _ in range(2000)
    ]
    told = count(0, right.strike)
    assert told.expected == pytest.approx(per_draw.mean())
    assert np.mean(struck) == pytest.approx(told.expected, abs=4 * np.std(struck) / 2000**0.5)
    assert np.mean((np.array(struck) >= told.low) & (np.array(struck) <= told.high)) > 0.9
    assert np.all(right.strike + right.leaves.sum(axis=2) <= 1.0 + 1e-9)
    left = earned(found.shots, found.first.tolist(), found.physics, "left")
    assert left.pins[table().leaves.index((10,))] == (7,)


def test_the_reading_tells_it():
    shots = [replace(s, head_pin=17.5, leave="10" if s.leave != "X" else "X", deck_exit=None)
             for s in session("nothing", 6)]  # fmt: skip
    found = Reader(shots, RIGHT, BALLS, None, True, 1, None).read().as_json()
    assert found["carry"]["balls"] == len(shots)
    assert found["carry"]["low"] <= found["carry"]["expected"] <= found["carry"]["high"]
    (ten,) = found["leaves"]
    assert ten["expected"] < ten["count"]
    assert ten["explained"].startswith("about ")
    few = Reader(shots[:4], RIGHT, BALLS, None, True, 1, None).read().as_json()
    assert few["carry"] is None
