"""What hits are worth: the computed table asked rightly, and what it does not know counts as none.

The table itself is held to published figures in tests/pins/test_carry.py.
"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanes.motion import BallSpec
from lanes.pins.carry import carry, table
from lanes.pins.surface import BOARD_RANGE
from lanes.reading.strike import Hits, basis, strike_chance

BALL = BallSpec("A", mass_lb=14.0)
#                 arrows, break, ft, pin, angle, slip, mph
SEEN = np.array([[12.0, 8.0, 40.0, 16.4, 5.0, 0.3, 16.5], [12.0, 8.0, 40.0, 17.6, 5.5, 0.0, 15.9]])


@pytest.mark.parametrize("angle", [4.0, 5.0, 6.0])
def test_seventeen_and_a_half_beats_light_and_high(angle):
    """The governing body's research article: 17 to 18 with 4 to 6 degrees are best (FACTS 5)."""
    assert strike_chance(17.5, angle) > max(strike_chance(16.0, angle), strike_chance(19.0, angle))


def test_hits_are_looked_up_with_their_own_speed_slip_and_mass():
    one, other = Hits.of(SEEN, BALL).strike()
    assert one == pytest.approx(carry(16.4, 5.0, 16.5, 0.3, mass_lb=14.0).strike)
    assert other == pytest.approx(carry(17.6, 5.5, 15.9, 0.0, mass_lb=14.0).strike)
    assert Hits.of(SEEN, BallSpec("B")).mass_lb == 15.0  # an average ball, assumed


@given(st.floats(0, 40), st.floats(-5, 15))
def test_it_is_a_probability(board, angle):
    assert 0.0 <= strike_chance(board, angle) <= 1.0


@pytest.mark.parametrize("board", [3.0, BOARD_RANGE[0] - 0.01, BOARD_RANGE[1] + 0.01, 30.0])
def test_off_the_table_is_no_strike(board):
    """Below it the ball passes the head pin: 6.3 boards from board 20 (specifications)."""
    assert strike_chance(board, 5.0) == 0.0


def test_a_gutter_ball_is_no_strike():
    gutter = np.full((1, 7), np.nan)
    assert Hits.of(gutter, BALL).strike() == 0.0
    assert Hits.of(gutter, BALL).leaves() == []


def test_leaves_of_many_hits_are_those_of_each_and_add_up_with_the_strikes():
    hits = Hits.of(np.vstack([SEEN, np.full((2, 7), np.nan)]), BALL)
    leaves = hits.leaves()
    assert sum(leave.p for leave in leaves) + hits.strike().mean() == pytest.approx(0.5)
    assert [leave.p for leave in leaves] == sorted((leave.p for leave in leaves), reverse=True)
    each = [carry(*SEEN[i, [3, 4, 6, 5]], mass_lb=14.0) for i in (0, 1)]
    told = {leave.pins: leave.p for leave in leaves}
    for pins in table().leaves:
        of_each = [next(one.p for one in hit.leaves if one.pins == pins) for hit in each]
        assert told[pins] == pytest.approx(sum(of_each) / 4.0)


def test_the_basis_names_the_table_and_its_limits():
    told = basis()
    assert told["version"] == table().version
    assert f"table {table().version}" in told["words"]
    assert f"{told['racks']:,} computed racks" in told["words"]
    assert "do not read the percentages as a forecast" in told["words"]
