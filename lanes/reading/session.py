"""The main job: read a session's shots and say what happened, why, and what to change."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion import BallSpec, Oil
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw
from lanes.motion.seen import ReadingError, ReleasePrior

from . import causes, hits, leaves
from .ahead import SIGNS, Ahead, look_ahead
from .changes import (
    TOLD,
    TOLD_OF_LITTLE,
    Change,
    Weighed,
    find_changes,
    read_in_whole,
    weigh,
)
from .client import RELEASE, ClientFacts
from .combined import combined
from .entries import Entries, entry_angles
from .exits import exit_per_board, marks_with_exits, with_exits
from .explanations import ROUGH_MARKS
from .findings import Drifts, Findings
from .luck import earned
from .movers import find_movers
from .options import Option, Range, find_options
from .output import reading_json
from .overruled import Ruling, causes_of, certain, marked, whys_of
from .physics import Learned, Physics, fit_physics, sensitivity, signatures
from .pooling import EarlierSession
from .scoring import game_frames
from .series import ROUGH_SENSITIVITY, Series, build, column
from .shots import LoggedShot, first_balls
from .throws import Throws, judge_throws, thrown_as_meant
from .transition import read_ball_change, read_change
from .trends import Drift, drift
from .usual_hit import UsualHit, usual_hit
from .version import READING_VERSION
from .what_if import FEWEST, Question, Unanswerable, Way, WhatIf, what_if

Array = NDArray[np.float64]
Progress = Callable[[float, str], None]

DRIFTS = ("arrows", "breakpoint", "breakpoint_ft", "head_pin", "entry_angle", "deck_exit")
_NOW = 12  # the last good throws with a ball say what line is thrown on a lane that changed
_DRIED = ("front", "mid")  # parts of the lane whose loss of oil lies where the ball rolls
UNNAMED = "ball"  # a log without a ball column is taken for one ball


@dataclass(frozen=True, eq=False)
class Reading:
    """A finished reading; ``as_json`` is what is kept and shown."""

    data: dict[str, Any] = field(repr=False)

    def as_json(self) -> dict[str, Any]:
        """Return the reading as plain JSON: no nan, floats rounded."""
        return self.data


def read_session(
    shots: Sequence[LoggedShot],
    client: ClientFacts,
    balls: Sequence[BallSpec],
    pattern: Oil | None,
    competition: bool = False,
    seed: int = 1,
    progress: Progress | None = None,
    display: str = "unknown",
    balls_per_shot: float = 1.0,
    *,
    earlier: Sequence[EarlierSession] = (),
    place: str = "",
    reading_error: ReadingError | None = None,
    own_error: Sequence[str] = (),
    law: SurfaceLaw = SURFACE_LAW,
    said: Sequence[Ruling] = (),
    question: Question | None = None,
) -> Reading:
    """Read a session.

    ``shots`` in the order thrown, boards in the bowler's own count; ``balls`` at hand, with the
    names that the log uses; ``pattern`` the sheet or ``None`` for an ordinary house pattern;
    ``display`` where the centre measures speed (``lanes.motion.display.PLACES``);
    ``balls_per_shot`` how many balls of anybody wear the line for each of these. ``earlier`` are
    sessions of the same student, hand and release, to be fitted along, and ``place`` tells which of
    them were on the same lanes and oil. ``reading_error`` is that of whoever read the boards, the
    assumed one by default, and ``own_error`` names the check-points where it was measured. ``law``
    is how covers settle in this shop. ``said`` is what the coach says of single shots; it counts as
    their marks. ``question`` is what the what-if is asked for. The same input and ``seed`` give the
    same reading. Raises ``ValueError`` without any shot, and ``what_if.Unanswerable`` where a
    question has no answer.
    """
    return Reader(
        shots,
        client,
        balls,
        pattern,
        competition,
        seed,
        progress,
        display,
        balls_per_shot,
        earlier=earlier,
        place=place,
        reading_error=reading_error,
        own_error=own_error,
        law=law,
        said=said,
        question=question,
    ).read()


class Reader:
    """One pass over a session; each step leaves what later steps need.

    Takes what ``read_session`` takes.
    """

    def __init__(
        self,
        shots: Sequence[LoggedShot],
        client: ClientFacts,
        balls: Sequence[BallSpec],
        pattern: Oil | None,
        competition: bool = False,
        seed: int = 1,
        progress: Progress | None = None,
        display: str = "unknown",
        balls_per_shot: float = 1.0,
        *,
        earlier: Sequence[EarlierSession] = (),
        place: str = "",
        reading_error: ReadingError | None = None,
        own_error: Sequence[str] = (),
        law: SurfaceLaw = SURFACE_LAW,
        said: Sequence[Ruling] = (),
        question: Question | None = None,
    ) -> None:
        if not shots:
            raise ValueError("shots: at least one shot expected")
        self.client, self.pattern = client, pattern
        self.competition, self.seed = competition, seed
        self.display, self.balls_per_shot = display, balls_per_shot
        self.tell = progress or (lambda share, words: None)
        self.said = tuple(said)
        self.balls, self.shots, self.unknown_balls = _with_balls(marked(shots, self.said), balls)
        self.first = np.array(first_balls(self.shots), dtype=bool)
        self.earlier = [_with_own_balls(session, n) for n, session in enumerate(earlier)]
        self.place = place
        self.reading_error, self.own_error = reading_error or ReadingError(), tuple(own_error)
        self.law = law
        self.question = question or Question()
        self.weighed: Weighed | None = None
        self.ahead: Ahead | None = None
        self.asked: WhatIf | None = None

    def look(self) -> None:
        """Take the first steps: the fit, what changed, and the throws."""
        self.tell(0.05, "Fitting ball and lane")
        self.physics = self._fit()
        self.entries = self._entries()
        self.tell(0.45, "Looking for changes")
        self.meant = thrown_as_meant(self.shots, self.first.tolist())
        self.exit_per_board = exit_per_board(self.shots, self.meant)
        self.sensitivity = with_exits(
            sensitivity(self.physics) if self.physics else ROUGH_SENSITIVITY, self.exit_per_board
        )
        self.found = self._changes()
        self.tell(0.55, "Judging the throws")
        self.throws = self._judged()
        self.usable = self.first & self.throws.good
        used = np.flatnonzero(self.usable).tolist()
        self.changes = [read_change(c, self.shots, used) for c in self._of("lane")]
        self.ball_changes = [read_ball_change(c, self.shots, used) for c in self._of("ball")]
        self.drifts = self._drifts(self.usable)

    def read(self) -> Reading:
        """Take the steps in order."""
        self.look()
        self.tell(0.6, "Asking for causes")
        parts = causes.split_parts(
            self.shots, self.first, self.throws.good, self.found, self.sensitivity
        )
        self.computed: list[dict[str, float] | None] = causes.find_causes(
            self.shots,
            self.first.tolist(),
            self.throws.verdicts,
            self.entries.angle_deg,
            parts,
            self.seed,
        )
        behind = causes_of(self.said)
        self.causes = [
            certain(behind[shot.shot]) if shot.shot in behind else cause
            for shot, cause in zip(self.shots, self.computed, strict=True)
        ]
        self.games = game_frames(self.shots)
        self.tell(0.7, "Trying the options")
        self.range, self.searched = self._ranges()
        self.options = self._options()
        self.tell(0.9, "Looking ahead")
        self.ahead, self.asked = self._ahead(), self._asked()
        self.tell(0.95, "Putting it into words")
        return Reading(reading_json(self._findings()))

    # Steps --------------------------------------------------------------------------------------

    def _fit(self) -> Physics | None:
        """Fit the session; a back-up ball's path and pocket are not modelled yet."""
        if self.client.hook == "backup":
            return None
        facts = {name: getattr(self.client, name) for name in RELEASE}
        film = self.pattern.film(self.client.hand) if self.pattern else None
        return fit_physics(
            self.shots,
            self.first.tolist(),
            self.balls,
            ReleasePrior.known(**facts),
            film,
            self.reading_error,
            self.display,
            self.balls_per_shot,
            earlier=self.earlier,
            hand=self.client.hand,
            place=self.place,
            learned=self._learned(),
            law=self.law,
        )

    def _learned(self) -> Learned | None:
        """What is known of earlier sessions without fitting them again."""
        return None

    def _entries(self) -> Entries:
        """Tell the entry angles; the pins have no word on a back-up ball's."""
        usual = self.client.hook == "usual"
        at_rack = self.first if usual else np.zeros_like(self.first)
        return entry_angles(
            self.shots, at_rack.tolist(), self.physics, self.client.hand, self.reading_error
        )

    def _values(self, name: str) -> Array:
        if name != "entry_angle":
            return column(self.shots, name)
        # A trend of the path's own angle: what fell has no part in it.
        if self.physics is None:
            return np.full(len(self.shots), np.nan)
        return self.physics.entry_angles(len(self.shots))

    def _series(self, name: str, use: NDArray[np.bool_]) -> Series | None:
        throw = name != "arrows"
        return build(name, self._values(name), self.shots, use, self.sensitivity, throw)

    def _drifts(self, use: NDArray[np.bool_]) -> dict[str, Drift | None]:
        return {name: drift(self._series(name, use)) for name in DRIFTS}

    def _changes(self) -> list[Change]:
        modelled = self.physics is not None
        rolled = signatures(self.physics) if self.physics else ROUGH_MARKS
        marks = marks_with_exits(rolled, self.exit_per_board)
        self.weighed = weigh(
            self.shots,
            self.meant,
            self.sensitivity,
            marks,
            modelled,
            error=self.reading_error,
        )
        return find_changes(
            self.shots,
            self.meant,
            self.sensitivity,
            marks,
            modelled=modelled,
            told=self._told(),
            first=self.weighed,
            error=self.reading_error,
        )

    def _told(self) -> float:
        """Return the probability from which on a change is told."""
        return TOLD if read_in_whole(self.shots, self.meant) else TOLD_OF_LITTLE

    def _judged(self) -> Throws:
        """Judge the throws; where the coach said something, it counts and is the reason."""
        throws, whys = judge_throws(self.shots, self.first.tolist(), self.found), whys_of(self.said)
        judged = zip(self.shots, throws.verdicts, strict=True)
        verdicts = [replace(throw, why=whys.get(shot.shot, throw.why)) for shot, throw in judged]
        return replace(throws, verdicts=verdicts)

    def _of(self, cause: str) -> list[Change]:
        return [change for change in self.found if change.cause == cause]

    def _moved(self) -> bool:
        """Say whether the lane is not, or no ball meets it, as the session began."""
        return bool(self.changes or self.ball_changes)

    def _ranges(self) -> tuple[Range | None, Range | None]:
        """Set up ranges for the ball and line thrown last, one to measure on and one to search on;
        ``None`` without a fit.
        """
        if self.physics is None:
            return None, None
        good = self.throws.good[self.physics.index]
        # Where the throw itself drifted, the line of before counts: first the throw, then a move.
        before = min((d.at for d in self.throws.drifts), default=len(self.shots))
        usual = good & (self.physics.index < before)
        rows = np.flatnonzero(usual if usual.sum() >= _NOW else good)
        if len(rows) == 0:
            rows = np.arange(len(good))
        ball = int(self.physics.thrown[rows[-1]])
        last = self.shots[int(self.physics.index[rows[-1]])]
        self.line = (ball, last.stand, last.aim)
        now = [
            row
            for row in rows
            if self.physics.thrown[row] == ball
            and (self.shots[self.physics.index[row]].stand, self.shots[self.physics.index[row]].aim)
            == (last.stand, last.aim)
        ]
        # On a lane that changed the last throws say what is thrown now; else all of them do better.
        recent = np.array(now[-_NOW:] if self._moved() else now)
        # A drift of the lane that no change speaks for is not carried to the end of the session:
        # then the lane is met on which this line was thrown, which a moved line saw only lately.
        end = float(len(self.shots))
        order = end if self._moved() else float(np.median(self.physics.index[now]))
        mine = [int(self.physics.index[row]) for row in now]
        name = self.balls[ball].name
        changed = [change.at for change in self._of("ball") if change.what == name]
        set_up = partial(
            Range,
            self.physics,
            recent,
            ball,
            order,
            renewed=0.5 * changed[0] if changed else None,
            meets=self._meets(mine, name),
            lane_changed=bool(self.changes),
        )
        return set_up(self.seed), set_up(self.seed + 1)

    def _meets(self, line: list[int], ball: str) -> UsualHit | None:
        """Return where the usual throw on the line of now hits by the readings."""
        if self.weighed is None:
            return None
        repaired = bool(self.throws.drifts)
        return usual_hit(self.shots, self.weighed, line, ball, repaired)

    def _options(self) -> list[Option]:
        if self.range is None or self.searched is None:
            return []
        return self._tried(self.searched, self.range)

    def _tried(self, searched: Range, measured: Range) -> list[Option]:
        strike_balls = [i for i, b in enumerate(self.balls) if b.filled().cover != "plastic"]
        return find_options(
            searched,
            measured,
            self.balls,
            strike_balls,
            self.competition,
            later_first=self._deflecting(),
            inward=any(change.where in _DRIED and not change.later for change in self.changes),
            pairs=self._pairs(searched, measured),
        )

    def _pairs(
        self, searched: Range, measured: Range
    ) -> Callable[[list[Option]], list[Option]] | None:
        """Return what makes pairs of options; ``None`` for none."""
        return lambda singles: combined(searched, measured, self.balls, singles, self.competition)

    def _ahead(self) -> Ahead | None:
        if self.range is None or not self.options:
            return None
        return look_ahead(self.range, self.options, self.reading_error, self._watched(), self.seed)

    def _watched(self) -> list[str]:
        """Return the check-points on which a sign could be seen."""
        return [n for n in SIGNS if np.isfinite(column(self.shots, n)[self.usable]).any()]

    def what_if(self, way: Way, from_shot: int) -> WhatIf | None:
        """Return the rest of the session from a shot on with another way, without the rest of the
        reading; ``None`` where too little was seen.
        """
        self.look()
        self.range, _ = self._ranges()
        if self.range is None:
            return None
        return what_if(self.range, self.shots, way, from_shot, self.seed)

    def _asked(self) -> WhatIf | None:
        """Ask for the first option that changes something, from where the lane changed; without a
        change for the second half of the session. Where it was put, the question says otherwise.
        """
        asked = self._asked_option()
        if self.range is None or asked is None:
            return None
        middle = self.shots[len(self.shots) // 2].shot
        begins = self.question.from_shot or min((c.shot for c in self.changes), default=middle)
        way = Way.of_option(self.options[asked])
        told = what_if(self.range, self.shots, way, begins, self.seed, asked)
        if told is None and self.question != Question():
            why = f"from shot {begins} on fewer than {FEWEST} first balls are left to tell of"
            raise Unanswerable("from_shot", why)
        return told

    def _asked_option(self) -> int | None:
        """Return the place of the option that is asked for; ``None`` where there is none."""
        wanted, many = self.question, len(self.options)
        if wanted == Question():
            return next((n for n, o in enumerate(self.options) if o.kind != "stay"), None)
        if not many:
            field = "from_shot" if wanted.option is None else "option"
            raise Unanswerable(field, "no option could be weighed on this log, so nothing to ask")
        if wanted.option is None:
            return next((n for n, o in enumerate(self.options) if o.kind != "stay"), 0)
        if not 0 <= wanted.option < many:
            why = f"{wanted.option + 1} given, the number of an option from 1 to {many} expected"
            raise Unanswerable("option", why)
        return wanted.option

    def _deflecting(self) -> bool:
        """Say whether the trade's sign of a ball that reads too soon is there (see ``hits``).

        Where the lane made all balls hook later, what deflects came in late already.
        """
        if any(change.later for change in self.changes):
            return False
        stood = [
            s
            for s, used in zip(self.shots, self.usable, strict=True)
            if used and s.leave not in ("", "X")
        ]
        told = sum(
            hits.drive(s) == "deflected"
            and leaves.corner_state(s.leave, s.neighbour_pin, self.client.hand) == "flat"
            for s in stood
        )
        return told >= max(hits.DEFLECTED_TELLS, hits.DEFLECTED_SHARE * len(stood))

    def _by(self) -> list[tuple[str, int | None, Drifts]]:
        """Return the drifts of each ball on each lane."""
        use, by = self.usable, []
        for ball, lane in dict.fromkeys(
            (s.ball, s.lane) for s, used in zip(self.shots, use, strict=True) if used
        ):
            mine = use & np.array([(s.ball, s.lane) == (ball, lane) for s in self.shots])
            by.append((ball, lane, self._drifts(mine)))
        return by

    def _findings(self) -> Findings:
        return Findings(
            version=READING_VERSION,
            seed=self.seed,
            client=self.client,
            pattern=self.pattern,
            competition=self.competition,
            shots=self.shots,
            balls=self.balls,
            first=self.first,
            usable=self.usable,
            throws=self.throws,
            physics=self.physics,
            entries=self.entries,
            drifts=self.drifts,
            by=self._by(),
            changes=self.changes,
            ball_changes=self.ball_changes,
            causes=self.causes,
            computed=self.computed,
            said=self.said,
            games=self.games,
            earned=earned(self.shots, self.first.tolist(), self.physics, self.client.hand),
            range=self.range,
            options=self.options,
            deflecting=self._deflecting(),
            unknown_balls=self.unknown_balls,
            reading_error=self.reading_error,
            own_error=self.own_error,
            ahead=self.ahead,
            what_if=self.asked,
            law=self.law,
            movers=find_movers(
                self.shots,
                self.first,
                self.found,
                self.sensitivity,
                self.reading_error,
                self.seed,
            ),
        )


def _with_balls(
    shots: Sequence[LoggedShot], balls: Sequence[BallSpec]
) -> tuple[list[BallSpec], list[LoggedShot], list[str]]:
    """Return balls and shots that fit together, and the balls that had to be assumed.

    A log without a ball column was thrown with the only ball at hand, or with one unnamed ball.
    """
    balls, named = list(balls), list(shots)
    only = balls[0].name if len(balls) == 1 else UNNAMED
    if not any(shot.ball for shot in shots):
        named = [replace(shot, ball=only) for shot in shots]
    known = {ball.name for ball in balls}
    unknown = [n for n in dict.fromkeys(s.ball for s in named) if n and n not in known]
    return balls + [BallSpec(name) for name in unknown], named, unknown


def _with_own_balls(session: EarlierSession, number: int) -> EarlierSession:
    """Return an earlier session whose shots all have a ball.

    An unnamed ball is another one in each session, as far as anybody knows.
    """
    balls, shots, unknown = _with_balls(session.shots, session.balls)
    other = {name: f"{name}, session {number + 1} before" for name in unknown}
    return replace(
        session,
        balls=[replace(ball, name=other.get(ball.name, ball.name)) for ball in balls],
        shots=[replace(shot, ball=other.get(shot.ball, shot.ball)) for shot in shots],
    )
