"""Doubts about shots that are each fine by themselves but do not fit together.

A doubt never keeps a shot out: people forget to log a ball, and a log with a gap is still a log.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from lanes.reading.leaves import ALL_PINS, CORNER_NEIGHBOUR, pins_standing
from lanes.reading.shots import LoggedShot

Doubt = tuple[str, str]  # column, message


@dataclass(frozen=True)
class Problem:
    """One thing to look at: the row in the file, the column, what stands there, what is wrong."""

    row: int
    column: str
    value: str
    message: str

    def __str__(self) -> str:
        where = f"row {self.row}" + (f", {self.column}" if self.column else "")
        return f"{where}: {self.message}"


def doubtful_shots(
    shots: Sequence[LoggedShot], row_of_shot: Mapping[int, int] | None = None
) -> list[Problem]:
    """Return the doubts about shots in the order thrown.

    ``row_of_shot`` gives each shot's row in a file; without it a shot's number is its row.
    """
    rows = row_of_shot or {}
    doubts = []
    before: LoggedShot | None = None
    for shot in shots:
        for column, message in [*_alone(shot), *_after(shot, before)]:
            value = str(getattr(shot, column))
            doubts.append(Problem(rows.get(shot.shot, shot.shot), column, value, message))
        before = shot
    return doubts


def _alone(shot: LoggedShot) -> Iterator[Doubt]:
    """Yield what is doubtful about a shot whatever came before it."""
    if shot.leave == "/" and shot.delivery == 1:
        yield "leave", "a spare on delivery 1; a first ball that takes all ten is X"
    if shot.leave == "X" and shot.delivery > 1 and shot.frame not in (None, 10):
        yield "leave", f"a strike on delivery {shot.delivery} of frame {shot.frame}"
    if shot.delivery == 3 and shot.frame not in (None, 10):
        yield "delivery", f"a third delivery in frame {shot.frame}; only the tenth has one"
    if shot.neighbour_pin and not _corner_alone(shot.leave):
        yield "neighbour_pin", "no corner pin (7 or 10) stands with the pin beside it down"
    if shot.miss and shot.throw == "good":
        yield "miss", f"the throw is good, yet it missed {shot.miss}"


def _corner_alone(leave: str) -> bool:
    pins = pins_standing(leave) or frozenset()
    return any(corner in pins and beside not in pins for corner, beside in CORNER_NEIGHBOUR.items())


def _after(shot: LoggedShot, before: LoggedShot | None) -> Iterator[Doubt]:
    """Yield what is doubtful about a shot after the one before it."""
    together = before is not None and _may_share_frame(shot, before)
    if shot.delivery == 1:
        if together and before and shot.frame is not None and before.delivery == 1:
            yield "delivery", f"frame {shot.frame} has a delivery 1 already, shot {before.shot}"
        return
    if not together or before is None or before.delivery != shot.delivery - 1:
        yield "delivery", f"delivery {shot.delivery} without delivery {shot.delivery - 1} before it"
        return
    if before.leave == "X" and not before.foul and before.frame not in (None, 10):
        yield "delivery", f"a second delivery after the strike of shot {before.shot}"
        return
    standing = _standing_for_next(before)
    risen = (pins_standing(shot.leave) or frozenset()) - standing
    if shot.leave != "0" and risen:
        pins = "-".join(str(pin) for pin in sorted(risen))
        yield "leave", f"pin {pins} stands, but fell on shot {before.shot}"
    if shot.leave == "/" and before.leave in ("X", "/") and not before.foul:
        yield "leave", f"a spare, but shot {before.shot} cleared the rack; all ten down is X"
    if shot.leave == "X" and standing != ALL_PINS and shot.frame in (None, 10):
        yield "leave", f"a strike, but shot {before.shot} left no full rack; the rest down is /"


def _may_share_frame(shot: LoggedShot, before: LoggedShot) -> bool:
    """Say whether both can be of one frame; a game or frame left out may be any."""
    return all(
        a is None or b is None or a == b
        for a, b in ((shot.game, before.game), (shot.frame, before.frame))
    )


def _standing_for_next(before: LoggedShot) -> frozenset[int]:
    """Return the pins that the next delivery of the frame may meet; all ten when in doubt.

    A cleared rack is set up again, and so is one after a foul (playing rules, from memory). After
    "nothing fell" on a second delivery its row does not tell what stood.
    """
    return (not before.foul and pins_standing(before.leave)) or ALL_PINS
