"""Trying a shot: up to four balls from one release on one lane, side by side.

Nothing of it is kept. What is asked comes as a `Trial`, everything that a page shows of it goes out
as an `Answer`: paths, numbers, what differs in words, and the lane from above.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from lanes.motion import (
    HOUSE,
    POCKET,
    BallSpec,
    Film,
    Path,
    Release,
    RigidPath,
    lane_friction,
    roll_rigid,
)
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw
from lanes.motion.oil import Oil
from lanes.motion.reference import Reaction, reaction
from lanes.motion.wear import Throw, after, in_turns
from lanes.motion.wear import others as ordinary_bowlers
from lanes.pictures import DASHES, LanePicture
from lanes.pin_hits import PinHit, pin_hit
from lanes.pins.rack import Hit
from lanes.reactions import lines_of

MOST_BALLS = 4
SEED = 1  # the same ordinary bowlers each time, so that a slider moves nothing but its own number
MOST_BEFORE = 100  # of each kind of bowler; the answer must come at once

# Where two paths are told apart in words: what a watcher at the lane could see (assumed; half a
# board at the arrows and one to two boards further on are a trained eye's error, `motion.seen`).
SEEN_BOARDS = 0.5
SEEN_DEG = 0.2
SEEN_FT = 1.5

_ASSUMED = {
    "cover": ("cover", "", ""),
    "grit": ("grit", ".0f", ""),
    "rg_in": ("RG", ".2f", "in"),
    "differential_in": ("differential", ".3f", "in"),
    "mass_lb": ("weight", "g", "lb"),
    "pin_to_pap_in": ("pin to PAP", "g", "in"),
    "angle_at_pin_deg": ("angle at the pin", "g", "deg"),
    "angle_at_pap_deg": ("angle at the PAP", "g", "deg"),
}
# What a mark on a path means; a ball's own colour and dash stay its line's.
_MARKS = {"hook": "circle", "breakpoint": "triangle", "roll": "square"}
_MARK_WORDS = {"hook": "hook begins", "breakpoint": "breakpoint", "roll": "rolling begins"}


@dataclass(frozen=True)
class Trial:
    """What is asked. `target` is the board at the arrows that the release is sent at, `oil` None an
    ordinary house pattern; `slots` are the balls' numbers on the page, which give their colours;
    `law` is how covers settle in this shop."""

    release: Release
    target: float
    balls: tuple[BallSpec, ...]
    slots: tuple[int, ...] = (1, 2, 3, 4)
    hand: str = "right"
    oil: Oil | None = None
    own_before: int = 0
    right_before: int = 0
    left_before: int = 0
    law: SurfaceLaw = SURFACE_LAW

    @property
    def before(self) -> int:
        return self.own_before + self.right_before + self.left_before


@dataclass(frozen=True, eq=False)
class Rolled:
    """One ball's way, and how the pictures and tables of the page show it."""

    name: str
    ball: BallSpec
    path: RigidPath
    series: int
    dash: str
    at_pins: PinHit | None  # None for a ball in the gutter

    @property
    def hit(self) -> str | None:
        return POCKET.name(self.path.head_pin_board)

    @property
    def assumed(self) -> str:
        """What had to be assumed of the ball, with the values that were taken."""
        full = self.ball.filled()
        parts = []
        for name in self.ball.assumed:
            label, digits, unit = _ASSUMED[name]
            value = getattr(full, name)
            parts.append(f"{label} {value:{digits}} {unit}".strip())
        return ", ".join(parts)

    @property
    def in_short(self) -> str:
        """The ball's result in a few words."""
        path = self.path
        if path.head_pin_board is None or path.entry_angle_deg is None:
            return f"gutter at {path.gutter_at_ft:.0f} ft" if path.gutter_at_ft else "no head pin"
        told = f"{path.head_pin_board:.1f} {self.hit}, {path.entry_angle_deg:.1f}°"
        if self.at_pins is None or self.at_pins.carry is None:
            return told
        return f"{told}, X {self.at_pins.strike}"


@dataclass(frozen=True)
class Row:
    """One number of every ball, as text."""

    label: str
    unit: str
    cells: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Answer:
    rolled: tuple[Rolled, ...]
    release_words: str
    lane_words: str
    differences: tuple[str, ...]
    numbers: tuple[Row, ...]
    reference: tuple[Row, ...]
    picture: LanePicture = field(repr=False)

    @property
    def table(self) -> str:
        """The version of the table that the chances come from; empty where there is none."""
        seen = (one.at_pins.carry for one in self.rolled if one.at_pins)
        return next((carry.version for carry in seen if carry), "")

    @property
    def assumed(self) -> list[Rolled]:
        """The balls of which something had to be assumed."""
        return [one for one in self.rolled if one.assumed]


def try_shot(trial: Trial) -> Answer:
    """Roll the trial's balls, one to `MOST_BALLS` of them, each on the lane as it lies for the
    first: side by side is not one after the other."""
    film = film_before(trial)
    rolled = tuple(
        _rolled(trial, film, slot, ball)
        for slot, ball in zip(trial.slots, trial.balls, strict=False)
    )
    differences = in_words(rolled)
    return Answer(
        rolled=rolled,
        release_words=_release_words(trial),
        lane_words=_lane_words(trial),
        differences=differences,
        numbers=numbers(rolled),
        reference=on_reference_lane(rolled, trial.law),
        picture=_picture(trial, film, rolled, differences),
    )


def _rolled(trial: Trial, film: Film, slot: int, ball: BallSpec) -> Rolled:
    path = roll_rigid(trial.release, ball, lane_friction(film, ball, law=trial.law))
    return Rolled(ball.name, ball, path, slot, DASHES[slot - 1], _at_pins(path, ball, trial.hand))


def _at_pins(path: RigidPath, ball: BallSpec, hand: str) -> PinHit | None:
    board, angle, speed = path.head_pin_board, path.entry_angle_deg, path.speed_at_pins_mph
    if board is None or angle is None or speed is None:
        return None
    mass = ball.filled().mass_lb
    assert mass is not None
    return pin_hit(Hit(board, angle, speed, path.slip_at_pins_mps or 0.0, mass), hand)


# The lane.


def film_before(trial: Trial) -> Film:
    """Return the film that the trial's balls meet: the sheet's, less what the balls before did.

    Those on the own line are the trial's first ball and release; the others are ordinary bowlers
    (`motion.wear`), and all take turns.
    """
    film = (trial.oil or HOUSE).film(trial.hand)
    if not trial.before:
        return film
    own = [Throw(trial.release, trial.balls[0])] * trial.own_before
    others = ordinary_bowlers(trial.right_before, trial.left_before, trial.hand, SEED)
    return after(film, in_turns(own, others), law=trial.law)


def _lane_words(trial: Trial) -> str:
    sheet = trial.oil or HOUSE
    words = f"{sheet.name}, {sheet.length_ft:g} ft, {sheet.total_ml:.1f} mL"
    if trial.oil is None:
        words += " (assumed)"
    if not trial.before:
        return f"{words}, fresh"
    throwers = [
        f"{count} {who}"
        for count, who in (
            (trial.own_before, f"on your own line with {trial.balls[0].name}"),
            (trial.right_before, "by right-handers"),
            (trial.left_before, "by left-handers"),
        )
        if count
    ]
    plural = "" if trial.before == 1 else "s"
    return f"{words}, worn by {trial.before} ball{plural}: {', '.join(throwers)}"


# In numbers.


def numbers(rolled: Sequence[Rolled]) -> tuple[Row, ...]:
    """Return the table: a row for each number, a cell for each ball."""
    paths = [one.path for one in rolled]

    def row(label: str, unit: str, values: Iterable[float | None], digits: int) -> Row:
        cells = ("none" if v is None else f"{v:z.{digits}f}" for v in values)
        return Row(label, unit, tuple(cells))

    head_pin = [
        f"gutter at {p.gutter_at_ft:.0f} ft" if p.gutter_at_ft else f"{p.head_pin_board:.1f}"
        for p in paths
    ]
    return (
        row("At the arrows", "board", (p.arrows_board for p in paths), 1),
        row("Hook begins", "ft", (p.hook_start_ft for p in paths), 1),
        row("Breakpoint", "board", (p.breakpoint_board for p in paths), 1),
        row("Breakpoint", "ft", (p.breakpoint_ft for p in paths), 1),
        row("Rolling begins", "ft", (p.roll_start_ft for p in paths), 1),
        Row("At the head pin", "board", tuple(head_pin)),
        Row("Hit", "", tuple(one.hit or "none" for one in rolled)),
        row("Entry angle", "deg", (p.entry_angle_deg for p in paths), 1),
        row("Speed at the pins", "mph", (p.speed_at_pins_mph for p in paths), 1),
        row("Slip at the pins", "m/s", (p.slip_at_pins_mps for p in paths), 2),
        row("Axis rotation at the pins", "deg", (_last(p, p.rotation_deg) for p in paths), 0),
        row("Axis tilt at the pins", "deg", (_last(p, p.tilt_deg) for p in paths), 0),
        row("Track flare", "in", (p.flare_in for p in paths), 1),
    )


def on_reference_lane(rolled: Sequence[Rolled], law: SurfaceLaw = SURFACE_LAW) -> tuple[Row, ...]:
    """Return what each ball does on the lane that is the same for all, by our ordinary release."""
    reactions = [lines_of(_reaction(replace(one.ball, name=""), law)) for one in rolled]
    return tuple(
        Row(lines[0].label, lines[0].unit, tuple(line.value for line in lines))
        for lines in zip(*reactions, strict=True)
    )


@lru_cache(maxsize=256)
def _reaction(ball: BallSpec, law: SurfaceLaw) -> Reaction:
    """Keep what does not change while a slider moves."""
    return reaction(ball, law=law)


def _last(path: RigidPath, along: NDArray[np.float64]) -> float | None:
    """Return the last of what was told along the path; None for a ball that never arrives."""
    return None if path.head_pin_board is None else float(along[-1])


# In words.


def in_words(rolled: Sequence[Rolled]) -> tuple[str, ...]:
    """Say what the first ball does, and how each other one differs from it."""
    first, *others = rolled
    return (_told(first), *(_compared(other, first) for other in others))


def _release_words(trial: Trial) -> str:
    release = trial.release
    return (
        f"{trial.hand.capitalize()}-handed, {release.speed_mph:g} mph, {release.rev_rpm:g} rpm, "
        f"rotation {release.rotation_deg:g} deg, tilt {release.tilt_deg:g} deg, laid down on board "
        f"{release.laydown:g} and sent at {trial.target:g} at the arrows."
    )


def _told(one: Rolled) -> str:
    path = one.path
    parts = []
    if path.hook_start_ft is None:
        parts.append("does not hook")
    else:
        parts.append(f"hooks from {path.hook_start_ft:.0f} ft")
    if path.breakpoint_board is not None and path.breakpoint_ft is not None:
        parts.append(
            f"turns at board {path.breakpoint_board:.1f}, {path.breakpoint_ft:.0f} ft down"
        )
    parts.append(_end(one))
    return f"{one.name} {', '.join(parts[:-1])}{' and ' if len(parts) > 1 else ''}{parts[-1]}."


def _end(one: Rolled) -> str:
    path = one.path
    if path.head_pin_board is None or path.entry_angle_deg is None:
        return f"drops into the gutter at {path.gutter_at_ft or 0:.0f} ft"
    return (
        f"meets the head pin at board {path.head_pin_board:.1f} ({one.hit}) "
        f"at {path.entry_angle_deg:.1f} deg"
    )


def _compared(other: Rolled, first: Rolled) -> str:
    path, base = other.path, first.path
    if path.head_pin_board is None or base.head_pin_board is None:
        return f"{other.name} {_end(other)}."
    assert path.entry_angle_deg is not None
    assert base.entry_angle_deg is not None
    higher = path.head_pin_board - base.head_pin_board
    steeper = path.entry_angle_deg - base.entry_angle_deg
    parts = []
    if abs(higher) >= SEEN_BOARDS:
        parts.append(
            f"meets the head pin {abs(higher):.1f} boards {'higher' if higher > 0 else 'lighter'}, "
            f"at {path.head_pin_board:.1f} ({other.hit})"
        )
    if abs(steeper) >= SEEN_DEG:
        parts.append(
            f"comes in {abs(steeper):.1f} deg {'steeper' if steeper > 0 else 'flatter'}, "
            f"at {path.entry_angle_deg:.1f}"
        )
    for verb, mine, its in (
        ("hooks", path.hook_start_ft, base.hook_start_ft),
        ("rolls", path.roll_start_ft, base.roll_start_ft),
    ):
        if mine is None or its is None or abs(mine - its) < SEEN_FT:
            continue
        parts.append(f"{verb} {abs(mine - its):.0f} ft {'later' if mine > its else 'earlier'}")
    if base.roll_start_ft is None and path.roll_start_ft is not None:
        parts.append(f"rolls before the pins, which {first.name} does not")
    if base.roll_start_ft is not None and path.roll_start_ft is None:
        parts.append(f"still slips at the pins, where {first.name} rolls")
    if not parts:
        return f"{other.name} does what {first.name} does, as far as anybody could see."
    if len(parts) > 1:
        parts = [*parts[:-2], f"{parts[-2]} and {parts[-1]}"]
    return f"{other.name}, against {first.name}: {', '.join(parts)}."


# From above.


def _picture(
    trial: Trial, film: Film, rolled: Sequence[Rolled], words: Sequence[str]
) -> LanePicture:
    picture = LanePicture(
        title="The paths from above" if len(rolled) > 1 else f"The path of {rolled[0].name}",
        description=(
            f"On {_lane_words(trial)}. {' '.join(words)} The table gives the same in numbers. "
            "Boards are counted from the bowler's strong side."
        ),
        hand=trial.hand,
        key="try",
    )
    picture.add_film(film)
    film_keys = picture.legend[:]
    picture.legend.clear()
    for one in rolled:
        path = one.path
        points = zip(path.path_ft.tolist(), path.path_board.tolist(), strict=True)
        picture.add_path(points, one.name, series=one.series, dash=one.dash)
    for event, shape in _MARKS.items():
        for one in rolled:
            place = _event(one.path, event)
            if place is not None:
                ft, board = place
                words_of_mark = f"{one.name}: {_MARK_WORDS[event]}"
                picture.add_mark(
                    board, ft, words_of_mark, shape=shape, series=one.series, key=_MARK_WORDS[event]
                )
    picture.legend += film_keys
    return picture


def _event(path: Path, event: str) -> tuple[float, float] | None:
    """Return where on the path something begins, as (ft, board)."""
    if event == "breakpoint":
        if path.breakpoint_ft is None or path.breakpoint_board is None:
            return None
        return path.breakpoint_ft, path.breakpoint_board
    ft = path.hook_start_ft if event == "hook" else path.roll_start_ft
    if ft is None:
        return None
    return ft, float(np.interp(ft, path.path_ft, path.path_board))
