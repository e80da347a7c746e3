"""The provisional window against the published figures that it rests on (FACTS section 5)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanes.reading.strike import strike_chance


@pytest.mark.parametrize("board", [17.0, 17.5, 18.0])
def test_head_on_over_90_percent_within_half_a_board_of_17_and_a_half(board):
    """A science programme of 2021 on the governing body's data (FACTS section 5)."""
    assert strike_chance(board, 0.0) >= 0.90 - 2e-3


@pytest.mark.parametrize("board", [17.0, 17.5, 18.0, 18.5])
def test_at_6_degrees_over_90_percent_from_17_to_18_and_a_half(board):
    assert strike_chance(board, 6.0) >= 0.90 - 2e-3


def test_outside_the_window_it_falls_below_90():
    assert strike_chance(16.8, 5.0) < 0.9
    assert strike_chance(18.3, 0.0) < 0.9
    assert strike_chance(18.8, 6.0) < 0.9


@given(st.floats(0, 40), st.floats(-5, 15))
def test_it_is_a_probability(board, angle):
    assert 0.0 <= strike_chance(board, angle) <= 1.0


def test_17_to_18_at_4_to_6_degrees_is_the_best_there_is():
    """The governing body's research article: these boards and angles strike the most."""
    board, angle = np.meshgrid(np.arange(14, 22, 0.25), np.arange(0, 8.0, 0.5))
    best = strike_chance(board, angle).max()
    inside = strike_chance(np.array([17.25, 17.5, 17.75]), np.array([4.0, 5.0, 6.0]))
    assert inside.min() > best - 0.03


def test_a_gutter_ball_is_no_strike():
    assert strike_chance(float("nan"), float("nan")) == 0.0
