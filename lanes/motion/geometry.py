"""Lane and pin geometry, units, and the one place of the pocket's thresholds.

Inside the numeric core everything is SI in the *bowler's own count*: ``x`` is metres from the lane
edge on the bowler's strong side (the right edge for a right-hander) and grows toward the weak
side, ``y`` is metres from the foul line toward the pins. Boards, feet, inches, miles an hour and
degrees appear at the boundary only and are converted there once, with the functions below.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

INCH_M = 0.0254
FOOT_M = 0.3048
MPH_MPS = 0.44704
GRAVITY = 9.80665  # standard gravity, m/s2

# Lane width 41-1/2 +- 1/2 in, 39 boards by convention (governing body's lane specification).
LANE_WIDTH_IN = 41.5
BOARDS = 39
BOARD_IN = LANE_WIDTH_IN / BOARDS
BOARD_M = BOARD_IN * INCH_M
LANE_WIDTH_M = LANE_WIDTH_IN * INCH_M
GUTTER_WIDTH_IN = 9.25  # same specification

# Distances from the foul line. The arrows lie 12 to 16 ft out, "15 ft" by convention.
ARROWS_FT = 15.0
HEAD_PIN_FT = 59.5  # plane of first contact with a pocket ball (our convention)
HEAD_PIN_CENTRE_FT = 60.0  # +- 1/2 in (lane specification)
DECK_EXIT_FT = 62.0 + (10.0 + 3.0 / 16.0) / 12.0  # pit edge without tail plank (specification)
# The launch by which a ball crosses the arrows one board further out.
DEG_PER_BOARD = math.degrees(math.atan(BOARD_IN / (ARROWS_FT * 12.0)))

PIN_SPACING_IN = 12.0  # equilateral triangle of 36 in (specification)
PIN_ROW_PITCH_IN = PIN_SPACING_IN * math.sqrt(3.0) / 2.0
PIN_DIAMETER_IN = 4.766  # at the belly, 4-1/2 in above the deck (pin specification)
LAST_ROW_TO_EXIT_IN = 3.0  # row four's centres to the tail plank (specification)

# Ball: circumference 26.704 to 27.002 in, largest mass 16.00 lb (ball specification). A 27-in
# ball is taken throughout, so that 6.75 in along the surface is a right angle.
BALL_CIRCUMFERENCE_IN = 27.0
BALL_RADIUS_IN = BALL_CIRCUMFERENCE_IN / (2.0 * math.pi)
BALL_RADIUS_M = BALL_RADIUS_IN * INCH_M

# Row and place across the deck, in half pin spacings to the left of the head pin.
_PIN_PLACES = {
    1: (0, 0),
    2: (1, 1),
    3: (1, -1),
    4: (2, 2),
    5: (2, 0),
    6: (2, -2),
    7: (3, 3),
    8: (3, 1),
    9: (3, -1),
    10: (3, -3),
}


@dataclass(frozen=True)
class Pocket:
    """Boards at the head-pin plane that divide light, flush and high (common practice, no source).

    ``light`` to ``high`` is the pocket, ``flush_low`` to ``flush_high`` its middle; below
    ``light`` the hit is light, above ``high`` it is high.
    """

    light: float = 16.5
    flush_low: float = 17.0
    flush_high: float = 18.0
    high: float = 18.5

    def name(self, head_pin_board: float | None) -> str | None:
        """Return ``light``, ``flush``, ``high`` or ``pocket`` between them; ``None`` without one.

        ``pocket`` is inside the pocket and off its middle.
        """
        if head_pin_board is None:
            return None
        if head_pin_board < self.light:
            return "light"
        if head_pin_board > self.high:
            return "high"
        return "flush" if self.flush_low <= head_pin_board <= self.flush_high else "pocket"


POCKET = Pocket()


def board_to_m(board: float) -> float:
    """Return metres from the strong-side edge for a board (board ``b`` is centred at b - 0.5)."""
    return (board - 0.5) * BOARD_M


def m_to_board(x: float) -> float:
    """Return the board at ``x`` metres from the strong-side edge."""
    return x / BOARD_M + 0.5


def mirror_board(board: float) -> float:
    """Return the same place counted from the other edge of the lane."""
    return BOARDS + 1 - board


def ft_to_m(feet: float) -> float:
    """Return metres for feet."""
    return feet * FOOT_M


def m_to_ft(metres: float) -> float:
    """Return feet for metres."""
    return metres / FOOT_M


def mph_to_mps(mph: float) -> float:
    """Return metres a second for miles an hour."""
    return mph * MPH_MPS


def mps_to_mph(mps: float) -> float:
    """Return miles an hour for metres a second."""
    return mps / MPH_MPS


def rpm_to_radps(rpm: float) -> float:
    """Return radians a second for revolutions a minute."""
    return rpm * 2.0 * math.pi / 60.0


def pin_spots(hand: str = "right") -> dict[int, tuple[float, float]]:
    """Return ``{pin: (board, ft)}`` of the ten spots' centres in the bowler's own count.

    Pin numbers never mirror: the ten pin stands on the right of the lane for everyone, so it is on
    board 3.08 for a right-hander and on board 36.92 for a left-hander. Spacing and distances are
    those of the lane specification; with 12 in between pins the columns are 5.64 boards apart,
    not five.
    """
    half_boards = PIN_SPACING_IN / 2.0 / BOARD_IN
    spots = {}
    for pin, (row, left) in _PIN_PLACES.items():
        board = (BOARDS + 1) / 2.0 + left * half_boards
        feet = HEAD_PIN_CENTRE_FT + row * PIN_ROW_PITCH_IN / 12.0
        spots[pin] = (board if hand == "right" else mirror_board(board), feet)
    return spots


def undeflected_exit(head_pin_board: float, entry_angle_deg: float) -> float:
    """Return the board at the end of the deck of a ball that no pin turned aside.

    Deflection is this board less the deck exit that was seen. ``head_pin_board`` is the board at
    the head-pin plane, ``entry_angle_deg`` is positive toward the weak side.
    """
    run_in = (DECK_EXIT_FT - HEAD_PIN_FT) * 12.0
    return head_pin_board + math.tan(math.radians(entry_angle_deg)) * run_in / BOARD_IN
