"""What is planted is there, what is not planted is not, and the logs are as people keep them."""

from functools import cache

import numpy as np
import pytest

from . import scenarios
from .ball import LOW, PIN
from .simulate import simulate

# Sessions for building the harness, never those of the table.
SERIES = "rehearsal"


@cache
def session(number):
    return simulate(scenarios.draw(number, SERIES))


@cache
def first_of(kind):
    return session(scenarios.ROUND.index(kind))


@pytest.mark.parametrize("number", [0, 4, 7])
def test_nothing_planted_drifts_under_half_a_board(number):
    found = session(number)
    assert found.scenario.kind == "nothing"
    for lane in {shot.lane for shot in found.full}:  # the two of a pair differ from the start
        mine = np.array([shot.ball == "A" and shot.lane == lane for shot in found.full])
        drift = np.ptp(found.truth.usual[mine][:, [PIN, LOW]], axis=0)
        assert np.all(drift < 0.5)


def test_a_burn_grows_from_its_onset_and_comes_in():
    found = first_of("burn")
    s, truth = found.scenario, found.truth
    mine = np.flatnonzero([shot.ball == "A" for shot in found.full])
    pin = truth.usual[:, PIN]
    before, last = mine[mine < s.onset], mine[-1]
    assert np.ptp(pin[before]) < 0.5
    assert pin[last] - pin[before].mean() > 1.5
    assert truth.size_low == pytest.approx(s.plant_boards, abs=0.3)


def test_carrydown_holds_the_ball():
    found = first_of("carrydown")
    assert found.truth.size == pytest.approx(found.scenario.plant_boards, abs=0.3)
    assert found.truth.usual[-1, PIN] < found.truth.usual[0, PIN] - 0.8


def test_a_slowing_student_slows_on_a_lane_that_stays():
    found = first_of("slowing")
    speed = np.array([shot.speed_mph for shot in found.full], dtype=float)
    late = slice(-8, None)
    assert speed[late].mean() < speed[: found.scenario.onset].mean() - 0.5
    assert abs(found.truth.usual[-1, PIN] - found.truth.usual[0, PIN]) < 0.7
    assert abs(found.truth.size) == pytest.approx(abs(found.scenario.plant_boards), abs=0.3)


def test_the_same_scenario_gives_the_same_session():
    again = simulate(scenarios.draw(0, SERIES))
    assert again.full == session(0).full
    assert again.missing == session(0).missing


def test_missing_fields_are_those_of_the_same_shots():
    found = session(4)
    assert len(found.full) == len(found.missing)
    told = [
        (getattr(whole, name), getattr(some, name))
        for whole, some in zip(found.full, found.missing, strict=True)
        for name in ("arrows", "head_pin", "breakpoint", "speed_mph", "laydown")
    ]
    assert all(some in (None, whole) for whole, some in told)
    assert sum(some is None for _, some in told) > sum(whole is None for whole, _ in told)


def test_readings_are_rounded_as_people_round_and_have_heavy_tails():
    errors = np.concatenate(
        [
            [
                shot.head_pin - true
                for shot, true in zip(found.full, found.truth.thrown[:, PIN], strict=True)
                if shot.head_pin is not None and np.isfinite(true)
            ]
            for found in map(session, range(8))
        ]
    )
    pins = [shot.head_pin for shot in session(0).full if shot.head_pin is not None]
    assert all(2 * pin == round(2 * pin) for pin in pins)
    z = (errors - errors.mean()) / errors.std()
    assert 0.4 < errors.std() < 1.3
    assert (z**4).mean() > 3.5  # a normal has 3
