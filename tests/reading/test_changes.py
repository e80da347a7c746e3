"""When the lane changed: few false alarms, and planted changes found.

The sessions come from ``simulator.py``, whose friction law and reading errors are not those of
the fit; seeds are fixed, so a count cannot flutter.
"""

import numpy as np
import pytest

from lanes.reading import changes, series
from lanes.reading.transition import place_probabilities

from .simulator import session

DOWN_LANE = ("breakpoint", "breakpoint_ft", "head_pin")


def find(shots):
    use = np.ones(len(shots), dtype=bool)
    built = [series.build(n, series.column(shots, n), shots, use) for n in DOWN_LANE]
    return changes.find_changes([s for s in built if s], len(shots))


def alarms(kind, seeds):
    return [bool(find(session(kind, seed))) for seed in seeds]


def test_at_most_one_session_in_twenty_cries_wolf():
    """120 sessions with nothing planted; the criterion is 5 %."""
    assert np.mean(alarms("nothing", range(120))) <= 0.05


@pytest.mark.parametrize("kind", ["slow student", "moved", "bad throws"])
def test_what_the_student_does_is_not_the_lane(kind):
    """Six of 40 is within chance of 5 % (binomial, 99.9 %); a method that reads the student's
    slowing or moving as the lane finds most of the 40."""
    assert sum(alarms(kind, range(40))) <= 6


def test_a_burning_mid_lane_is_found_where_it_begins():
    found = [find(session("mid burn", seed)) for seed in range(40)]
    assert np.mean([bool(f) for f in found]) >= 0.8
    first = [f[0] for f in found if f]
    assert np.mean([c.effects["head_pin"].size > 0 for c in first]) >= 0.95
    assert np.mean([c.effects["breakpoint_ft"].size < 0 for c in first]) >= 0.9
    assert all(0.6 <= c.p <= 1.0 for c in first)


def step(at, size, n=48, seed=0):
    rng = np.random.default_rng(seed)
    y = np.where(np.arange(n) >= at, size, 0.0) + rng.normal(size=n)
    order = np.arange(n) + 1.0
    return series.Series(
        "head_pin", np.arange(n), order, 17 + y, np.ones((n, 1)), np.zeros(1), np.zeros(1)
    )


@pytest.mark.parametrize("at", [12, 24, 36])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_sudden_step_is_told_as_one_and_placed(at, seed):
    (found,) = changes.find_changes([step(at, 4.0, seed=seed)], 48)
    assert not found.ramp
    assert found.low <= at <= found.high
    assert abs(found.at - at) <= 2
    effect = found.effects["head_pin"]
    assert effect.size == pytest.approx(4.0, abs=3 * effect.sd)


def test_two_steps_are_two_changes():
    one, two = step(14, 4.0, 60), step(40, 4.0, 60, seed=1)
    both = series.Series(
        "head_pin", one.index, one.order, one.y - two.y + 17, one.design, np.zeros(1), np.zeros(1)
    )
    assert sorted(c.at for c in changes.find_changes([both], 60)) == pytest.approx([14, 40], abs=2)


def test_p_of_pure_noise_is_spread_evenly():
    """The share of noise sessions that find as much is a p value: uniform when nothing changed."""
    rng = np.random.default_rng(9)
    values = []
    for seed in range(120):
        part = step(0, 0.0, seed=100 + seed)
        candidates = changes._candidates(part.order)
        prepared = [changes._prepare(part, candidates, 48.0)]
        best, _ = changes._best(prepared, candidates, 48, rng)
        values.append(best.p_noise)
    # Kolmogorov-Smirnov: 0.124 is the 5 % point for n = 120 (1.36 / sqrt n, standard tables).
    gap = np.max(np.abs(np.sort(values) - (np.arange(120) + 0.5) / 120))
    assert gap < 0.124 + 1 / 240


@pytest.mark.parametrize("n", [1, 5, 9])
def test_too_few_shots_have_no_change(n):
    assert changes.find_changes([step(3, 9.0, n)], n) == []


SIGNATURES = {
    "front": {"breakpoint": 0.7, "breakpoint_ft": -0.2, "head_pin": 0.8},
    "mid": {"breakpoint": 0.3, "breakpoint_ft": -0.8, "head_pin": 0.8},
    "back": {"breakpoint": 0.0, "breakpoint_ft": 0.0, "head_pin": 0.3},
}


def effects(breakpoint, feet, pins):
    sizes = {"breakpoint": breakpoint, "breakpoint_ft": feet, "head_pin": pins}
    sds = {"breakpoint": 0.5, "breakpoint_ft": 1.0, "head_pin": 0.5}
    units = {"breakpoint_ft": "ft"}
    return {k: changes.Effect(v, sds[k], units.get(k, "boards")) for k, v in sizes.items()}


@pytest.mark.parametrize(
    ("moved", "where"),
    [
        ((1.0, -5.0, 3.5), "mid"),  # breakpoint sooner: the mid lane (common practice)
        ((3.5, -1.0, 4.0), "front"),  # breakpoint further in: it reads in the front
        ((0.0, 0.2, 2.5), "back"),  # same breakpoint, higher: the back end
        ((0.0, 0.5, -2.5), "back"),  # same breakpoint, light: carrydown (common practice)
    ],
)
def test_front_mid_and_back_by_which_check_points_move(moved, where):
    found = place_probabilities(effects(*moved), SIGNATURES)
    assert sum(found.values()) == pytest.approx(1.0)
    assert max(found, key=found.get) == where


def test_without_the_breakpoint_no_place_is_named():
    assert place_probabilities({"head_pin": changes.Effect(3.0, 0.5, "boards")}, SIGNATURES) == {}


@pytest.mark.parametrize("size", [0.0, 0.7, 2.0])
def test_the_evidence_is_the_integral_that_it_stands_for(size):
    """A g-prior's Bayes factor by brute integration over effect and scale (Liang et al. 2008)."""
    rng = np.random.default_rng(3)
    n, place = 14, 8.0
    order = np.arange(1.0, n + 1.0)
    y = 17.0 + size * (order >= place) + rng.standard_normal(n)
    level = series.Series(
        "head_pin", np.arange(n), order, y, np.ones((n, 1)), np.zeros(1), np.zeros(1)
    )
    part = changes._prepare(level, [(place, False)], float(n))
    found = float(changes._log_evidence(part, y[:, None])[0, 0])
    step = (order >= place) - (order >= place).mean()
    left = y - y.mean()
    log_s2, width = np.linspace(-6.0, 6.0, 1201), changes.G / (step @ step)
    effect = np.linspace(-12.0, 12.0, 2401)
    misfit = ((left[None, :] - effect[:, None] * step[None, :]) ** 2).sum(axis=1)
    s2 = np.exp(log_s2)[:, None]
    free = -0.5 * (n - 1) * np.log(s2)
    prior = -0.5 * effect**2 / (width * s2) - 0.5 * np.log(2 * np.pi * width * s2)
    changed = np.exp(free - 0.5 * misfit / s2 + prior).sum() * (effect[1] - effect[0])
    same = np.exp(free - 0.5 * (left @ left) / s2).sum()
    assert found == pytest.approx(float(np.log(changed / same)), abs=0.01)
