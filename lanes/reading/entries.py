"""Each shot's entry angle: what its path says, and what the pins say of it, read backwards.

Angle is hard to see. The fit tells it from the boards down the lane; where the deck exit or the
leave was written down too, the table of hits says how likely each angle makes them, and both are
put together by Bayes (``lanes.pins.backwards``). With too few shots for a fit the pins speak alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lanes.motion.seen import ReadingError
from lanes.pins.backwards import ANGLE_MEAN_DEG, likely_entry
from lanes.pins.surface import ANGLE_RANGE, BOARD_RANGE

from .leaves import pins_standing
from .physics import Physics
from .shots import LoggedShot

Array = NDArray[np.float64]

PATH, BOTH, PINS = "path", "path and pins", "pins"


@dataclass(frozen=True, eq=False)
class Entries:
    """Entry angles in degrees, their sd and where each comes from, by shot of the log (n,).

    Without an angle it is nan and comes from nowhere, ``""``.
    """

    angle_deg: Array
    sd: Array
    source: tuple[str, ...]


def entry_angles(
    shots: Sequence[LoggedShot],
    first: Sequence[bool],
    physics: Physics | None,
    hand: str,
    reading_error: ReadingError,
) -> Entries:
    """Return the entry angle of every shot at a full rack of which enough was seen."""
    n = len(shots)
    angle, sd = np.full(n, np.nan), np.full(n, np.nan)
    source = [""] * n
    row_of = {} if physics is None else {int(i): row for row, i in enumerate(physics.index)}
    for i, shot in enumerate(shots):
        leave = _first_leave(shot) if first[i] else None
        told = first[i] and (shot.deck_exit is not None or leave is not None)
        row = row_of.get(i)
        if row is not None and physics is not None:
            fit = physics.fit
            angle[i], sd[i] = fit.entry_angle[row], fit.entry_angle_sd[row]
            source[i] = PATH
            if told and _on_table(float(fit.head_pin[row]), float(angle[i])):
                entry = likely_entry(
                    float(fit.head_pin[row]),
                    shot.deck_exit,
                    leave,
                    hand=hand,
                    read_sd=float(fit.head_pin_sd[row]),
                    slip_mps=float(fit.slip[row]),
                    angle_mean_deg=float(angle[i]),
                    angle_sd_deg=float(sd[i]),
                )
                angle[i], sd[i], source[i] = entry.angle_deg, entry.angle_sd_deg, BOTH
        elif told and shot.head_pin is not None and _on_table(shot.head_pin, ANGLE_MEAN_DEG):
            entry = likely_entry(
                shot.head_pin, shot.deck_exit, leave, hand=hand, read_sd=reading_error.head_pin
            )
            angle[i], sd[i], source[i] = entry.angle_deg, entry.angle_sd_deg, PINS
    return Entries(angle, sd, tuple(source))


def _on_table(board: float, angle_deg: float) -> bool:
    """Say whether the table knows such hits; elsewhere it would tell of those at its edge."""
    on_board = BOARD_RANGE[0] <= board <= BOARD_RANGE[1]
    return on_board and ANGLE_RANGE[0] < angle_deg < ANGLE_RANGE[1]


def _first_leave(shot: LoggedShot) -> tuple[int, ...] | None:
    """Return what a ball at a full rack left, ``None`` where it was not seen or the head pin
    stands: then the ball passed it, and the table has no word on that."""
    standing = pins_standing(shot.leave)
    if standing is None or 1 in standing:
        return None
    return tuple(sorted(standing))
