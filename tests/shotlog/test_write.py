"""What is written reads back as it was."""

from __future__ import annotations

import csv
import io

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lanes.reading.leaves import format_leave
from lanes.reading.shots import MISSES, NEIGHBOUR_PINS, THROWS, LoggedShot
from lanes.shotlog import BY_NAME, NAMES, parse_rows, read_table, write_csv, write_xlsx
from lanes.shotlog.cells import clean_text


def numbers(name: str, places: int | None) -> st.SearchStrategy[float | None]:
    """Return numbers within a column's limits, as any float or with so many decimals."""
    low, high = BY_NAME[name].low, BY_NAME[name].high
    number = st.floats(low, high)
    return st.none() | (number if places is None else number.map(lambda x: round(x, places)))


def words(longest: int) -> st.SearchStrategy[str]:
    """Return text that likes signs, apostrophes, delimiters and odd characters."""
    risky = st.text("'=+-@;,\"\t ab_x0041é€😀", max_size=longest)
    return (risky | st.text(max_size=longest)).map(clean_text)


def logs(places: int | None) -> st.SearchStrategy[tuple[list[LoggedShot], dict]]:
    whole = {
        name: st.none() | st.integers(int(BY_NAME[name].low), int(BY_NAME[name].high))
        for name in ("game", "frame", "lane")
    }
    real = {
        name: numbers(name, places)
        for name in NAMES
        if BY_NAME[name].is_number and name not in (*whole, "shot", "delivery")
    }
    pins = st.frozensets(st.integers(1, 10), min_size=1).map(format_leave)
    shots = st.builds(
        LoggedShot,
        shot=st.integers(1, 99_999),
        delivery=st.integers(1, 3),
        ball=words(60),
        leave=st.sampled_from(["", "X", "/", "0"]) | pins,
        neighbour_pin=st.sampled_from(["", *NEIGHBOUR_PINS]),
        throw=st.sampled_from(["", *THROWS]),
        miss=st.sampled_from(["", *MISSES]),
        foul=st.booleans(),
        at=words(40),
        note=words(80),
        **whole,
        **real,
    )
    unknown = st.sampled_from(["mood", "=1+1", "Lane temperature", "-", "'+x"])
    extras = st.dictionaries(unknown, words(20).filter(bool), min_size=1, max_size=3)
    sorted_shots = st.lists(shots, max_size=4, unique_by=lambda s: s.shot).map(
        lambda many: sorted(many, key=lambda s: s.shot)
    )
    return sorted_shots.flatmap(
        lambda many: st.tuples(
            st.just(many),
            st.dictionaries(st.sampled_from([s.shot for s in many]), extras)
            if many
            else st.just({}),
        )
    )


@settings(deadline=None, max_examples=200)
@given(logs(places=None))
def test_csv_round_trip(log):
    shots, kept = log
    back = parse_rows(read_table(write_csv(shots, kept).encode(), "log.csv"))
    assert back.problems == []
    assert back.shots == shots
    assert back.kept == kept


@settings(deadline=None, max_examples=100)
@given(logs(places=3))
def test_xlsx_round_trip(log):
    shots, kept = log
    back = parse_rows(read_table(write_xlsx(shots, kept), "log.xlsx"))
    assert back.problems == []
    assert back.shots == shots
    assert back.kept == kept


SHOTS = [
    LoggedShot(shot=1, leave="6-10", arrows=12.5, note="=1+1", ball="-7", stand=-2),
    LoggedShot(shot=2, leave="10", neighbour_pin="flat", foul=True, note="@home"),
]


def test_text_that_looks_like_a_workbooks_own_escapes_stays_text():
    shots = [LoggedShot(shot=1, note="_x0041_ &amp; <b>")]
    assert parse_rows(read_table(write_xlsx(shots), "log.xlsx")).shots == shots


def test_no_text_in_a_csv_begins_like_a_formula():
    # Read by the standard library, as any other program would.
    one, two = csv.DictReader(io.StringIO(write_csv(SHOTS, {1: {"+x": "=2"}})))
    assert (one["note"], one["ball"], one["stand"]) == ("'=1+1", "'-7", "-2")
    assert (one["'+x"], two["note"], two["leave"]) == ("'=2", "'@home", "10")


def test_an_apostrophe_of_ones_own_stays():
    text = "shot,note\n1,'tis\n2,'=1\n3,''=1\n"
    assert [s.note for s in parse_rows(read_table(text.encode(), "x")).shots] == [
        "'tis",
        "=1",
        "'=1",
    ]


def test_a_leave_in_a_workbook_is_text_and_a_board_is_a_number():
    sheet = openpyxl.load_workbook(io.BytesIO(write_xlsx(SHOTS))).active
    at = {cell.value: cell.column_letter for cell in sheet[1]}
    leave, board = sheet[f"{at['leave']}2"], sheet[f"{at['arrows']}2"]
    assert (leave.value, leave.data_type, leave.number_format) == ("6-10", "s", "@")
    assert (board.value, board.data_type) == (12.5, "n")
    assert sheet[f"{at['leave']}3"].value == "10"
    # A leave typed in later is text too.
    assert sheet.column_dimensions[at["leave"]].number_format == "@"
    assert sheet.column_dimensions[at["arrows"]].number_format == "General"
    assert not [c for row in sheet for c in row if c.data_type == "f"]


@pytest.mark.parametrize("write", [lambda: write_csv([]).encode(), lambda: write_xlsx([])])
def test_an_empty_log_is_a_form_to_fill_in(write):
    table = read_table(write(), "log")
    assert table.columns == NAMES
    assert table.rows == ()


def test_text_that_no_file_can_hold_is_cleaned_on_the_way_out():
    dirty = LoggedShot(shot=1, note="two\nlines\x0b and\x00 a\ufffebell\x07")
    for data in (write_csv([dirty]).encode(), write_xlsx([dirty])):
        (shot,) = parse_rows(read_table(data, "log")).shots
        assert shot.note == "two lines and abell"
