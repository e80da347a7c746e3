"""Bowl a session: the motion model with scatter, reading error and, if asked, a planted change.

What happens after the head pin is not in the motion model yet. The demo draws it from simple
tables (common practice, no source): enough to look like a lesson, no basis for any advice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from coachsite.demo.scenario import Bowler
from lanes.motion import BallSpec, Film, checkpoints, lane_friction
from lanes.motion.geometry import ARROWS_FT, BOARD_IN
from lanes.reading.leaves import ALL_PINS, pins_standing
from lanes.reading.shots import LoggedShot

CHANGES = ("burn", "carrydown", "slowing")
FULL_WATCH = ("laydown", "arrows", "breakpoint", "head_pin", "deck_exit")

# How well a coach reads, one sd: boards, and ft for where the breakpoint is.
READING_SD = {
    "laydown": 0.35,
    "arrows": 0.4,
    "breakpoint": 0.9,
    "breakpoint_ft": 2.0,
    "head_pin": 0.7,
    "deck_exit": 1.2,
}

# Leaves of a right-hander when a hit does not strike, by where it met the head pin, with weights.
_LEAVES = {
    "off the pocket, outside": (("1-2-4-10", 3), ("1-2-4-7", 3), ("1-2-8", 2), ("2-4-5-8", 2)),
    "light": (("10", 3), ("2-4-5", 2), ("2-8", 2), ("5-7", 1), ("2-10", 1), ("7", 2)),
    "flush": (("10", 10), ("7", 3), ("9", 2), ("8", 1)),
    "high": (("4", 4), ("6-10", 3), ("3-10", 3), ("4-9", 2), ("3-6-10", 3), ("4-6-7", 1)),
    "through the nose": (("3-6-10", 4), ("4-6-7-10", 1), ("4-6-7", 2), ("6-7-10", 1), ("1-3-6", 1)),
}
_MIRROR = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}


@dataclass(frozen=True)
class Plan:
    """What is to be bowled. ``balls`` are label, spec and true friction scale, the main one first;
    ``spare_ball`` is the label of the ball thrown at spares, if there is one."""

    bowler: Bowler
    balls: list[tuple[str, BallSpec, float]]
    film: Film
    shots: int
    seed: int
    change: str | None = None
    lanes: tuple[int, ...] = (1,)
    games: bool = False
    spare_ball: str = ""
    watch: tuple[str, ...] = FULL_WATCH
    move_after: int | None = None  # the coach moves the student here
    ball_after: int | None = None  # or gives them the second ball here
    marks_throws: bool = True


@dataclass(frozen=True)
class _Rack:
    """Where a scored game is: its frame, its delivery, and what stands."""

    game: int = 1
    frame: int = 1
    delivery: int = 1
    standing: frozenset[int] = ALL_PINS
    cleared: bool = False  # whether the delivery before cleared it, so that this is a fill ball


def bowl(plan: Plan) -> list[LoggedShot]:
    """Return the session's log. Boards in the bowler's own count, read to half a board."""
    rng = np.random.default_rng(plan.seed)
    lines = [_line(plan, spec, scale) for _, spec, scale in plan.balls[:2]]
    shots: list[LoggedShot] = []
    rack = _Rack()
    first_balls = 0
    while len(shots) < plan.shots:
        number = len(shots) + 1
        lane = plan.lanes[(rack.frame - 1 if plan.games else first_balls // 5) % len(plan.lanes)]
        if rack.standing != ALL_PINS:
            shot = _spare(plan, rack, rng, number, lane)
        else:
            shot = _strike_ball(plan, rng, number, lane, first_balls, lines)
            first_balls += 1
        if plan.games:
            if shot.leave == "X" and rack.delivery > 1 and not rack.cleared:
                shot = replace(shot, leave="/")  # all ten, but with the second ball
            shot = replace(shot, game=rack.game, frame=rack.frame, delivery=rack.delivery)
            rack = _next(rack, shot)
        shots.append(shot)
    return shots


def _line(plan: Plan, ball: BallSpec, scale: float) -> tuple[float, float]:
    """Return the laydown and launch with which this ball finds the pocket on the fresh lane."""
    b = plan.bowler
    laydown, launch = np.meshgrid(np.arange(13.0, 28.0), np.arange(0.0, 5.0, 0.08))
    launches = np.column_stack(
        [
            laydown.ravel(),
            launch.ravel(),
            np.full(laydown.size, b.speed_mph),
            np.full(laydown.size, b.rev_rpm),
        ]
    )
    lane = lane_friction(plan.film, ball, scale=scale)
    seen = checkpoints(launches, b.rotation_deg, b.tilt_deg, ball, lane)
    # Near the pocket, a breakpoint on the lane and not at its edge, and a laydown that suits most.
    cost = 6.0 * np.abs(seen[:, 3] - 17.4) + 1.2 * np.abs(seen[:, 1] - 8.0)
    cost += 0.8 * np.abs(launches[:, 0] - 20.0)
    best = launches[np.nanargmin(cost)]
    return float(best[0]), float(best[1])


def _strike_ball(
    plan: Plan,
    rng: np.random.Generator,
    number: int,
    lane: int,
    order: int,
    lines: list[tuple[float, float]],
) -> LoggedShot:
    b = plan.bowler
    second = plan.ball_after is not None and order >= plan.ball_after and len(lines) > 1
    label, spec, scale = plan.balls[1 if second else 0]
    laydown, launch = lines[1 if second else 0]
    if plan.move_after is not None and order >= plan.move_after:
        laydown, launch = laydown + 1.5, launch + 0.1
    aim = round(2 * (laydown - np.tan(np.radians(launch)) * ARROWS_FT * 12 / BOARD_IN)) / 2
    off = rng.random() < 0.08
    spread = 2.6 if off else 1.0
    speed = b.speed_mph + rng.normal(0, b.speed_sd_mph) * spread
    if plan.change == "slowing":
        speed -= 1.3 * order / plan.shots
    true = np.array(
        [
            [
                laydown + rng.normal(0, b.laydown_sd),
                launch + rng.normal(0, b.launch_sd_deg) * spread,
                speed,
                b.rev_rpm * (1 + rng.normal(0, 0.03)),
            ]
        ]
    )
    along = order / plan.shots
    mid = 1.0 - 0.38 * along if plan.change == "burn" else 1.0 - 0.06 * along
    back = 1.0 - 0.35 * along if plan.change == "carrydown" else 1.0
    oil = lane_friction(plan.film, spec)
    factors = np.array([[scale, 1.0 - 0.15 * along, mid, back]])
    arrows, breakpoint_, feet, head_pin, angle, *_ = checkpoints(
        true, b.rotation_deg, b.tilt_deg, spec, oil, factors
    )[0]
    shot = LoggedShot(
        shot=number,
        lane=lane,
        ball=label,
        stand=round(laydown + 7),
        aim=float(aim),
        laydown=_read(rng, true[0, 0], "laydown"),
        arrows=_read(rng, arrows, "arrows"),
        breakpoint=_read(rng, breakpoint_, "breakpoint"),
        breakpoint_ft=_read(rng, feet, "breakpoint_ft", step=1.0),
        head_pin=_read(rng, head_pin, "head_pin"),
        speed_mph=round(float(speed - 0.3 + rng.normal(0, 0.15)), 1),
        throw="off" if off and plan.marks_throws else "",
    )
    leave, exit_ = _pins(b.hand, head_pin, angle, rng)
    neighbour = ""
    if leave == ("10" if b.hand == "right" else "7") and rng.random() < 0.8:
        neighbour = "flat" if head_pin < 17.1 else "around"
    shot = replace(
        shot, leave=leave, neighbour_pin=neighbour, deck_exit=_read(rng, exit_, "deck_exit")
    )
    unseen = {
        name: None
        for name in READING_SD
        if name.removesuffix("_ft") not in plan.watch or rng.random() < 0.08
    }
    return replace(shot, **unseen)


def _read(rng: np.random.Generator, true: float, what: str, step: float = 0.5) -> float | None:
    """Return what a coach would write down: with error, to the half board; None if not seen."""
    if not np.isfinite(true):
        return None
    seen = round(float(true + rng.normal(0, READING_SD[what])) / step) * step
    low, high = (0.0, 60.0) if what == "breakpoint_ft" else (0.0, 40.0)
    return min(max(seen, low), high)


def _pins(hand: str, head_pin: float, angle: float, rng: np.random.Generator) -> tuple[str, float]:
    """Return a leave and the board of the deck exit (nan in the gutter)."""
    if not np.isfinite(head_pin):
        return "0", np.nan
    width = 0.55 + 0.09 * min(max(angle, 0.0), 6.0)
    strike = 0.88 / (1.0 + np.exp((abs(head_pin - 17.5) - width) / 0.22))
    exit_ = 19.0 + 3.2 * (head_pin - 17.5) + 0.8 * (angle - 5.0)
    if rng.random() < max(strike, 0.03 if 12.0 < head_pin < 23.0 else 0.0):
        return "X", exit_
    place = (
        "off the pocket, outside" if head_pin < 15.2
        else "light" if head_pin < 16.9
        else "flush" if head_pin < 18.1
        else "high" if head_pin < 19.6
        else "through the nose"
    )  # fmt: skip
    leaves, weights = zip(*_LEAVES[place], strict=True)
    leave = str(rng.choice(leaves, p=np.array(weights) / sum(weights)))
    if hand == "left":
        pins = sorted(_MIRROR[int(p)] for p in leave.split("-"))
        leave = "-".join(str(p) for p in pins)
    return leave, exit_


def _spare(plan: Plan, rack: _Rack, rng: np.random.Generator, number: int, lane: int) -> LoggedShot:
    """Return a delivery at what stands: made, or some of it, or a foul once in a while."""
    chance = 0.85 if len(rack.standing) == 1 else 0.6
    foul = rng.random() < 0.01
    if foul:
        leave = ""
    elif rng.random() < chance:
        leave = "/"
    else:
        left = sorted(rack.standing)[rng.integers(0, len(rack.standing)) :]
        leave = "-".join(str(p) for p in left)
    return LoggedShot(
        shot=number, lane=lane, ball=plan.spare_ball or plan.balls[0][0], leave=leave, foul=foul
    )


def _next(rack: _Rack, shot: LoggedShot) -> _Rack:
    """Return where the game is after this delivery, by the published rules."""
    after = rack.standing if shot.foul else pins_standing(shot.leave, rack.standing)
    assert after is not None
    one_on = replace(
        rack, delivery=rack.delivery + 1, standing=after or ALL_PINS, cleared=not after
    )
    if rack.frame < 10:
        over = rack.delivery == 2 or not after
        return _Rack(rack.game, rack.frame + 1) if over else one_on
    earned = rack.delivery == 1 or not after or rack.cleared
    return one_on if rack.delivery < 3 and earned else _Rack(rack.game + 1)
