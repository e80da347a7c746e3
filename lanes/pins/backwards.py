"""Reading backwards: from head pin, deck exit and leave to the likely entry angle and slip.

Bayes on the carry table: a prior over angle and slip, times the chance of what was seen at each,
averaged over how well the head-pin board was read. Angle is hard to see from behind the foul line;
the board at the head pin and at the end of the deck are not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .carry import DEFAULT_SPEED_MPH, mirror_pins, table
from .surface import ANGLE_RANGE

READ_SD_BOARDS = 0.5  # of a board read by eye at the pins or the deck's end; assumed
ANGLE_MEAN_DEG, ANGLE_SD_DEG = 5.0, 2.0  # what is thrown, before anything is seen; assumed
SLIPS = np.linspace(0.0, 2.5, 6)
_ANGLES = np.linspace(*ANGLE_RANGE, 33)
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
) -> Entry:
    """Return angle and slip given what was seen; ``leave`` is ``()`` for a strike, ``None`` unseen.

    With nothing but the head pin seen the answer is the prior.
    """
    shipped = table()
    angle, slip = np.meshgrid(_ANGLES, SLIPS, indexing="ij")
    chance = np.zeros(angle.shape)
    for node, share in zip(_NODES, _SHARES, strict=True):
        board = np.full(angle.size, head_pin_board + read_sd * node)
        at = (board, angle.ravel(), speed_mph, slip.ravel())
        seen = np.ones(angle.size)
        if deck_exit_board is not None:
            mean, spread = shipped.deck_exit(*at)
            spread = np.hypot(spread, read_sd)
            seen *= np.exp(-0.5 * ((deck_exit_board - mean) / spread) ** 2) / spread
        if leave == ():
            seen *= shipped.strike(*at)
        elif leave is not None:
            pins = mirror_pins(leave) if hand == "left" else tuple(sorted(leave))
            known = shipped.leaves.index(pins) if pins in shipped.leaves else -1
            seen *= shipped.leave_chances(*at)[:, known]
        chance += share * seen.reshape(angle.shape)
    p = chance * np.exp(-0.5 * ((angle - ANGLE_MEAN_DEG) / ANGLE_SD_DEG) ** 2) + 1e-300
    p /= p.sum()
    mean_angle, mean_slip = float((p * angle).sum()), float((p * slip).sum())
    return Entry(
        angle_deg=mean_angle,
        angle_sd_deg=float(np.sqrt((p * (angle - mean_angle) ** 2).sum())),
        slip_mps=mean_slip,
        slip_sd_mps=float(np.sqrt((p * (slip - mean_slip) ** 2).sum())),
        angles=_ANGLES,
        slips=SLIPS,
        p=p,
    )
