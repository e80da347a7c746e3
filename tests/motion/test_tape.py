"""Tape readings: a film by the stated rules, and each fault by its row."""

import numpy as np
import pytest

from lanes.motion import BallSpec, PatternError, PatternSheet, lane_friction, parse_oil, parse_tape
from lanes.motion.constants import TAPE_END_FT
from lanes.motion.oil import UNIT_UM, summary

BALL = BallSpec("made up", "solid", 2000, False)
ACROSS = (1, 5, 10, 15, 20, 25, 30, 35, 39)


def tape(rows, head="ft,board,units"):
    return head + "\n" + "\n".join(",".join(str(cell) for cell in row) for row in rows) + "\n"


def read_at(*distances, units=lambda ft, board: 20.0):
    return [(ft, board, units(ft, board)) for ft in distances for board in ACROSS]


FILE = tape(read_at(10, 30, 42, units=lambda ft, board: 0.0 if ft == 42 else 2.0 * board))


def test_a_plane_of_readings_is_a_plane_of_film():
    # Film that grows by 0.5 unit a board and falls by 0.25 unit a foot: straight between readings,
    # so every cell in between lies on the plane, worked out here at its middle.
    def plane(ft, board):
        return 10 + 0.5 * board - 0.25 * (ft - 5)

    film = parse_tape(tape(read_at(5, 20, 37, units=plane)), "plane").film_from_left().units
    for board, foot in [(1, 5), (7, 12), (20, 19), (39, 36)]:
        assert film[board - 1, foot] == pytest.approx(plane(foot + 0.5, board), abs=1e-9)


def test_before_the_first_tape_and_past_the_last_the_rules_hold():
    readings = parse_tape(tape(read_at(8, 30)), "even")
    film = readings.film_from_left().units
    assert film[:, :30] == pytest.approx(np.full((39, 30), 20.0))
    assert readings.length_ft == 30 + TAPE_END_FT
    assert film[0, 31] == pytest.approx(20 * (1 - 1.5 / TAPE_END_FT))
    assert not film[:, 30 + int(TAPE_END_FT) :].any()
    assert any("taken to end by 34 ft (assumed)" in note for note in readings.notes)


def test_a_dry_tape_ends_the_pattern_where_it_lies():
    readings = parse_tape(FILE, "made up")
    assert readings.length_ft == 42
    assert not any("assumed" in note for note in readings.notes)
    film = readings.film_from_left().units
    assert film[19, 36] == pytest.approx(40 * (42 - 36.5) / 12)  # board 20, half-way down
    assert not film[:, 42:].any()
    # Another dry tape further on tells nothing new.
    more = parse_tape(FILE + "".join(f"50,{board},0\n" for board in ACROSS), "made up")
    assert more.length_ft == 42


def test_outside_the_outermost_boards_read_the_nearest_reading_holds():
    rows = [(ft, board, board) for ft in (10, 30) for board in (4, 13, 22, 31)]
    film = parse_tape(tape(rows), "x").film_from_left().units[:, 20]
    assert film[:4] == pytest.approx([4, 4, 4, 4])
    assert film[31:] == pytest.approx([31] * 8)


def test_boards_count_from_the_left_and_the_film_flips_for_a_right_hander():
    readings = parse_tape(FILE, "x")
    assert np.array_equal(readings.film("left").um, readings.film_from_left().um)
    assert np.array_equal(readings.film("right").um, readings.film_from_left().um[::-1])
    # 2 units a board from the left: the right-hander's outside is the heavy side.
    assert readings.film("right").units[0, 5] == pytest.approx(78)


def test_micrometres_semicolons_and_decimal_commas_say_the_same():
    # One unit is a film of 0.180 um (definition from memory, computed from 0.0167 cm3 a sq ft).
    assert pytest.approx(0.1798, abs=2e-4) == UNIT_UM
    lines = [f"{ft};{board};3,6;pad {board}" for ft in ("10,5", "30") for board in ACROSS]
    metric = parse_tape("FT;Board;um;Note\n" + "\n".join(lines), "x")
    assert metric.readings[0].units == pytest.approx(20, rel=2e-3)
    assert metric.distances_ft == (10.5, 30)
    assert metric.unknown_columns == ("note",)


def test_a_sheet_put_down_evenly_and_its_own_tapes_agree():
    # A sheet's film read off at its boards and feet is that film again, volume and all.
    sheet = parse_oil(
        "direction,from_ft,to_ft,first_board,last_board,ml\nforward,0,60,1,39,24\n", ""
    )
    assert isinstance(sheet, PatternSheet)
    film = sheet.film_from_left().units
    rows = read_at(0.5, 20.5, 40.5, 59.5, units=lambda ft, board: film[board - 1, int(ft)])
    readings = parse_oil(tape(rows), "tapes")
    assert readings.total_ml == pytest.approx(24, rel=1e-3)
    assert readings.length_ft == 60


def test_the_header_tells_the_two_kinds_apart():
    assert parse_oil(FILE.encode(), "a").kind == "tape"
    micrometres = tape(read_at(10, 30), head="FT,Board,UM")
    assert parse_oil(micrometres.encode("utf-8-sig"), "a").kind == "tape"
    with pytest.raises(PatternError, match="column missing"):
        parse_oil("ft,board,colour\n1,2,3\n", "a")


def test_what_cannot_be_known_is_said_to_be_unknown():
    facts = summary(parse_tape(FILE, "league night"))
    assert facts["kind"] == "tape"
    assert facts["forward_ml"] is facts["reverse_ml"] is facts["layers"] is None
    assert facts["total_ml"] > 0
    assert facts["length_ft"] == 42
    assert "cannot be told" in facts["notes"][0]


def test_a_ball_rolls_on_tapes_and_a_dry_lane_is_a_lane_too():
    film = parse_tape(FILE, "x").film("right")
    lane = lane_friction(film, BALL)
    assert lane.length_ft == 42
    dry = parse_tape(tape(read_at(10, 30, units=lambda ft, board: 0)), "dry")
    assert dry.length_ft == 0.0
    assert dry.total_ml == 0.0
    assert not lane_friction(dry.film(), BALL).film.any()


@pytest.mark.parametrize(
    ("row", "field", "words"),
    [
        ("10,40,20", "board", "1 to 39"),
        ("10,12.5,20", "board", "whole board"),
        ("61,12,20", "ft", "0 to 60"),
        ("10,12,lots", "units", "number"),
        ("10,12,-1", "units", "0 to 200"),
        ("10,12,nan", "units", "number"),
        ("10,12,", "units", "empty"),
        ("10,12", "units", "empty"),
        ("10,12,3,5", "", "decimal comma"),
        ("10,15,20", "board", "read in row 5 already"),
    ],
)
def test_each_bad_reading_is_named_by_row_and_field(row, field, words):
    with pytest.raises(PatternError) as caught:
        parse_tape(FILE + row, "x")
    (problem,) = caught.value.problems
    assert (problem.row, problem.field) == (2 + 3 * len(ACROSS), field)
    assert words in problem.message


@pytest.mark.parametrize(
    ("rows", "row", "words"),
    [
        ([], 2, "no readings"),
        (read_at(20), 10, "two distances or more"),
        (read_at(10, 40), 11, "nothing read from 10 to 40 ft"),
        (read_at(26, 40), 2, "nothing read from 0 to 26 ft"),
        ([*read_at(10), (30, 20, 5)], 11, "boards 1 to 19 are not read at 30 ft"),
        ([*read_at(10), (30, 9, 5), (30, 20, 5), (30, 30, 5)], 12, "boards 10 to 19"),
        ([*read_at(10), (30, 9, 5), (30, 19, 5), (30, 29, 5)], 13, "boards 30 to 39"),
    ],
)
def test_too_little_is_said_at_the_row_after_the_gap(rows, row, words):
    with pytest.raises(PatternError) as caught:
        parse_tape(tape(rows), "x")
    assert caught.value.problems[0].row == row
    assert words in caught.value.problems[0].message


@pytest.mark.parametrize(
    ("head", "words"),
    [
        ("ft,units", "board"),
        ("board,um", "ft"),
        ("ft,board", "units"),
        ("ft,board,units,um", "both"),
    ],
)
def test_a_header_that_will_not_do(head, words):
    with pytest.raises(PatternError) as caught:
        parse_tape(head + "\n1,2,3\n", "x")
    assert caught.value.problems[0].row == 1
    assert words in caught.value.problems[0].message
