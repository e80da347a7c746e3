"""Lane and pin geometry against the published specification (rows 8 to 15 and 20 of the facts)."""

import math

import pytest

from lanes.motion import (
    BOARD_IN,
    DECK_EXIT_FT,
    HEAD_PIN_FT,
    LANE_WIDTH_IN,
    POCKET,
    board_to_m,
    m_to_board,
    mirror_board,
    pin_spots,
    undeflected_exit,
)
from lanes.motion.geometry import (
    BALL_RADIUS_IN,
    GUTTER_WIDTH_IN,
    HEAD_PIN_CENTRE_FT,
    LAST_ROW_TO_EXIT_IN,
    PIN_DIAMETER_IN,
    PIN_ROW_PITCH_IN,
    PIN_SPACING_IN,
)


def test_the_lane_from_foul_line_to_pit_is_the_specified_length():
    # Governing bodies' specification: 60 ft to the head pin's centre, 62 ft 10-3/16 in to the pit.
    assert HEAD_PIN_CENTRE_FT == 60.0
    assert pytest.approx(62 * 12 + 10 + 3 / 16, abs=1e-9) == DECK_EXIT_FT * 12
    # The same pit edge by another way: four rows and 3 in, quoted 31-3/16 + 3 in.
    by_rows = HEAD_PIN_CENTRE_FT * 12 + 3 * PIN_ROW_PITCH_IN + LAST_ROW_TO_EXIT_IN
    assert by_rows == pytest.approx(DECK_EXIT_FT * 12, abs=0.02)
    assert pytest.approx(31 + 3 / 16, abs=0.02) == 3 * PIN_ROW_PITCH_IN
    assert pytest.approx(10.3923, abs=1e-4) == PIN_ROW_PITCH_IN


def test_widths_meet_the_specification():
    # Lane and two gutters 60 to 60-1/4 in; outer pin's centre 2-1/2 to 3 in from the lane's edge.
    assert 60.0 <= LANE_WIDTH_IN + 2 * GUTTER_WIDTH_IN <= 60.25
    assert (LANE_WIDTH_IN - 3 * PIN_SPACING_IN) / 2 == 2.75
    ten = pin_spots()[10][0]
    assert board_to_m(ten) / 0.0254 == pytest.approx(2.75)
    assert pytest.approx(7.234) == PIN_SPACING_IN - PIN_DIAMETER_IN


def test_pins_do_not_stand_on_every_fifth_board():
    # Computed from 12-in spacing on a 41.5-in lane; "5-10-15-20" is a common mistake.
    spots = pin_spots("right")
    assert [round(spots[pin][0], 2) for pin in (10, 6, 3, 1)] == [3.08, 8.72, 14.36, 20.0]
    assert spots[9][0] == spots[3][0]
    assert spots[5][0] == spots[1][0]
    assert spots[7][1] == pytest.approx(60 + 31.1769 / 12, abs=1e-4)


@pytest.mark.parametrize(("pin", "neighbour"), [(1, 2), (1, 3), (3, 6), (8, 9), (5, 8), (6, 10)])
def test_neighbouring_pins_are_twelve_inches_apart(pin, neighbour):
    a, b = pin_spots()[pin], pin_spots()[neighbour]
    across = (a[0] - b[0]) * BOARD_IN
    along = (a[1] - b[1]) * 12
    assert math.hypot(across, along) == pytest.approx(12.0)


def test_pin_numbers_do_not_mirror_but_boards_do():
    right, left = pin_spots("right"), pin_spots("left")
    assert right[10][0] < 20 < left[10][0]
    assert all(left[pin][0] == pytest.approx(40 - right[pin][0]) for pin in right)


def test_boards_are_centred_half_a_board_in():
    # 39 boards on 41.5 in, board 20 on the centre line (convention).
    assert board_to_m(20) == pytest.approx(41.5 / 2 * 0.0254)
    assert board_to_m(0.5) == 0.0
    assert m_to_board(board_to_m(17.25)) == pytest.approx(17.25)
    assert mirror_board(17.5) == 22.5
    assert pytest.approx(1.0641, abs=1e-4) == BOARD_IN


def test_ball_of_27_inches_has_a_right_angle_at_six_and_three_quarters():
    assert BALL_RADIUS_IN * math.pi / 2 == pytest.approx(6.75)
    assert 8.500 <= 2 * BALL_RADIUS_IN <= 8.595  # specification's diameter limits


def test_steepest_straight_ball():
    # From the lane's edge to the head pin's centre: atan(20.75 / 720) = 1.651 deg.
    angle = math.degrees(math.atan2(board_to_m(20), HEAD_PIN_CENTRE_FT * 0.3048))
    assert angle == pytest.approx(1.651, abs=1e-3)


def test_undeflected_exit_is_the_straight_line_through_the_deck():
    run = (DECK_EXIT_FT - HEAD_PIN_FT) * 12
    assert undeflected_exit(17.5, 0.0) == 17.5
    rise = (undeflected_exit(17.5, 6.0) - 17.5) * BOARD_IN
    assert math.degrees(math.atan2(rise, run)) == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("board", "name"),
    [(16.4, "light"), (16.5, "pocket"), (17.5, "flush"), (18.25, "pocket"), (18.6, "high")],
)
def test_pocket_names(board, name):
    # Common practice, no source: pocket 16.5 to 18.5, flush 17 to 18.
    assert POCKET.name(board) == name
