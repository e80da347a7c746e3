"""Oil on the harness's lane: how a machine lays it, how balls take it up and carry it on.

The film is a grid of half boards (rows 0 to 78 from the strong-side edge) by feet (0 to 62), in
micrometres. All numbers are invented; what they must do is move the ball as sessions do.

A ball takes oil by a law that saturates (a share of a thin film, a fixed amount of a thick one)
over a footprint that is a triangle; it holds that oil in a reservoir and lays a part of it at each
foot where the film is thinner than what it holds. Nothing of it is ``lanes.motion.wear``.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from scipy.ndimage import gaussian_filter1d

from .ball import DRY, HALF, WET

ROWS, COLUMNS = 79, 63
_CELL_M2 = (41.5 * 0.0254 / 39) * 0.3048
_EDGE_BOARDS = 0.9  # sd of a film's edge across
_TAIL_FT = 3.0  # what the brush draws out past a layer's end
_FOOTPRINT = 1.3  # half width of the triangle, boards: ring of flare and a bowler's scatter
_SATURATES = 1.2  # um
_KEPT_FT = 9.0  # the reservoir's e-folding distance

# What is laid down, as shares of the volume; boards from either edge, feet to the length or fixed.
_LOADS = (
    ("forward", 0.0, -5.0, 2, 0.13),
    ("forward", 0.0, 0.0, 6, 0.19),
    ("forward", 0.0, 0.0, 10, 0.23),
    ("forward", 2.0, -6.0, 12, 0.20),
    ("reverse", 8.0, 0.0, 7, 0.16),
    ("reverse", 4.0, -6.0, 12, 0.09),
)


def layers(length_ft: float, volume_ml: float) -> list[tuple[str, float, float, int, int, float]]:
    """Return what the machine is told: direction, from ft, to ft, first and last board, mL."""
    return [
        (way, start, length_ft + end, first, 40 - first, round(volume_ml * share, 2))
        for way, start, end, first, share in _LOADS
    ]


def lay(loads, factor: float = 1.0) -> np.ndarray:
    """Return the film (79, 63) that these layers really leave, um."""
    film = np.zeros((ROWS, COLUMNS))
    boards = np.arange(ROWS) / 2 + 0.5
    feet = np.arange(COLUMNS, dtype=float)
    for _, start, end, first, last, ml in loads:
        depth = ml / ((last - first + 1) * (end - start) * _CELL_M2)
        across = ((boards >= first - 0.5) & (boards <= last + 0.5)).astype(float)
        along = np.where(feet < start, 0.0, 1.0)
        along = np.where(feet > end, np.maximum(0.0, 1.0 - (feet - end) / _TAIL_FT) * 0.5, along)
        film += depth * across[:, None] * along[None, :]
    film = gaussian_filter1d(film, 2 * _EDGE_BOARDS, axis=0, mode="nearest")
    return factor * film


@njit(cache=True)
def wear(film, path, take, keep, balls):
    """Wear a film in place by ``balls`` balls on one path (61,).

    ``take`` is the share of a thin film under the middle of the footprint, ``keep`` what of it the
    ball keeps for good.
    """
    held = 0.0
    reach = int(2 * _FOOTPRINT)
    for foot in range(1, 60):
        board = path[foot]
        if np.isnan(board) or board < 0.5 or board > 39.5:
            continue
        middle = (board - 0.5) * 2
        taken = 0.0
        for row in range(int(middle) - reach, int(middle) + reach + 2):
            if row < 0 or row >= film.shape[0]:
                continue
            weight = 1.0 - abs(row - middle) / (2 * _FOOTPRINT)
            if weight <= 0.0:
                continue
            h = film[row, foot]
            less = min(balls * take * weight * h / (1.0 + h / _SATURATES), 0.9 * h)
            film[row, foot] = h - less
            taken += 0.5 * less
        held += (1.0 - keep) * taken
        laid = held / _KEPT_FT
        held -= laid
        row = int(middle)
        if 0 <= row < film.shape[0] - 1 and film[row, foot] < 2.0 * laid / _FOOTPRINT + 0.5:
            film[row, foot] += laid
            film[row + 1, foot] += laid


@njit(cache=True)
def carry_down(film, path, end_ft, amount):
    """Lay oil past the pattern's end along one path, in place: what plastic balls bring there."""
    for foot in range(int(end_ft) - 2, 60):
        board = path[foot]
        if np.isnan(board) or board < 0.5 or board > 39.5:
            continue
        middle = (board - 0.5) * 2
        for row in range(int(middle) - 6, int(middle) + 8):
            if 0 <= row < film.shape[0]:
                weight = max(0.0, 1.0 - abs(row - middle) / 7.0)
                film[row, foot] += amount * weight * np.exp(-(foot - end_ft) / 9.0)


# Covers of the harness's balls: friction when dry, in oil, and the film at half.
_BASE = np.array([0.225, 0.012, 0.44, 1.5, 2.5, 0.35, 0.0006])
_COVERS = {
    "solid": (1.03, 1.10, 1.06),
    "hybrid": (1.00, 1.00, 1.00),
    "pearl": (0.97, 0.92, 0.93),
}


def law(cover: str, grit: float, polished: bool, change: float = 0.0) -> np.ndarray:
    """Return the friction law (7,) of a cover as it is sanded; ``change`` roughens it (log)."""
    dry, wet, half = _COVERS[cover]
    rough = np.log(2000.0 / grit) * 0.5 + change - (0.18 if polished else 0.0)
    found = _BASE.copy()
    found[DRY] *= dry * np.exp(0.10 * rough)
    found[WET] *= wet * np.exp(0.30 * rough)
    found[HALF] *= half * np.exp(0.35 * rough)
    return found
