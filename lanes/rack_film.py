"""One rack to look at: what the solver recorded, drawn from above and told in words.

Nothing is drawn that was not computed: a film is the recorded states of one rack, every
`EVERY_S` seconds, and is played without anything put between them. The scatter of a rack (how its
pins were set down, what they weigh, how well the ball kept its line) comes from its number, so
the same number is the same rack. Racks are shown in the order of their numbers; none is chosen.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion.geometry import BALL_RADIUS_M, BOARD_M, BOARDS, INCH_M, POCKET
from lanes.pins.carry import mirror_pins
from lanes.pins.rack import (
    BOARD_SD,
    CENTRE_BOARD,
    LIMIT,
    PINS,
    SPOT_SD_M,
    SPOTS,
    WEIGHT_SD_KG,
    Fall,
    Hit,
    film,
    pins_of,
)
from lanes.pins.room import DECK_END, HALF_DECK, KICKBACK
from lanes.pins.shape import pin
from lanes.reading.leaves import CORNER_NEIGHBOUR, corner_pin, format_leave, leave_name

EVERY_S = 0.004
SLOWER = 10  # a tenth of real speed: 25 states a second
MOST_RACKS = 9999  # numbers that a rack may have
# A pin is down, as the solver counts it, that leans beyond this cosine or whose centre has sunk.
_DOWN, _SUNK_M = 0.9, 0.12
_MOVED_M = 0.0005
_SHAPES = 40  # outlines from upright to lying
_OUTLINE = 14  # points along a side

# The drawing, in millimetres: the gutters' outer walls at the sides, the pit above.
_BEFORE_M, _BEHIND_M = 0.32, 0.14  # shown before the head pin's spot and behind the deck
LEFT, WIDTH = -1000.0 * KICKBACK, 2000.0 * KICKBACK
TOP = -1000.0 * (DECK_END + _BEHIND_M)
HEIGHT = 1000.0 * (DECK_END + _BEHIND_M + _BEFORE_M)


@dataclass(frozen=True)
class Drawn:
    """A pin as it is drawn: an outline in its own frame, where that goes, and whether it is down"""

    number: int
    d: str
    x: int
    y: int
    turned: int
    is_down: bool


@dataclass(frozen=True)
class Still:
    """The deck at one moment; `ball` is a place or None once it has left."""

    at_s: float
    ball: tuple[int, int] | None
    pins: tuple[Drawn, ...]


@dataclass(frozen=True, eq=False)
class RackFilm:
    """One rack of a hit, in the bowler's own hand: places mirrored for a left-hander.

    `states` (frames, 11, 6) as `pins.rack.film` returns them, row n that of pin n.
    """

    hit: Hit
    hand: str
    number: int
    fall: Fall
    states: NDArray[np.float64]

    # What happened.

    @property
    def standing(self) -> tuple[int, ...]:
        pins = pins_of(self.fall.standing)
        return mirror_pins(pins) if self.hand == "left" else pins

    @property
    def touched(self) -> tuple[int, ...]:
        """The pins that the ball itself met."""
        pins = pins_of(self.fall.ball_touched)
        return mirror_pins(pins) if self.hand == "left" else pins

    @cached_property
    def first_contact(self) -> int:
        """The last state before any pin has moved; the first where none ever does."""
        moved = np.abs(self.states[:, 1:, :3] - self.states[0, 1:, :3]) > _MOVED_M
        by_frame = np.any(moved | np.isnan(self.states[:, 1:, :3]), axis=(1, 2))
        return max(int(np.argmax(by_frame)) - 1, 0)

    @cached_property
    def order(self) -> list[tuple[float, tuple[int, ...]]]:
        """The pins that fell, in order, with the seconds since the first contact."""
        stays = set(self.standing)
        when: dict[int, list[int]] = {}
        for n in range(1, PINS + 1):
            if n not in stays:
                when.setdefault(int(np.argmax(self._down[:, n])), []).append(n)
        return [(self._seconds(frame), tuple(when[frame])) for frame in sorted(when)]

    @cached_property
    def _down(self) -> NDArray[np.bool_]:
        """Which bodies are down or gone, (frames, 11).

        The last state was recorded up to `EVERY_S` before the solver counted: its count stands.
        """
        down = ~((self.states[:, :, 5] > _DOWN) & (self.states[:, :, 2] > _SUNK_M))
        down[-1, 1:] = [n not in self.standing for n in range(1, PINS + 1)]
        return down

    def _seconds(self, frame: int) -> float:
        return (frame - self.first_contact) * EVERY_S

    @property
    def result(self) -> str:
        """What the rack came to, in a few words."""
        if not self.standing:
            return "is a strike"
        leave = format_leave(frozenset(self.standing))
        flush = POCKET.name(self.hit.board) == "flush"
        if leave == "0":
            return "leaves all ten"
        return f"leaves the {leave_name(leave, self.hand, flush=flush)}"

    @property
    def words(self) -> tuple[str, ...]:
        """What happened, in sentences."""
        found = [f"Rack {self.number} {self.result}."]
        if self.order:
            told = [
                f"{_listed(pins)} together" if len(pins) > 1 else str(pins[0])
                for _, pins in self.order
            ]
            first, last = self.order[0][0], self.order[-1][0]
            if len(told) == 1:
                found.append(f"The {told[0]} goes down {first:.2f} s after the first contact.")
            else:
                found.append(
                    f"Down in this order: {', '.join(told)}; the first {first:.2f} s after the "
                    f"contact, the last {last:.2f} s after it."
                )
        found.append(self._ball_words)
        corner = self._corner_words
        if corner:
            found.append(corner)
        if self.fall.timed_out:
            found.append(f"Something still moved when the pins are swept off, after {LIMIT:g} s.")
        return tuple(found)

    @property
    def _ball_words(self) -> str:
        met = _listed(self.touched)
        ball = f"The ball itself met the {met}" if met else "The ball met no pin"
        if math.isnan(self.fall.exit_board):
            return f"{ball} and left over the gutter."
        return f"{ball} and left the deck on board {self.fall.exit_board:.1f}."

    @property
    def _corner_words(self) -> str:
        """How the pin beside a standing corner went by it, where a corner stands alone."""
        if not self.standing:
            return ""
        corner = corner_pin(format_leave(frozenset(self.standing)), self.hand)
        if corner is None:
            return ""
        is_near = corner == (10 if self.hand == "right" else 7)
        fall = self.fall
        way = fall.corner if is_near else fall.far_corner
        wall = fall.corner_wall if is_near else fall.far_corner_wall
        inner = CORNER_NEIGHBOUR[corner]
        told = {
            "into": f"The {inner} struck the {corner}, which stood all the same",
            "flat": f"The {inner} passed in front of the {corner}",
            "around": f"The {inner} passed behind the {corner}",
            "": f"The {inner} did not come as far as the {corner}",
        }[way]
        return f"{told}{', and came back off the side wall' if wall else ''}."

    @property
    def next_number(self) -> int:
        """The next rack of this hit; after the last number comes the first."""
        return self.number % MOST_RACKS + 1

    # What is drawn.

    @property
    def first_still(self) -> Still:
        return self.still(self.first_contact)

    @property
    def start(self) -> Still:
        return self.still(0)

    @property
    def last(self) -> int:
        return len(self.states) - 1

    @property
    def last_still(self) -> Still:
        return self.still(self.last)

    def still(self, frame: int) -> Still:
        state = self._drawn[frame]
        ball = None if self._is_gone(frame, 0) else (int(state[0, 0]), int(state[0, 1]))
        return Still(
            at_s=self._seconds(frame),
            ball=ball,
            pins=tuple(
                Drawn(n, shapes()[outline], x, y, turned, bool(down))
                for n, (x, y, turned, outline, down) in enumerate(state.tolist())
                if n and not self._is_gone(frame, n)
            ),
        )

    def _is_gone(self, frame: int, body: int) -> bool:
        return bool(np.isnan(self.states[frame, body, 0]))

    @cached_property
    def _drawn(self) -> NDArray[np.int64]:
        """What is drawn of every state: x, y in mm (y downward), turn in deg, outline, down."""
        place, axis = self.states[:, :, :3], self.states[:, :, 3:]
        drawn = np.zeros((*place.shape[:2], 5), np.int64)
        seen = ~np.isnan(place[:, :, 0])
        drawn[:, :, 0][seen] = np.rint(1000.0 * place[:, :, 0][seen])
        drawn[:, :, 1][seen] = np.rint(-1000.0 * place[:, :, 1][seen])
        along = np.hypot(axis[:, :, 0], axis[:, :, 1])
        drawn[:, :, 2] = np.rint(np.degrees(np.arctan2(-axis[:, :, 1], axis[:, :, 0])))
        drawn[:, :, 3] = np.rint(np.clip(along, 0.0, 1.0) * _SHAPES)
        drawn[:, :, 2][drawn[:, :, 3] == 0] = 0
        drawn[:, :, 4] = self._down
        return drawn

    @property
    def played(self) -> dict[str, Any]:
        """The film for a script: outlines, and of each body what changes, as long as it is there.

        A track has the state at which it starts to move, its states [x, y, turn, outline, down]
        from then on, and whether it is gone after the last of them or stays.
        """
        frames = len(self.states)
        tracks = []
        for body in range(PINS + 1):
            drawn = self._drawn[:, body]
            gone = np.isnan(self.states[:, body, 0])
            there = int(np.argmax(gone)) if gone.any() else frames
            changes = np.flatnonzero(np.any(drawn[1:there] != drawn[: there - 1], axis=1)) + 1
            start = int(changes[0]) - 1 if len(changes) else 0
            end = there if gone.any() else (int(changes[-1]) + 1 if len(changes) else 1)
            tracks.append(
                {
                    "start": start,
                    "states": drawn[start:end].tolist(),
                    "gone": bool(gone.any()),
                }
            )
        return {
            "frames": frames,
            "contact": self.first_contact,
            "every_ms": self.every_ms,
            "slower": SLOWER,
            "shapes": shapes(),
            "tracks": tracks,
        }

    @property
    def boards(self) -> list[tuple[float, int]]:
        """Every fifth board in the bowler's own count, as (x in mm, board)."""
        side = 1.0 if self.hand == "right" else -1.0
        return [
            (round(side * 1000.0 * (CENTRE_BOARD - board) * BOARD_M, 1), board)
            for board in range(5, BOARDS, 5)
        ]

    @property
    def spots(self) -> list[tuple[float, float]]:
        """Where the pins' spots lie, mm."""
        return [(round(1000.0 * x), round(-1000.0 * y)) for x, y in SPOTS]

    every_ms = round(1000.0 * EVERY_S)
    slower = SLOWER

    # The drawing's own measures, mm.
    view_box = f"{LEFT:.0f} {TOP:.0f} {WIDTH:.0f} {HEIGHT:.0f}"
    deck = {
        "left": round(-1000.0 * HALF_DECK),
        "width": round(2000.0 * HALF_DECK),
        "top": round(-1000.0 * DECK_END),
        "height": round(1000.0 * (DECK_END + _BEFORE_M)),
        "gutter_left": round(LEFT),
        "gutter_right": round(1000.0 * HALF_DECK),
        "gutter": round(1000.0 * (KICKBACK - HALF_DECK)),
        "bottom": round(1000.0 * _BEFORE_M),
    }
    ball_radius = round(1000.0 * BALL_RADIUS_M)


def film_rack(hit: Hit, hand: str, number: int) -> RackFilm:
    """Run one rack of a hit, in the bowler's own boards."""
    fall, states = film(hit, (number,), every=EVERY_S)
    return RackFilm(hit, hand, number, fall, states if hand == "right" else _mirrored(states))


def _mirrored(states: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the states as seen in a mirror along the lane, each pin under its own number."""
    rows = [0, *mirror_pins_in_order()]
    turned = states[:, rows].copy()
    turned[:, :, [0, 3]] *= -1.0
    return turned


def mirror_pins_in_order() -> list[int]:
    """Return for pins 1 to 10 the pin that stands on their spot in a mirror."""
    return [mirror_pins((n,))[0] for n in range(1, PINS + 1)]


def _listed(pins: tuple[int, ...]) -> str:
    *most, last = [str(pin) for pin in pins] or [""]
    return f"{', '.join(most)} and {last}" if most else last


def scatter_words() -> str:
    """Say how racks of one hit differ."""
    return (
        f"pins up to {2.0 * SPOT_SD_M / INCH_M:.2g} in off their spots each way, "
        f"{WEIGHT_SD_KG / 0.45359237 * 16.0:g} oz of spread in weight, and {BOARD_SD:g} board in "
        "the ball's line"
    )


@cache
def shapes() -> list[str]:
    """Return the outlines of a pin from above, by its lean: SVG paths, mm, the head toward +x.

    A pin is the envelope of spheres along its axis (`pins.shape`), so from above it is the union
    of their discs; the last outline is that of one that lies.
    """
    body = pin()
    centre, radius = 1000.0 * (body.centre - body.cg), 1000.0 * body.radius
    return [_outline(centre * lean / _SHAPES, radius) for lean in range(_SHAPES + 1)]


def _outline(centre: NDArray[np.float64], radius: NDArray[np.float64]) -> str:
    low, high = float((centre - radius).min()), float((centre + radius).max())
    middle, half = (low + high) / 2.0, (high - low) / 2.0
    along = middle - half * np.cos(np.linspace(0.0, np.pi, _OUTLINE))
    inside = radius**2 - (along[:, None] - centre) ** 2
    wide = np.sqrt(np.maximum(inside.max(axis=1), 0.0))
    there = [f"{x:.0f},{y:.0f}" for x, y in zip(along, wide, strict=True)]
    back = [f"{x:.0f},{-y:.0f}" for x, y in zip(along[-2:0:-1], wide[-2:0:-1], strict=True)]
    return f"M{'L'.join(there + back)}z"
