"""What one check-point did over a session, and what the throw already explains of it.

A ball thrown a board further out, or a mile an hour slower, meets the head pin elsewhere on a
lane that has not changed. So the down-lane check-points are always looked at next to the throw:
the board at the arrows, the laydown and the speed of the same shot. Balls, lanes and planned moves
(another ``stand`` or ``aim``) each have a level of their own, so that none of them is taken for a
lane change.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lanes.motion.seen import SHAPE, ReadingError

from .shots import LoggedShot

Array = NDArray[np.float64]

UNITS = {
    "arrows": "boards",
    "breakpoint": "boards",
    "breakpoint_ft": "ft",
    "head_pin": "boards",
    "entry_angle": "deg",
    "deck_exit": "boards",
    "laydown": "boards",
    "speed_mph": "mph",
}
THROW = ("arrows", "laydown", "speed_mph", "rev_rpm")
# Readings come in half boards, whole feet and tenths; a scale below this is rounding.
RESOLUTION = {
    "arrows": 0.25,
    "laydown": 0.25,
    "speed_mph": 0.1,
    "rev_rpm": 5.0,
    "breakpoint": 0.5,
    "breakpoint_ft": 1.0,
    "head_pin": 0.5,
    "entry_angle": 0.2,
    "deck_exit": 0.5,
}

# How well the slopes foretell what a planned move does: in the check-point's unit, and as a share
# of the foretold shift (assumed).
MOVE_SD = {
    "breakpoint": 0.35,
    "breakpoint_ft": 0.5,
    "head_pin": 0.5,
    "entry_angle": 0.25,
    "deck_exit": 1.5,
}
MOVE_DOUBT = 0.175

_READ = ReadingError()
# How far an ordinary throw drifts in ten balls (assumed).
_THROW_DRIFT = {"arrows": 0.1, "laydown": 0.08, "speed_mph": 0.04, "rev_rpm": 1.6}
# The columns whose drift tells down the lane; that of the revs moves the head pin by 0.03 board.
_TELLING = ("arrows", "laydown", "speed_mph")
LEAST_REAL = 0.3  # share of a throw's scatter that is no misreading (assumed)
_SLOPE_DOUBT = 0.35  # of what a throw's drift does down the lane (assumed)
# Entry angles are the fit's: its lane that drifts is in them, with a doubt of its own, and a larger
# one where the shape of the path was not read (assumed).
_ANGLE_DRIFT_SD, _ANGLE_DRIFT_SD_UNSEEN = 0.02, 0.08


@dataclass(frozen=True)
class Sensitivity:
    """Boards (ft, degrees) of a check-point per unit of the throw, and how far that is in doubt.

    Keys of ``mean`` and ``sd`` are ``(checkpoint, throw column)``; units are per board, per mph
    and per rpm. The default is a rough rule for an ordinary lane: 2.3 boards at the pins per board
    at the arrows is the measured robot table's middle (FACTS section 4C); the others are assumed
    and wide. A session replaces them by the motion model's own.
    """

    mean: dict[tuple[str, str], float]
    sd: dict[tuple[str, str], float]


ROUGH_SENSITIVITY = Sensitivity(
    mean={
        ("head_pin", "arrows"): 2.3,
        ("head_pin", "laydown"): -2.0,
        ("head_pin", "speed_mph"): -2.0,
        ("head_pin", "rev_rpm"): 0.02,
        ("breakpoint", "arrows"): 1.5,
        ("breakpoint", "laydown"): -1.2,
        ("breakpoint", "speed_mph"): -1.0,
        ("breakpoint", "rev_rpm"): 0.01,
        ("breakpoint_ft", "arrows"): -1.0,
        ("breakpoint_ft", "laydown"): 0.5,
        ("breakpoint_ft", "speed_mph"): 1.0,
        ("breakpoint_ft", "rev_rpm"): -0.01,
        ("entry_angle", "arrows"): -0.5,
        ("entry_angle", "laydown"): 0.5,
        ("entry_angle", "speed_mph"): -0.3,
        ("entry_angle", "rev_rpm"): 0.015,
        ("deck_exit", "arrows"): 4.0,
        ("deck_exit", "laydown"): -1.5,
        ("deck_exit", "speed_mph"): -4.0,
        ("deck_exit", "rev_rpm"): 0.04,
    },
    sd={
        (checkpoint, column): size * factor
        for checkpoint, factor in {
            "head_pin": 1.0,
            "breakpoint": 1.0,
            "breakpoint_ft": 1.5,
            "entry_angle": 0.5,
            "deck_exit": 2.0,
        }.items()
        for column, size in {
            "arrows": 1.0,
            "laydown": 1.0,
            "speed_mph": 1.5,
            "rev_rpm": 0.02,
        }.items()
    },
)


@dataclass(frozen=True, eq=False)
class Series:
    """One check-point over the shots that count.

    ``index`` (n,) points into the session's shots, ``order`` is the place in the log (every ball
    thrown counts, spares too, because it wears the lane), ``y`` the readings, ``design`` (n, p)
    levels and throw, ``prior_mean`` and ``prior_precision`` (p,) what is known beforehand.
    ``drift_sd`` is what the throw's own drift leaves in doubt of this one's, in ten balls.
    """

    name: str
    index: NDArray[np.int64]
    order: Array
    y: Array
    design: Array
    prior_mean: Array
    prior_precision: Array
    drift_sd: float = 0.0

    @property
    def unit(self) -> str:
        """The unit of the readings."""
        return UNITS[self.name]


def column(shots: Sequence[LoggedShot], name: str) -> Array:
    """Return one column of the log as floats, nan where empty."""
    values = (getattr(shot, name) for shot in shots)
    return np.array([np.nan if v is None else v for v in values], dtype=float)


def levels(shots: Sequence[LoggedShot]) -> NDArray[np.int64]:
    """Number the ball, lane and planned line of each shot; equal numbers share a level."""
    names: dict[tuple[object, ...], int] = {}
    keys = [(s.ball, s.lane, s.stand, s.aim) for s in shots]
    return np.array([names.setdefault(key, len(names)) for key in keys], dtype=np.int64)


def centred_by(values: Array, groups: NDArray[np.int64], where: NDArray[np.bool_]) -> Array:
    """Return values less their group's median over ``where``; 0 for what was not read."""
    out = np.zeros(len(values))
    for group in np.unique(groups):
        mine = (groups == group) & np.isfinite(values)
        known = mine & where
        if known.any():
            out[mine] = values[mine] - np.median(values[known])
    return out


def throw_columns(
    shots: Sequence[LoggedShot], groups: NDArray[np.int64], reference: NDArray[np.bool_]
) -> dict[str, Array]:
    """Return each throw column less its level's median over ``reference``, where one was read."""
    columns = {}
    for name in THROW:
        values = column(shots, name)
        if np.isfinite(values[reference]).any():
            columns[name] = centred_by(values, groups, reference)
    return columns


def level_columns(
    name: str,
    shots: Sequence[LoggedShot],
    groups: NDArray[np.int64],
    keep: NDArray[np.bool_],
    sensitivity: Sensitivity,
    throw: bool,
) -> tuple[list[Array], list[float], list[float]]:
    """Return a column for each ball and lane, and one for each further line thrown with them.

    What a planned move does to the check-point is known roughly from the slopes, so that a lane
    which changes while the student follows it is still seen. Where the boards of the move were not
    read, or the check-point is the throw itself, the line's level is free.
    """
    index = np.flatnonzero(keep)
    pairs: dict[tuple[str, int | None], list[int]] = {}
    for group in np.unique(groups[index]):
        shot = shots[int(np.flatnonzero(groups == group)[0])]
        pairs.setdefault((shot.ball, shot.lane), []).append(int(group))
    boards = {column_name: column(shots, column_name) for column_name in ("laydown", "arrows")}
    columns: list[Array] = []
    mean: list[float] = []
    precision: list[float] = []
    for lines in pairs.values():
        home = max(lines, key=lambda line: int((groups[index] == line).sum()))
        columns.append(np.isin(groups[index], lines).astype(float))
        mean.append(0.0)
        precision.append(0.0)
        for line in lines:
            if line == home:
                continue
            shift = 0.0
            for column_name, read in boards.items():
                there = read[keep & (groups == line) & np.isfinite(read)]
                here = read[keep & (groups == home) & np.isfinite(read)]
                if not throw or len(there) == 0 or len(here) == 0:
                    shift = np.nan
                    break
                moved = float(np.median(there) - np.median(here))
                shift += sensitivity.mean[name, column_name] * moved
            columns.append((groups[index] == line).astype(float))
            known = bool(np.isfinite(shift))
            mean.append(float(shift) if known else 0.0)
            doubt = MOVE_SD.get(name, 0.0) + MOVE_DOUBT * abs(float(shift)) if known else 0.0
            precision.append(doubt**-2 if doubt > 0.0 else 0.0)
    return columns, mean, precision


def build(
    name: str,
    values: Array,
    shots: Sequence[LoggedShot],
    use: NDArray[np.bool_],
    sensitivity: Sensitivity = ROUGH_SENSITIVITY,
    throw: bool = True,
) -> Series | None:
    """Return the series of one check-point over the shots in ``use``.

    ``values`` (len(shots),) may hold nan. ``throw`` is off for the arrows, which are the throw. A
    level with one reading says nothing about change and is left out. ``None`` with too little
    left to tell a level from a slope.
    """
    groups = levels(shots)
    keep = use & np.isfinite(values)
    for group in np.unique(groups):
        mine = keep & (groups == group)
        if mine.sum() < 2:
            keep &= ~mine
    index = np.flatnonzero(keep)
    if len(index) < 4:
        return None
    columns, mean, precision = level_columns(name, shots, groups, keep, sensitivity, throw)
    parts = throw_columns(shots, groups, keep) if throw else {}
    doubt = _unseen_drift_sd(name, shots, parts, sensitivity) ** 2 if throw else 0.0
    for column_name, part in parts.items():
        if np.any(part[index] != 0.0):
            read = np.isfinite(column(shots, column_name)[index])
            thrown, unsure = _thrown(column_name, part[index], read, index)
            columns.append(thrown)
            doubt += (sensitivity.mean[name, column_name] * unsure) ** 2
            mean.append(sensitivity.mean[name, column_name])
            precision.append(sensitivity.sd[name, column_name] ** -2)
    return Series(
        name=name,
        index=index,
        order=index.astype(float) + 1.0,
        y=values[index],
        design=np.column_stack(columns),
        prior_mean=np.array(mean),
        prior_precision=np.array(precision),
        drift_sd=float(np.sqrt(doubt)),
    )


def _unseen_drift_sd(
    name: str, shots: Sequence[LoggedShot], parts: Mapping[str, Array], sensitivity: Sensitivity
) -> float:
    """Return how far a check-point may drift in ten balls by what nobody read (sd).

    That is the throw in those columns that are not among its ``parts``; of an angle, the fit's own.
    """
    if name == "entry_angle":
        seen = all(np.isfinite(column(shots, part)).any() for part in SHAPE)
        return _ANGLE_DRIFT_SD if seen else _ANGLE_DRIFT_SD_UNSEEN
    unread = [column_name for column_name in _TELLING if column_name not in parts]
    by = [sensitivity.mean[name, column_name] * _THROW_DRIFT[column_name] for column_name in unread]
    return math.hypot(*by)


def _thrown(
    name: str, read: Array, known: NDArray[np.bool_], index: NDArray[np.int64]
) -> tuple[Array, float]:
    """Return what was likely thrown, given what was read, and the doubt of its drift (sd).

    Readings scatter about what was thrown, so that a slope on them comes out too flat and a throw
    that drifts would be left on the lane. What is put in their place is what is to be expected of
    the throw (regression calibration: Carroll and others, Measurement Error in Nonlinear Models,
    2006, chapter 4): its drift as far as it stands out, and of the rest the share that is no
    misreading. What the misreadings themselves drift stays as doubt, and so does a part of a slope.
    """
    time = (index - index.mean()) / 10.0
    spread = float(np.sum((time[known] - time[known].mean()) ** 2)) if known.sum() > 2 else 0.0
    if spread <= 0.0:
        return read, 0.0
    drift = float((time[known] - time[known].mean()) @ read[known]) / spread
    left = np.where(known, read - drift * time, 0.0)
    variance = max(float(left @ left) / (int(known.sum()) - 2), 1e-6)
    kept = _THROW_DRIFT[name] ** 2 / (_THROW_DRIFT[name] ** 2 + variance / spread)
    drift *= kept
    left = np.where(known, read - drift * time, 0.0)
    error = getattr(_READ, name) ** 2
    real = max(1.0 - error / variance, LEAST_REAL)
    unsure = kept**2 * (1.0 - real) * error / spread + (_SLOPE_DOUBT * drift) ** 2
    return drift * time + real * left, float(np.sqrt(unsure))
