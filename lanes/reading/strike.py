"""The chance of a strike at the head pin, from published figures. PROVISIONAL.

This is the only place that turns a board and an angle into a chance. A later issue replaces it by
the computed pin table; until then every chance of a strike on screen says that it is provisional.

What is published (FACTS section 5):

- head-on, over 90 % strikes only within about half a board of 17.5: boards 17.0 to 18.0
  (a science programme of 2021 on the governing body's data);
- at 6 degrees, over 90 % from board 17.0 to 18.5 (same);
- boards 17 to 18 with 4 to 6 degrees give the highest percentages (the governing body's research
  article).

One page reports about 85 % on 17.5 and a final's pocket hits carried 74 % of the time; these do
not agree with the first two, and the shoulders are not published. So the flanks below are assumed,
angles beyond the published span count as its end, and lucky strikes outside are left out.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

WINDOW_LOW = 17.0  # board, at every angle (science programme, FACTS section 5)
WINDOW_HIGH_HEAD_ON = 18.0  # board at 0 degrees (same)
WINDOW_HIGH_STEEP = 18.5  # board at 6 degrees (same)
STEEP_DEG = 6.0
AT_THE_EDGE = 0.90  # "over 90 %" inside the window (same)
BEST = 0.95  # assumed: between 90 % and all
_FLANK_BOARDS = 0.15  # assumed steepness of the flanks

PROVISIONAL = (
    "Provisional: the chance of a strike rests on a published window (over 90 % from board 17 to "
    "18, to 18.5 at 6 degrees) with assumed flanks, not yet on computed pins. Compare the options "
    "with each other; do not read the percentages as a forecast."
)
# Where the logistic flanks cross the edges with AT_THE_EDGE.
_SET_BACK = _FLANK_BOARDS * float(np.log(AT_THE_EDGE / (BEST - AT_THE_EDGE)))


def strike_chance(head_pin: ArrayLike, entry_angle_deg: ArrayLike) -> NDArray[np.float64]:
    """Return the provisional chance of a strike for boards and angles at the head-pin plane.

    Both broadcast; nan (a ball in the gutter) is no strike.
    """
    board = np.asarray(head_pin, dtype=float)
    steep = np.clip(np.asarray(entry_angle_deg, dtype=float) / STEEP_DEG, 0.0, 1.0)
    high = WINDOW_HIGH_HEAD_ON + (WINDOW_HIGH_STEEP - WINDOW_HIGH_HEAD_ON) * steep
    up = np.clip((board - WINDOW_LOW + _SET_BACK) / _FLANK_BOARDS, -50.0, 50.0)
    down = np.clip((high + _SET_BACK - board) / _FLANK_BOARDS, -50.0, 50.0)
    chance = BEST / (1.0 + np.exp(-up)) / (1.0 + np.exp(-down))
    return np.asarray(np.nan_to_num(chance, nan=0.0))
