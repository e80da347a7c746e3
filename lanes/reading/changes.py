"""When something changed during a session, and whether it was the throw, the lane or a ball.

Every explanation (``explanations``) is held against all check-points at once (``together``), from
every shot at which it could have begun, in each course that it may take. What comes out is a
posterior over all of them and over nothing at all, so that a change has one probability, and its
causes share it.

The prior is a proper one: at every shot something begins with the same small chance, and sizes and
courses do not know the data. Where the noise is known, the odds that such a mixture gives against
nothing are a martingale as long as nothing changes, so that they pass ``1 / alpha`` at any of ever
so many looks with a chance of ``alpha`` at most (J. Ville, 1939; Ramdas and others, Statistical
Science 38 (2023) 576-601). Ours is estimated, so what is told, looking back once or live after
every shot, stands on odds whose false alarms were counted on simulated sessions.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lanes.motion.seen import ReadingError

from .explanations import (
    CAUSES,
    COURSES,
    LANE_PARTS,
    Explanation,
    Mark,
    course,
    explanations,
)
from .noise import CHECKPOINTS, DOWN_LANE, PLACE
from .series import UNITS, Sensitivity, column
from .shots import LoggedShot
from .together import Together, aim_told, look_together

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

# Chance that something begins at a given shot (assumed): in three of four sessions of 45 balls, as
# lanes rarely stay as they were laid.
HAZARD = 0.03
# A change is told from this probability on: looking back once, where less was read, and at any of
# the looks of a session that is read while it is thrown. Less than one quiet session of twenty has
# such a probability (1400 sessions drawn as those of tests/proof, with other seeds).
TOLD, TOLD_OF_LITTLE, TOLD_LIVE = 0.87, 0.90, 0.93
TOLD_SECOND = 0.97  # a second change needs more evidence
# A log counts as read in whole from this share of these readings on (assumed).
_WHOLE, _WHOLE_LOG = 0.85, ("laydown", "arrows", "breakpoint", "head_pin", "speed_mph")
MIN_SIDE = 5  # shots needed on either side of a beginning
MIN_GROWN = 8  # shots after the beginning of what grows
MIN_SIDE_OF_BALL = 4  # shots with a ball on either side, below which it is not told alone
MIN_SHOTS = 12  # in all
MAX_CHANGES = 2


@dataclass(frozen=True)
class Effect:
    """How far one check-point moved through a change, with its standard error."""

    size: float
    sd: float
    unit: str


@dataclass(frozen=True)
class Change:
    """One change: where in the log it began, its course, what it was, what moved.

    ``at`` is the index of the first shot after the change, as it is to be expected, ``low`` and
    ``high`` the indices that hold 90 % of the probability. ``p`` is the probability that something
    changed, ``causes`` shares it among throw, lane and ball. ``cause`` is the likeliest of those
    that can be told from what was read, ``what`` its check-point, part of the lane or ball;
    ``parts`` the probabilities of the lane's parts if it was the lane. ``course`` is its likeliest
    course in time.
    """

    at: int
    low: int
    high: int
    course: str
    p: float
    causes: dict[str, float]
    cause: str
    what: str
    later: bool
    parts: dict[str, float]
    effects: dict[str, Effect]

    @property
    def gradual(self) -> bool:
        """Say whether it grew, and did not come from one shot to the next."""
        return self.course != "step"

    def over(self, shots: Sequence[LoggedShot]) -> Array:
        """Return the change's course at each shot, 0 before and 1 at its full size."""
        grown = _touched(shots, self.course, self.at, self._ball)
        return np.asarray(grown / max(float(grown.max()), 1e-9))

    @property
    def _ball(self) -> str | None:
        return self.what if self.cause == "ball" else None


@dataclass(frozen=True, eq=False)
class Weighed:
    """Every explanation from every beginning, held against a session; what is left is nothing.

    ``weights`` (stories, beginnings) are probabilities that add up to that of a change. ``courses``
    (beginnings, n) and ``told``, what ``Together.pull`` says of them, are those of all shots under
    ``None`` and of one ball's under its name.
    """

    seen: Together
    stories: Sequence[Explanation]
    beginnings: Sequence[tuple[str, int]]
    weights: Array
    courses: Mapping[str | None, Array]
    told: Mapping[str | None, tuple[Array, Array]]

    @property
    def p(self) -> float:
        """The probability that anything changed."""
        return float(self.weights.sum())


def read_in_whole(shots: Sequence[LoggedShot], use: Flags) -> bool:
    """Say whether throws and paths of the shots that count were nearly all read.

    Where they were not, nothing at all is harder to tell from a change.
    """
    known = [np.isfinite(column(shots, name)[use]) for name in _WHOLE_LOG]
    return bool(np.mean(known) >= _WHOLE) if use.any() else False


def find_changes(
    shots: Sequence[LoggedShot],
    use: Flags,
    sensitivity: Sensitivity,
    marks: Mapping[str, Mark],
    *,
    modelled: bool = True,
    told: float = TOLD,
    most: int = MAX_CHANGES,
    first: Weighed | None = None,
    error: ReadingError | None = None,
) -> list[Change]:
    """Return the changes of a session, the clearest first; empty with too few shots.

    ``use`` flags the shots that count, ``marks`` are those of ``physics.signatures`` and
    ``modelled`` whether they are the session's own. A change is returned whose probability is
    ``told`` at least. Each that is found is taken out before the next is looked for. ``first`` is
    what ``weigh`` said of the session, where it was asked before. ``error`` is that of whoever read
    the boards.
    """
    found: list[Change] = []
    explained: list[Array] = []
    weighed = first
    while len(found) < most:
        if weighed is None:
            weighed = weigh(shots, use, sensitivity, marks, modelled, explained, error)
        if weighed is None or weighed.p < (max(told, TOLD_SECOND) if found else told):
            break
        change = _told(shots, weighed)
        found.append(change)
        explained.append(change.over(shots))
        weighed = None
    return found


def weigh(
    shots: Sequence[LoggedShot],
    use: Flags,
    sensitivity: Sensitivity,
    marks: Mapping[str, Mark],
    modelled: bool = True,
    explained: Sequence[Array] = (),
    error: ReadingError | None = None,
) -> Weighed | None:
    """Hold every explanation against a session; ``None`` with too few shots.

    ``explained`` are courses (len(shots),) of what was found already, the rest as for
    ``find_changes``.
    """
    seen = look_together(shots, use, sensitivity, explained, error)
    if seen is None or len(seen.index) < MIN_SHOTS:
        return None
    beginnings = _beginnings(seen.index)
    ball_of = np.array([shots[i].ball for i in seen.index])
    thrown = list(dict.fromkeys(ball_of.tolist()))
    balls = [ball for ball in thrown if (ball_of == ball).sum() >= 2 * MIN_SIDE_OF_BALL]
    every = np.array([course(kind, at, seen.index) for kind, at in beginnings])
    courses: dict[str | None, Array] = {None: every}
    told: dict[str | None, tuple[Array, Array]] = {None: seen.pull(every)}
    thin: dict[str, Flags] = {}
    for ball in balls:
        alone = len(thrown) == 1
        courses[ball] = every if alone else every * (ball_of == ball)
        told[ball] = told[None] if alone else seen.pull(courses[ball])
        mine = seen.index[ball_of == ball]
        sides = [min((mine < at).sum(), (mine >= at).sum()) for _, at in beginnings]
        thin[ball] = np.array(sides) < MIN_SIDE_OF_BALL
    stories = explanations(sensitivity, marks, balls, modelled)
    gained, cost = np.array(
        [evidence(*told[story.ball], story.mean, story.variance) for story in stories]
    ).transpose(1, 0, 2)
    prior = np.array(
        [[HAZARD * story.weight * story.courses[kind] for kind, _ in beginnings]
         for story in stories]
    )  # fmt: skip
    with np.errstate(divide="ignore"):
        logs = np.log(prior) + heavy_tailed(gained, seen.freedom) - cost
    for row, story in enumerate(stories):
        if story.ball is not None:
            logs[row, thin[story.ball]] = -np.inf
    top = max(float(logs.max()), 0.0)
    weights = np.exp(logs - top)
    nothing = np.exp(-top) * (1.0 - HAZARD) ** len(seen.index)
    return Weighed(seen, stories, beginnings, weights / (weights.sum() + nothing), courses, told)


def _beginnings(index: NDArray[np.int64]) -> list[tuple[str, int]]:
    """Return every course and beginning that compete, beginnings as places in the log."""
    steps = index[MIN_SIDE : len(index) - MIN_SIDE + 1].tolist()
    grown = [index[0].item(), *index[MIN_SIDE : len(index) - MIN_GROWN + 1].tolist()]
    return [(kind, at) for kind in COURSES for at in (steps if kind == "step" else grown)]


def evidence(told: Array, pull: Array, mean: Array, variance: Array) -> tuple[Array, Array]:
    """Return what speaks for effects ~ N(mean, diag(variance)) against none, and what it costs.

    ``told`` (f, c, c) and ``pull`` (f, c) as ``Together.pull`` gives them; variances may be 0. The
    first less the second is the log Bayes factor where the noise is known: that of the integral of
    ``exp(u e - e J e / 2)`` over the effects ``e``.
    """
    foretold = told @ mean
    certain = pull @ mean - 0.5 * foretold @ mean
    free, root, inner = _freed(told, variance)
    factor = np.linalg.cholesky(inner)
    left = ((pull - foretold)[:, free] * root)[..., None]
    solved = np.linalg.solve(factor, left)[..., 0]
    cost = np.log(np.diagonal(factor, axis1=1, axis2=2)).sum(axis=1)
    return np.asarray(certain + 0.5 * (solved**2).sum(axis=1)), np.asarray(cost)


def effects(told: Array, pull: Array, mean: Array, variance: Array) -> tuple[Array, Array]:
    """Return what the effects of an explanation are likely to be (f, c), and their variances.

    Arguments as for ``evidence``; the posterior that goes with it.
    """
    free, root, inner = _freed(told, variance)
    left = ((pull - told @ mean)[:, free] * root)[..., None]
    likely = np.tile(mean, (len(pull), 1))
    likely[:, free] += root * np.linalg.solve(inner, left)[..., 0]
    doubt = np.zeros_like(likely)
    doubt[:, free] = root**2 * np.diagonal(np.linalg.inv(inner), axis1=1, axis2=2)
    return likely, doubt


def _freed(told: Array, variance: Array) -> tuple[NDArray[np.int64], Array, Array]:
    """Return which effects are free, their sd, and ``1 + R J R`` of these."""
    free = np.flatnonzero(variance > 0)
    root = np.sqrt(variance[free])
    return free, root, np.eye(len(free)) + root[:, None] * told[:, free][:, :, free] * root


def heavy_tailed(gained: Array, freedom: float) -> Array:
    """Return what speaks for each explanation where the noise is known by ``freedom`` degrees only.

    What fits worse than the best counts as in a Student t, ``(f + 1) / 2 log(1 + z^2 / f)`` in the
    place of ``z^2 / 2``; nothing at all, whose gain is 0, as well.
    """
    best = max(float(gained.max()), 0.0)

    def behind(gain: Array | float) -> Array:
        return np.asarray(0.5 * (freedom + 1.0) * np.log1p(2.0 * (best - gain) / freedom))

    return np.asarray(behind(0.0) - behind(gained))


def _told(shots: Sequence[LoggedShot], weighed: Weighed) -> Change:
    """Return what the posterior over stories and beginnings says."""
    seen, stories, beginnings = weighed.seen, weighed.stories, weighed.beginnings
    weights = weighed.weights
    cause_of = np.array([story.cause for story in stories])
    by_story = weights.sum(axis=1)
    causes = {cause: float(by_story[cause_of == cause].sum()) for cause in CAUSES}
    tellable = np.array([_tellable(story, seen, shots) for story in stories])
    cause = max(CAUSES, key=lambda one: float(by_story[(cause_of == one) & tellable].sum()))
    mine = (cause_of == cause) & tellable
    of_what: dict[str, float] = {}
    for i in np.flatnonzero(mine).tolist():
        of_what[stories[i].what] = of_what.get(stories[i].what, 0.0) + float(by_story[i])
    what = max(of_what, key=lambda name: of_what[name])
    mine &= np.array([story.what == what or cause == "lane" for story in stories])
    share = np.where(mine[:, None], weights, 0.0)
    kinds = np.array([kind for kind, _ in beginnings])
    kind = max(COURSES, key=lambda one: float(share[:, kinds == one].sum()))
    places = np.array([at for _, at in beginnings])
    ordered = np.argsort(places, kind="stable")
    reached = np.cumsum(share.sum(axis=0)[ordered]) / share.sum()
    low, high = (
        int(places[ordered[int(np.searchsorted(reached, level))]]) for level in (0.05, 0.95)
    )
    at = round(float(share.sum(axis=0) @ places) / float(share.sum()))
    way = sum(stories[i].way * by_story[i] for i in np.flatnonzero(mine).tolist())
    lane = dict.fromkeys(LANE_PARTS, 0.0)
    for story, weight in zip(stories, by_story.tolist(), strict=True):
        if story.cause == "lane":
            lane[story.what] += weight
    where = any(name in seen.read for name in ("breakpoint", "breakpoint_ft"))
    parts = {part: value / sum(lane.values()) for part, value in lane.items()} if where else {}
    ball = what if cause == "ball" else None
    likeliest = stories[int(np.argmax(np.where(mine, by_story, -1.0)))]
    effects = _effects(shots, seen, kind, at, ball, likeliest)
    return Change(
        at, low, high, kind, weighed.p, causes, cause, what, bool(way < 0), parts, effects
    )


def _tellable(story: Explanation, seen: Together, shots: Sequence[LoggedShot]) -> bool:
    """Say whether a change could be put into words: one of the throw only where it was read."""
    if story.cause != "throw":
        return True
    return story.what in seen.read and (story.what != "arrows" or aim_told(shots))


def _touched(shots: Sequence[LoggedShot], kind: str, at: int, ball: str | None) -> Array:
    grown = course(kind, at, np.arange(len(shots)))
    if ball is None:
        return grown
    return grown * np.array([shot.ball == ball for shot in shots])


def _effects(
    shots: Sequence[LoggedShot],
    seen: Together,
    kind: str,
    at: int,
    ball: str | None,
    story: Explanation,
) -> dict[str, Effect]:
    """Return how far check-points moved by the end: of a throw its own, else on the same throw."""
    grown = _touched(shots, kind, at, ball)
    end = float(grown.max())
    told, pull = seen.pull(grown[seen.index][None, :] / end)
    if story.cause == "throw":  # whatever else moved with it
        names, these = [story.what], list(seen.read)
    else:
        names = these = [name for name in DOWN_LANE if name in seen.read]
    if not names:
        return {}
    moves = np.zeros((len(CHECKPOINTS), len(these)))
    moves[[PLACE[name] for name in these], range(len(these))] = 1.0
    at_pins = story.mean[PLACE["head_pin"]]
    if story.cause != "throw" and "head_pin" in these and at_pins != 0.0:
        # The arrows go along, as its mark says.
        moves[PLACE["arrows"], these.index("head_pin")] = story.mean[PLACE["arrows"]] / at_pins
    covariance = np.linalg.pinv(moves.T @ told[0] @ moves)
    sizes = covariance @ moves.T @ pull[0]
    found = {}
    for name in names:
        place = these.index(name)
        sd = float(np.sqrt(max(covariance[place, place], 0.0)))
        found[name] = Effect(float(sizes[place]), sd, UNITS[name])
    return found
