"""Good rows become shots; bad cells are named by row and column, and nothing else is lost."""

from __future__ import annotations

import datetime as dt

import pytest

from lanes.reading.shots import MISSES, NEIGHBOUR_PINS, THROWS, LoggedShot
from lanes.shotlog import BY_NAME, NAMES, parse_rows, read_table
from tests.shotlog.test_files import workbook


def parsed(text: str):
    return parse_rows(read_table(text.encode(), "log.csv"))


def problem(column: str, value: str) -> str:
    """Return the message for one bad cell, after checking that it is the only one."""
    log = parsed(f'shot,{column},extra\n1,"{value}",\n2,,\n')
    assert [shot.shot for shot in log.shots] == [2]
    (only,) = log.problems
    assert (only.row, only.column, only.value) == (2, column, value)
    return only.message


def value_of(column: str, text: str):
    (shot,) = parsed(f'shot,{column}\n1,"{text}"\n').shots
    return getattr(shot, column)


def test_the_columns_are_those_of_the_contract():
    # DESIGN section 7, word for word.
    assert ",".join(NAMES) == (
        "shot,game,frame,delivery,lane,ball,stand,aim,laydown,arrows,breakpoint,breakpoint_ft,"
        "head_pin,deck_exit,leave,neighbour_pin,throw,miss,speed_mph,rev_rpm,foul,at,note"
    )
    assert tuple(LoggedShot.__dataclass_fields__) == NAMES


def test_only_the_shot_number_is_required():
    assert parsed("shot\n7\n").shots == [LoggedShot(shot=7)]
    assert parsed("shot,delivery\n7,\n").shots[0].delivery == 1


def test_a_full_row():
    (shot,) = parsed(
        ",".join(NAMES) + "\n3,1,2,1,8,Blue,28,11.5,21.5,11,4,39,17.5,19,10,flat,off,out,17.2,330,"
        "yes,18:05,late start\n"
    ).shots
    assert shot == LoggedShot(
        shot=3, game=1, frame=2, delivery=1, lane=8, ball="Blue", stand=28, aim=11.5,
        laydown=21.5, arrows=11, breakpoint=4, breakpoint_ft=39, head_pin=17.5, deck_exit=19,
        leave="10", neighbour_pin="flat", throw="off", miss="out", speed_mph=17.2, rev_rpm=330,
        foul=True, at="18:05", note="late start",
    )  # fmt: skip


def test_board_55_is_off_the_lane():
    assert problem("arrows", "55") == (
        "board 55 is out of range; expected a board from 0 to 40, such as 17.5"
    )


def test_text_in_a_number():
    assert problem("head_pin", "pocket") == (
        '"pocket" is not a number; expected a board from 0 to 40, such as 17.5'
    )


@pytest.mark.parametrize("text", ["1e1", "nan", "inf", "1.234,5", "12 13", "0x1f", "١٢", "17½"])
def test_what_is_not_plainly_a_number_is_asked_about(text):
    assert "is not a number" in problem("arrows", text)


@pytest.mark.parametrize(
    ("text", "number"), [("17.5", 17.5), ("17,5", 17.5), (" 17 ", 17), ("17.", 17), (",5", 0.5)]
)
def test_decimal_point_or_comma(text, number):
    assert value_of("head_pin", text) == number


@pytest.mark.parametrize(
    ("column", "inside", "outside"),
    [
        ("shot", "99999", "0"),
        ("frame", "10", "11"),
        ("delivery", "3", "4"),
        ("stand", "-10", "51"),
        ("aim", "0", "-1"),
        ("deck_exit", "40", "40.5"),
        ("breakpoint_ft", "60", "61"),
        ("speed_mph", "5", "4.9"),
        ("rev_rpm", "800", "801"),
    ],
)
def test_limits_are_named(column, inside, outside):
    def problems(text):
        row = text if column == "shot" else f"1,{text}"
        return parsed(f"{'' if column == 'shot' else 'shot,'}{column}\n{row}\n").problems

    assert problems(inside) == []
    (only,) = problems(outside)
    assert only.message.endswith(f"{outside} is out of range; expected {BY_NAME[column].expected}")


def test_a_count_is_whole():
    assert value_of("frame", "4.0") == 4
    assert problem("frame", "4.5") == (
        "4.5 is not a whole number; expected a whole number from 1 to 10"
    )


@pytest.mark.parametrize(
    ("column", "choices"), [("neighbour_pin", NEIGHBOUR_PINS), ("throw", THROWS), ("miss", MISSES)]
)
def test_choices(column, choices):
    for choice in choices:
        assert value_of(column, choice.upper()) == choice
    assert choices[0] in problem(column, "sideways")


def test_yes_and_no():
    assert [value_of("foul", word) for word in ("yes", "Y", "TRUE", "1")] == [True] * 4
    assert [value_of("foul", word) for word in ("no", "n", "false", "0", "")] == [False] * 5
    assert problem("foul", "f") == '"f" is not known here; expected yes, no or nothing'


@pytest.mark.parametrize(
    ("text", "leave"),
    [
        ("3-6-10", "3-6-10"),
        ("3 6 10", "3-6-10"),
        ("10–6–3", "3-6-10"),
        ("x", "X"),
        ("/", "/"),
        ("0", "0"),
        ("", ""),
        ("10", "10"),
    ],
)
def test_leaves(text, leave):
    assert value_of("leave", text) == leave


@pytest.mark.parametrize("text", ["-", "3610", "3-11", "pocket", "3-3"])
def test_what_is_no_leave(text):
    assert f'"{text}" is no leave: ' in problem("leave", text)


@pytest.mark.parametrize("text", ["10-Jun", "Oct-06", "06.10.2026", "6/10/2026"])
def test_a_leave_that_a_spreadsheet_saved_as_a_date(text):
    assert "a date that a spreadsheet made of a leave" in problem("leave", text)


@pytest.mark.parametrize(
    ("date", "guess"),
    [
        (dt.datetime(2026, 10, 6), "6-10"),
        (dt.datetime(2010, 3, 6), "3-6-10"),
        (dt.datetime(2005, 2, 4), "2-4-5"),
    ],
)
def test_a_leave_that_a_workbook_holds_as_a_date_is_guessed_aloud_only(date, guess):
    log = parse_rows(read_table(workbook(["shot", "leave"], [1, date], [2, "X"]), "log.xlsx"))
    assert [shot.shot for shot in log.shots] == [2]
    (only,) = log.problems
    assert f"into a date or time ({date:%Y-%m-%d}, perhaps {guess})" in only.message


def test_cells_of_a_workbook():
    log = parse_rows(
        read_table(
            workbook(
                ["shot", "leave", "foul", "at", "arrows", "oil"],
                [1, 10, True, dt.time(18, 5), "12,5", 3.25],
                [2, 0, None, dt.datetime(2026, 3, 4, 18, 5), None, dt.date(2026, 3, 4)],
                [3, None, None, None, dt.datetime(2026, 10, 5), None],
                [4, None, None, None, True, None],
            ),
            "log.xlsx",
        )
    )
    one, two = log.shots
    assert (one.leave, one.foul, one.at, one.arrows) == ("10", True, "18:05", 12.5)
    assert (two.leave, two.foul, two.at) == ("0", False, "2026-03-04 18:05")
    assert log.kept == {1: {"oil": "3.25"}, 2: {"oil": "2026-03-04"}}
    date, yes = log.problems
    assert (date.row, date.column) == (4, "arrows")
    assert "into a date" in date.message
    assert (yes.row, yes.value) == (5, "yes")


def test_three_bad_rows_of_sixty_leave_57_and_a_list_of_3():
    rows = [f"{n},12,17" for n in range(1, 61)]
    rows[9], rows[19], rows[29] = "10,twelve,17", "20,12,55", "twenty-nine,12,17"
    log = parsed("shot,arrows,head_pin\n" + "\n".join(rows))
    assert len(log.shots) == 57
    assert [(p.row, p.column) for p in log.problems] == [
        (11, "arrows"),
        (21, "head_pin"),
        (31, "shot"),
    ]
    assert str(log.problems[1]).startswith("row 21, head_pin: board 55 is out of range")


def test_every_bad_cell_of_a_row_is_named():
    log = parsed("shot,arrows,leave\n1,far,often\n")
    assert [p.column for p in log.problems] == ["arrows", "leave"]
    assert log.rows[0].cells == {"shot": "1", "arrows": "far", "leave": "often"}
    assert log.rows[0].shot is None


def test_row_numbers_are_the_files_own():
    log = parsed("\nshot,arrows\n1,12\n\n,,\n2,far\n")
    assert [row.number for row in log.rows] == [3, 6]


def test_a_shot_number_comes_once():
    log = parsed("shot,arrows\n1,12\n2,13\n1,14\n")
    assert [(s.shot, s.arrows) for s in log.shots] == [(1, 12), (2, 13)]
    assert str(log.problems[0]) == (
        "row 4, shot: shot 1 is in row 2 already; expected each number once"
    )


def test_a_row_with_values_but_no_number_is_not_lost_silently():
    assert "no shot number; expected a whole number" in str(
        parsed("shot,arrows\n,12\n").problems[0]
    )


def test_an_unquoted_decimal_comma_is_noticed():
    log = parsed("shot,arrows\n1,12,5\n2,12\n")
    assert [shot.shot for shot in log.shots] == [2]
    assert "decimal point" in log.problems[0].message
    assert log.problems[0].value == "5"


def test_unknown_columns_are_kept_and_reported():
    log = parsed("shot,Lane temperature,arrows,mood\n1,21,12,\n2,,13,calm\n")
    assert log.unknown_columns == ("Lane temperature", "mood")
    assert log.kept == {1: {"Lane temperature": "21"}, 2: {"mood": "calm"}}
    assert log.problems == []


def test_shots_come_in_the_order_thrown():
    assert [shot.shot for shot in parsed("shot\n3\n1\n2\n").shots] == [1, 2, 3]


def test_text_has_limits():
    assert "301 characters; expected at most 300" in problem("note", "x" * 301)
    assert len(value_of("note", "x" * 300)) == 300
