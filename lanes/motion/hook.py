"""Where a hook can be seen: how far down the lane a ball has left its straight line.

``Path.hook_start_ft`` is a fact of friction: the oil sets it, and a cover's surface moves it by a
tenth of a foot. What a watcher calls the start of the hook is later motion: the ball is off the
line on which it was sent by so much that the eye sees it. That place moves by feet with the
surface, and with the release.
"""

from __future__ import annotations

import math

import numpy as np

from .geometry import BOARD_IN
from .path import Path, Release

# Boards off the line at which a hook is seen: twice a trained eye's error of a board (assumed; a
# coaching page says that half a board cannot be told apart at 60 ft).
SEEN_OFF_LINE = 2.0


def hook_seen_ft(path: Path, release: Release, off_line: float = SEEN_OFF_LINE) -> float | None:
    """Return the distance at which the path is ``off_line`` boards off its straight line, ft.

    Toward the weak side, or toward the strong side for a ball that hooks that way; straight between
    the path's points, a foot apart. ``None`` where the ball never gets so far off before the pins.
    """
    boards_per_ft = -math.tan(math.radians(release.launch_deg)) * 12.0 / BOARD_IN
    off = np.abs(path.path_board - (release.laydown + boards_per_ft * path.path_ft))
    beyond = np.flatnonzero(off >= off_line)
    if not len(beyond) or beyond[0] == 0:
        return None
    i = int(beyond[0])
    share = (off_line - off[i - 1]) / (off[i] - off[i - 1])
    return float(path.path_ft[i - 1] + share * (path.path_ft[i] - path.path_ft[i - 1]))
