"""Where the usual throw meets the head pin by the end of a session, as the readings tell it.

The fit lets the lane drift evenly over a session and each throw be what its boards ask for, so a
change that began late, or oil that was carried, comes out too small at the end. Here every
explanation that competes for the session (``changes.Weighed``) says where the usual hit would be
now if it were so, and its probability says how much that counts; what is left is a lane that hardly
moved, and then all hits of a line tell where it meets the pins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .changes import Weighed, effects
from .explanations import course
from .noise import PLACE
from .shots import LoggedShot

_LEAST_WEIGHT = 1e-6  # explanations below this are left out


@dataclass(frozen=True)
class UsualHit:
    """The board at the head pin of the usual throw at the end of the session, and its sd."""

    board: float
    sd: float


def usual_hit(
    shots: Sequence[LoggedShot],
    weighed: Weighed,
    line: Sequence[int],
    ball: str,
    repaired: bool,
) -> UsualHit | None:
    """Return where the usual throw on a line hits now; ``None`` where the line tells nothing.

    ``line`` are the places in the log of the shots on that line with ``ball``. With ``repaired``
    the throw is the one of before: what the throw's own change moved is no part of it.
    """
    seen = weighed.seen
    if "head_pin" not in seen.columns:
        return None
    end = len(shots) - 1
    level, hangs = seen.level("head_pin", np.asarray(line, dtype=np.int64), float(end))
    if not np.isfinite(level):
        return None
    at = PLACE["head_pin"]
    there: NDArray[np.float64] = np.array(
        [course(kind, place, np.array([end]))[0] for kind, place in weighed.beginnings]
    )
    carried = {of: seen.carried(one, hangs) for of, one in weighed.courses.items()}
    moved = second = 0.0
    for story, weights in zip(weighed.stories, weighed.weights, strict=True):
        if weights.sum() < _LEAST_WEIGHT:
            continue
        likely, doubt = effects(*weighed.told[story.ball], story.mean, story.variance)
        # What is the course's doing is not the level's, and comes back at its size of now.
        hangs_on = -carried[story.ball]
        if story.ball in (None, ball) and not (repaired and story.cause == "throw"):
            hangs_on[:, at] += there
        shift = (hangs_on * likely).sum(axis=1)
        moved += float(weights @ shift)
        second += float(weights @ (shift**2 + (hangs_on**2 * doubt).sum(axis=1)))
    variance = float(hangs @ seen.spread @ hangs) + second - moved**2
    return UsualHit(level + moved, float(np.sqrt(max(variance, 0.0))))
