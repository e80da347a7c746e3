"""Where on the lane a session's balls rolled: what they did to the oil lies there, not beside it.

The fit knows how front, mid and back changed on the boards that were thrown, and takes the change
for the same on every board. A ball on another line meets as much of it as others rolled where it
rolls: the density of the session's own paths, which are straight enough up to the breakpoint,
against that where the usual throw goes now. Or others have rolled beside it, and the change lies on
every board: which of the two is not seen in a session on one line, so half of the lanes drawn are
the one and half the other. Assumed: that half, the width, and that a part of the lane is met where
the ball is at one distance.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lanes.motion.geometry import ARROWS_FT, DEG_PER_BOARD

Array = NDArray[np.float64]

_MET_AT_FT = np.array([15.0, 30.0, 45.0])  # front, mid, back (assumed)
_WIDTH = 1.0  # boards, sd: a ball's track, and what its place is misjudged by (assumed)
_MOST = 1.3  # of the change where the usual throw goes: films do not dry without end (assumed)
_GRID = np.arange(-60.0, 100.0, 0.25)  # boards


class Track:
    """The paths of a session's shots, by their launches (n, 4), and those of the usual throw."""

    def __init__(self, thrown: Array, usual: Array) -> None:
        """Set up from launches (n, 4) of all shots and (..., 4) of the throws of now."""
        there, now = _boards(thrown).reshape(-1, 3), _boards(usual).reshape(-1, 3)
        self._share = [_share(there[:, part], now[:, part]) for part in range(3)]

    def share(self, launches: Array) -> Array:
        """Return (m, draws, throws, 3): how much of the change of front, mid and back launches
        (m, draws, throws, 4) meet; on every second lane drawn all of it.
        """
        boards = _boards(launches)
        share = np.ones(boards.shape)
        for part, lies in enumerate(self._share):
            share[:, ::2, :, part] = np.interp(boards[:, ::2, :, part], _GRID, lies)
        return share


def _share(there: Array, now: Array) -> Array:
    """Return how much of a part's change lies on each board of the grid."""
    dense = np.exp(-0.5 * ((_GRID[:, None] - there) / _WIDTH) ** 2).mean(axis=1)
    here = float(np.interp(now, _GRID, dense).mean())
    return np.asarray(np.minimum(dense / max(here, 1e-12), _MOST))


def _boards(launches: Array) -> Array:
    """Return (..., 3): the boards of straight paths where each part is met."""
    slope = launches[..., 1, None] / DEG_PER_BOARD / ARROWS_FT
    return np.asarray(launches[..., 0, None] - slope * _MET_AT_FT)
