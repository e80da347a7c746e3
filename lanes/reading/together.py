"""All check-points of a session at once: what a course in time would move, against their noise.

The readings of one shot go together: a ball that crosses the arrows a board further in meets the
head pin further in as well. With their covariance (``noise``) a change of the head pin counts only
as far as the throw of the same shots does not explain it, and a change of the throw is told by its
own readings and by what it does down the lane.

Ball, lane and line have their levels, known as ``series.level_columns`` says. For a course ``f``
(n,) that moves the check-points by ``e`` (c,) there remain, of all the readings, its information
``J`` (c, c) and its pull ``u`` (c,): log likelihood against none is ``e u - e J e / 2``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lanes.motion.seen import ReadingError

from .noise import CHECKPOINTS, DOWN_LANE, PLACE, PRIOR_SHOTS, noise
from .robust import huber
from .series import RESOLUTION, Sensitivity, column, level_columns, levels
from .shots import LoggedShot

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

FEWEST = 8  # readings below which a check-point has no say
_OF_THE_STUDENT = ("speed_mph", "rev_rpm")  # belong to neither line nor ball
_CLIP = 2.5  # scales to which a wild reading is pulled in
# What a check-point may drift in ten balls without anything worth telling (assumed).
_HIDDEN_DRIFT = {
    "arrows": 0.03,
    "laydown": 0.02,
    "speed_mph": 0.012,
    "rev_rpm": 0.4,
    "breakpoint": 0.05,
    "breakpoint_ft": 0.08,
    "head_pin": 0.06,
    "deck_exit": 0.15,
}
_FREE = 1e-4  # precision of what is known of a change that was found already


@dataclass(frozen=True, eq=False)
class Together:
    """The readings that count, made white.

    ``index`` (n,) points into the session's shots, ``read`` names the check-points with a say.
    ``white`` (n, c, c) turns a shot's readings into noise of size one, ``left`` (n, c) are the
    readings so turned less what levels explain, ``known`` (n, c, m) what levels move and
    ``spread`` (m, m) their covariance. ``freedom`` is that of the noise as it was estimated.
    ``levels`` (m,) are the levels themselves, and ``columns`` holds each check-point's share of
    them with the place of the first.
    """

    index: NDArray[np.int64]
    read: tuple[str, ...]
    white: Array
    left: Array
    known: Array
    spread: Array
    freedom: float
    levels: Array
    columns: Mapping[str, tuple[int, _Column]]

    def level(self, name: str, at: NDArray[np.int64], now: float) -> tuple[float, Array]:
        """Return a check-point's level at the shots ``at`` and the place ``now`` of the log, and
        how it hangs on the levels (m,); shots that the check-point was not read of have no say.

        On several lanes their levels count alike. nan where none of the shots was read.
        """
        first, column = self.columns[name]
        rows = np.flatnonzero(np.isin(column.index, at))
        hangs = np.zeros(len(self.levels))
        if len(rows) == 0:
            return float("nan"), hangs
        design = np.unique(column.design[rows], axis=0).mean(axis=0)
        hangs[first : first + len(design)] = design
        hangs[first + len(design)] = (now - self.index.mean()) / 10.0
        return float(hangs @ self.levels + design @ column.mean), hangs

    def carried(self, courses: Array, hangs: Array) -> Array:
        """Return (f, c): what of a level would be a course's (f, n) doing, for each unit that the
        course moves a check-point.
        """
        held = np.einsum("irc,irm->icm", self.white, self.known) @ (self.spread @ hangs)
        return np.asarray(courses @ held)

    def pull(self, courses: Array) -> tuple[Array, Array]:
        """Return ``J`` (f, c, c) and ``u`` (f, c) of courses (f, n)."""
        n, c = self.left.shape
        pulled = courses @ np.einsum("irc,ir->ic", self.white, self.left)
        own = np.einsum("irc,ird->icd", self.white, self.white).reshape(n, c * c)
        held = np.einsum("irc,irm->icm", self.white, self.known).reshape(n, -1)
        with_levels = (courses @ held).reshape(len(courses), c, -1)
        told = (courses**2 @ own).reshape(-1, c, c)
        return told - with_levels @ self.spread @ with_levels.transpose(0, 2, 1), pulled


@dataclass(frozen=True, eq=False)
class _Column:
    """One check-point: readings less ``mean``, which is known beforehand of its levels (p,), these,
    and what is left next to a bend in time, as large as it would be without that fit."""

    index: NDArray[np.int64]
    y: Array
    design: Array
    mean: Array
    precision: Array
    left: Array
    free: int


def look_together(
    shots: Sequence[LoggedShot],
    use: Flags,
    sensitivity: Sensitivity,
    explained: Sequence[Array] = (),
    error: ReadingError | None = None,
) -> Together | None:
    """Return the session's readings made white; ``None`` where none has a say.

    ``use`` flags the shots that count; ``explained`` are courses (len(shots),) of changes that were
    found already, which may have moved anything; ``error`` is that of whoever read the boards, the
    assumed one by default.
    """
    columns = {
        PLACE[name]: found
        for name in CHECKPOINTS
        if (found := _column(name, shots, use, sensitivity)) is not None
    }
    if not columns:
        return None
    index = np.unique(np.concatenate([found.index for found in columns.values()]))
    place = {int(shot): row for row, shot in enumerate(index)}
    n, c = len(index), len(CHECKPOINTS)
    y, left = np.full((n, c), np.nan), np.full((n, c), np.nan)
    moved: list[tuple[int, Array, float]] = []
    time = (index - index.mean()) / 10.0
    first: dict[int, int] = {}
    for at, found in columns.items():
        first[at] = len(moved)
        rows = np.array([place[int(shot)] for shot in found.index])
        y[rows, at], left[rows, at] = found.y, found.left
        for design, precision in zip(found.design.T, found.precision, strict=True):
            level = np.zeros(n)
            level[rows] = design
            moved.append((at, level, float(precision)))
        moved.append((at, time, _HIDDEN_DRIFT[CHECKPOINTS[at]] ** -2))
        moved += [(at, course[index], _FREE) for course in explained]
    white, turned = _whitened(y, noise(left, sensitivity, error or ReadingError()))
    known = np.stack([white[:, :, at] * course[:, None] for at, course, _ in moved], axis=2)
    flat = known.reshape(n * c, -1)
    precision = np.diag([known_by + 1e-9 for _, _, known_by in moved])
    spread = np.linalg.inv(flat.T @ flat + precision)
    own = spread @ (flat.T @ turned.ravel())
    return Together(
        index=index,
        read=tuple(CHECKPOINTS[at] for at in columns),
        white=white,
        left=turned - (flat @ own).reshape(n, c),
        known=known,
        spread=spread,
        freedom=PRIOR_SHOTS + float(np.median([found.free for found in columns.values()])),
        levels=own,
        columns={CHECKPOINTS[at]: (first[at], found) for at, found in columns.items()},
    )


def _values(name: str, shots: Sequence[LoggedShot]) -> Array:
    """Return a check-point's readings; at the arrows less the board aimed at, where it was told."""
    values = column(shots, name)
    return values - column(shots, "aim") if name == "arrows" and aim_told(shots) else values


def aim_told(shots: Sequence[LoggedShot]) -> bool:
    """Say whether each board read at the arrows has the board that was aimed at beside it.

    Without it, a lasting move at the arrows may have been meant.
    """
    return all(shot.aim is not None for shot in shots if shot.arrows is not None)


def _column(
    name: str, shots: Sequence[LoggedShot], use: Flags, sensitivity: Sensitivity
) -> _Column | None:
    values = _values(name, shots)
    keep = use & np.isfinite(values)
    of_student = name in _OF_THE_STUDENT
    groups = np.zeros(len(shots), dtype=np.int64) if of_student else levels(shots)
    for group in np.unique(groups):
        mine = keep & (groups == group)
        if mine.sum() < 2:
            keep &= ~mine
    index = np.flatnonzero(keep)
    if len(index) < FEWEST:
        return None
    if of_student:
        design, mean, precision = np.ones((len(index), 1)), np.zeros(1), np.zeros(1)
    else:
        parts = level_columns(name, shots, groups, keep, sensitivity, name in DOWN_LANE)
        design, mean, precision = np.column_stack(parts[0]), np.array(parts[1]), np.array(parts[2])
    # The noise is taken next to a bend in time, so that a change does not hide in it.
    time = (index - index.mean()) / max(float(np.ptp(index)), 1.0)
    bends = 3 if len(index) > design.shape[1] + 6 else 0
    bent = np.column_stack([design, *(time ** (power + 1) for power in range(bends))])
    fit = huber(
        bent,
        values[index],
        np.append(mean, np.zeros(bends)),
        np.append(precision, np.zeros(bends)),
        floor=RESOLUTION[name],
    )
    pulled_in: Array = np.clip(fit.residuals, -_CLIP * fit.scale, _CLIP * fit.scale)
    free = max(len(index) - bent.shape[1], 3)
    left = pulled_in * np.sqrt(len(index) / free)
    y = values[index] - fit.residuals + pulled_in - design @ mean
    return _Column(index, np.asarray(y, dtype=float), design, mean, precision, left, free)


def _whitened(y: Array, covariance: Array) -> tuple[Array, Array]:
    """Return what turns each shot's known readings white (n, c, c), and these so turned (n, c).

    ``covariance`` (n, c, c) is that of each shot's readings.
    """
    known = np.isfinite(y)
    white = np.zeros((*y.shape, y.shape[1]))
    for pattern in np.unique(known, axis=0):
        at = np.flatnonzero(pattern)
        rows = np.flatnonzero((known == pattern).all(axis=1))
        root = np.linalg.inv(np.linalg.cholesky(covariance[np.ix_(rows, at, at)]))
        white[np.ix_(rows, np.arange(len(at)), at)] = root
    return white, np.einsum("irc,ic->ir", white, np.nan_to_num(y))
