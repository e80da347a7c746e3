"""How the readings of one shot scatter: throws that differ, and misreadings with wild tails.

A shot's readings are what was there plus an error each. What was there scatters from throw to
throw, all check-points together, by a covariance that the session tells, next to that of an
ordinary bowler whose throws go down the lane as the motion model says. The errors are Student's, as
in the fit (``motion.seen.ReadingError``): a reading that the shot's others speak against counts
less, for that shot alone. Both come from the EM algorithm, with the errors' own precisions as what
is missing (D. B. Rubin and D. T. Thayer, Psychometrika 47 (1982) 69-76, for the covariance; K. L.
Lange, R. J. A. Little and J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989) 881-896, for the tails).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lanes.motion.problem import T_FREEDOM
from lanes.motion.seen import ReadingError
from lanes.pins.backwards import EXIT_READ_SD_BOARDS

from .series import THROW, Sensitivity

Array = NDArray[np.float64]

DOWN_LANE = ("breakpoint", "breakpoint_ft", "head_pin", "deck_exit")
CHECKPOINTS = (*THROW, *DOWN_LANE)
PLACE = {name: place for place, name in enumerate(CHECKPOINTS)}

PRIOR_SHOTS = 20.0  # shots for which the ordinary bowler counts (assumed)
# Scatter of an ordinary bowler's throws, one sd: boards, mph, rpm (assumed). Who lays a ball down
# further in crosses the arrows further in as well.
_THROWN_SD = {"arrows": 0.75, "laydown": 0.4, "speed_mph": 0.22, "rev_rpm": 10.0}
# What nobody reads of a release, in boards at the head pin, and how it goes on from a board there
# (an ordinary lane's mark of a stronger roll); and what else each check-point does on its own.
_UNREAD_SD = 0.6
_UNREAD_MARK = {"breakpoint": 0.45, "breakpoint_ft": -0.5, "head_pin": 1.0}
_OWN_SD = {"breakpoint": 0.6, "breakpoint_ft": 1.3, "head_pin": 0.5, "deck_exit": 1.5}
_ROUNDS = 12  # of EM; no variance of 45 shots moves by more than 2 % from then on
_UNREAD = 1e9  # variance of what was not read


def noise(left: Array, sensitivity: Sensitivity, error: ReadingError) -> Array:
    """Return the covariance (n, c, c) of each shot's readings, in the order of ``CHECKPOINTS``.

    ``left`` (n, c) is what levels and slow changes leave of the readings, nan where nothing was
    read; the rows and columns of such readings mean nothing. A misreading's part of the covariance
    is its own.
    """
    known = np.isfinite(left)
    seen = np.where(known, np.nan_to_num(left), 0.0)
    scale = _scales(error) ** 2
    usual = usual_scatter(sensitivity)
    scatter, weight = usual, np.ones_like(seen)
    for _ in range(_ROUNDS):
        misread = np.where(known, scale / weight, _UNREAD)
        gain = scatter @ np.linalg.inv(scatter + _diagonals(misread))
        likely = np.einsum("ijk,ik->ij", gain, seen)
        doubt = scatter - gain @ scatter
        off = (seen - likely) ** 2 + np.maximum(np.diagonal(doubt, axis1=1, axis2=2), 0.0)
        weight = (T_FREEDOM + 1.0) / (T_FREEDOM + off / scale)
        told = np.einsum("ij,ik->jk", likely, likely) + doubt.sum(axis=0)
        scatter = (told + PRIOR_SHOTS * usual) / (len(seen) + PRIOR_SHOTS)
    return np.asarray(scatter + _diagonals(np.where(known, scale / weight, 1.0)))


def usual_scatter(sensitivity: Sensitivity) -> Array:
    """Return the covariance (c, c) of what an ordinary bowler's throws do, before it is read."""
    slopes = sensitivity.mean
    parts = []
    for thrown, sd in _THROWN_SD.items():
        along = {thrown: 1.0} | {name: slopes[name, thrown] for name in DOWN_LANE}
        if thrown == "laydown":
            along["arrows"] = 1.0
            for name in DOWN_LANE:
                along[name] += slopes[name, "arrows"]
        parts.append(sd * _vector(along))
    at_pins = slopes["head_pin", "arrows"]
    per_board = slopes["deck_exit", "arrows"] / at_pins if at_pins else 0.0
    parts.append(_UNREAD_SD * _vector(_UNREAD_MARK | {"deck_exit": per_board}))
    own = _vector(_OWN_SD)
    return np.asarray(sum(np.outer(part, part) for part in parts) + np.diag(own**2))


def _scales(error: ReadingError) -> Array:
    """Return the scale of each check-point's misreading."""
    return np.array(
        [
            EXIT_READ_SD_BOARDS if name == "deck_exit" else getattr(error, name)
            for name in CHECKPOINTS
        ]
    )


def _vector(values: dict[str, float]) -> Array:
    return np.array([values.get(name, 0.0) for name in CHECKPOINTS])


def _diagonals(values: Array) -> Array:
    return np.asarray(values[:, :, None] * np.eye(values.shape[1]))
