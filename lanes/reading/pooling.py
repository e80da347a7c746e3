"""Earlier sessions of the same student, fitted together with the one that is read.

The release and the friction of each ball are the student's and the ball's own and change little
from one session to the next, so that more sessions tell them better; the usual line, the lane and
its drift are each session's. Lanes share what is not known of them only where two sessions were on
the same lanes with the same oil on the same day (``place``).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from lanes.motion import BallSpec, Oil
from lanes.motion.seen import ReadingError

from .shots import LoggedShot

FEWEST_DOWN_LANE = 5  # first balls with a board at the head pin, below which nothing is fitted
MOST_POOLED = 3  # earlier sessions: the latest tell of the release as it is now


@dataclass(frozen=True)
class EarlierSession:
    """An earlier session as its reading would take it.

    ``on`` says which it was (a date, ISO 8601); ``place`` is equal for sessions on the same lanes
    with the same oil; the rest as for ``lanes.reading.session.read_session``.
    """

    on: str
    place: str
    shots: list[LoggedShot]
    balls: list[BallSpec]
    pattern: Oil | None
    display: str = "unknown"
    balls_per_shot: float = 1.0
    reading_error: ReadingError = field(default_factory=ReadingError)


def same_ball(one: BallSpec, other: BallSpec) -> bool:
    """Say whether two sessions' balls share their friction: the same ball with the same surface.

    Games may differ: the law of a cover's wear stands between them. A cover that was made anew is
    another ball to the fit.
    """
    return replace(one, games=None) == replace(other, games=None)


def joined_balls(
    balls: Sequence[BallSpec], earlier: Sequence[Sequence[BallSpec]]
) -> tuple[list[BallSpec], list[list[int]]]:
    """Return all balls, those of today first, and each earlier session's places among them."""
    joined, places = list(balls), []
    for others in earlier:
        mine = []
        for ball in others:
            at = next((i for i, known in enumerate(joined) if same_ball(known, ball)), len(joined))
            if at == len(joined):
                joined.append(ball)
            mine.append(at)
        places.append(mine)
    return joined, places
