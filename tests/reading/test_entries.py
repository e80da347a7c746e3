"""Entry angles: the path's, what the pins add to it, and the pins alone where there is no fit."""

from dataclasses import replace

import numpy as np
import pytest

from lanes.motion.seen import ReadingError
from lanes.pins.carry import carry, table
from lanes.reading.entries import BOTH, PATH, PINS, entry_angles
from lanes.reading.session import Reader
from lanes.reading.shots import LoggedShot

from .simulator import session
from .test_options import BALLS, RIGHT


def entries(shots, hand="right"):
    found = Reader(shots, replace(RIGHT, hand=hand), BALLS, None, True, 1, None)
    found.look()
    return found.entries, found.physics


def test_what_the_pins_saw_moves_a_fitted_angle_a_little_toward_it():
    shots = [replace(s, deck_exit=None, leave="") for s in session("nothing", 3)]
    told, physics = entries(shots)
    assert set(told.source) == {PATH}
    at = int(np.argmin(np.abs(physics.fit.head_pin - 17.4)))
    i, board = int(physics.index[at]), float(physics.fit.head_pin[at])
    angle, slip = told.angle_deg[i], float(physics.fit.slip[at])
    for steeper in (-2.0, 2.0):
        exit_ = float(table().deck_exit(board, angle + steeper, slip_mps=slip)[0][0])
        shown, _ = entries([replace(s, deck_exit=exit_) if n == i else s
                            for n, s in enumerate(shots)])  # fmt: skip
        assert shown.source[i] == BOTH
        assert 0.0 < (shown.angle_deg[i] - angle) / steeper < 0.5
        # One exit of a misread board says little beside a fit (0.8 board a degree, EVIDENCE.md).
        assert shown.sd[i] == pytest.approx(told.sd[i], rel=0.1)


def test_with_too_few_shots_for_a_fit_the_pins_speak_alone_and_vaguely():
    steep, flat = (
        LoggedShot(n, head_pin=17.5, deck_exit=round(carry(17.5, angle).deck_exit_board, 1))
        for n, angle in ((1, 7.0), (2, 2.5))
    )
    unseen = LoggedShot(3, head_pin=17.5)
    told, physics = entries([steep, flat, unseen])
    assert physics is None
    assert told.source == (PINS, PINS, "")
    assert told.angle_deg[0] > told.angle_deg[1]
    assert (told.sd[:2] > 0.8).all()
    assert np.isnan(told.angle_deg[2])


def test_a_left_handers_leaves_are_mirrored_and_later_balls_say_nothing():
    error = ReadingError()
    ten = [LoggedShot(1, head_pin=16.5, leave="10"), LoggedShot(2, delivery=2, head_pin=3.0)]
    seven = [replace(ten[0], leave="7"), ten[1]]
    right = entry_angles(ten, [True, False], None, "right", error)
    left = entry_angles(seven, [True, False], None, "left", error)
    assert right.angle_deg[0] == pytest.approx(left.angle_deg[0])
    assert right.source == (PINS, "")


def test_a_ball_that_passed_the_head_pin_says_nothing_of_its_angle():
    shots = [LoggedShot(1, head_pin=13.9, leave="1-2-4-7"), LoggedShot(2, head_pin=30.0, leave="1")]
    assert entry_angles(shots, [True, True], None, "right", ReadingError()).source == ("", "")
