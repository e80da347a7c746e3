"""How far the deck exit moves for a board at the head pin, on this session's own hits.

What moves the head pin moves the deck exit along with it, and by more: pins throw a ball aside the
further, the less of the pocket it meets. The motion model ends at the pins, so whatever moves the
head pin (a throw, the lane, a ball) is taken to move the exit by one slope. By the table of hits it
is 2 boards for hits that scatter by 1.6 about the flush one and 3 for hits that scatter by 1; the
session's own hits say better.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from .robust import huber
from .series import RESOLUTION, Sensitivity, centred_by, column, levels
from .shots import LoggedShot

# Boards of exit for a board at the head pin before any hit is seen: the table of hits, with a doubt
# that holds its slopes from 1.5 (hits all over the deck) to 3.5 (hits near the pocket).
USUAL, _USUAL_SD = 2.5, 1.0
_FEWEST = 3  # hits with both boards read from which a session has a say


def exit_per_board(shots: Sequence[LoggedShot], use: NDArray[np.bool_]) -> float:
    """Return boards at the deck's end for one at the head pin, over the shots in ``use``.

    A robust regression within each ball, lane and line, with ``USUAL`` known beforehand. The head
    pin's misreading flattens it a little.
    """
    both = use & np.isfinite(column(shots, "head_pin")) & np.isfinite(column(shots, "deck_exit"))
    if both.sum() < _FEWEST:
        return USUAL
    groups = levels(shots)
    pin = centred_by(column(shots, "head_pin"), groups, both)[both]
    left = centred_by(column(shots, "deck_exit"), groups, both)[both]
    fit = huber(
        pin[:, None],
        left,
        np.array([USUAL]),
        np.array([_USUAL_SD**-2]),
        floor=RESOLUTION["deck_exit"],
    )
    return float(fit.coef[0])


def with_exits(sensitivity: Sensitivity, per_board: float) -> Sensitivity:
    """Return slopes whose deck exit goes as the head pin does."""
    follows = {
        ("deck_exit", thrown): per_board * slope
        for (name, thrown), slope in sensitivity.mean.items()
        if name == "head_pin"
    }
    return replace(sensitivity, mean=sensitivity.mean | follows)


def marks_with_exits(
    marks: Mapping[str, Mapping[str, float]], per_board: float
) -> dict[str, dict[str, float]]:
    """Return the marks of lane and ball (see ``physics.signatures``) with that of the deck exit."""
    return {
        part: {**mark, "deck_exit": per_board * mark["head_pin"]} for part, mark in marks.items()
    }
