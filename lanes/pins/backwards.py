"""Reading backwards: from head pin, deck exit and leave to the likely entry angle and slip.

Bayes on the carry table: a prior over angle and slip, times the chance of what was seen at each,
averaged over how well the head-pin board was read. Angle is hard to see from behind the foul line;
the board at the head pin and at the end of the deck are not. The table is a model: how far other
ways to compute lie from it (EVIDENCE.md) is in the chance of what was seen, so that it never says
more than is known.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .carry import DEFAULT_SPEED_MPH, mirror_pins, table
from .surface import ANGLE_RANGE

READ_SD_BOARDS = 0.5  # of a board read by eye at the pins; assumed
EXIT_READ_SD_BOARDS = 1.0  # ... and at the deck's end, where the ball is seen for a moment; assumed
ANGLE_MEAN_DEG, ANGLE_SD_DEG = 5.0, 2.0  # what is thrown, before anything is seen; assumed
# How far the table's mean deck exit lies from other ways to compute, one sd of 0.3 to 2 boards ...
EXIT_MODEL_SD = 1.0
# ... and how often what fell is not by the table at all: two engines differ by up to 16 points. As
# much is taken for where the ball left (assumed): off the pocket nobody has checked the table, and
# an exit that it does not know is no word on the angle.
NOT_BY_TABLE = 0.2
_DECK_BOARDS = 39.0
SLIPS = np.linspace(0.0, 2.5, 6)
_ANGLES = 21  # places from which the posterior is made up, over so many sd of what was known
_REACH_SDS = 4.0
_ROOT_2PI = float(np.sqrt(2.0 * np.pi))
_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(5)


@dataclass(frozen=True)
class Entry:
    """A likely entry; ``p`` (angles, slips) is the posterior over ``angles`` and ``slips``."""

    angle_deg: float
    angle_sd_deg: float
    slip_mps: float
    slip_sd_mps: float
    angles: NDArray[np.float64]
    slips: NDArray[np.float64]
    p: NDArray[np.float64]


def likely_entry(
    head_pin_board: float,
    deck_exit_board: float | None = None,
    leave: tuple[int, ...] | None = None,
    speed_mph: float = DEFAULT_SPEED_MPH,
    hand: str = "right",
    read_sd: float = READ_SD_BOARDS,
    exit_read_sd: float = EXIT_READ_SD_BOARDS,
    slip_mps: float | None = None,
    angle_mean_deg: float = ANGLE_MEAN_DEG,
    angle_sd_deg: float = ANGLE_SD_DEG,
) -> Entry:
    """Return angle and slip given what was seen; ``leave`` is ``()`` for a strike, ``None`` unseen.

    ``read_sd`` is the error of the head pin's board, ``exit_read_sd`` that of the deck exit's;
    ``angle_mean_deg`` and ``angle_sd_deg`` say what was known of the angle before, ``slip_mps`` the
    slip where it is known. With nothing but the head pin seen the answer is that.
    """
    middle, reach = float(np.clip(angle_mean_deg, *ANGLE_RANGE)), _REACH_SDS * angle_sd_deg
    angles = np.linspace(
        max(middle - reach, ANGLE_RANGE[0]), min(middle + reach, ANGLE_RANGE[1]), _ANGLES
    )
    slips = SLIPS if slip_mps is None else np.array([slip_mps])
    node, angle, slip = np.meshgrid(_NODES, angles, slips, indexing="ij")
    board = head_pin_board + read_sd * node
    at = (board.ravel(), angle.ravel(), speed_mph, slip.ravel())
    seen = np.ones(board.size)
    if deck_exit_board is not None:
        mean, spread = table().deck_exit(*at)
        spread = np.sqrt(spread**2 + exit_read_sd**2 + EXIT_MODEL_SD**2)
        told = np.exp(-0.5 * ((deck_exit_board - mean) / spread) ** 2) / (spread * _ROOT_2PI)
        seen *= (1.0 - NOT_BY_TABLE) * told + NOT_BY_TABLE / _DECK_BOARDS
    if leave is not None:
        seen *= _chance_of(leave, at, hand)
    chance = np.einsum("n,nas->as", _SHARES, seen.reshape(board.shape))
    angle, slip = angle[0], slip[0]
    p = chance * np.exp(-0.5 * ((angle - angle_mean_deg) / angle_sd_deg) ** 2) + 1e-300
    p /= p.sum()
    mean_angle, mean_slip = float((p * angle).sum()), float((p * slip).sum())
    return Entry(
        angle_deg=mean_angle,
        angle_sd_deg=float(np.sqrt((p * (angle - mean_angle) ** 2).sum())),
        slip_mps=mean_slip,
        slip_sd_mps=float(np.sqrt((p * (slip - mean_slip) ** 2).sum())),
        angles=angles,
        slips=slips,
        p=p,
    )


def _chance_of(
    leave: tuple[int, ...],
    at: tuple[NDArray[np.float64], NDArray[np.float64], float, NDArray[np.float64]],
    hand: str,
) -> NDArray[np.float64]:
    """Return the chance of a leave at each hit, with that of what the table does not know."""
    shipped = table()
    if leave == ():
        told = shipped.strike(*at)
    else:
        pins = mirror_pins(leave) if hand == "left" else tuple(sorted(leave))
        known = shipped.leaves.index(pins) if pins in shipped.leaves else -1
        told = shipped.leave_chances(*at)[:, known]
    return (1.0 - NOT_BY_TABLE) * told + NOT_BY_TABLE * told.mean()
