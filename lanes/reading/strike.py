"""What hits at the head pin are worth, by the computed table of the pins (``lanes.pins.carry``).

This is the only place of a reading that turns hits into chances. Everything is in the bowler's own
count; only the pins of a leave are mirrored for a left-hander. A ball in the gutter, and one past
the boards that the table knows, strikes nothing: at the lower end it misses the head pin, beyond
the upper end it has crossed over, and what lucky strikes there are on that side is not computed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lanes.motion import BallSpec
from lanes.pins.carry import (
    DEFAULT_MASS_LB,
    DEFAULT_SLIP_MPS,
    DEFAULT_SPEED_MPH,
    LIMITS,
    Leave,
    table,
)
from lanes.pins.surface import BOARD_RANGE

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Hits:
    """Balls at the head-pin plane: arrays of one shape, nan for a ball in the gutter.

    Boards, degrees toward the weak side, mph and m/s of contact slip there; the mass is the ball's,
    or one for each of the last axis.
    """

    board: Array
    angle_deg: Array
    speed_mph: Array
    slip_mps: Array
    mass_lb: float | Array

    @classmethod
    def of(cls, seen: Array, spec: BallSpec) -> Hits:
        """Return the hits of launches from the columns (..., 7) of ``checkpoints``."""
        mass = spec.filled().mass_lb
        assert mass is not None
        return cls(seen[..., 3], seen[..., 4], seen[..., 6], seen[..., 5], mass)

    def strike(self) -> Array:
        """Return the chance of a strike of each."""
        return strike_chance(
            self.board, self.angle_deg, self.speed_mph, self.slip_mps, self.mass_lb
        )

    def leaves(self) -> list[Leave]:
        """Return the leaves of all hits together, likeliest first, in a right-hander's pins.

        The rare ones are one, without pins. With the strikes their chances add up to the share of
        the hits that the table knows.
        """
        shares = self.leave_chances().reshape(self.board.size, -1).mean(axis=0)
        if not shares.any():
            return []
        pins: list[tuple[int, ...]] = [*table().leaves, ()]
        found = [Leave(one, float(p)) for one, p in zip(pins, shares, strict=True)]
        return sorted(found, key=lambda leave: -leave.p)

    def leave_chances(self) -> Array:
        """Return the chances (..., leaves + 1) of the table's leaves, the rare ones last."""
        known = _on_table(self.board) & np.isfinite(self.angle_deg)
        found = np.zeros((*self.board.shape, len(table().leaves) + 1))
        if known.any():
            mass = np.broadcast_to(self.mass_lb, self.board.shape)
            found[known] = table().leave_chances(
                self.board[known],
                self.angle_deg[known],
                self.speed_mph[known],
                self.slip_mps[known],
                mass[known],
            )
        return found


def strike_chance(
    board: ArrayLike,
    entry_angle_deg: ArrayLike,
    speed_mph: ArrayLike = DEFAULT_SPEED_MPH,
    slip_mps: ArrayLike = DEFAULT_SLIP_MPS,
    mass_lb: ArrayLike = DEFAULT_MASS_LB,
) -> Array:
    """Return the chance of a strike of hits at the head-pin plane; all broadcast, nan is none."""
    given = (board, entry_angle_deg, speed_mph, slip_mps, mass_lb)
    hits = np.broadcast_arrays(*(np.asarray(x, dtype=float) for x in given))
    told = table().strike(*(x.ravel() for x in hits)).reshape(hits[0].shape)
    return np.where(_on_table(hits[0]), told, 0.0)


def _on_table(board: Array) -> NDArray[np.bool_]:
    return (board >= BOARD_RANGE[0]) & (board <= BOARD_RANGE[1])


def basis() -> dict[str, Any]:
    """Return which table the chances rest on, and the words that say so beside them."""
    told = table().provenance()
    racks = told["fit"]["racks"]
    return {
        "version": told["version"],
        "commit": told["commit"],
        "racks": racks,
        "words": (
            f"Chances of a strike come from table {told['version']} of the pins: {racks:,} "
            f"computed racks at boards {BOARD_RANGE[0]:g} to {BOARD_RANGE[1]:g}, by angle, speed, "
            f"slip and the ball's mass. {LIMITS}"
        ),
    }
