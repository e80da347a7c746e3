"""How readings scatter: against plain covariances, scipy's Student t, and least squares.

What is drawn here is a linear lane: throws scatter, check-points follow by fixed slopes, and
readings err with wild tails.
"""

import numpy as np
import pytest
from scipy import stats

from lanes.motion.problem import T_FREEDOM
from lanes.motion.seen import SEEN, ReadingError
from lanes.reading.exits import USUAL, exit_per_board, marks_with_exits, with_exits
from lanes.reading.explanations import ROUGH_MARKS
from lanes.reading.noise import CHECKPOINTS, PLACE, PRIOR_SHOTS, noise, usual_scatter
from lanes.reading.series import ROUGH_SENSITIVITY
from lanes.reading.shots import LoggedShot
from lanes.reading.together import look_together

EXACT = ReadingError(**dict.fromkeys(SEEN, 1e-4))
PINS = PLACE["head_pin"]
N = len(CHECKPOINTS)


def scatter(seed, n):
    usual = usual_scatter(ROUGH_SENSITIVITY)
    return np.random.default_rng(seed).multivariate_normal(np.zeros(N), usual, n)


def test_exact_readings_leave_their_own_covariance_and_the_usual_one():
    """Closed form: sum of squares and the prior's, over all that count. Exits are never exact."""
    left = scatter(1, 40)
    left[:, PLACE["deck_exit"]] = np.nan
    found = noise(left, ROUGH_SENSITIVITY, EXACT)
    read = [place for place in range(N) if place != PLACE["deck_exit"]]
    at = np.ix_(read, read)
    squares = left[:, read].T @ left[:, read]
    usual = usual_scatter(ROUGH_SENSITIVITY)[at]
    closed = (squares + PRIOR_SHOTS * usual) / (40 + PRIOR_SHOTS)
    assert found[:, *at] == pytest.approx(np.broadcast_to(closed, (40, *closed.shape)), rel=2e-3)


def test_many_readings_tell_the_scatter_through_their_errors():
    """Correlations within a tenth: errors and their weights are found in turn, not together."""
    error = ReadingError()
    scale = np.array([getattr(error, name, 1.0) for name in CHECKPOINTS])
    drawn = stats.t(T_FREEDOM).rvs((4000, N), random_state=3)
    found = noise(scatter(2, 4000) + scale * drawn, ROUGH_SENSITIVITY, error)
    true = usual_scatter(ROUGH_SENSITIVITY)
    size = np.sqrt(np.outer(np.diag(true), np.diag(true)))
    off_diagonal = ~np.eye(N, dtype=bool)
    told = (found[0] / size)[off_diagonal]
    assert told == pytest.approx((true / size)[off_diagonal], abs=0.1)


def test_a_wild_reading_counts_less_and_its_neighbours_as_before():
    left = scatter(4, 40)
    calm = noise(left, ROUGH_SENSITIVITY, ReadingError())
    left[7, PINS] += 8.0
    wild = noise(left, ROUGH_SENSITIVITY, ReadingError())
    of_pins = wild[:, PINS, PINS] / calm[:, PINS, PINS]
    assert of_pins[7] > 3.0
    assert np.delete(of_pins, 7) == pytest.approx(1.0, abs=0.25)
    arrows = PLACE["arrows"]
    assert wild[7, arrows, arrows] == pytest.approx(calm[7, arrows, arrows], rel=0.1)


def rolled(seed, n=48, step=0.0):
    """A session whose readings err as ``ReadingError`` says; from the middle on the head pin comes
    in ``step`` boards higher, the rest as a drier mid lane makes it.
    """
    rng = np.random.default_rng(seed)
    thrown = rng.standard_normal((n, 3)) * (0.7, 0.4, 0.2)
    arrows, laydown, speed = thrown.T
    arrows = arrows + laydown
    slopes, late = ROUGH_SENSITIVITY.mean, np.arange(n) >= n // 2
    unread = 0.6 * rng.standard_normal(n)

    def down(name, mark, own):
        of_throw = sum(
            slopes[name, what] * values
            for what, values in (("arrows", arrows), ("laydown", laydown), ("speed_mph", speed))
        )
        lane = ROUGH_MARKS["mid"][name] / ROUGH_MARKS["mid"]["head_pin"] * step * late
        return of_throw + mark * unread + lane + own * rng.standard_normal(n)

    columns = {
        "arrows": 11.5 + arrows,
        "laydown": 20.0 + laydown,
        "breakpoint": 8.0 + down("breakpoint", 0.45, 0.6),
        "breakpoint_ft": 40.0 + down("breakpoint_ft", -0.5, 1.3),
        "head_pin": 17.5 + down("head_pin", 1.0, 0.5),
    }
    read = {
        name: values + getattr(ReadingError(), name) * stats.t(T_FREEDOM).rvs(n, random_state=rng)
        for name, values in columns.items()
    }
    return [
        LoggedShot(
            i + 1, ball="A", stand=26.0, aim=11.5, speed_mph=float(17.5 + speed[i]),
            **{name: float(values[i]) for name, values in read.items()},
        )
        for i in range(n)
    ]  # fmt: skip


def told_step(shots):
    """The step of the head pin that all check-points tell together, as a drier mid lane makes it,
    its standard error, and that of least squares on the head pin alone."""
    seen = look_together(shots, np.ones(len(shots), dtype=bool), ROUGH_SENSITIVITY)
    late = (seen.index >= len(shots) // 2).astype(float)
    told, pull = seen.pull(late[None, :])
    mark = np.zeros(N)
    for name, value in ROUGH_MARKS["mid"].items():
        if name != "deck_exit":
            mark[PLACE[name]] = value / ROUGH_MARKS["mid"]["head_pin"]
    size = float(mark @ told[0] @ mark)
    pins = np.array([s.head_pin for s in shots])
    plain = pins[late > 0].mean() - pins[late == 0].mean()
    return float(mark @ pull[0]) / size, size**-0.5, plain


def test_a_step_is_told_without_bias_as_surely_as_it_says_and_better_than_by_means():
    """Over 200 sessions: the mean within 2.6 standard errors, the spread within 15 % of the
    standard error told, and at most 0.85 of that of the difference of two means."""
    rows = np.array([told_step(rolled(seed, step=2.0)) for seed in range(200)])
    off, told, plain = rows[:, 0] - 2.0, rows[:, 1], rows[:, 2] - 2.0
    assert abs(off.mean()) < 2.6 * off.std() / np.sqrt(200)
    assert off.std() == pytest.approx(np.sqrt(np.mean(told**2)), rel=0.15)
    assert off.std() < 0.85 * plain.std()


def shots_with_exits(per_board, seed=1, n=40):
    rng = np.random.default_rng(seed)
    pins = 17.5 + 1.5 * rng.standard_normal(n)
    exits = 19.0 + per_board * (pins - 17.5) + 0.8 * rng.standard_normal(n)
    return [
        LoggedShot(i + 1, ball="A", head_pin=float(pins[i]), deck_exit=float(exits[i]))
        for i in range(n)
    ]


@pytest.mark.parametrize("per_board", [1.5, 3.0, 5.0])
def test_the_exit_follows_the_head_pin_as_this_sessions_hits_say(per_board):
    """Against scipy's regression: nearer to it than to what was known before."""
    shots = shots_with_exits(per_board)
    found = exit_per_board(shots, np.ones(len(shots), dtype=bool))
    slope = stats.linregress([s.head_pin for s in shots], [s.deck_exit for s in shots]).slope
    assert found == pytest.approx(slope, abs=0.15)
    assert exit_per_board(shots[:2], np.ones(2, dtype=bool)) == USUAL


def test_whatever_moves_the_head_pin_moves_the_exit_by_that_slope():
    sensitivity = with_exits(ROUGH_SENSITIVITY, 3.0)
    marks = marks_with_exits(ROUGH_MARKS, 3.0)
    for thrown in ("arrows", "laydown", "speed_mph", "rev_rpm"):
        at_pins = sensitivity.mean["head_pin", thrown]
        assert sensitivity.mean["deck_exit", thrown] == pytest.approx(3.0 * at_pins)
    assert all(m["deck_exit"] == pytest.approx(3.0 * m["head_pin"]) for m in marks.values())
    others = {key for key in sensitivity.mean if key[0] != "deck_exit"}
    assert all(sensitivity.mean[key] == ROUGH_SENSITIVITY.mean[key] for key in others)
