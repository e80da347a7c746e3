"""Doubts about shots that do not fit together; none of them keeps a shot out."""

from __future__ import annotations

import pytest

from lanes.reading.shots import LoggedShot
from lanes.shotlog import parse_rows, read_table
from lanes.shotlog.checks import doubtful_shots


def doubts(*shots: dict) -> list[tuple[int, str]]:
    logged = [LoggedShot(shot=n, **facts) for n, facts in enumerate(shots, start=1)]
    return [(doubt.row, doubt.column) for doubt in doubtful_shots(logged)]


def ball(game: int, frame: int, delivery: int, leave: str, **more) -> dict:
    return {"game": game, "frame": frame, "delivery": delivery, "leave": leave, **more}


def test_an_ordinary_game_raises_none():
    assert not doubts(
        ball(1, 1, 1, "X"),
        ball(1, 2, 1, "3-10"),
        ball(1, 2, 2, "10"),
        ball(1, 3, 1, "10", neighbour_pin="flat"),
        ball(1, 3, 2, "/"),
        ball(1, 4, 1, "X", foul=True),
        ball(1, 4, 2, "7-10"),
        ball(1, 10, 1, "X"),
        ball(1, 10, 2, "X"),
        ball(1, 10, 3, "7"),
        ball(2, 1, 1, "0"),
        ball(2, 1, 2, "3-6-10"),
        ball(2, 10, 1, "9"),
        ball(2, 10, 2, "/"),
        ball(2, 10, 3, "X"),
    )


def test_practice_with_nothing_but_first_balls_raises_none():
    assert not doubts({"leave": "X"}, {"leave": ""}, {"leave": "10"}, {})


@pytest.mark.parametrize(
    ("shots", "expected"),
    [
        ([{"leave": "/"}], [(1, "leave")]),
        ([{"delivery": 2}], [(1, "delivery")]),
        ([ball(1, 1, 1, "10"), ball(1, 2, 2, "/")], [(2, "delivery")]),
        ([ball(1, 1, 1, "10"), ball(1, 1, 1, "9")], [(2, "delivery")]),
        ([ball(1, 1, 1, "X"), ball(1, 1, 2, "/")], [(2, "delivery")]),
        ([ball(1, 1, 1, "3-10"), ball(1, 1, 2, "7")], [(2, "leave")]),
        ([ball(1, 1, 1, "3-10"), ball(1, 1, 2, "X")], [(2, "leave")]),
        ([ball(1, 10, 1, "3-10"), ball(1, 10, 2, "X")], [(2, "leave")]),
        ([ball(1, 10, 1, "X"), ball(1, 10, 2, "/")], [(2, "leave")]),
        ([ball(1, 4, 1, "9"), ball(1, 4, 2, "9"), ball(1, 4, 3, "9")], [(3, "delivery")]),
        ([{"leave": "9", "neighbour_pin": "flat"}], [(1, "neighbour_pin")]),
        ([{"leave": "6-10", "neighbour_pin": "flat"}], [(1, "neighbour_pin")]),
        ([{"throw": "good", "miss": "in"}], [(1, "miss")]),
    ],
)
def test_doubts(shots, expected):
    assert doubts(*shots) == expected


def test_a_corner_with_its_neighbour_down_raises_none():
    assert not doubts({"leave": "10", "neighbour_pin": "flat"})
    assert not doubts({"leave": "7", "neighbour_pin": "around"})
    assert not doubts({"leave": "4-10", "neighbour_pin": "into"})


def test_a_doubtful_shot_is_kept_and_named_by_its_row():
    log = parse_rows(read_table(b"shot,leave\n\n5,/\n", "log.csv"))
    assert [shot.leave for shot in log.shots] == ["/"]
    assert log.problems == []
    assert str(log.warnings[0]).startswith("row 3, leave: a spare on delivery 1")
