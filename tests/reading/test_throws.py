"""Throws: the coach's mark first, then the student's own scatter; a planned move is no miss."""

from dataclasses import replace

import numpy as np
import pytest
import scipy.stats

from lanes.reading.changes import Change, Effect
from lanes.reading.shots import LoggedShot, first_balls
from lanes.reading.throws import judge_throws, step_sd

from .simulator import session


def log(n=30, seed=0, **overrides):
    rng = np.random.default_rng(seed)
    return [
        LoggedShot(
            i + 1,
            stand=26.0,
            aim=12.0,
            laydown=20 + round(2 * 0.5 * rng.normal()) / 2,
            arrows=12 + round(2 * 0.6 * rng.normal()) / 2,
            speed_mph=round(17.5 + 0.2 * rng.normal(), 1),
            **overrides,
        )
        for i in range(n)
    ]


def judge(shots):
    return judge_throws(shots, first_balls(shots))


def test_the_coachs_mark_wins():
    shots = log()
    shots[4] = replace(shots[4], throw="off", miss="in")
    shots[5] = replace(shots[5], throw="good", arrows=18.0)
    verdicts = judge(shots).verdicts
    assert (verdicts[4].verdict, verdicts[4].miss) == ("off", "in")
    assert verdicts[5].verdict == "good"


@pytest.mark.parametrize(
    ("change", "miss"),
    [({"arrows": 15.5}, "in"), ({"arrows": 8.5}, "out"), ({"speed_mph": 15.9}, "slow")],
)
def test_a_throw_far_from_the_students_own_scatter_is_off(change, miss):
    shots = log()
    shots[17] = replace(shots[17], **change)
    verdict = judge(shots).verdicts[17]
    assert (verdict.verdict, verdict.miss) == ("off", miss)


def test_a_planned_move_is_not_a_bad_throw():
    shots = log(40)
    moved = [replace(s, stand=29.0, aim=14.0, laydown=s.laydown + 3, arrows=s.arrows + 2)
             for s in shots[20:]]  # fmt: skip
    found = judge([*shots[:20], *moved])
    assert [v.verdict for v in found.verdicts] == [v.verdict for v in judge(shots).verdicts]
    assert found.drifts == []


def test_a_foul_is_off_and_a_spare_ball_is_not_judged():
    shots = [*log(20), LoggedShot(21, foul=True), LoggedShot(22, delivery=2, arrows=30.0)]
    verdicts = judge(shots).verdicts
    assert verdicts[20].verdict == "off"
    assert verdicts[21].verdict == "unknown"


@pytest.mark.parametrize("n", [1, 4, 7])
def test_too_few_throws_are_unknown(n):
    assert {v.verdict for v in judge(log(n)).verdicts} == {"unknown"}


def test_nothing_read_is_unknown():
    shots = [*log(20), LoggedShot(21, leave="X")]
    assert judge(shots).verdicts[20].verdict == "unknown"


def test_scatter_is_blind_to_a_slow_drift():
    rng = np.random.default_rng(3)
    steady = rng.normal(size=4000)
    assert step_sd(steady) == pytest.approx(1.0, abs=0.05)
    assert step_sd(steady + np.linspace(0, 30, 4000)) == pytest.approx(1.0, abs=0.05)
    assert np.std(steady + np.linspace(0, 30, 4000)) > 5


def test_few_ordinary_throws_are_called_off():
    """Three columns at 2.5, 3 and 2.5 sd on normal throws: 2.7 % by the normal tables; and no
    more than a tenth of the simulated sessions' throws, whose readings have heavy tails."""
    by_tables = 2 * (2 * scipy.stats.norm.sf(2.5) + scipy.stats.norm.sf(3.0))
    off = [v.verdict == "off" for seed in range(20) for v in judge(log(40, seed)).verdicts]
    assert np.mean(off) <= 1.5 * by_tables
    simulated = [
        v.verdict == "off" for seed in range(20) for v in judge(session("nothing", seed)).verdicts
    ]
    assert np.mean(simulated) <= 0.10


def test_a_throw_that_changed_is_judged_by_what_was_usual_before():
    shots = log(40)
    slower = [replace(s, speed_mph=round(s.speed_mph - 1.5, 1)) for s in shots[20:]]
    shots = [*shots[:20], *slower]
    effect = {"speed_mph": Effect(-1.5, 0.1, "mph")}
    causes = {"throw": 0.97, "lane": 0.01, "ball": 0.0}
    change = Change(20, 19, 21, "step", 0.98, causes, "throw", "speed_mph", False, {}, effect)
    found = judge_throws(shots, first_balls(shots), [change])
    (drift,) = found.drifts
    assert (drift.before, drift.after) == pytest.approx((17.5, 16.0), abs=0.15)
    assert drift.p == 0.97
    assert "1.5 mph slower from about shot 21" in drift.words(21)
    late = [v.verdict for v in found.verdicts[20:]]
    assert late.count("off") >= 18
    assert judge(shots).drifts == []
