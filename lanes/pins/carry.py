"""What a hit is worth: the shipped table of strike, leaves, deck exit and how the corner fell.

The table was computed by ``generate`` and fitted by ``table``; its version, generator commit,
parameters and seed are ``Table.provenance``. Boards and angles are in the bowler's own count, for
the ball that goes from the strong side to the weak one; for a left-hander everything is the mirror
image, so the ten-pin's leave becomes the seven-pin's. A hit outside the table's range counts as one
at its edge, and ``Carry.inside`` says so, as it does where no rack was run. Numpy only, no Django.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .surface import ANGLE_RANGE, BOARD_RANGE, Spots, terms

SPEED_RANGE = (13.0, 19.0)  # mph at the pins
SLIP_RANGE = (0.0, 2.5)  # m/s
MASS_RANGE = (12.0, 16.0)  # lb
# Where a second engine looked, at 24 places, and came within 16 points of strike chance
# (EVIDENCE.md).
CHECKED_BOARDS, CHECKED_ANGLES = (15.75, 19.0), (2.0, 6.0)
# The shipped table's limits, to stand beside whatever rests on it.
LIMITS = (
    "They are one solver's word: a second engine differs from it by up to 16 points, and its "
    "pocket hits strike 10 to 15 points more often than the few published counts of real ones. "
    "Compare hits and options; do not read the percentages as a forecast."
)
RUN_CELL = (0.25, 0.5)  # boards by degrees, the cells of the map of where racks were run
DEFAULT_SPEED_MPH, DEFAULT_SLIP_MPS, DEFAULT_MASS_LB = 16.0, 0.5, 15.0
WAYS = ("away", "into", "flat", "around")  # in the table's order
_FILE = Path(__file__).with_name("data") / "carry.npz"
# A left-hander's rack is a right-hander's in a mirror.
_MIRROR = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}


@dataclass(frozen=True)
class Leave:
    """The pins that stand, ``()`` for the pooled rare leaves, and their probability."""

    pins: tuple[int, ...]
    p: float

    @property
    def name(self) -> str:
        """Return the leave as it is written, ``3-6-10``; ``other`` for the rare ones."""
        return "-".join(str(pin) for pin in self.pins) or "other"


@dataclass(frozen=True)
class Carry:
    """What the table says of one hit.

    ``strike_se`` is the statistical error of the table, not the scatter of a throw. ``leaves`` are
    the non-strikes, likeliest first; with ``strike`` they add up to one. ``corner`` tells how the
    pin beside the corner on the ball's side (the six, a left-hander's four) goes by it: ``into``,
    ``flat`` into the gutter before it, ``around`` behind it, or ``away``; ``corner_left`` the same
    given that this corner pin is all that stands. ``inside``: racks were run at hits like it;
    elsewhere the figures are only what the surface does between or beyond them. ``checked``: the
    hit lies where other ways to compute come near; elsewhere it is one solver's word (EVIDENCE.md).
    """

    strike: float
    strike_se: float
    deck_exit_board: float
    deck_exit_sd: float
    leaves: tuple[Leave, ...]
    corner: dict[str, float]
    corner_left: dict[str, float]
    inside: bool
    checked: bool
    version: str


class Table:
    """The arrays of a table file."""

    def __init__(self, path: Path = _FILE) -> None:
        with np.load(path) as file:
            self._a: dict[str, NDArray[Any]] = {name: file[name] for name in file.files}
        self.version = str(self._a["version"])
        for name in ("strike", "exit", "exit_log_sd", "leave", "corner", "corner_alone"):
            self._a[name] = self._a[name].astype(float)
        self.leaves = [_pins(int(leave)) for leave in self._a["leaves"]]
        self._run = self._a["run"]

    def ran(self, board: float, angle_deg: float) -> bool:
        """Return whether racks were run at hits like this one."""
        at = (board - BOARD_RANGE[0], angle_deg - ANGLE_RANGE[0])
        i, j = (int(x // cell) for x, cell in zip(at, RUN_CELL, strict=True))
        long, across = self._run.shape
        # The far ends of the range belong to the last cells.
        i, j = (
            min(i, long - 1 if board <= BOARD_RANGE[1] else i),
            min(j, across - 1 if angle_deg <= ANGLE_RANGE[1] else j),
        )
        return bool(0 <= i < long and 0 <= j < across and self._run[i, j])

    def provenance(self) -> dict[str, Any]:
        """Return version, generator commit, parameters, seed, step and the fit's own report."""
        return {
            "version": self.version,
            "commit": str(self._a["commit"]),
            "seed": int(self._a["seed"]),
            "step_s": float(self._a["step"]),
            "spot_sd_m": float(self._a["spot_sd_m"]),
            "materials": json.loads(str(self._a["materials"])),
            "fit": json.loads(str(self._a["report"])),
        }

    def strike(
        self,
        board: ArrayLike,
        angle_deg: ArrayLike,
        speed_mph: ArrayLike = DEFAULT_SPEED_MPH,
        slip_mps: ArrayLike = DEFAULT_SLIP_MPS,
        mass_lb: ArrayLike = DEFAULT_MASS_LB,
    ) -> NDArray[np.float64]:
        """Return the chance of a strike (n,) for hits (n,); nan (no hit) gives 0."""
        at = _At(board, angle_deg, speed_mph, slip_mps, mass_lb)
        p = 1.0 / (1.0 + np.exp(-at.value(self._a["strike"])))
        return np.where(at.hit, p, 0.0)

    def strike_se(
        self, board: float, angle_deg: float, speed_mph: float, slip_mps: float, strike: float
    ) -> float:
        """Return the standard error of one chance of a strike, linear between grid points."""
        error = self._a["se_eta"]
        for name, x in (
            ("board", board), ("angle", angle_deg), ("speed", speed_mph), ("slip", slip_mps)
        ):  # fmt: skip
            grid = self._a[f"se_{name}"]
            k = int(np.clip(np.searchsorted(grid, x) - 1, 0, len(grid) - 2))
            t = float(np.clip((x - grid[k]) / (grid[k + 1] - grid[k]), 0.0, 1.0))
            error = (1.0 - t) * error[k] + t * error[k + 1]
        return float(error) * strike * (1.0 - strike)

    def deck_exit(
        self,
        board: ArrayLike,
        angle_deg: ArrayLike,
        speed_mph: ArrayLike = DEFAULT_SPEED_MPH,
        slip_mps: ArrayLike = DEFAULT_SLIP_MPS,
        mass_lb: ArrayLike = DEFAULT_MASS_LB,
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return the mean board (n,) at the end of the deck and its spread from rack to rack."""
        at = _At(board, angle_deg, speed_mph, slip_mps, mass_lb)
        mean = at.value(self._a["exit"])
        spread = np.exp(at.value(self._a["exit_log_sd"]))
        return mean, spread

    def leave_chances(
        self,
        board: ArrayLike,
        angle_deg: ArrayLike,
        speed_mph: ArrayLike = DEFAULT_SPEED_MPH,
        slip_mps: ArrayLike = DEFAULT_SLIP_MPS,
        mass_lb: ArrayLike = DEFAULT_MASS_LB,
    ) -> NDArray[np.float64]:
        """Return the chances (n, leaves + 1) of ``self.leaves`` and, last, of all rarer ones."""
        at = _At(board, angle_deg, speed_mph, slip_mps, mass_lb)
        missed = 1.0 - self.strike(board, angle_deg, speed_mph, slip_mps, mass_lb)
        return missed[:, None] * self._shares("leave", at)

    def ways(self, name: str, at: _At) -> dict[str, float]:
        """Return how the corner's neighbour went by, at one place."""
        return dict(zip(WAYS, self._shares(name, at)[0].tolist(), strict=True))

    def _shares(self, name: str, at: _At) -> NDArray[np.float64]:
        eta = np.clip(at.value(self._a[name]), -30.0, 30.0)
        raw = 1.0 / (1.0 + np.exp(-eta))
        return np.asarray(raw / raw.sum(axis=1, keepdims=True))


class _At(Spots):
    """Hits made ready for looking up."""

    def __init__(
        self,
        board: ArrayLike,
        angle_deg: ArrayLike,
        speed_mph: ArrayLike,
        slip_mps: ArrayLike,
        mass_lb: ArrayLike,
    ) -> None:
        board, angle, speed, slip, mass = np.broadcast_arrays(
            *(np.atleast_1d(np.asarray(x, float)) for x in (
                board, angle_deg, speed_mph, slip_mps, mass_lb
            ))
        )  # fmt: skip
        self.hit = np.isfinite(board) & np.isfinite(angle)
        super().__init__(
            np.where(self.hit, board, BOARD_RANGE[0]),
            np.where(self.hit, angle, 0.0),
            terms(
                np.clip(speed, *SPEED_RANGE), np.clip(slip, *SLIP_RANGE), np.clip(mass, *MASS_RANGE)
            ),
        )


def _pins(standing: int) -> tuple[int, ...]:
    return tuple(pin for pin in range(1, 11) if standing >> (pin - 1) & 1)


def mirror_pins(pins: tuple[int, ...]) -> tuple[int, ...]:
    """Return the same leave in a mirror: the ten-pin becomes the seven-pin."""
    return tuple(sorted(_MIRROR[pin] for pin in pins))


@cache
def table() -> Table:
    """Return the shipped table, read once."""
    return Table()


def carry(
    board: float,
    angle_deg: float,
    speed_mph: float = DEFAULT_SPEED_MPH,
    slip_mps: float = DEFAULT_SLIP_MPS,
    hand: str = "right",
    mass_lb: float = DEFAULT_MASS_LB,
) -> Carry:
    """Return what the table says of one hit at the head-pin plane.

    ``board`` is in the bowler's own count, ``angle_deg`` positive toward the weak side,
    ``speed_mph`` at the pins, ``slip_mps`` the speed at which the ball's contact point still
    slides there.
    """
    shipped = table()
    hit = (board, angle_deg, speed_mph, slip_mps, mass_lb)
    strike = float(shipped.strike(*hit)[0])
    mean, spread = shipped.deck_exit(*hit)
    chances = shipped.leave_chances(*hit)[0]
    named: list[tuple[int, ...]] = [*shipped.leaves, ()]
    if hand == "left":
        named = [mirror_pins(pins) for pins in named]
    leaves = [Leave(pins, float(p)) for pins, p in zip(named, chances, strict=True)]
    at = _At(*hit)
    ranges = (BOARD_RANGE, ANGLE_RANGE, SPEED_RANGE, SLIP_RANGE, MASS_RANGE)
    return Carry(
        strike=strike,
        strike_se=shipped.strike_se(board, angle_deg, speed_mph, slip_mps, strike),
        deck_exit_board=float(mean[0]),
        deck_exit_sd=float(spread[0]),
        leaves=tuple(sorted(leaves, key=lambda leave: -leave.p)),
        corner=shipped.ways("corner", at),
        corner_left=shipped.ways("corner_alone", at),
        inside=all(low <= x <= high for x, (low, high) in zip(hit, ranges, strict=True))
        and shipped.ran(board, angle_deg),
        checked=CHECKED_BOARDS[0] <= board <= CHECKED_BOARDS[1]
        and CHECKED_ANGLES[0] <= angle_deg <= CHECKED_ANGLES[1],
        version=shipped.version,
    )
