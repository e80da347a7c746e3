"""Hits against the pocket's thresholds, and the trade's signs of deflection and drive.

Thresholds and signs: common practice, no source.
"""

from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from lanes.motion import undeflected_exit
from lanes.reading import hits, words
from lanes.reading.shots import LoggedShot


@pytest.mark.parametrize(
    ("board", "kind"),
    [(14.5, "light"), (16.5, "light"), (17.0, "flush"), (17.5, "flush"), (18.0, "flush"),
     (18.5, "high"), (20.0, "high"), (21.4, "high"), (22.5, "crossover"), (30.0, "missed"),
     (8.0, "missed"), (None, None)],
)  # fmt: skip
def test_light_flush_high(board, kind):
    assert hits.hit(board) == kind


def test_the_head_pin_itself_says_whether_it_was_missed():
    assert hits.hit(17.5, "1-2-10") == "missed"
    assert hits.hit(None, "1-3-6") == "missed"
    assert hits.hit(13.0, "2-10") == "light"
    assert hits.hit(27.0, "X") == "crossover"


@pytest.mark.parametrize(
    ("board", "met"), [(16.4, False), (16.5, True), (18.5, True), (18.6, False)]
)
def test_pocket(board, met):
    assert hits.in_pocket(board) is met


@given(st.floats(12, 25), st.floats(0, 8), st.floats(0, 39))
def test_deflection_is_the_straight_exit_less_the_exit_seen(pin, angle, deck_exit):
    shot = LoggedShot(1, head_pin=pin, deck_exit=deck_exit)
    assert hits.deflection(shot, angle) == pytest.approx(undeflected_exit(pin, angle) - deck_exit)
    assert hits.deflection(LoggedShot(1, head_pin=pin), angle) is None
    assert hits.deflection(shot, None) is None


def test_about_a_board_light_and_far_aside_is_deflected():
    assert hits.drive(LoggedShot(1, head_pin=16.5, deck_exit=12.0)) == "deflected"


@pytest.mark.parametrize("board", [17.0, 17.5])
@pytest.mark.parametrize("deck_exit", [19.0, 20.5, 22.0])
def test_at_the_pocket_and_on_to_19_to_22_it_drove_through(board, deck_exit):
    assert hits.drive(LoggedShot(1, head_pin=board, deck_exit=deck_exit)) == "drove through"
    assert hits.drive(LoggedShot(1, head_pin=board, deck_exit=14.0)) is None


@pytest.mark.parametrize("pins", [(16.0, 18.9), (18.9, 16.0)])
def test_of_two_kinds_of_hit_behind_a_leave_met_as_often_the_first_is_told(pins):
    """Whatever the order in which a process happens to hash the words."""
    shots = [LoggedShot(n, head_pin=board, leave="10") for n, board in enumerate(pins, start=1)]
    found = SimpleNamespace(shots=shots, first=[True, True], client=SimpleNamespace(hand="right"))
    first = hits.hit(pins[0], "10")
    assert first != hits.hit(pins[1], "10")
    assert words.leave_words("10", found).startswith(f"1 of 2 {first}")
