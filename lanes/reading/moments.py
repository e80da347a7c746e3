"""The lanes that a student met: a fitted lesson early and late, and any ball thrown on them.

A ball that was thrown in the lesson brings the friction that the fit found for it. One that was not
has the friction of its numbers, with the doubt of a ball nobody has thrown. What a new surface does
is told by the law that covers settle by (``motion.settling``), draw by draw.

Whoever throws a ball finds its line within a few shots: on each drawn lane a thing is thrown on
the line that is its own there, one of the bag and one that nobody has thrown alike. Otherwise what
no fit can tell of an unknown ball would be held against it. Lines are looked for on one set of
drawn lanes, and what they are worth is measured on another; on both the throws that choose a line
are not those that measure it. Else the best of many lines, and of many balls, would look better
than it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, fields, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from lanes.motion import (
    POCKET,
    BallSpec,
    Oil,
    Path,
    Release,
    checkpoints,
    checkpoints_rigid,
    lane_friction,
    roll_rigid,
)
from lanes.motion.friction import SURFACE_LAW, Lane, SurfaceLaw, ball_friction
from lanes.motion.geometry import DEG_PER_BOARD
from lanes.motion.posterior import Draws
from lanes.motion.seen import ReadingError, ReleasePrior
from lanes.motion.settling import Settling

from .client import RELEASE, ClientFacts
from .options import LANES_DRAWN, THROWS, Range, meant_launches, with_factors
from .physics import Physics, fit_each, fit_physics
from .pooling import EarlierSession, joined_balls
from .shots import LoggedShot, first_balls

Array = NDArray[np.float64]

FEWEST_FIRST_BALLS = 10  # with a board read at the head pin; fewer show no scatter of one's own
PART = 12  # first balls that say what was thrown early and late
_NEW = BallSpec("nobody has thrown it")
_FLUSH = 0.5 * (POCKET.flush_low + POCKET.flush_high)
# Where a line is looked for, boards of feet and eyes from the one that was thrown.
_FEET = np.arange(-9.0, 12.1, 2.0)
_FEW_FEET = np.array([-5.0, -1.0, 3.0, 7.0])  # in a quick look
_EYES = np.arange(-9.0, 9.1, 3.0)
_EYES_STEP = 3.0
_WITH_FEET = 0.6  # boards of eyes for a board of feet, about where the pocket stays (2 to 1 and 1
# to 1 are common practice)
_LEAST_SLOPE = 0.5  # boards at the pins for a board of eyes; less is the edge of what can be aimed
QUICK_LOOK, CLOSE_LOOK = (6, 4), (8, 10)  # drawn lanes, and throws on each
CHOOSING = 10  # throws that choose a line on a drawn lane; the last ones, which measure nothing
_STEEPEST = 6.0
_OUTERMOST = 4.0  # board at the arrows; nobody aims outside of it (common practice, no source)
_USUAL = 3  # drawn lanes that say where the usual throw arrives, before it is aimed
_ROUNDS = 3  # of aiming, until the usual throw is flush
_MOST_AIMED = 4.0  # boards of eyes by which a ball is aimed anew at a time
_GUTTER = -20.0  # a ball in the gutter passes outside of all
_RUN = 5  # first balls of a run, for the scatter of a student's better half


@dataclass(frozen=True)
class Thing:
    """A ball in one state of its cover. ``of`` is the key of the ball at hand that it is, or
    ``None`` for one that the student does not have; ``box`` that of the ball in stock that it is
    with another finish than it has in the box."""

    key: str
    spec: BallSpec
    of: str | None = None
    box: str | None = None


@dataclass(frozen=True, eq=False)
class Lesson:
    """What was logged of one session. ``owners`` holds for each of ``balls`` the key of the ball at
    hand that it is, ``None`` for one that is no longer there."""

    name: str
    shots: Sequence[LoggedShot]
    client: ClientFacts
    balls: Sequence[BallSpec]
    owners: Sequence[str | None]
    pattern: Oil | None
    display: str = "unknown"
    balls_per_shot: float = 1.0
    error: ReadingError = field(default_factory=ReadingError)
    place: str = ""

    @property
    def has_enough(self) -> bool:
        """Whether it can be fitted; a back-up ball is not modelled."""
        read = [
            shot
            for shot, first in zip(self.shots, first_balls(self.shots), strict=True)
            if first and shot.head_pin is not None
        ]
        return self.client.hook != "backup" and len(read) >= FEWEST_FIRST_BALLS


@dataclass(frozen=True, eq=False)
class Line:
    """Where to stand and look: ``place`` (3,) is boards of feet and eyes from the line that was
    thrown, and boards at the pins for a board of eyes, the best over all lanes drawn; ``chances``
    (draws,) are those of the search, each on its own line."""

    place: Array
    chances: Array

    @property
    def chance(self) -> float:
        return float(self.chances.mean())

    @property
    def feet(self) -> float:
        return float(self.place[0])

    @property
    def eyes(self) -> float:
        return float(self.place[1])


class Fitted:
    """A fitted lesson in which every ball at hand, and one that nobody has thrown, has a place."""

    def __init__(
        self,
        lesson: Lesson,
        physics: Physics,
        places: dict[str, int],
        thrown: Iterable[int] | None = None,
    ) -> None:
        """``thrown`` are the balls that were thrown in any lesson fitted along, else in this."""
        self.lesson, self.physics = lesson, physics
        self._places = places
        self._thrown = set(physics.thrown.tolist() if thrown is None else thrown)

    @property
    def first_balls(self) -> int:
        return len(self.physics.index)

    def place(self, thing: Thing) -> int:
        """Return the number of the fit's ball whose friction this one has."""
        return self._places.get(thing.of or "", len(self.physics.balls) - 1)

    def fitted_with(self, thing: Thing) -> BallSpec | None:
        """Return the ball as it was when it was thrown; ``None`` where it never was."""
        place = self.place(thing)
        return self.physics.balls[place] if place in self._thrown else None

    @cached_property
    def run_misses(self) -> Array:
        """Misses at the arrows, boards, root mean square of each run of first balls in a row."""
        fit = self.physics.fit
        off = fit.launches - meant_launches(fit.launches, self.physics.thrown)
        at_arrows = off[:, 0] - off[:, 1] / DEG_PER_BOARD
        whole = len(at_arrows) // _RUN * _RUN
        runs = at_arrows[:whole].reshape(-1, _RUN)
        return np.asarray(np.sqrt((runs**2).mean(axis=1)))


def fitted(lesson: Lesson, at_hand: Sequence[Thing]) -> Fitted | None:
    """Fit a lesson by itself; ``None`` where it has too little."""
    if not lesson.has_enough:
        return None
    places = {_of_log(i): i for i in range(len(lesson.balls))}
    places |= {key: i for i, key in enumerate(lesson.owners) if key is not None}
    # Names that no log holds, so that nothing thrown is taken for these.
    others = [thing for thing in at_hand if thing.key not in places]
    extra = [replace(thing.spec, name=f"\0{n}") for n, thing in enumerate([*others])]
    for n, thing in enumerate(others):
        places[thing.key] = len(lesson.balls) + n
    facts = {name: getattr(lesson.client, name) for name in RELEASE}
    physics = fit_physics(
        lesson.shots,
        first_balls(lesson.shots),
        [*lesson.balls, *extra, replace(_NEW, name="\0")],
        ReleasePrior.known(**facts),
        lesson.pattern.film(lesson.client.hand) if lesson.pattern else None,
        lesson.error,
        lesson.display,
        lesson.balls_per_shot,
    )
    return Fitted(lesson, physics, places) if physics else None


def fitted_along(lessons: Sequence[Lesson], at_hand: Sequence[Thing]) -> list[Fitted]:
    """Fit lessons, those of one release together, as readings are with earlier sessions.

    A ball and its surface are the same in all of them. Lessons that do not agree in one fit are
    each left by themselves; those with too little are left out.
    """
    alike: dict[ClientFacts, list[Lesson]] = {}
    for lesson in lessons:
        if lesson.has_enough:
            alike.setdefault(lesson.client, []).append(lesson)
    found: dict[int, Fitted] = {}
    for facts, group in alike.items():
        fits: Sequence[Fitted | None] = []
        if len(group) > 1:
            fits = _together(facts, group, at_hand)
        fits = fits or [fitted(lesson, at_hand) for lesson in group]
        found |= {id(lesson): fit for lesson, fit in zip(group, fits, strict=True) if fit}
    return [found[id(lesson)] for lesson in lessons if id(lesson) in found]


def _together(
    facts: ClientFacts, lessons: Sequence[Lesson], at_hand: Sequence[Thing]
) -> list[Fitted]:
    balls, mapped = joined_balls([], [lesson.balls for lesson in lessons])
    owned: dict[str, int] = {}
    # The first lesson is the latest: as a ball was there, it is nearest to what it is today.
    for lesson, there in zip(lessons, mapped, strict=True):
        for key, at in zip(lesson.owners, there, strict=True):
            if key is not None:
                owned.setdefault(key, at)
    others = [thing for thing in at_hand if thing.key not in owned]
    owned |= {thing.key: len(balls) + n for n, thing in enumerate(others)}
    extra = [replace(thing.spec, name=f"\0{n}") for n, thing in enumerate(others)]
    sessions = [
        EarlierSession(
            lesson.name,
            lesson.place or f"lesson {n}",
            list(lesson.shots),
            list(lesson.balls),
            lesson.pattern,
            lesson.display,
            lesson.balls_per_shot,
            lesson.error,
        )
        for n, lesson in enumerate(lessons)
    ]
    release = ReleasePrior.known(**{name: getattr(facts, name) for name in RELEASE})
    every = [*balls, *extra, replace(_NEW, name="\0")]
    physics = fit_each(sessions, mapped, every, release, facts.hand)
    thrown = {int(ball) for one in physics for ball in one.thrown}
    return [
        Fitted(lesson, one, owned | {_of_log(at): at for at in there}, thrown)
        for lesson, one, there in zip(lessons, physics, mapped, strict=False)
    ]


def _of_log(number: int) -> str:
    """Return the key by which the fit's ball of that number is found, whoever has it now."""
    return f"\0{number} of the log"


@dataclass(frozen=True, eq=False)
class _Frictions(Draws):
    """Draws in which a ball's number stands for a thing: its fitted friction and its surface's."""

    things: list[tuple[int, Array]]

    @classmethod
    def over(cls, draws: Draws, order: NDArray[np.int64]) -> _Frictions:
        found = {f.name: getattr(draws, f.name) for f in fields(Draws)}
        drawn = ("launches", "rotation_deg", "speed_mph", "rev_rpm", "ball_scale", "_globals")
        return cls(**(found | {name: found[name][order] for name in drawn}), things=[])

    def factors_at(self, order: float, ball: int, lane: int = 0) -> Array:
        place, surface = self.things[ball]
        factors = super().factors_at(order, place, lane).copy()
        factors[:, 0] *= np.exp(surface)
        return factors


class Met(Range):
    """A range on which any thing can be thrown, by the reduced model or the rigid one."""

    draws: _Frictions

    def __init__(
        self,
        fit: Fitted,
        now: NDArray[np.int64],
        ball: int,
        order: float,
        seed: int,
        settling: Settling,
    ) -> None:
        self.fit, self.settling, self.is_rigid = fit, settling, False
        super().__init__(fit.physics, now, ball, order, seed)
        # Draws can stand in any order. Those of different lessons are paired by how strong a ball
        # is in them that nobody has thrown: it is the same ball in all of them.
        ranked = np.argsort(self.draws.ball_scale[:, -1], kind="stable")
        paired = ranked[np.random.default_rng(seed).permutation(len(ranked))]
        self.draws = _Frictions.over(self.draws, paired)
        self.centre, self.misses = self.centre[paired], self.misses[paired]
        self._numbers: dict[str, int] = {}

    def lane(self, spec: BallSpec) -> Lane:
        if spec not in self._lanes:
            self._lanes[spec] = lane_friction(self.physics.film, spec, law=self.settling.law)
        return self._lanes[spec]

    def trace(self, launches: Array, rotation_deg: Array, spec: BallSpec, factors: Array) -> Array:
        model = checkpoints_rigid if self.is_rigid else checkpoints
        lane = self.lane(spec)
        return model(launches, rotation_deg, self.draws.tilt_deg, spec, lane, factors=factors)

    @contextmanager
    def rigid(self) -> Iterator[Met]:
        """Throw by the rigid ball while the block runs."""
        self.is_rigid = True
        try:
            yield self
        finally:
            self.is_rigid = False

    def number(self, thing: Thing) -> int:
        """Return the number by which a thing is thrown here."""
        if thing.key not in self._numbers:
            self._numbers[thing.key] = len(self.draws.things)
            draws = tuple(self.settling.draws[: len(self.draws.rotation_deg)])
            surface = _of_surface(thing.spec, self.fit.fitted_with(thing), self.settling.law, draws)
            self.draws.things.append((self.fit.place(thing), surface))
        return self._numbers[thing.key]

    def usual_pins(self, thing: Thing, moves: Array, draws: int) -> Array:
        """Return the head-pin board of the throw without a miss; ``moves`` (m, draws, 2)."""
        m = len(moves)
        launches = np.repeat(self.centre[None, :draws], m, axis=0)
        launches[..., 0] += moves[..., 0]
        launches[..., 1] += (moves[..., 0] - moves[..., 1]) * DEG_PER_BOARD
        launches[..., 3] = np.maximum(launches[..., 3], 0.0)
        factors = self.draws.factors_at(self.order, self.number(thing))[:draws]
        seen = self.trace(
            launches.reshape(-1, 4),
            np.tile(self.draws.rotation_deg[:draws], m),
            thing.spec,
            np.tile(factors, (m, 1)),
        )
        pins = seen[:, 3]
        return np.where(np.isnan(pins), _GUTTER, pins).reshape(m, draws)

    def aimed(self, thing: Thing, lines: Array, draws: int, rounds: int = 1) -> Array:
        """Return lines (m, 3: feet, eyes, slope) as moves (m, draws, 2), aimed on each drawn lane.

        Whoever throws a ball sees within a few shots where it arrives and aims anew; what no fit
        can tell of lane and ball is not held against a ball. Lines may be each lane's own, (m,
        draws, 3).
        """
        each = lines if lines.ndim == 3 else np.repeat(lines[:, None], draws, axis=1)
        moves, slope = each[..., :2].copy(), each[..., 2].copy()
        pins = self.usual_pins(thing, moves, draws)
        for turn in range(rounds):
            step = np.clip((_FLUSH - pins) / slope, -_MOST_AIMED, _MOST_AIMED)
            moves[..., 1] += step
            if turn + 1 == rounds:
                break
            arrived = self.usual_pins(thing, moves, draws)
            # The slope that was met, where it is one: the lane is not even across.
            met = (arrived - pins) / np.where(np.abs(step) > 0.05, step, np.nan)
            like = (pins > 0.0) & (arrived > 0.0) & (met * slope > 0.0)
            bounded = np.clip(np.abs(met), _LEAST_SLOPE, _STEEPEST) * np.sign(slope)
            slope, pins = np.where(like, bounded, slope), arrived
        return moves

    def thrown(
        self,
        thing: Thing,
        lines: Array,
        draws: int,
        throws: int,
        misses: float = 1.0,
        rounds: int = 1,
        first: int = 0,
    ) -> Array:
        """Return the chance (m, draws) of lines (m, 3) aimed in so many rounds, thrown with the
        student's misses from the ``first`` on, ``misses`` times their own."""
        moves = self.aimed(thing, lines, draws, rounds)[:, :, None]
        launches = np.empty((len(lines), draws, throws, 4))
        own = self.misses[:draws, first : first + throws]
        launches[:] = self.centre[:draws, None] + misses * own
        launches[..., 0] += moves[..., 0]
        launches[..., 1] += (moves[..., 0] - moves[..., 1]) * DEG_PER_BOARD
        return self.outcome(thing.spec, self.number(thing), launches)[0]

    def own_lines(self, thing: Thing, lines: Array, draws: int) -> NDArray[np.intp]:
        """Return which of the lines (m, 3) is the best for a thing on each drawn lane, (draws,)."""
        last = self.misses.shape[1] - CHOOSING
        found = self.thrown(thing, lines, draws, CHOOSING, rounds=_ROUNDS, first=last)
        return np.argmax(found, axis=0)


@lru_cache(maxsize=1024)
def _of_surface(
    spec: BallSpec, thrown: BallSpec | None, law: SurfaceLaw, draws: tuple[SurfaceLaw, ...]
) -> Array:
    """Return what is to be added to a thing's log friction under each draw of the law.

    The fit found a thrown ball's friction by the constants' law with the surface of that day; from
    there the shop's law leads to today's, and each draw of it its own way. A ball not thrown is
    known by its numbers, on which all laws agree for an average surface.
    """
    if thrown is None:
        return np.array([_level(spec, one) - _level(spec, law) for one in draws])
    here = _level(thrown, SURFACE_LAW) - _level(thrown, law)
    moved = _level(spec, law) - _level(thrown, law)
    return np.array([here + _level(spec, one) - _level(thrown, one) - moved for one in draws])


def _level(spec: BallSpec, law: SurfaceLaw) -> float:
    """Return the log friction of a ball, dry and oiled in equal parts."""
    dry, oil, _ = ball_friction(spec, law)
    return 0.5 * (np.log(dry) + np.log(oil))


class Moment:
    """The lane as it was at one time of a lesson, and the line that was thrown there."""

    def __init__(
        self,
        fit: Fitted,
        when: str,
        rows: NDArray[np.int64],
        settling: Settling,
        seed: int,
    ) -> None:
        physics = fit.physics
        ball = int(physics.thrown[rows[-1]])
        rows = rows[physics.thrown[rows] == ball]
        order = float(np.median(physics.index[rows]))
        self.fit, self.when, self.ball = fit, when, ball
        self.searched = Met(fit, rows, ball, order, seed, settling)
        self.checked = Met(fit, rows, ball, order, seed + 1, settling)
        self._lines: dict[tuple[str, bool], Line | None] = {}
        self._own: dict[str, Array] = {}

    @property
    def name(self) -> str:
        return f"{self.fit.lesson.name}, {self.when}"

    def line(self, thing: Thing, closely: bool = True) -> Line | None:
        """Return the line with the best chance for a thing; ``None`` where none finds the pocket.

        The usual throw's board at the pins is followed over feet and eyes to where it is flush;
        these lines are then thrown with the student's own misses. ``closely`` says how many times,
        and whether to look between the lines too.
        """
        known = (thing.key, closely)
        if known not in self._lines:
            self._lines[known] = self._look(thing, closely)
        return self._lines[known]

    def _look(self, thing: Thing, closely: bool) -> Line | None:
        if not closely:
            return self._glance(thing)
        lines = flush_lines(self.searched, thing, _FEET)
        if not len(lines):
            return None
        draws = CLOSE_LOOK[0]
        chances = self.searched.thrown(thing, lines, *CLOSE_LOOK, rounds=_ROUNDS)
        own = self.searched.own_lines(thing, lines, draws)
        best = lines[int(np.argmax(chances.mean(axis=1)))]
        return Line(best, chances[own, np.arange(draws)])

    def _glance(self, thing: Thing) -> Line | None:
        """Aim a few lines of the ball that was thrown anew, and throw each some times."""
        lines = self._known_lines
        if not len(lines):
            return None
        chances = self.searched.thrown(thing, lines, *QUICK_LOOK)
        at = int(np.argmax(chances.mean(axis=1)))
        return Line(lines[at], chances[at])

    @cached_property
    def _known_lines(self) -> Array:
        thing = Thing("thrown", self.fit.physics.balls[self.ball], _of_log(self.ball))
        return flush_lines(self.searched, thing, _FEW_FEET)

    def measured(
        self, thing: Thing, line: Line, misses: float = 1.0, throws: int = THROWS
    ) -> Array:
        """Return the chance (draws,) on the lanes that no search has seen, each on its own line.

        By the rigid ball, so that differential and layout count. ``misses`` multiplies the
        student's own; lines are found with those of now. ``line`` is thrown where none is flush on
        these lanes.
        """
        met = self.checked
        if thing.key not in self._own:
            lines = flush_lines(met, thing, _FEET)
            lines = lines if len(lines) else line.place[None]
            self._own[thing.key] = lines[met.own_lines(thing, lines, LANES_DRAWN)]
        own = self._own[thing.key][None]
        with met.rigid():
            return met.thrown(thing, own, LANES_DRAWN, throws, misses, _ROUNDS)[0]

    def glanced(self, thing: Thing, line: Line) -> float:
        """Return the chance by a glance at the rigid ball, from the line of a ball like it."""
        with self.searched.rigid() as met:
            return float(met.thrown(thing, line.place[None], *QUICK_LOOK, rounds=2).mean())

    def arrives(self, thing: Thing, line: Line) -> float:
        """Return the head-pin board of the rigid ball's usual throw on a line, not aimed anew."""
        with self.searched.rigid() as met:
            moves = np.repeat(line.place[None, None, :2], _USUAL, axis=1)
            return float(np.median(met.usual_pins(thing, moves, _USUAL)))

    def path(self, thing: Thing, line: Line) -> Path:
        """Return the path of the usual throw on the middle one of the drawn lanes."""
        met = self.checked
        with met.rigid():
            moves = met.aimed(thing, line.place[None], LANES_DRAWN, rounds=3)
        factors = met.draws.factors_at(met.order, met.number(thing))
        middle = int(np.argsort(factors[:, 0], kind="stable")[len(factors) // 2])
        laydown, launch, speed, revs = met.centre[middle]
        feet, eyes = moves[0, middle]
        release = Release(
            float(speed),
            float(max(revs, 0.0)),
            float(met.draws.rotation_deg[middle]),
            float(met.draws.tilt_deg),
            float(laydown + feet),
            float(launch + (feet - eyes) * DEG_PER_BOARD),
        )
        return roll_rigid(release, thing.spec, with_factors(met.lane(thing.spec), factors[middle]))


def flush_lines(met: Met, thing: Thing, feet: Array) -> Array:
    """Return the lines (n, 3: feet, eyes, slope) on which the usual throw is flush.

    ``slope`` is boards at the pins for a board of eyes. A lane may have two for one place of the
    feet, one of them outside where it hooks early. Moving feet and eyes together keeps about the
    angle, so eyes are looked for about the feet's own move.
    """
    eyes = _WITH_FEET * feet[:, None] + _EYES
    grid = np.stack([np.repeat(feet, len(_EYES)), eyes.ravel()], axis=1)
    pins = met.usual_pins(thing, np.repeat(grid[:, None], _USUAL, axis=1), _USUAL)
    middle = np.median(pins, axis=1).reshape(eyes.shape)
    low, high = middle[:, :-1], middle[:, 1:]
    crosses = (low - _FLUSH) * (high - _FLUSH) <= 0.0
    rise = high - low
    crosses &= (low > 0.0) & (high > 0.0) & (np.abs(rise) >= _LEAST_SLOPE * _EYES_STEP)
    row, column = np.nonzero(crosses)
    slope = rise[row, column] / _EYES_STEP
    found = eyes[row, column] + (_FLUSH - low[row, column]) / slope
    laydown, launch = np.median(met.centre[:, :2], axis=0)
    arrows = laydown - launch / DEG_PER_BOARD + found
    return np.column_stack([feet[row], found, slope])[arrows >= _OUTERMOST]


def moments(fit: Fitted, settling: Settling, seed: int = 1) -> list[Moment]:
    """Return the lesson's lane early and late."""
    n = len(fit.physics.index)
    rows = np.arange(n)
    part = min(PART, n // 2)
    return [
        Moment(fit, "early", rows[:part], settling, seed),
        Moment(fit, "late", rows[n - part :], settling, seed),
    ]
