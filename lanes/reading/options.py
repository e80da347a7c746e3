"""What could be changed, simulated with this student's own scatter on the lane as fitted.

Every option is thrown many times: the student's own misses (laydown, launch, speed and revs of
every first ball, against the line that was meant) on lanes that the fit leaves possible. The same
misses and lanes serve every option, so that differences between options are surer than each
chance alone. A line is searched on one set of lanes and misses and measured on another: the best
of many would otherwise look better than it is. The option that is worth most on the average leads
(``chances.merit``: chance of a strike and share of pocket hits); where the difference is too small
to matter it is a tie, and what costs nothing comes first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from lanes.motion import POCKET, BallSpec, checkpoints, lane_friction
from lanes.motion.friction import Lane, LaneState
from lanes.motion.geometry import DEG_PER_BOARD
from lanes.pins.carry import Leave, mirror_pins

from .chances import in_pocket, interval, merit
from .physics import Physics
from .strike import Hits
from .track import Track
from .usual_hit import UsualHit

Array = NDArray[np.float64]

LANES_DRAWN = 24  # lanes, balls and releases that the fit leaves possible
THROWS = 40  # of the student's own misses on each
_FEET = np.arange(-6.0, 7.0, 2.0)
_EYES = np.arange(-4.0, 5.0, 1.0)
_FINE_FEET = (-1.0, -0.5, 0.0, 0.5, 1.0)
_FINE_EYES = (-0.5, 0.0, 0.5)
# A smaller difference of merits is a tie: about one standard error of the throws made.
WORTH = 0.03
# A smaller one yet is none: of such lines the one that comes nearest to a flush hit is taken, and
# staying comes before a move.
_ALIKE = 0.5 * WORTH
# What the lanes drawn do not hold, in boards at the pins, one sd: the lane is not quite the model,
# and not quite what it was; besides on another line the more, the further it lies from the one
# thrown, and at least so much where the lane has changed; besides with a fresh cover, and with
# another ball. Sized on sessions drawn as those of tests/proof, with other seeds than the committed
# ones.
_LANE_SD = 0.8
_LINE_SD, _LINE_SD_PER_BOARD, _MOST_LINE_SD = 0.1, 0.08, 1.2  # boards of feet and eyes together
_CHANGED_LANE_SD = 0.8
_COVER_SD, _BALL_SD = 0.5, 0.5
# A ball that the pins ask for leads unless another option is better on 19 of 20 lanes drawn: the
# label tells little of a ball that nobody has thrown (assumed).
_AGAINST_THE_PINS = 5.0
# The same doubt of lane and line as part of a chance, and per board of feet and eyes, where lines
# are aimed anew on each drawn lane. Assumed, one sd; sized on lanes with another friction law
# (tests/reading/simulator.py).
_MODEL_SD = 0.07
_MODEL_SD_PER_BOARD = 0.012
FREE = ("stay", "move", "release")  # what costs nothing comes first among ties
_LEAVES = 5  # likeliest leaves that an option keeps
_WINDOW = 9  # neighbouring throws that say what line was meant at the time
# One step of a hand resurface, rougher or finer than the cover is now (common practice).
_SURFACE_STEPS = {"rougher": 0.5, "finer": 2.0}
_GRIT_LIMITS = (500.0, 5000.0)
_AROUND = (-2.0, 0.0, 2.0), (-1.0, 0.0, 1.0)  # boards of feet and eyes about a line
_ROOM_SCAN = np.arange(-4.0, 4.05, 0.1)  # boards at the arrows


class Search(NamedTuple):
    """How closely a line is looked for: lanes drawn and throws on each of a first look over the
    grid, and of a closer one at so many of the best.
    """

    first: tuple[int, int]
    close: tuple[int, int]
    looked_at: int


# The best of few throws on few lanes is often another line; while balls are thrown it has to do.
CLOSELY = Search((12, 12), (24, 24), 12)
QUICKLY = Search((6, 8), (12, 16), 8)


@dataclass(frozen=True, eq=False)
class Option:
    """One option with its simulated chance of a strike and its 90 % interval.

    ``feet`` and ``eyes`` are boards of move toward the weak side. ``head_pin`` is where the usual
    throw arrives, ``same_line`` how many boards higher it would arrive than now on the line of
    now: below 0 the ball reads later. ``chances`` and ``pockets`` (draws,) are the chance and the
    share of pocket hits on each lane drawn, for comparing options on the same lanes. ``leaves`` are
    what its throws leave, likeliest first, in the numbers of a right-hander's pins. ``speed_mph``
    and ``rotation_deg`` are a cue to release the ball otherwise than now.
    """

    kind: str
    spec: BallSpec
    ball: int
    feet: float
    eyes: float
    surface: str
    strike: float
    low: float
    high: float
    pocket: float
    room_boards: float
    head_pin: float
    same_line: float
    chances: Array
    pockets: Array
    leaves: tuple[Leave, ...] = ()
    tied: bool = False
    speed_mph: float = 0.0
    rotation_deg: float = 0.0

    @property
    def merits(self) -> Array:
        """What it is worth on each lane drawn (draws,): see ``chances.merit``."""
        return merit(self.chances, self.pockets)

    @property
    def worth(self) -> float:
        """What it is worth, over all of them."""
        return float(self.merits.mean())

    def likeliest_leave(self, hand: str) -> Leave | None:
        """Return the likeliest leave by name, with its share of what does not strike."""
        missed = 1.0 - self.strike
        named = next((leave for leave in self.leaves if leave.pins), None)
        if named is None or missed <= 0.0:
            return None
        pins = mirror_pins(named.pins) if hand == "left" else named.pins
        return Leave(pins, min(named.p / missed, 1.0))


@dataclass(frozen=True, eq=False)
class Usual:
    """A throw without a miss: launch (4,), lane factors (4,), rotation, and its head-pin board,
    which lies ``shift`` boards off the model's."""

    launch: Array
    factors: Array
    rotation_deg: float
    head_pin: float
    shift: float


class Range:
    """A practice range for one student: the fitted session, the line now, and the own misses."""

    search = CLOSELY

    def __init__(
        self,
        physics: Physics,
        now: NDArray[np.int64],
        ball: int,
        order: float,
        seed: int = 1,
        *,
        renewed: float | None = None,
        meets: UsualHit | None = None,
        lane_changed: bool = False,
    ) -> None:
        """Set up for the line of the fit's rows ``now`` with ball number ``ball``.

        ``order`` is the place in the log whose lane is met. Where it was this ball that changed,
        ``renewed`` is a place before that: there the lane is as another ball, or this one with a
        fresh cover, meets it. ``meets`` is where the usual throw hits by the readings, from which
        all throws are told; by default by the fit. With ``lane_changed`` what the fit says of a
        lane that changed lies in the track of the balls thrown.
        """
        self.physics, self.ball, self.order = physics, ball, order
        self.renewed = order if renewed is None else renewed
        self.draws = physics.fit.draws(LANES_DRAWN, seed)
        rng = np.random.default_rng(seed)
        n = len(physics.index)
        meant = meant_launches(physics.fit.launches, physics.thrown)
        moved = np.median(self.draws.launches[:, now] - physics.fit.launches[now], axis=1)
        self.centre = np.median(meant[now], axis=0) + moved  # (draws, 4)
        misses = self.draws.launches - meant - moved[:, None, :]
        # Each lane meets every miss before it meets one again.
        turns = np.tile(np.arange(n), (LANES_DRAWN, -(-THROWS // n)))
        picked = rng.permuted(turns, axis=1)[:, :THROWS]
        self.misses = np.take_along_axis(misses, picked[:, :, None], axis=1)
        # Even over the normal, also the first few of them.
        even = qmc.Halton(2, rng=np.random.default_rng(seed)).random(LANES_DRAWN)
        self.off: Array = ndtri(even.T)
        self._lanes: dict[BallSpec, Lane] = {}
        self.track: Track | None = None
        if lane_changed:
            self.track = Track(physics.fit.launches, self.centre[:, None] + self.misses)
        self.shift: Array = np.zeros(LANES_DRAWN)  # boards at the head pin, on each drawn lane
        self.doubt = _LANE_SD
        if meets is not None:
            self.shift, self.doubt = meets.board - self._fitted(), meets.sd
        self.now_pin = self.usual(physics.balls[ball], ball, (0.0, 0.0)).head_pin

    def _fitted(self) -> Array:
        """Return where the throws of now hit on each drawn lane, by the fit."""
        now = self.launches(np.zeros((1, 2)), LANES_DRAWN, THROWS)
        board = self.hits(self.physics.balls[self.ball], self.ball, now).board[0]
        known = np.isfinite(board)
        total = np.where(known, board, 0.0).sum(axis=1)
        return np.asarray(total / np.maximum(known.sum(axis=1), 1))

    def met_at(self, spec: BallSpec) -> float:
        """Return the place in the log whose lane a ball meets: that of now, unless the ball thrown
        now has changed and this is another, or it with a fresh cover.
        """
        return self.order if spec == self.physics.balls[self.ball] else self.renewed

    def lane(self, spec: BallSpec) -> Lane:
        """Return the lane as oiled, as this ball meets it."""
        if spec not in self._lanes:
            self._lanes[spec] = lane_friction(self.physics.film, spec, law=self.physics.law)
        return self._lanes[spec]

    def trace(self, launches: Array, rotation_deg: Array, spec: BallSpec, factors: Array) -> Array:
        """Return what would be seen of launches (n, 4) with factors (n, 4): the columns of
        ``checkpoints``. By the reduced model; a range that asks another one says so here.
        """
        return checkpoints(
            launches, rotation_deg, self.draws.tilt_deg, spec, self.lane(spec), factors
        )

    def throw(
        self, spec: BallSpec, ball: int, moves: Array, draws: int, throws: int
    ) -> tuple[Array, Array]:
        """Throw every move (m, 2: feet, eyes) and return chance and pocket share (m, draws)."""
        hits = self.moved_hits(spec, ball, moves, draws, throws)
        return hits.strike().mean(axis=2), in_pocket(hits.board).mean(axis=2)

    def worth(self, spec: BallSpec, ball: int, moves: Array, draws: int, throws: int) -> Array:
        """Throw every move (m, 2) and return what it is worth (m,)."""
        return merit(*self.throw(spec, ball, moves, draws, throws)).mean(axis=1)

    def moved_hits(self, spec: BallSpec, ball: int, moves: Array, draws: int, throws: int) -> Hits:
        """Return the hits (m, draws, throws) of moves (m, 2), with what the model does not hold."""
        hits = self.hits(spec, ball, self.launches(moves, draws, throws))
        return replace(hits, board=hits.board + self.astray(spec, moves)[:, :draws, None])

    def astray(self, spec: BallSpec, moves: Array) -> Array:
        """Return how far off the model each drawn lane's throws of moves (m, 2) arrive, boards."""
        now = self.physics.balls[self.ball]
        boards = np.abs(moves).sum(axis=1)
        own = np.minimum(_LINE_SD + _LINE_SD_PER_BOARD * boards, _MOST_LINE_SD)
        if self.track is not None:
            own = np.maximum(own, _CHANGED_LANE_SD)
        if spec == now:
            own = np.where(boards > 0.0, own, 0.0)
        else:
            own = np.hypot(own, _COVER_SD if spec.name == now.name else _BALL_SD)
        return self.shift + self.doubt * self.off[0] + own[:, None] * self.off[1]

    def launches(self, moves: Array, draws: int, throws: int) -> Array:
        """Return launches (m, draws, throws, 4) of moves (m, 2) with the student's own misses."""
        feet, eyes = moves[:, 0, None, None], moves[:, 1, None, None]
        launches = np.empty((len(moves), draws, throws, 4))
        launches[:] = self.centre[None, :draws, None, :] + self.misses[None, :draws, :throws, :]
        launches[..., 0] += feet
        launches[..., 1] += (feet - eyes) * DEG_PER_BOARD
        return launches

    def outcome(self, spec: BallSpec, ball: int, launches: Array) -> tuple[Array, Array]:
        """Return chance and pocket share (m, draws) of launches (m, draws, throws, 4)."""
        hits = self.hits(spec, ball, launches)
        return hits.strike().mean(axis=2), in_pocket(hits.board).mean(axis=2)

    def hits(self, spec: BallSpec, ball: int, launches: Array) -> Hits:
        """Return the hits (m, draws, throws) of launches (m, draws, throws, 4).

        On a pair of lanes every throw is made on each in turn.
        """
        launches[..., 3] = np.maximum(launches[..., 3], 0.0)
        m, draws, throws, _ = launches.shape
        factors = self.factors(spec, ball, launches)
        rotation = np.broadcast_to(self.draws.rotation_deg[None, :draws, None], (m, draws, throws))
        seen = self.trace(
            launches.reshape(-1, 4), rotation.reshape(-1), spec, factors.reshape(-1, 4)
        )
        return Hits.of(seen.reshape(m, draws, throws, -1), spec)

    def factors(self, spec: BallSpec, ball: int, launches: Array) -> Array:
        """Return scale, front, mid and back (m, draws, throws, 4) as launches of that shape meet
        them, on each lane of a pair in turn.
        """
        draws = launches.shape[1]
        lanes = range(len(self.physics.lanes))
        met = np.empty(launches.shape)
        share = None if self.track is None else self.track.share(launches)
        began = float(self.physics.index[0])
        for lane in lanes:
            now = self.draws.factors_at(self.met_at(spec), ball, lane)[None, :draws, None]
            met[:, :, lane :: len(lanes)] = now
            if share is not None:
                fresh = self.draws.factors_at(began, ball, lane)[None, :draws, None, 1:]
                lying = share[:, :, lane :: len(lanes)]
                met[:, :, lane :: len(lanes), 1:] = fresh * (now[..., 1:] / fresh) ** lying
        return met

    def best_line(
        self, spec: BallSpec, ball: int, stay: bool, inward: bool = False
    ) -> tuple[float, float]:
        """Return the move of feet and eyes that is worth most.

        Among lines whose chances differ by less than the throws can tell, the one whose usual throw
        comes nearest to a flush hit, then the smallest. ``stay`` says whether the line as it is
        counts as one. ``inward`` asks for feet and eyes toward the weak side, unless another line
        is better by what is worth it.
        """
        grid = np.array([(f, e) for f in _FEET for e in _EYES])
        worth = self.worth(spec, ball, grid, *self.search.first)
        free = self._refined(spec, ball, grid, worth, stay)
        if not inward or _is_inward(free):
            return free
        these = np.array([_is_inward((f, e)) for f, e in grid])
        inner = self._refined(spec, ball, grid[these], worth[these], False, inward=True)
        both = self.worth(spec, ball, np.array([free, inner]), LANES_DRAWN, THROWS)
        lost = float(both[0] - both[1])
        return inner if lost < WORTH else free

    def _refined(
        self,
        spec: BallSpec,
        ball: int,
        grid: Array,
        worth: Array,
        stay: bool,
        inward: bool = False,
    ) -> tuple[float, float]:
        """Return the best line near the most promising of a grid with these first merits."""
        promising = grid[np.argsort(-worth, kind="stable")[: self.search.looked_at]]
        coarse = self.best_of(spec, ball, promising)
        fine = [(coarse[0] + f, coarse[1] + e) for f in _FINE_FEET for e in _FINE_EYES]
        fine += [(0.0, 0.0)] if stay else []
        around = [m for m in fine if stay or m != (0.0, 0.0)]
        return self.best_of(
            spec, ball, np.array([m for m in around if not inward or _is_inward(m)])
        )

    def best_of(self, spec: BallSpec, ball: int, moves: Array) -> tuple[float, float]:
        worth = self.worth(spec, ball, moves, *self.search.close)
        near = [(float(feet), float(eyes)) for feet, eyes in moves[worth >= worth.max() - _ALIKE]]

        def aside(move: tuple[float, float]) -> tuple[float, float]:
            pin = self.usual(spec, ball, move).head_pin
            off = max(POCKET.flush_low - pin, pin - POCKET.flush_high, 0.0)
            return round(off, 1), abs(move[0]) + abs(move[1])

        return min(near, key=aside)

    def option(
        self, kind: str, spec: BallSpec, ball: int, move: tuple[float, float], surface: str = ""
    ) -> Option:
        """Return the option with its chance, interval, pocket share and room."""
        hits = self.moved_hits(spec, ball, np.array([move]), LANES_DRAWN, THROWS)
        each = hits.strike()
        chance = each.mean(axis=2)
        pocket = in_pocket(hits.board).mean(axis=2)
        strike = float(chance.mean())
        low, high = interval(each[0])
        return Option(
            kind=kind,
            spec=spec,
            ball=ball,
            feet=move[0],
            eyes=move[1],
            surface=surface,
            strike=strike,
            low=low,
            high=high,
            pocket=float(pocket.mean()),
            room_boards=self.room(spec, ball, move),
            head_pin=self.usual(spec, ball, move).head_pin,
            same_line=self.usual(spec, ball, (0.0, 0.0)).head_pin - self.now_pin,
            chances=chance[0],
            pockets=pocket[0],
            leaves=tuple(hits.leaves()[:_LEAVES]),
        )

    def room(self, spec: BallSpec, ball: int, move: tuple[float, float]) -> float:
        """Return boards of miss at the arrows that still hit the pocket, from edge to edge."""
        usual = self.usual(spec, ball, move)
        scan = np.repeat(usual.launch[None, :], len(_ROOM_SCAN), axis=0)
        scan[:, 1] -= _ROOM_SCAN * DEG_PER_BOARD
        seen = checkpoints(
            scan,
            usual.rotation_deg,
            self.draws.tilt_deg,
            spec,
            self.lane(spec),
            np.repeat(usual.factors[None, :], len(scan), axis=0),
        )
        inside = in_pocket(seen[:, 3] + usual.shift)
        if not inside.any():
            return 0.0
        # The stretch of hits nearest to the aim.
        nearest = int(np.flatnonzero(inside)[np.argmin(np.abs(_ROOM_SCAN[inside]))])
        first = last = nearest
        while first > 0 and inside[first - 1]:
            first -= 1
        while last < len(inside) - 1 and inside[last + 1]:
            last += 1
        return float(_ROOM_SCAN[last] - _ROOM_SCAN[first] + 0.1)

    def usual(self, spec: BallSpec, ball: int, move: tuple[float, float]) -> Usual:
        """Return the usual throw on this line: no miss, on the lane drawn whose hit is the middle
        one of all.
        """
        launches = self.centre.copy()
        launches[:, 0] += move[0]
        launches[:, 1] += (move[0] - move[1]) * DEG_PER_BOARD
        factors = self.factors(spec, ball, launches[None, :, None])[0, :, 0]
        seen = checkpoints(
            launches,
            self.draws.rotation_deg,
            self.draws.tilt_deg,
            spec,
            self.lane(spec),
            np.ascontiguousarray(factors),
        )
        # A ball in the gutter passes outside of all.
        pin = np.where(np.isfinite(seen[:, 3]), seen[:, 3] + self.shift, 0.0)
        middle = int(np.argsort(pin, kind="stable")[len(pin) // 2])
        return Usual(
            launches[middle],
            factors[middle],
            float(self.draws.rotation_deg[middle]),
            float(pin[middle]),
            float(self.shift[middle]),
        )


def _is_inward(move: tuple[float, float]) -> bool:
    """Say whether feet and eyes both go toward the weak side."""
    return move[0] > 0.0 and move[1] > 0.0


def model_sd(move: tuple[float, float]) -> float:
    """Return the model's own doubt of a chance, one sd, on a line so many boards of feet and eyes
    from the one that was thrown.
    """
    return _MODEL_SD + _MODEL_SD_PER_BOARD * (abs(move[0]) + abs(move[1]))


def with_factors(lane: Lane, factors: Array) -> Lane:
    """Return a lane with the fit's scale, front, mid and back (4,) put on it."""
    scale, front, mid, back = (float(value) for value in factors)
    return lane.with_state(LaneState(front, mid, back), scale)


def meant_launches(launches: Array, thrown: NDArray[np.int64]) -> Array:
    """Return what each throw was meant to be: the median of its neighbours with the same ball."""
    meant = np.empty_like(launches)
    for ball in np.unique(thrown):
        alike = np.flatnonzero(thrown == ball)
        apart = np.abs(alike[:, None] - alike)
        near = alike[np.argsort(apart, axis=1, kind="stable")[:, :_WINDOW]]
        meant[alike] = np.median(launches[near], axis=1)
    return meant


def find_options(
    searched: Range,
    measured: Range,
    balls: Sequence[BallSpec],
    strike_balls: Sequence[int],
    competition: bool,
    later_first: bool = False,
    inward: bool = False,
    pairs: Callable[[list[Option]], list[Option]] | None = None,
) -> list[Option]:
    """Return the options, best first, free ones first among ties.

    Lines are looked for on the range ``searched`` and told as ``measured`` on another one. Stay;
    move feet and eyes; each other ball in ``strike_balls`` on its own best line; and, out of
    competition, one step of surface on the ball now thrown. No surface may be changed during
    competition (the governing body's Rule 18, FACTS section 2). ``later_first`` lets a ball that
    reads later lead, as the pins ask for it. ``inward`` says that the lane has dried where the ball
    rolls: the fit knows how much, but takes the loss for the same on every board, while it lies in
    the track. So feet and eyes then go in, toward the oil that is left (common practice, no
    source), among moves that the model cannot tell apart. ``pairs`` adds what two of them together
    would be, given them all (``combined``).
    """
    now = measured.ball
    spec = balls[now]
    moved = searched.best_line(spec, now, stay=False, inward=inward)
    options = [
        measured.option("stay", spec, now, (0.0, 0.0)),
        measured.option("move", spec, now, moved),
    ]
    for other in strike_balls:
        if other != now:
            line = searched.best_line(balls[other], other, stay=True)
            options.append(measured.option("ball", balls[other], other, line))
    if not competition:
        changed = [
            measured.option("surface", new, now, searched.best_line(new, now, stay=True), way)
            for way, new in surface_steps(spec)
        ]
        if changed:
            options.append(max(changed, key=lambda option: option.worth))
    if pairs is not None:
        options += pairs(options)
    return rank(options, later_first)


def lines_around(feet: float, eyes: float) -> list[tuple[float, float]]:
    """Return lines about one that was found, feet and eyes: where the best line lies when a ball is
    made anew or thrown on a cue.
    """
    return [(feet + f, eyes + e) for f in _AROUND[0] for e in _AROUND[1]]


def surface_steps(spec: BallSpec) -> list[tuple[str, BallSpec]]:
    """Return the ball one step rougher and one step finer, both fresh, where that stays within
    reason."""
    full = spec.filled()
    assert full.grit is not None
    steps = []
    for way, factor in _SURFACE_STEPS.items():
        grit = full.grit * factor
        if _GRIT_LIMITS[0] <= grit <= _GRIT_LIMITS[1]:
            steps.append((way, replace(spec, grit=grit, polished=False, games=None)))
    return steps


def rank(options: Sequence[Option], later_first: bool = False) -> list[Option]:
    """Return the options by what they are worth; those within ``WORTH`` of the best are ties.

    Of ties what is free comes first, staying before it unless another is worth more by ``_ALIKE``,
    and one change before two. Whoever takes the option that is worth most on the average loses
    least on the average, however far the draws scatter: they are the doubt of this session and
    already in the mean. ``later_first`` says that the pins ask for a ball that reads later: such a
    ball leads unless the best is told apart from it, since what pins showed says more of a ball
    than the numbers on its label.
    """
    best = max(options, key=lambda option: option.worth)

    def asked_for(option: Option) -> bool:
        sign = later_first and option.kind == "ball" and option.same_line < 0.0
        less = best.merits - option.merits
        return bool(sign and np.percentile(less, _AGAINST_THE_PINS) <= 0.0)

    near = [o for o in options if best.worth - o.worth < WORTH or asked_for(o)]
    best_free = max((o.worth for o in near if o.kind in FREE), default=0.0)

    def turn(option: Option) -> tuple[bool, bool, bool, bool, float]:
        as_well = option.kind == "stay" and best_free - option.worth <= _ALIKE
        paid, two = option.kind not in FREE, option.kind == "both"
        return not asked_for(option), paid, two, not as_well, -option.worth

    near.sort(key=turn)
    clear = [option for option in options if option not in near]
    clear.sort(key=lambda option: -option.worth)
    return [replace(option, tied=len(near) > 1) for option in near] + clear
