"""What the rest of a session would have looked like with another line, ball or surface.

From one shot on, the same throws: what each fitted launch was off the line that was meant then is
put on the line asked for, and thrown on the lane as the fit says it was at that shot. The same
lanes and misses as thrown and as asked, so that the difference is surer than either.

Left out: a student on another line may throw otherwise; other boards would have worn; and what the
fit could not follow (a shot without any board down the lane) is no part of either side.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion import BallSpec
from lanes.motion.geometry import DEG_PER_BOARD

from .ahead import Spread
from .chances import PINS_SD, in_pocket
from .hits import in_pocket as is_in_pocket
from .options import Option, Range, meant_launches
from .shots import LoggedShot
from .strike import Hits

Array = NDArray[np.float64]

FEWEST = 5  # shots that are left, below which nothing is told
_SAMPLES = 40  # of the pins' luck on each lane drawn


@dataclass(frozen=True)
class Way:
    """What is asked for: a ball (by name), boards of feet and eyes toward the weak side from the
    line of the shot from which on it holds, a fresh grit where the cover is made anew, and a change
    of speed and axis rotation."""

    ball: str
    feet: float = 0.0
    eyes: float = 0.0
    grit: float | None = None
    speed_mph: float = 0.0
    rotation_deg: float = 0.0

    @classmethod
    def of(cls, option: dict[str, Any]) -> Way:
        """Return the way of an option as a reading's JSON holds it."""
        detail = option["detail"]
        return cls(
            detail["ball"],
            detail.get("feet", 0.0),
            detail.get("eyes", 0.0),
            detail.get("grit_to"),
            detail.get("speed_mph", 0.0),
            detail.get("rotation_deg", 0.0),
        )

    @classmethod
    def of_option(cls, option: Option) -> Way:
        """Return the way of an option."""
        grit = option.spec.grit if option.surface else None
        return cls(
            option.spec.name,
            option.feet,
            option.eyes,
            grit,
            option.speed_mph,
            option.rotation_deg,
        )


@dataclass(frozen=True)
class Question:
    """What a what-if is asked for: from which shot of the log on, and which option, by its place in
    the list (0 for the first). ``None`` is as the reading itself would ask.
    """

    from_shot: int | None = None
    option: int | None = None


class Unanswerable(ValueError):
    """A question that this log cannot answer; ``field`` is that of ``Question`` at fault."""

    def __init__(self, field: str, why: str) -> None:
        super().__init__(why)
        self.field = field


@dataclass(frozen=True)
class Side:
    """One way to have thrown the rest: strikes and pocket hits, with the luck of the pins."""

    strikes: Spread
    pocket: Spread

    def as_json(self) -> dict[str, Any]:
        return {"strikes": self.strikes.as_json(), "pocket": self.pocket.as_json()}


@dataclass(frozen=True)
class ShotSeen:
    """One shot on both sides; ``seen`` is the board at the head pin that was read."""

    shot: int
    seen: float | None
    thrown: float | None
    asked: tuple[float, float, float] | None  # low, middle, high
    chance: float

    def as_json(self) -> dict[str, Any]:
        return {
            "shot": self.shot,
            "seen": self.seen,
            "thrown": None if self.thrown is None else round(self.thrown, 1),
            "asked": None if self.asked is None else [round(board, 1) for board in self.asked],
            "chance": round(self.chance, 3),
        }


@dataclass(frozen=True)
class WhatIf:
    """The rest of a session on both sides; ``gain`` is of strikes, without the pins' luck.

    ``option`` is the place in the reading's list of what was asked for, ``None`` for nothing there.
    """

    option: int | None
    from_shot: int
    strikes: int
    pocket: int | None
    thrown: Side
    asked: Side
    gain: Spread
    shots: list[ShotSeen]

    def as_json(self) -> dict[str, Any]:
        return {
            "option": self.option,
            "from_shot": self.from_shot,
            "shots": len(self.shots),
            "happened": {"strikes": self.strikes, "pocket": self.pocket},
            "as_thrown": self.thrown.as_json(),
            "with_option": self.asked.as_json(),
            "gain": self.gain.as_json(),
            "by_shot": [shot.as_json() for shot in self.shots],
            "words": self.words(),
        }

    def words(self) -> str:
        """Return it in two sentences."""
        n, gain, asked = len(self.shots), self.gain, self.asked.strikes
        first = (
            f"Of the {n} first balls from shot {self.from_shot} on {self.strikes} struck "
            f"({self.thrown.strikes.mean:.0f} as computed); with the same throws this would have "
            f"brought about {asked.mean:.0f} ({asked.low:.0f} to {asked.high:.0f})."
        )
        if gain.low > 0.0:
            second = (
                f"On the same lanes that is {gain.low:.0f} to {gain.high:.0f} more than as thrown."
            )
        elif gain.high < 0.0:
            second = (
                f"On the same lanes that is {-gain.high:.0f} to {-gain.low:.0f} fewer than as "
                "thrown."
            )
        else:
            second = "Whether that is more than as thrown, this session cannot tell."
        return f"{first} {second}"


def what_if(
    range_: Range,
    shots: Sequence[LoggedShot],
    way: Way,
    from_shot: int,
    seed: int = 1,
    option: int | None = None,
) -> WhatIf | None:
    """Return the rest of the session as thrown and as asked for; ``None`` where too little is left.

    ``shots`` is the log that the range was fitted to; ``from_shot`` a number in it. Raises
    ``ValueError`` for a ball that is not at hand.
    """
    physics, draws = range_.physics, range_.draws
    rows = np.array(
        [row for row, at in enumerate(physics.index) if shots[at].shot >= from_shot], dtype=int
    )
    if len(rows) < FEWEST:
        return None
    ball = next((n for n, b in enumerate(physics.balls) if b.name == way.ball), None)
    if ball is None:
        raise ValueError(f"ball: {way.ball!r} is not among the balls at hand")
    spec = physics.balls[ball]
    if way.grit is not None:
        spec = replace(spec, grit=way.grit, polished=False, games=None)
    meant = meant_launches(physics.fit.launches, physics.thrown)
    thrown = draws.launches[:, rows]
    asked = thrown - meant[rows] + meant[rows[0]]
    asked[..., 0] += way.feet
    asked[..., 1] += (way.feet - way.eyes) * DEG_PER_BOARD
    asked[..., 2] += way.speed_mph
    lanes = [physics.lanes.index(shots[physics.index[row]].lane) for row in rows]
    before = _hits(range_, rows, lanes, thrown, physics.thrown[rows], None, 0.0)
    after = _hits(range_, rows, lanes, asked, np.full(len(rows), ball), spec, way.rotation_deg)
    is_cued = bool(way.speed_mph or way.rotation_deg)
    move = (
        np.array([[way.feet, way.eyes]]) if way.feet or way.eyes or not is_cued else np.ones((1, 2))
    )
    stay = np.zeros((1, 2))
    off = range_.astray(spec, move)[0] - range_.astray(physics.balls[range_.ball], stay)[0]
    after = replace(after, board=after.board + off[:, None])
    return replace(_told(range_, shots, rows, from_shot, before, after, seed), option=option)


def _hits(
    range_: Range,
    rows: NDArray[np.int64],
    lanes: Sequence[int],
    launches: Array,
    balls: NDArray[np.int64],
    spec: BallSpec | None,
    turned: float,
) -> Hits:
    """Return the hits (draws, shots) of launches (draws, shots, 4), each on its own lane.

    ``balls`` numbers the ball of each shot; ``spec`` is that ball made anew, where it is;
    ``turned`` the degrees by which the axis rotation is another one.
    """
    physics, draws = range_.physics, range_.draws
    launches = launches.copy()
    launches[..., 3] = np.maximum(launches[..., 3], 0.0)
    factors = np.stack(
        [
            draws.factors_at(float(physics.index[row]), int(ball), lane)
            for row, ball, lane in zip(rows, balls, lanes, strict=True)
        ],
        axis=1,
    )
    columns: list[Array] = [np.full(launches.shape[:2], np.nan) for _ in range(4)]
    mass = np.zeros(launches.shape[1])
    for ball in np.unique(balls):
        these = balls == ball
        own = spec or physics.balls[int(ball)]
        count = int(these.sum())
        seen = range_.trace(
            np.ascontiguousarray(launches[:, these].reshape(-1, 4)),
            np.repeat(draws.rotation_deg + turned, count),
            own,
            np.ascontiguousarray(factors[:, these].reshape(-1, 4)),
        ).reshape(len(launches), count, -1)
        one = Hits.of(seen, own)
        for column, values in zip(
            columns, (one.board, one.angle_deg, one.speed_mph, one.slip_mps), strict=True
        ):
            column[:, these] = values
        mass[these] = one.mass_lb
    board, angle, speed, slip = columns
    return Hits(board, angle, speed, slip, mass)


def _told(
    range_: Range,
    shots: Sequence[LoggedShot],
    rows: NDArray[np.int64],
    from_shot: int,
    before: Hits,
    after: Hits,
    seed: int,
) -> WhatIf:
    rng = np.random.default_rng(seed)
    chances = [hits.strike() for hits in (before, after)]
    shape = (_SAMPLES, *before.board.shape)
    luck = rng.random(shape)
    pins = PINS_SD * rng.standard_normal((_SAMPLES, len(before.board), 1))
    sides = []
    for hits, chance in zip((before, after), chances, strict=True):
        struck = luck < np.where(chance > 0.0, np.clip(chance + pins, 0.0, 1.0), 0.0)
        sides.append(
            Side(
                Spread.of(struck.sum(axis=2).ravel()),
                Spread.of(in_pocket(hits.board).sum(axis=1).astype(float)),
            )
        )
    gain = Spread.of((chances[1] - chances[0]).sum(axis=1))
    logged = [shots[range_.physics.index[row]] for row in rows]
    told = []
    for i, shot in enumerate(logged):
        told.append(
            ShotSeen(
                shot.shot,
                shot.head_pin,
                _middle(before.board[:, i]),
                _spread(after.board[:, i]),
                float(chances[1][:, i].mean()),
            )
        )
    read = [is_in_pocket(shot.head_pin) for shot in logged if shot.head_pin is not None]
    return WhatIf(
        option=None,
        from_shot=from_shot,
        strikes=sum(shot.leave == "X" and not shot.foul for shot in logged),
        pocket=sum(map(bool, read)) if read else None,
        thrown=sides[0],
        asked=sides[1],
        gain=gain,
        shots=told,
    )


def _middle(boards: Array) -> float | None:
    known = boards[np.isfinite(boards)]
    return float(np.median(known)) if len(known) * 2 > len(boards) else None


def _spread(boards: Array) -> tuple[float, float, float] | None:
    known = boards[np.isfinite(boards)]
    if len(known) * 2 <= len(boards):
        return None
    low, middle, high = (float(x) for x in np.percentile(known, (5.0, 50.0, 95.0)))
    return low, middle, high
