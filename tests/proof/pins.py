"""The harness's pins: chances from published figures, nothing of the computed table of hits.

Targets (FACTS section 5, each restated): over 90 % strikes from board 17 to 18 head-on and from 17
to 18.5 at 6 degrees (a science programme on the governing body's data); 17 to 18 at 4 to 6 degrees
best (governing body); some 74 % of a final's pocket hits struck; a flush ball leaves the deck near
board 19, a 16.5 hit that leaves the ten near 14. Not published, so invented: how the flanks fall (a
broad normal shoulder under the narrow window, so light and high hits strike now and then), strikes
on the far side of the head pin, the loss beyond 7 degrees, and which pins stay. The lane's own
liveliness moves the whole by a logit per session.
"""

from __future__ import annotations

import numpy as np
from scipy.special import expit, ndtr

_BEST = 0.94
_FLANK = 0.28  # boards, sd of the window's edges


def strike_chance(board, angle_deg, logit=0.0):
    """Return the chance of a strike; nan (a ball in the gutter) is none. Arrays broadcast."""
    b = np.asarray(board, dtype=float)
    a = np.clip(np.nan_to_num(np.asarray(angle_deg, dtype=float)), 0.0, 9.0)
    low = 16.62 + 0.0 * a
    high = 18.38 + 0.5 * np.minimum(a, 6.0) / 6.0
    window = ndtr((b - low) / _FLANK) * ndtr((high - b) / _FLANK)
    shoulder = 0.42 * np.exp(-0.5 * ((b - 0.5 * (low + high)) / 1.5) ** 2)
    across = 0.30 * np.exp(-0.5 * ((b - 22.9) / 0.7) ** 2)
    steep = 1.0 - 0.06 * np.maximum(a - 7.0, 0.0)
    chance = np.maximum(_BEST * window, np.maximum(shoulder, across)) * steep
    chance = np.clip(chance, 1e-4, 1 - 1e-4)
    moved = expit(np.log(chance / (1 - chance)) + logit)
    return np.where(np.isfinite(b), moved, 0.0)


# Leaves of a right-hander by where the ball met the pins: board below which, leaves, weights.
_LEAVES = (
    (12.6, ("1-2-4-7", "1-2-4-7-8", "0"), (3, 2, 1)),
    (15.0, ("1-2-4-10", "2-4-5-8", "2-4-5", "5-7"), (2, 3, 3, 2)),
    (16.6, ("10", "2-10", "2-8", "5-7", "2-4-5"), (5, 2, 2, 1, 1)),
    (18.0, ("10", "7", "9", "8", "4"), (6, 2, 1, 2, 1)),
    (19.3, ("4", "4-9", "9", "3-10", "6-10"), (4, 2, 1, 2, 1)),
    (21.5, ("3-10", "6-10", "4-9", "3-6-10", "4-6-7"), (2, 3, 2, 3, 1)),
    (28.0, ("3-6-10", "6-10", "1-3-6-10", "3-6-7-10"), (3, 2, 1, 1)),
    (99.0, ("1-3-6-10", "1-3-6", "0"), (3, 3, 2)),
)
_MIRROR = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}


def leave(board: float, angle_deg: float, logit: float, hand: str, rng) -> tuple[str, str]:
    """Return the leave of one hit and how the standing corner's neighbour went ("" if none)."""
    dice = rng.random(3)
    if not np.isfinite(board):
        return "0", ""
    if dice[0] < float(strike_chance(board, angle_deg, logit)):
        return "X", ""
    for below, names, weights in _LEAVES:
        if board < below:
            share = np.cumsum(weights) / np.sum(weights)
            name = names[int(np.searchsorted(share, dice[1]))]
            break
    neighbour = ""
    if name == "10":  # light ones die in the gutter, others go around (common practice)
        neighbour = "flat" if dice[2] < (0.75 if board < 17.0 else 0.3) else "around"
    if hand == "left" and name != "0":
        name = "-".join(str(p) for p in sorted(_MIRROR[int(p)] for p in name.split("-")))
    return name, neighbour


def deck_exit(board: float, angle_deg: float) -> float:
    """Return the board at which the ball leaves the deck, before any misreading."""
    return 19.0 + 5.0 * (board - 17.5) + 0.8 * (angle_deg - 5.5)
