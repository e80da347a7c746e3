"""What a rolled ball is worth at the pins, by the computed table, as a page tells it."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from lanes.motion.geometry import POCKET
from lanes.pins import carry as pins
from lanes.pins.rack import Hit
from lanes.pins.surface import ANGLE_RANGE, BOARD_RANGE
from lanes.reading.leaves import CORNER_NEIGHBOUR, format_leave, leave_name, strong_corner

MOST_LEAVES = 5
_LEAST_SHARE = 0.005  # leaves and ways less likely than that are told together, or not at all
_WAYS = {
    "into": "into it",
    "flat": "in front of it",
    "around": "behind it",
    "away": "not as far as that",
}


@dataclass(frozen=True)
class Share:
    """A leave, a way or the strike itself, and in how many of 100 racks."""

    name: str
    percent: float

    @property
    def shown(self) -> str:
        return _shown(self.percent)


@dataclass(frozen=True)
class PinHit:
    """One hit at a full rack, in the bowler's own boards; `hit.side_spin` and RG are the table's.

    `carry` is None where the table has no such hit, and then `limits` say so.
    """

    hit: Hit
    hand: str
    carry: pins.Carry | None

    @property
    def query(self) -> str:
        """The hit as the address of the page that shows a rack of it; whole enough to be it."""
        hit = self.hit
        return urlencode(
            {
                "hand": self.hand,
                "board": f"{hit.board:.2f}",
                "angle": f"{hit.angle_deg:.2f}",
                "speed": f"{hit.speed_mph:.2f}",
                "slip": f"{hit.slip_mps:.2f}",
                "mass": f"{hit.mass_lb:g}",
            }
        )

    @property
    def strike(self) -> str:
        assert self.carry
        return _shown(100.0 * self.carry.strike)

    @property
    def strike_se(self) -> str:
        assert self.carry
        points = 100.0 * self.carry.strike_se
        return f"{points:.1f} points" if points >= 0.1 else "under 0.1 points"

    @property
    def leaves(self) -> list[Share]:
        """The likeliest leaves by name, and all others as one."""
        assert self.carry
        flush = POCKET.name(self.hit.board) == "flush"
        named = [leave for leave in self.carry.leaves if leave.pins and leave.p >= _LEAST_SHARE]
        named = named[:MOST_LEAVES]
        rest = 1.0 - self.carry.strike - sum(leave.p for leave in named)
        shares = [
            Share(
                leave_name(format_leave(frozenset(leave.pins)), self.hand, "", flush), 100 * leave.p
            )
            for leave in named
        ]
        return shares + ([Share("any other", 100 * rest)] if rest >= _LEAST_SHARE else [])

    @property
    def corner(self) -> int:
        """The corner pin on the ball's side."""
        return strong_corner(self.hand)

    @property
    def neighbour(self) -> int:
        """The pin beside that corner."""
        return CORNER_NEIGHBOUR[self.corner]

    @property
    def corner_falls(self) -> str:
        """Where the corner's neighbour goes by it, over all racks, the likeliest way first."""
        assert self.carry
        return self._ways(self.carry.corner)

    @property
    def corner_stands(self) -> str:
        """The same of the racks that leave this corner pin alone; empty where they hardly do."""
        assert self.carry
        alone = sum(leave.p for leave in self.carry.leaves if leave.pins == (self.corner,))
        return self._ways(self.carry.corner_left) if alone >= _LEAST_SHARE else ""

    def _ways(self, ways: dict[str, float]) -> str:
        told = [
            f"{_WAYS[way]} {_shown(100.0 * p)}"
            for way, p in sorted(ways.items(), key=lambda item: -item[1])
            if p >= _LEAST_SHARE
        ]
        return ", ".join(told)

    @property
    def limits(self) -> list[str]:
        """What these figures cannot tell of this very hit."""
        if self.carry is None:
            return [
                f"The table knows hits on boards {BOARD_RANGE[0]:g} to {BOARD_RANGE[1]:g} at "
                f"{ANGLE_RANGE[0]:g} to {ANGLE_RANGE[1]:g} deg; no chance is told of this one."
            ]
        found = []
        for value, (low, high), name, unit in (
            (self.hit.speed_mph, pins.SPEED_RANGE, "speed", "mph"),
            (self.hit.slip_mps, pins.SLIP_RANGE, "slip", "m/s"),
            (self.hit.mass_lb, pins.MASS_RANGE, "weight", "lb"),
        ):
            if not low <= value <= high:
                found.append(
                    f"The table's {name} goes from {low:g} to {high:g} {unit}; the figures are "
                    f"those at its edge."
                )
        if not found and not self.carry.inside:
            found.append("No rack was run at hits like this: a guess from the neighbours.")
        if not self.carry.checked:
            found.append("No second way to compute bears this hit out.")
        return found


def _shown(percent: float) -> str:
    if percent < 1.0:
        return "under 1 %"
    return f"{percent:.0f} %" if percent <= 99.0 else "over 99 %"


def pin_hit(hit: Hit, hand: str) -> PinHit:
    """Look one hit up in the shipped table."""
    known = all(
        low <= value <= high
        for value, (low, high) in ((hit.board, BOARD_RANGE), (hit.angle_deg, ANGLE_RANGE))
    )
    looked_up = (
        pins.carry(hit.board, hit.angle_deg, hit.speed_mph, hit.slip_mps, hand, hit.mass_lb)
        if known
        else None
    )
    return PinHit(hit, hand, looked_up)
