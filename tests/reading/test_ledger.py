"""The ledger's scores, against statsmodels, hand-worked examples and the published definitions."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint
from statsmodels.stats.weightstats import DescrStatsW

from lanes.reading import ledger
from lanes.reading.ledger import Advised, Outcome, Piece, Share
from lanes.reading.shots import LoggedShot


def log(leaves: str, **columns) -> list[LoggedShot]:
    """Return first balls, one a letter: X a strike, anything else a ten pin."""
    return [
        LoggedShot(shot=n, leave="X" if leave == "X" else "10", **columns)
        for n, leave in enumerate(leaves, start=1)
    ]


def some(made: int, of: int) -> Outcome:
    none = ledger.mean_of([])
    return Outcome(of, Share(made, of), Share(0, 0), none, None)


# Shares and means


@pytest.mark.parametrize(("made", "of"), [(0, 10), (3, 10), (10, 10), (7, 20), (199, 400)])
def test_a_share_has_wilsons_interval_as_statsmodels_computes_it(made, of):
    low, high = proportion_confint(made, of, alpha=0.10, method="wilson")
    assert Share(made, of).interval == pytest.approx((low, high), abs=1e-12)


def test_a_mean_of_boards_has_students_interval_as_statsmodels_computes_it():
    boards = np.random.default_rng(3).normal(17.2, 0.8, 18)
    found = ledger.mean_of(list(boards))
    assert (found.low, found.high) == pytest.approx(
        DescrStatsW(boards).tconfint_mean(alpha=0.10), abs=1e-10
    )


def test_ten_shots_are_the_fewest_that_show_a_rate():
    assert Share(4, 9).rate is None
    assert Share(4, 9).interval is None
    assert Share(4, 10).rate == 0.4
    assert ledger.mean_of([17.0] * 9).value is None


# Which balls score


def test_the_balls_that_score_end_with_the_ball_the_line_or_other_advice():
    shots = log("XXoXXoXXXX", ball="A", stand=25.0, aim=12.0)
    assert [s.shot for s in ledger.scoring_balls(shots, 4)] == list(range(4, 11))
    assert [s.shot for s in ledger.scoring_balls(shots, 4, stop=8)] == [4, 5, 6, 7]
    other = [*shots[:6], *(LoggedShot(shot=n, leave="X", ball="B") for n in (7, 8))]
    assert [s.shot for s in ledger.scoring_balls(other, 4)] == [4, 5, 6]
    moved = [*shots[:6], *(LoggedShot(shot=n, leave="X", ball="A", stand=28.0) for n in (7, 8))]
    assert [s.shot for s in ledger.scoring_balls(moved, 4)] == [4, 5, 6]
    assert [s.shot for s in ledger.balls_before(moved, 9)] == [7, 8]
    assert [s.shot for s in ledger.balls_before(moved, 7)] == [1, 2, 3, 4, 5, 6]
    assert len(ledger.scoring_balls(log("X" * 40), 1)) == ledger.MOST_BALLS


def test_second_balls_and_fouls_score_nothing():
    shots = [
        LoggedShot(shot=1, leave="3-6", frame=1),
        LoggedShot(shot=2, leave="/", frame=1, delivery=2),
        LoggedShot(shot=3, leave="X", frame=2, foul=True),
        LoggedShot(shot=4, leave="X", frame=3),
        LoggedShot(shot=5, leave="", head_pin=17.5, frame=4),
    ]
    found = ledger.outcome(ledger.scoring_balls(shots, 1))
    assert (found.balls, found.strikes, found.pocket) == (3, Share(1, 2), Share(1, 1))
    assert found.until == 5


def test_a_move_that_the_log_shows_is_proposed_and_one_ball_is_not_enough():
    before = log("oooooo", ball="A", stand=25.0, aim=12.0)
    after = [
        LoggedShot(shot=7, leave="X", ball="A", stand=27.0, aim=13.0),
        LoggedShot(shot=8, leave="X", ball="A", stand=25.0, aim=12.0),
        LoggedShot(shot=9, leave="X", ball="A", stand=27.5, aim=13.0),
        LoggedShot(shot=10, leave="X", ball="A", stand=27.0),
    ]
    two_one = Advised("move", "A", feet=2.0, eyes=1.0)
    assert ledger.taken_at(before + after, two_one, before, after=6) == 9
    assert ledger.taken_at(before + after[:3], two_one, before, after=6) is None
    assert ledger.taken_at(before + after, Advised("move", "A", -2.0, -1.0), before, 6) is None
    # The cover's surface does not show in a log, and what does not move shows nothing.
    assert ledger.taken_at(before + after, Advised("surface", "A", 2.0, 1.0), before, 6) is None
    assert ledger.taken_at(before * 2, Advised("stay", "A"), before, 0) is None


def test_another_ball_that_the_log_shows_is_proposed():
    before = log("oooo", ball="A")
    after = [LoggedShot(shot=n, leave="X", ball="B") for n in (5, 6, 7)]
    assert ledger.taken_at(before + after, Advised("ball", "B"), before, after=4) == 5
    assert ledger.taken_at(before + after, Advised("ball", "C"), before, after=4) is None
    assert ledger.taken_at(before + after, Advised("ball", "B"), before, after=5) == 6


# Scores


def test_brier_by_a_worked_example():
    """By hand, with the definition of G. W. Brier (1950) for one of two events, as scikit-learn's
    brier_score_loss documents it: mean((p - o)^2).

    Five pieces of four balls: 0.5 with 2 of 4, 0.25 with 1, 0.75 with 3, 0.5 with 1, 1.0 with 4.
    Lost: 4(.25)=1; .5625+3(.0625)=.75; 3(.0625)+.5625=.75; 4(.25)=1; 0. Sum 3.5 of 20 = 0.175.
    The other pieces' shares are 9/16, 10/16, 8/16, 10/16, 7/16; with them as predictions the same
    sum gives 1.015625 + 1.3125 + 1 + 1.3125 + 1.265625 = 5.90625, of 20 = 0.2953125.
    """
    pairs = [
        (0.5, Share(2, 4)), (0.25, Share(1, 4)), (0.75, Share(3, 4)),
        (0.5, Share(1, 4)), (1.0, Share(4, 4)),
    ]  # fmt: skip
    found = ledger.brier(pairs)
    assert (found.pieces, found.balls) == (5, 20)
    assert found.score == pytest.approx(0.175)
    assert found.of_base_rate == pytest.approx(0.2953125)
    assert found.skill == pytest.approx(1 - 0.175 / 0.2953125)
    # Ball by ball, written out: the definition itself.
    balls = [(p, o) for p, s in pairs for o in [1] * s.made + [0] * (s.of - s.made)]
    assert found.score == pytest.approx(np.mean([(p - o) ** 2 for p, o in balls]))
    assert found.skill_low < found.skill < found.skill_high
    assert ledger.brier(pairs) == found  # seeded


def test_a_forecaster_who_says_the_base_rate_has_no_skill():
    found = ledger.brier([(0.4, Share(4, 10))] * 6)
    assert found.skill == pytest.approx(0.0)


def test_too_few_pieces_show_no_score_and_balls_that_all_struck_no_skill():
    few = ledger.brier([(0.5, Share(5, 20))] * 4)
    assert (few.pieces, few.balls, few.score, few.skill) == (4, 80, None, None)
    sure = ledger.brier([(0.9, Share(4, 4))] * 6)
    assert sure.score == pytest.approx(0.01)
    assert sure.skill is None


def test_the_interval_of_the_skill_holds_the_true_skill_about_nine_times_in_ten():
    """Planted forecasts: chances known, balls drawn by numpy; the true skill from the chances."""
    rng = np.random.default_rng(11)
    true = rng.uniform(0.2, 0.8, 4000)
    forecast = np.clip(true + rng.normal(0, 0.1, true.size), 0.0, 1.0)
    base = true.mean()
    right = 1.0 - np.mean(true * (forecast - 1) ** 2 + (1 - true) * forecast**2) / (
        base * (1 - base)
    )
    held = 0
    for _ in range(200):
        picked = rng.integers(0, true.size, 30)
        pairs = [(float(forecast[i]), Share(int(rng.binomial(15, true[i])), 15)) for i in picked]
        found = ledger.brier(pairs)
        held += found.skill_low <= right <= found.skill_high
    assert 0.80 <= held / 200 <= 0.97


def test_calibration_puts_predictions_into_bins_by_hand():
    pairs = [(0.25, Share(2, 10)), (0.35, Share(5, 10)), (0.6, Share(3, 5)), (None, Share(1, 9))]
    low, high = ledger.calibration(pairs)
    assert (low.low, low.high, low.pieces, low.share) == (0.2, 0.4, 2, Share(7, 20))
    assert low.predicted == pytest.approx(0.30)
    assert low.share.interval == pytest.approx(
        proportion_confint(7, 20, alpha=0.10, method="wilson"), abs=1e-12
    )
    assert (high.low, high.share.interval) == (0.6, None)
    assert ledger.calibration([(1.0, Share(1, 1))])[0].high == 1.0


def piece(before: Share, after: Share, kind: str = "move") -> Piece:
    return Piece(kind, 0.5, 0.6, some(before.made, before.of), some(after.made, after.of))


def test_the_gain_of_a_kind_is_paired_as_statsmodels_computes_it():
    befores = [Share(2, 20), Share(8, 20), Share(4, 10), Share(1, 20), Share(9, 20), Share(3, 20)]
    afters = [Share(14, 20), Share(8, 20), Share(7, 10), Share(4, 20), Share(10, 20), Share(15, 20)]
    (found,) = ledger.gains([piece(b, a) for b, a in zip(befores, afters, strict=True)])
    each = [a.made / a.of - b.made / b.of for b, a in zip(befores, afters, strict=True)]
    assert found.gain == pytest.approx(np.mean(each))
    assert (found.low, found.high) == pytest.approx(DescrStatsW(each).tconfint_mean(alpha=0.10))
    assert found.verdict == "paid"


def test_pieces_that_agree_by_luck_are_no_more_certain_than_their_balls():
    """All five gained exactly 0.2: the t interval alone would have no width at all.

    Never narrower than Newcombe's interval for all the balls in one pot, as statsmodels has it.
    """
    (found,) = ledger.gains([piece(Share(2, 10), Share(4, 10))] * 5)
    assert found.gain == pytest.approx(0.2)
    low, high = confint_proportions_2indep(20, 50, 10, 50, method="newcomb", alpha=0.10)
    assert found.low < low
    assert found.high > high


def test_few_pieces_or_few_balls_show_counts_alone():
    (four,) = ledger.gains([piece(Share(1, 20), Share(19, 20))] * 4)
    assert (four.verdict, four.gain, four.pieces) == ("few", None, 4)
    assert (four.before, four.after) == (Share(4, 80), Share(76, 80))
    short = [piece(Share(1, 4), Share(4, 4))] * 9
    (found,) = ledger.gains(short)
    assert (found.taken, found.pieces, found.verdict) == (9, 0, "few")


def test_the_interval_of_a_gain_holds_the_planted_one_about_nine_times_in_ten():
    """Planted: balls drawn by numpy, the students' own rates and gains differing."""
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(400):
        pairs = []
        for _ in range(6):
            rate = rng.uniform(0.2, 0.5)
            gain = 0.15 + rng.uniform(-0.15, 0.15)
            before, after = rng.binomial(20, rate), rng.binomial(15, rate + gain)
            pairs.append((Share(int(before), 20), Share(int(after), 15)))
        _, low, high = ledger.paired_gain(pairs)
        held += low <= 0.15 <= high
    assert 0.86 <= held / 400 <= 0.97
