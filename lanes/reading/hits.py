"""Where the ball met the pins: light, flush, high, and how far the pins turned it aside."""

from __future__ import annotations

from lanes.motion.geometry import POCKET, mirror_board, undeflected_exit

from .leaves import pins_standing
from .shots import LoggedShot

# A ball past the far side's pocket crossed over; one that no pin was in the way of missed. Ball
# and pin touch when their centres are nearer than the sum of their radii, 4.30 + 2.38 in
# (specifications); the head pin stands on board 20, so it is missed beyond 6.3 boards.
CENTRE_BOARD = 20.0
_REACH_BOARDS = 6.3
CROSSOVER = mirror_board(POCKET.high)  # the pocket on the other side begins here
HITS = ("light", "flush", "high", "crossover", "missed")


def hit(head_pin: float | None, leave: str = "") -> str | None:
    """Return what kind of hit a board at the head-pin plane is; ``None`` if it was not read.

    ``flush`` is the whole pocket's middle, ``light`` and ``high`` the rest of the near side,
    ``crossover`` the other pocket and beyond, ``missed`` a ball that passed the head pin, which the
    head pin says by standing, whatever board was read.
    """
    if 1 in (pins_standing(leave) or ()):
        return "missed"
    if head_pin is None:
        return None
    reached = pins_standing(leave) is not None  # ... and the head pin went down
    if abs(head_pin - CENTRE_BOARD) > _REACH_BOARDS and not reached:
        return "missed"
    if head_pin < POCKET.flush_low:
        return "light"
    if head_pin <= POCKET.flush_high:
        return "flush"
    return "high" if head_pin < CROSSOVER else "crossover"


def in_pocket(head_pin: float | None) -> bool | None:
    """Say whether the ball met the pocket; ``None`` if the board was not read."""
    return None if head_pin is None else POCKET.light <= head_pin <= POCKET.high


def deflection(shot: LoggedShot, entry_angle_deg: float | None) -> float | None:
    """Return boards of deflection: the undeflected exit less the deck exit that was seen.

    Positive when the pins turned the ball toward the strong side. ``None`` without the board at
    the head pin, the deck exit or an entry angle.
    """
    if shot.head_pin is None or shot.deck_exit is None or entry_angle_deg is None:
        return None
    return undeflected_exit(shot.head_pin, entry_angle_deg) - shot.deck_exit


# Common practice, no source: about a board light of the pocket's middle with the ball leaving the
# deck far on the strong side, the pins deflected the ball; at 17 to 17.5 with the ball driving on
# to about 19 to 22 it carried through.
_DEFLECTED_HEAD_PIN = (15.0, 16.8)
_DEFLECTED_EXIT = 15.0
_DROVE_HEAD_PIN = (16.8, 17.7)
_DROVE_EXIT = (18.5, 22.5)
# Deflected balls with a flat corner before they speak for another ball: so many, and this share of
# the good first balls that did not strike (assumed).
DEFLECTED_TELLS = 3
DEFLECTED_SHARE = 0.25


def drive(shot: LoggedShot) -> str | None:
    """Return ``deflected`` or ``drove through`` where head pin and deck exit say it plainly."""
    if shot.head_pin is None or shot.deck_exit is None:
        return None
    low, high = _DEFLECTED_HEAD_PIN
    if low <= shot.head_pin <= high and shot.deck_exit <= _DEFLECTED_EXIT:
        return "deflected"
    low, high = _DROVE_HEAD_PIN
    if low <= shot.head_pin <= high and _DROVE_EXIT[0] <= shot.deck_exit <= _DROVE_EXIT[1]:
        return "drove through"
    return None
