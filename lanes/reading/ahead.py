"""What comes after this shot: how long an option holds, what the next balls bring, what to watch.

The lane is carried forward as the session's own fit says it is drying (the drift of front, mid and
back with its doubt), ball by ball, on the lanes and with the misses that the options are thrown
with. A ball that wears its line faster or slower than the one thrown now dries front and mid so
much faster or slower; the ratio is that of oil taken up on one line by ``lanes.motion.wear``.
A line dries in proportion to the film that lies there, so that another line with the same ball
dries at the same rate (``wear``: each ball takes a share of what it meets).

Left out: other bowlers who begin or stop, film that creeps back, and that a lane may change its
pace; so nothing is told beyond thirty balls.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion import HOUSE, BallSpec, Film, Release
from lanes.motion.friction import SurfaceLaw
from lanes.motion.seen import ReadingError
from lanes.motion.wear import Throw, deplete

from .chances import PINS_SD, in_pocket
from .combined import on_cue
from .options import LANES_DRAWN, WORTH, Option, Range
from .strike import Hits

Array = NDArray[np.float64]

AHEAD = np.array([0.0, 5.0, 10.0, 15.0, 20.0, 30.0])  # balls from now
FARTHEST = int(AHEAD[-1])
_THROWS = 16  # of the student's own misses on each lane drawn: paired, as the options are
LESS = 0.10  # an option has held until its chance is so much smaller (assumed)
SOON = 5.0  # balls; between "gone so soon" and "beyond the farthest" nothing is told
FORECASTS = (10, 20)  # balls
_SAMPLES = 20  # of the pins' luck on each lane drawn
_WORN = ("front", "mid")
# What is watched for a sign, by its column in ``checkpoints``: the arrows are the throw itself.
SIGNS = {"breakpoint": 1, "breakpoint_ft": 2, "head_pin": 3}
UNITS = {"breakpoint": "board", "breakpoint_ft": "ft", "head_pin": "board"}
_LEAST_SIDE = 8  # one lane in so many is on either side, however sure the option looks
_ONE_SIDED_95 = 1.645
MOST_SHOTS = 20  # more than this to tell two boards apart, and the sign is none


@dataclass(frozen=True)
class Spread:
    """A number with the 90 % interval of what is possible."""

    mean: float
    low: float
    high: float

    @classmethod
    def of(cls, values: Array) -> Spread:
        low, high = np.percentile(values, (5.0, 95.0))
        return cls(float(np.mean(values)), float(low), float(high))

    def as_json(self, digits: int = 1) -> dict[str, float]:
        return {name: round(getattr(self, name), digits) + 0.0 for name in ("mean", "low", "high")}


@dataclass(frozen=True)
class Hold:
    """How many more balls until an option's chance is ``LESS`` smaller, from ``low`` to ``high``.

    ``None`` is "more than ``FARTHEST``". ``told`` is false where the session cannot tell: gone
    within a few balls and holding beyond the farthest are both possible. ``passed_by`` is the place
    of the option that is better, and ``passed_after`` from how many balls on.
    """

    balls: int | None
    low: int | None
    high: int | None
    told: bool
    passed_by: int | None = None
    passed_after: int | None = None

    def as_json(self) -> dict[str, Any]:
        return {
            "balls": self.balls,
            "interval": [self.low, self.high],
            "beyond": FARTHEST,
            "told": self.told,
            "passed_by": self.passed_by,
            "passed_after": self.passed_after,
            "words": self.words(),
        }

    def words(self) -> str:
        """Return it as a sentence's end: "holds for ..."."""
        if not self.told:
            return "How long it holds cannot be told yet."
        if self.balls is None:
            least = "" if self.low is None else f", {self.low} at least"
            return f"Likely holds for {FARTHEST} more balls and beyond{least}."
        most = f"beyond {FARTHEST}" if self.high is None else str(self.high)
        return f"Likely holds for about {self.balls} more balls ({self.low} to {most})."


@dataclass(frozen=True)
class Sign:
    """What to watch on the next shot: where the ball is if this was right, and if it was not.

    ``apart_sd`` is the difference in sd of one throw's scatter and reading error together, and
    ``shots`` how many it takes to tell with one error in twenty.
    """

    name: str
    right: float
    wrong: float
    sd: float
    apart_sd: float
    shots: int | None

    def as_json(self) -> dict[str, Any]:
        return {
            "checkpoint": self.name,
            "unit": UNITS[self.name],
            "right": round(self.right, 1),
            "wrong": round(self.wrong, 1),
            "sd": round(self.sd, 2),
            "apart_sd": round(self.apart_sd, 2),
            "shots": self.shots,
            "words": self.words(),
        }

    def words(self) -> str:
        """Return it as a sentence."""
        at = {
            "breakpoint": "the breakpoint: near board {0} if this was right, {1} if not",
            "breakpoint_ft": "how far down the breakpoint is: {0} ft if this was right, {1} if not",
            "head_pin": "the head pin: near board {0} if this was right, {1} if not",
        }[self.name].format(f"{self.right:.1f}", f"{self.wrong:.1f}")
        if self.shots is None:
            return f"Right and wrong look too much alike to be told apart in {MOST_SHOTS} shots."
        if self.shots == 1:
            return f"Watch {at}."
        return f"Watch {at}; it takes about {self.shots} shots to tell."


@dataclass(frozen=True, eq=False)
class Thrown:
    """An option thrown now and later: chances (times, draws) at ``AHEAD``, and what was seen.

    ``seen`` (times, draws, throws, columns) are those of ``checkpoints``, with the head pin as far
    off the model as each drawn lane is.
    """

    chance: Array
    pocket: Array
    seen: Array


def throw_ahead(range_: Range, option: Option, faster: float = 1.0) -> Thrown:
    """Throw an option now and at each of ``AHEAD``; ``faster`` is how fast its ball wears."""
    range_ = on_cue(range_, option)
    move = np.array([[option.feet, option.eyes]])
    launches = range_.launches(move, LANES_DRAWN, _THROWS)[0]
    launches[..., 3] = np.maximum(launches[..., 3], 0.0)
    shape = (len(AHEAD), *launches.shape[:2])
    factors = np.empty((*shape, 4))
    lanes = len(range_.physics.lanes)
    power = np.array([1.0, faster, faster, 1.0])
    order = range_.met_at(option.spec)
    met = range_.factors(option.spec, option.ball, launches[None])[0]
    for lane in range(lanes):
        now = range_.draws.factors_at(order, option.ball, lane)
        for time, balls in enumerate(AHEAD):
            later = range_.draws.factors_at(order + balls, option.ball, lane)
            worn = ((later / now) ** power)[:, None, :]
            factors[time, :, lane::lanes] = met[:, lane::lanes] * worn
    rotation = np.broadcast_to(range_.draws.rotation_deg[None, :, None], shape)
    many = np.broadcast_to(launches, (*shape, 4))
    seen = range_.trace(
        np.ascontiguousarray(many.reshape(-1, 4)),
        np.ascontiguousarray(rotation.reshape(-1)),
        option.spec,
        factors.reshape(-1, 4),
    ).reshape(*shape, -1)
    seen[..., SIGNS["head_pin"]] += range_.astray(option.spec, move)[0][:, None]
    hits = Hits.of(seen, option.spec)
    return Thrown(hits.strike().mean(axis=2), in_pocket(hits.board).mean(axis=2), seen)


def wears(range_: Range, option: Option) -> float:
    """Return how fast an option's ball takes up oil against the ball thrown now, on its line."""
    now = range_.physics.balls[range_.ball]
    if option.spec.filled().cover == now.filled().cover and option.ball == range_.ball:
        return 1.0
    launch = np.median(range_.centre, axis=0)
    try:
        release = Release(
            float(launch[2]), float(launch[3]), float(np.median(range_.draws.rotation_deg)),
            range_.draws.tilt_deg, float(launch[0]), float(launch[1]),
        )  # fmt: skip
    except ValueError:  # a launch that nobody throws
        return 1.0
    film = range_.physics.film or HOUSE.film()
    law = range_.physics.law
    taken = [_taken(release, ball, film, law) for ball in (option.spec, now)]
    return taken[0] / taken[1] if taken[1] > 0.0 else 1.0


def _taken(release: Release, ball: BallSpec, film: Film, law: SurfaceLaw) -> float:
    return deplete(film, [Throw(release, ball)], law=law).on_balls_ml


def holds(thrown: Sequence[Thrown]) -> list[Hold]:
    """Return how long each of the options holds; in the order of the options."""
    found = []
    for place, one in enumerate(thrown):
        lasts = np.array([_falls_at(chance) for chance in one.chance.T])
        low, middle, high = np.percentile(lasts, (5.0, 50.0, 95.0), method="nearest")
        told = not (low < SOON and math.isinf(high))
        by, after = _passed(place, thrown)
        found.append(Hold(_whole(middle), _whole(low), _whole(high), told, by, after))
    return found


def _falls_at(chance: Array) -> float:
    """Return after how many balls a chance (times,) has become ``LESS`` smaller, or half of what
    little it was; inf for never.
    """
    less = min(LESS, 0.5 * float(chance[0]))
    lost = chance[0] - chance
    at = np.flatnonzero(lost >= less)
    if less <= 0.0 or len(at) == 0:
        return math.inf
    i = int(at[0])
    before, after = lost[i - 1], lost[i]
    part = (less - before) / (after - before)
    return float(AHEAD[i - 1] + part * (AHEAD[i] - AHEAD[i - 1]))


def _whole(balls: float) -> int | None:
    return None if math.isinf(balls) else round(balls)


def _passed(place: int, thrown: Sequence[Thrown]) -> tuple[int | None, int | None]:
    """Say which other option is better from when on, on four lanes in five, that is not now."""
    mine = thrown[place].chance
    for time in range(1, len(AHEAD)):
        for other, its in enumerate(thrown):
            ahead = its.chance - mine
            if (
                other != place
                and ahead[0].mean() < WORTH
                and ahead[time].mean() >= WORTH
                and np.percentile(ahead[time], 20.0) > 0.0
            ):
                return other, int(AHEAD[time])
    return None, None


def forecast(stay: Thrown, seed: int = 1) -> list[dict[str, Any]]:
    """Return what the next balls bring if nothing is changed, as the reading's JSON holds it.

    Strikes and pocket hits with the luck of the pins in the interval; the head pin and the entry
    angle of the usual throw on the last of those balls.
    """
    rng = np.random.default_rng(seed)
    told = []
    draws = stay.chance.shape[1]
    doubt = PINS_SD * rng.standard_normal((_SAMPLES, draws, 1))
    luck = rng.random((_SAMPLES, draws, FORECASTS[-1]))
    for balls in FORECASTS:
        when = np.arange(1.0, balls + 1.0)
        counts = {}
        for name, course in (("strikes", stay.chance), ("pocket", stay.pocket)):
            each = np.array([np.interp(when, AHEAD, one) for one in course.T])
            chance = np.clip(each + doubt, 0.0, 1.0) if name == "strikes" else each
            counts[name] = Spread.of((luck[:, :, :balls] < chance).sum(axis=2).ravel())
        then = stay.seen[int(np.flatnonzero(balls == AHEAD)[0])]
        told.append(
            {
                "balls": balls,
                **{name: spread.as_json() for name, spread in counts.items()},
                "head_pin": _usual(then[..., 3]),
                "entry_angle_deg": _usual(then[..., 4]),
            }
        )
    return told


def _usual(values: Array) -> dict[str, float] | None:
    """Return the middle throw of each lane drawn, and how far the lanes differ; ``None`` in the
    gutter.
    """
    known = np.isfinite(values)
    if known.mean() < 0.5:
        return None
    middle = np.array([np.median(v[k]) for v, k in zip(values, known, strict=True) if k.any()])
    return Spread.of(middle).as_json(1)


def sign(
    thrown: Thrown, option: Option, against: Option, error: ReadingError, watched: Sequence[str]
) -> Sign | None:
    """Return what tells soonest whether an option was right, against what else could be done.

    Right are the lanes drawn on which it has the better chance; at least an eighth of all counts
    for either side, so that there is something to compare. ``watched`` are the check-points that
    the coach reads. ``None`` where nothing down the lane is read or the ball is in the gutter.
    """
    gain = option.chances - against.chances
    order = np.argsort(gain, kind="stable")
    least = max(len(order) // _LEAST_SIDE, 1)
    wrong = int(np.clip((gain < 0.0).sum(), least, len(order) - least))
    found = []
    for name, column in SIGNS.items():
        if name not in watched:
            continue
        values = thrown.seen[0, :, :, column]
        if not np.isfinite(values).any(axis=1).all():
            continue
        usual = np.nanmedian(values, axis=1)
        scatter = float(np.nanmean(np.nanstd(values, axis=1)))
        sd = math.hypot(scatter, getattr(error, name))
        there = float(usual[order[wrong:]].mean())
        not_there = _commoner_side(usual[order[:wrong]], there)
        apart = abs(there - not_there) / sd
        shots = math.ceil((2.0 * _ONE_SIDED_95 / apart) ** 2) if apart > 0.0 else MOST_SHOTS + 1
        found.append(
            Sign(name, there, not_there, sd, apart, shots if shots <= MOST_SHOTS else None)
        )
    return max(found, key=lambda one: one.apart_sd, default=None)


def _commoner_side(values: Array, middle: float) -> float:
    """Return the mean of the values on that side of the middle where most of them lie."""
    above = values > middle
    return float(values[above if 2 * above.sum() >= len(values) else ~above].mean())


@dataclass(frozen=True)
class Ahead:
    """How long each option holds and its sign, in the options' order, and what staying brings.

    ``None`` for an option of which it was not asked.
    """

    holds: list[Hold | None]
    signs: list[Sign | None]
    forecast: list[dict[str, Any]]


def look_ahead(
    range_: Range,
    options: Sequence[Option],
    error: ReadingError,
    watched: Sequence[str],
    seed: int = 1,
) -> Ahead:
    """Look ahead from an option list that holds staying; ``watched`` are the check-points read."""
    faster: dict[int, float] = {}
    for option in options:
        if option.ball not in faster:
            faster[option.ball] = wears(range_, option)
    thrown = [throw_ahead(range_, option, faster[option.ball]) for option in options]
    signs = [
        _sign_of(one, option, options, error, watched)
        for one, option in zip(thrown, options, strict=True)
    ]
    now = next(t for t, o in zip(thrown, options, strict=True) if o.kind == "stay")
    return Ahead([*holds(thrown)], signs, forecast(now, seed))


def look_at_first(
    range_: Range, options: Sequence[Option], error: ReadingError, watched: Sequence[str]
) -> Ahead:
    """Look ahead with the first option alone, as quickly as at the lane; nothing of the others."""
    first, others = options[0], [None] * (len(options) - 1)
    thrown = throw_ahead(range_, first, wears(range_, first))
    told = _sign_of(thrown, first, options, error, watched)
    return Ahead([*holds([thrown]), *others], [told, *others], [])


def _sign_of(
    thrown: Thrown,
    option: Option,
    options: Sequence[Option],
    error: ReadingError,
    watched: Sequence[str],
) -> Sign | None:
    """Return an option's sign against staying, and staying's against the best of the others."""
    if option.kind == "stay":
        others = [o for o in options if o is not option]
        against = max(others, key=lambda o: o.strike, default=None)
    else:
        against = next(o for o in options if o.kind == "stay")
    return None if against is None else sign(thrown, option, against, error, watched)
