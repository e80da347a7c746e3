"""One logged delivery, exactly as the shot-log file holds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

THROWS = ("good", "off")
MISSES = ("in", "out", "fast", "slow", "early", "late", "other")
NEIGHBOUR_PINS = ("into", "flat", "around")
LAST_FRAME = 10


@dataclass(frozen=True)
class LoggedShot:
    """One delivery. Everything but ``shot`` may be missing (``None``, or ``""`` for words).

    Boards are in the bowler's own count, ``breakpoint_ft`` is feet from the foul line, speed is
    mph as the display showed it, ``leave`` is canonical (see ``lanes.reading.leaves``).
    """

    shot: int
    game: int | None = None
    frame: int | None = None
    delivery: int = 1
    lane: int | None = None
    ball: str = ""
    stand: float | None = None
    aim: float | None = None
    laydown: float | None = None
    arrows: float | None = None
    breakpoint: float | None = None
    breakpoint_ft: float | None = None
    head_pin: float | None = None
    deck_exit: float | None = None
    leave: str = ""
    neighbour_pin: str = ""
    throw: str = ""
    miss: str = ""
    speed_mph: float | None = None
    rev_rpm: float | None = None
    foul: bool = False
    at: str = ""
    note: str = ""

    @property
    def is_first_ball(self) -> bool:
        """Say whether this row alone tells that the ball was thrown at a full rack as a first ball.

        A fill ball in the tenth that left pins standing cannot be told from its own row; use
        :func:`first_balls` where the whole log is at hand.
        """
        return self.delivery == 1 or self.leave == "X"


def first_balls(shots: Sequence[LoggedShot]) -> list[bool]:
    """Return for each shot, in the order thrown, whether it is a first delivery at a full rack.

    Delivery 1 always is. A fill ball of the tenth is one when the ball before it in the same frame
    cleared the rack (``X`` or ``/``). The second ball after a foul stands before a full rack too,
    but it is a second delivery and stays out.
    """
    flags: list[bool] = []
    for i, shot in enumerate(shots):
        before = shots[i - 1] if i else None
        fill = (
            shot.frame == LAST_FRAME
            and shot.delivery > 1
            and before is not None
            and (before.game, before.frame) == (shot.game, shot.frame)
            and before.delivery == shot.delivery - 1
            and before.leave in ("X", "/")
            and not before.foul
        )
        flags.append(shot.is_first_ball or fill)
    return flags
