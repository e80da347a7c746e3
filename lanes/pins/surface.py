"""Smooth surfaces over board and angle: tensor products of cubic B-splines on even knots.

A quantity ``eta`` at a hit is a sum of surfaces, each times a simple term of speed, slip and mass:
``eta = sum_t f_t(board, angle) q_t(speed, slip, mass)``. Strike, leaves, deck exit and the corner's
fall are all told so (``table`` fits them, ``carry`` looks them up). Numpy and one kernel only.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import ArrayLike, NDArray

BOARD_RANGE = (14.0, 21.0)
ANGLE_RANGE = (0.0, 8.0)
BOARD_PIECES = 28  # a knot every quarter board
ANGLE_PIECES = 8  # a knot every degree
BOARD_FUNCTIONS = BOARD_PIECES + 3
ANGLE_FUNCTIONS = ANGLE_PIECES + 3
FUNCTIONS = BOARD_FUNCTIONS * ANGLE_FUNCTIONS
TERMS = 6


def weights(
    x: ArrayLike, within: tuple[float, float], pieces: int
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the first of four B-splines at each ``x`` (n,) and the four values (n, 4).

    ``x`` beyond the range counts as its end. Values are those of any text on uniform cubic
    B-splines and add up to one.
    """
    low, high = within
    u = (np.clip(np.asarray(x, dtype=float), low, high) - low) * (pieces / (high - low))
    first = np.minimum(u.astype(np.int64), pieces - 1)
    t = u - first
    s = 1.0 - t
    values = np.empty((*np.shape(t), 4))
    values[..., 0] = s * s * s / 6.0
    values[..., 1] = (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0
    values[..., 2] = (3.0 * s * s * s - 6.0 * s * s + 4.0) / 6.0
    values[..., 3] = t * t * t / 6.0
    return first, values


def places(board: ArrayLike, angle_deg: ArrayLike) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return the 16 functions that matter at each hit (n, 16) and their values (n, 16)."""
    i, b = weights(board, BOARD_RANGE, BOARD_PIECES)
    j, a = weights(angle_deg, ANGLE_RANGE, ANGLE_PIECES)
    step = np.arange(4)
    index = (i[:, None, None] + step[:, None]) * ANGLE_FUNCTIONS + j[:, None, None] + step
    values = b[:, :, None] * a[:, None, :]
    return index.reshape(len(i), 16), values.reshape(len(i), 16)


def terms(speed_mph: ArrayLike, slip_mps: ArrayLike, mass_lb: ArrayLike) -> NDArray[np.float64]:
    """Return the terms (n, 6): one, speed, speed squared, slip, slip squared, mass (all scaled)."""
    v = (np.asarray(speed_mph, dtype=float) - 16.0) / 3.0
    s = (np.asarray(slip_mps, dtype=float) - 1.25) / 1.25
    m = np.asarray(mass_lb, dtype=float) - 14.0
    v, s, m = np.broadcast_arrays(v, s, m / 2.0)
    return np.stack([np.ones_like(v), v, v * v, s, s * s, m], axis=-1)


@njit(cache=True)
def sums(row, along, across, q, coefficients, found):  # type: ignore[no-untyped-def]
    """Add to ``found`` (n, quantities) the sums at spots: their 16 functions and their terms."""
    count, quantities = coefficients.shape[1:]
    for n in range(row.shape[0]):
        for i in range(4):
            for j in range(4):
                weight = along[n, i] * across[n, j]
                place = row[n] + i * ANGLE_FUNCTIONS + j
                for t in range(count):
                    share = weight * q[n, t]
                    for k in range(quantities):
                        found[n, k] += share * coefficients[place, t, k]


class Spots:
    """Hits made ready for looking up: rows of coefficients and their weights, and the terms."""

    def __init__(
        self,
        board: NDArray[np.float64],
        angle_deg: NDArray[np.float64],
        q: NDArray[np.float64],
    ) -> None:
        i, self.along = weights(board, BOARD_RANGE, BOARD_PIECES)
        j, self.across = weights(angle_deg, ANGLE_RANGE, ANGLE_PIECES)
        self.row = i * ANGLE_FUNCTIONS + j
        self.q = q

    def value(self, coefficients: NDArray[np.floating]) -> NDArray[np.float64]:
        """Return ``eta`` (n, ...) for coefficients (FUNCTIONS, terms, ...).

        Uses the first of the terms, as many as the coefficients have.
        """
        count, *quantities = coefficients.shape[1:]
        each = np.ascontiguousarray(coefficients, dtype=float).reshape(FUNCTIONS, count, -1)
        found = np.zeros((len(self.row), each.shape[2]))
        sums(self.row, self.along, self.across, self.q, each, found)
        return found.reshape(len(self.row), *quantities)
