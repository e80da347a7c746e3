"""The reading while a session is being thrown: what the shots so far say, after each of them.

The same steps as a whole reading (``session.Reader``), less those that only a report needs, and
quicker where the shots of before have done the work already:

- **Earlier sessions** are fitted once; what they leave is the prior of this one
  (``motion.fit.fit_next``), and the session itself is fitted whole after every shot.
- **Lines.** An option's best line hardly moves from one shot to the next: one option in turn is
  searched anew, the others keep the line of a few balls ago and are thrown on the lane of now. All
  are searched anew as soon as another ball or line is thrown, or a change is found; for a cover
  made anew at first near the line of the ball as it is.
- **What comes.** How long it holds and what to watch on the next shot is told of the first option,
  the one that would be done now; of all of them, and what the next balls bring, by the report.
- **Alarms.** Who looks after every ball finds something by chance more often than who looks once: a
  change is told from a higher probability on (``changes.TOLD_LIVE``).

What is kept between two shots (``Kept``) may be lost at any time: the next read is slower, and says
the same within what ``tests/reading/test_live.py`` holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from lanes.motion import BallSpec, Oil
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw
from lanes.motion.seen import ReadingError, ReleasePrior

from .ahead import Ahead, look_at_first
from .changes import TOLD_LIVE
from .client import RELEASE, ClientFacts
from .entries import Entries, entry_angles
from .findings import Drifts
from .options import QUICKLY, Option, Range, lines_around
from .output import number, option_json, throw_change_json
from .overruled import Ruling, said_words
from .physics import Learned, Physics, learn
from .pooling import EarlierSession
from .session import Reader
from .shots import LoggedShot
from .words import missing_words, verdict

Line = tuple[float, float]


@dataclass(frozen=True)
class Kept:
    """What one read leaves for the next: nothing that the shots themselves would not give again.

    ``known`` says for what ``learned`` holds, ``line`` for what ``lines`` do: ball, feet and eyes
    of now, and how many changes were found.
    """

    known: Any = None
    learned: Learned | None = None
    line: Any = None
    lines: dict[Any, Line] = field(default_factory=dict)


@dataclass(frozen=True)
class Live:
    """The read as of the last shot, as plain JSON, and what to hand to the next one."""

    data: dict[str, Any]
    kept: Kept


def read_live(
    shots: Sequence[LoggedShot],
    client: ClientFacts,
    balls: Sequence[BallSpec],
    pattern: Oil | None,
    competition: bool = False,
    seed: int = 1,
    *,
    display: str = "unknown",
    balls_per_shot: float = 1.0,
    earlier: Sequence[EarlierSession] = (),
    place: str = "",
    reading_error: ReadingError | None = None,
    own_error: Sequence[str] = (),
    law: SurfaceLaw = SURFACE_LAW,
    said: Sequence[Ruling] = (),
    kept: Kept | None = None,
) -> Live:
    """Read the shots so far; arguments as for ``session.read_session``.

    Raises ``ValueError`` without any shot.
    """
    reader = LiveReader(
        shots,
        client,
        balls,
        pattern,
        competition,
        seed,
        None,
        display,
        balls_per_shot,
        earlier=earlier,
        place=place,
        reading_error=reading_error,
        own_error=own_error,
        law=law,
        said=said,
    )
    reader.kept = kept or Kept()
    return reader.live()


class LiveReader(Reader):
    """One pass over the shots so far."""

    kept = Kept()

    def live(self) -> Live:
        """Take the steps that a coach at the lane needs."""
        self.look()
        self.causes = self.computed = []
        self.games = []
        self.range, self.searched = self._ranges()
        self.options = self._options()
        self.ahead = self._ahead()
        return Live(self._json(), self.kept)

    def _fit(self) -> Physics | None:
        if self.client.hook == "backup":
            return None
        if self.earlier:
            before = tuple((s.on, s.place, len(s.shots)) for s in self.earlier)
            known = (tuple(self.balls), before, self.law)
            if self.kept.known != known:
                facts = {name: getattr(self.client, name) for name in RELEASE}
                release, hand = ReleasePrior.known(**facts), self.client.hand
                learned = learn(self.balls, self.earlier, release, hand, self.law)
                self.kept = replace(self.kept, known=known, learned=learned)
        return super()._fit()

    def _learned(self) -> Learned | None:
        return self.kept.learned

    def _entries(self) -> Entries:
        """Ask the pins about the last ball alone; the others have their path's own angle."""
        asked = np.zeros_like(self.first)
        asked[np.flatnonzero(self.first)[-1:]] = self.client.hook == "usual"
        return entry_angles(
            self.shots, asked.tolist(), self.physics, self.client.hand, self.reading_error
        )

    def _told(self) -> float:
        return TOLD_LIVE

    def _by(self) -> list[tuple[str, int | None, Drifts]]:
        return []

    def _tried(self, searched: Range, measured: Range) -> list[Option]:
        line = (self.line, len(self.found))
        known = self.kept.lines if self.kept.line == line else {}
        in_turn = _InTurn(searched, known, len(self.shots))
        options = super()._tried(in_turn, measured)
        self.kept = replace(self.kept, line=line, lines=in_turn.found)
        return options

    def _ahead(self) -> Ahead | None:
        if self.range is None or not self.options:
            return None
        return look_at_first(self.range, self.options, self.reading_error, self._watched())

    def _pairs(self, searched: Range, measured: Range) -> None:
        """One change at a time while balls are thrown."""

    def _json(self) -> dict[str, Any]:
        f = self._findings()
        answer = verdict(f)
        last = max((i for i in range(len(f.shots)) if f.first[i]), default=None)
        return {
            "version": f.version,
            "provisional": True,
            "as_of_shot": f.shots[-1].shot,
            "first_balls": int(f.first.sum()),
            "last": None if last is None else {
                "shot": f.shots[last].shot,
                "throw": f.throws.verdicts[last].as_json(),
                "entry_angle_deg": number(f.entries.angle_deg[last]),
                "entry_angle_sd": number(f.entries.sd[last]),
            },
            "transition": {
                "changes": [change.as_json() for change in f.changes],
                "ball_changes": [change.as_json() for change in f.ball_changes],
                "throw_changes": [throw_change_json(f, drift) for drift in f.throws.drifts],
                "drift": {name: d.as_json() for name, d in f.drifts.items() if d is not None},
            },
            "verdict": {"kind": answer.kind, "headline": answer.headline, "why": answer.why},
            "options": [option_json(f, option, answer.kind == "throw") for option in f.options],
            "missing": missing_words(f),
            "said": said_words(f.said),
        }  # fmt: skip


class _InTurn(Range):
    """A range on which one line in turn is looked for anew, and the others are as they were."""

    search = QUICKLY

    def __init__(self, range_: Range, known: dict[Any, Line], turn: int) -> None:
        self.__dict__.update(range_.__dict__)
        self.known = known
        self.found: dict[Any, Line] = {}
        self.anew = list(known)[turn % len(known)] if known else None

    def best_line(self, spec: BallSpec, ball: int, stay: bool, inward: bool = False) -> Line:
        """Return the move of feet and eyes with the best chance, now or a few balls ago."""
        asked = (spec, ball, stay, inward)
        line = self.known.get(asked)
        if line is None and spec != self.physics.balls[ball]:
            line = self._near(spec, ball)
        if line is None or asked == self.anew:
            line = super().best_line(spec, ball, stay, inward)
        self.found[asked] = line
        return line

    def _near(self, spec: BallSpec, ball: int) -> Line | None:
        """Return the best line for another cover near the move that was found for this one."""
        moved = (
            line for (_, other, stay, _), line in self.found.items() if other == ball and not stay
        )
        start = next(moved, None)
        if start is None:
            return None
        return self.best_of(spec, ball, np.array([(0.0, 0.0), *lines_around(*start)]))
