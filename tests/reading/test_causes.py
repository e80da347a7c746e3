"""Causes: sums of 1, and the trade's plain cases."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanes.reading.causes import KINDS, Parts, as_json, find_causes
from lanes.reading.shots import LoggedShot
from lanes.reading.throws import Throw


def cause(shot, *, verdict="good", throw=0.0, lane=0.0, ball=0.0, rest_sd=1.2, sd=0.3):
    one = np.ones(1)
    parts = Parts(throw * one, sd * one, lane * one, sd * one, ball * one, sd * one, rest_sd)
    (found,) = find_causes([shot], [True], [Throw(verdict, "")], np.full(1, 5.0), parts)
    return found


offs = st.floats(-6, 6)


@given(
    st.floats(5, 35), st.sampled_from(["", "10", "X", "1-2-10"]), offs, offs, offs,
    st.sampled_from(["good", "off", "unknown"]), st.floats(0.5, 3),
)  # fmt: skip
def test_probabilities_add_up_to_one(pin, leave, throw, lane, ball, verdict, rest_sd):
    shot = LoggedShot(1, head_pin=pin, leave=leave)
    found = cause(shot, verdict=verdict, throw=throw, lane=lane, ball=ball, rest_sd=rest_sd)
    if leave == "X" and 16.5 <= pin <= 18.5:
        assert found is None
        return
    assert tuple(found) == KINDS
    assert sum(found.values()) == pytest.approx(1.0, abs=1e-12)
    assert min(found.values()) >= 0
    assert sum(as_json(found).values()) == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("kind", ["throw", "lane", "ball"])
def test_what_explains_the_departure_gets_the_blame(kind):
    found = cause(LoggedShot(1, head_pin=21.5, leave="3-6-10"), **{kind: 4.0})
    assert found[kind] > 0.75


def test_a_flush_hit_that_leaves_a_pin_is_chance():
    found = cause(LoggedShot(1, head_pin=17.5, leave="10"))
    assert found["chance"] > 0.75


def test_an_unexplained_miss_of_an_off_throw_is_the_throw_sooner_than_of_a_good_one():
    shot = LoggedShot(1, head_pin=14.0, leave="2-4-5-8")
    off, good = cause(shot, verdict="off", rest_sd=2.0), cause(shot, rest_sd=2.0)
    assert off["throw"] > good["throw"]


def test_parts_that_cancel_out_are_not_blamed_against_the_departure():
    """High by two boards although the throw alone would have made it light: not the throw."""
    found = cause(LoggedShot(1, head_pin=19.5, leave="4"), throw=-2.0, lane=4.0)
    assert found["lane"] > 0.8
    assert found["throw"] < 0.05


def test_without_a_board_the_verdict_on_the_throw_is_all_there_is():
    shot = LoggedShot(1, leave="10")
    assert cause(shot, verdict="off")["throw"] > cause(shot, verdict="good")["throw"]
    assert cause(LoggedShot(1, leave="X")) is None


def test_second_balls_and_empty_rows_are_not_judged():
    shots = [LoggedShot(1, delivery=2, leave="/"), LoggedShot(2)]
    throws = [Throw("unknown", "")] * 2
    assert find_causes(shots, [False, True], throws, np.full(2, np.nan), None) == [None, None]
