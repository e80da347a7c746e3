"""One hit at a full rack: from board, angle, speed and slip to what fell.

Everything random about a rack (how the pins were set down, what they weigh, how well the ball kept
its line) comes from the rack's own seed, so a rack is the same wherever and whenever it is run.
The hit is told in a right-hander's boards; a left-hander's is its mirror image.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lanes.motion.geometry import (
    BALL_RADIUS_M,
    BOARD_M,
    BOARDS,
    FOOT_M,
    HEAD_PIN_CENTRE_FT,
    HEAD_PIN_FT,
    INCH_M,
    PIN_ROW_PITCH_IN,
    PIN_SPACING_IN,
    mph_to_mps,
)

from .impulse import Bodies, no_bodies, no_contacts
from .shape import Pin, pin
from .solver import (
    BALL_TOUCHED,
    CORNER_LEFT,
    CORNER_RIGHT,
    EXIT_X,
    FOUR_SPEED,
    FOUR_WALL,
    FOUR_Y,
    HELD,
    LOG_WIDTH,
    MATERIALS,
    RESULTS,
    SECONDS,
    SIX_SPEED,
    SIX_WALL,
    SIX_Y,
    STANDING,
    TIMED_OUT,
    WORST_RISE,
    Materials,
    run,
)
from .touch import Shape, make_shape

PINS = 10
STEP = 0.001  # s, the converged step (EVIDENCE.md)
LIMIT = 3.0  # s after the start until the pins are swept off; assumed
CENTRE_BOARD = (BOARDS + 1) / 2.0

WEIGHT_SD_KG = 0.5 / 16.0 * 0.45359237  # half an ounce; keeps a set inside the specified 4 oz
# Repeatability of a throwing robot at the pins (FACTS section 4C). Its 0.51 deg are mostly how
# angle was read, and the table is asked at an angle.
BOARD_SD = 0.19
SPOT_SD_M = 0.107 * INCH_M  # of a pin's place in x and in y, cut at two of them; fitted

# The ball's spin. Slip at the pins points mostly forward and toward the strong side: friction both
# slows the ball and turns it in. Both numbers assumed from ordinary releases (rotation 45 to 70,
# tilt about 13 deg, 325 rpm).
SLIP_DIRECTION_DEG = 30.0
SIDE_SPIN_RADPS = 6.0  # about the vertical; a right-hander's tilted axis turns it to the left
_RUN_UP_M = 0.10  # before the head-pin plane; no pin can be touched earlier

INTO, FLAT, AROUND, AWAY = "into", "flat", "around", ""


@dataclass(frozen=True)
class Hit:
    """A ball at the head-pin plane, in boards of a right-hander.

    ``slip_mps`` is the speed of the contact point over the lane that is left there.
    """

    board: float
    angle_deg: float
    speed_mph: float = 16.5
    slip_mps: float = 0.0
    mass_lb: float = 15.0
    rg_in: float = 2.55
    side_spin_radps: float = SIDE_SPIN_RADPS


@dataclass(frozen=True)
class Fall:
    """What a rack came to. ``standing`` has bit ``n - 1`` set while pin ``n`` stands.

    ``exit_board`` is nan for a ball that leaves over a gutter. ``corner`` tells how the six went by
    the ten, ``far_corner`` the four by the seven: ``into``, ``flat`` (before it, into the gutter),
    ``around`` (behind it) or empty, ``corner_mps`` how fast it went by (nan: it did not), and
    ``corner_wall`` whether the kickback threw it back. ``ball_touched`` has bits as ``standing``.
    """

    standing: int
    exit_board: float
    corner: str
    far_corner: str
    ball_touched: int
    seconds: float
    timed_out: bool
    held: int
    worst_rise_j: float
    corner_mps: float
    far_corner_mps: float
    corner_wall: bool
    far_corner_wall: bool

    @property
    def strike(self) -> bool:
        return self.standing == 0


def spots() -> NDArray[np.float64]:
    """Return the (10, 2) places of the pins in metres: x to the right, y toward the pit."""
    places = []
    for row in range(4):
        for k in range(row + 1):
            x = (k - row / 2.0) * PIN_SPACING_IN
            places.append((x, row * PIN_ROW_PITCH_IN))
    return np.array(places) * INCH_M


SPOTS = spots()
SHAPE: Shape = make_shape(pin())
_NO_LOG = np.zeros((0, LOG_WIDTH))


def set_rack(rng: np.random.Generator | None, body: Pin, spot_sd_m: float = SPOT_SD_M) -> Bodies:
    """Return the bodies at the start; without ``rng`` the pins stand on their spots."""
    bodies = no_bodies(PINS + 1)
    mass = np.full(PINS, body.mass)
    place = SPOTS.copy()
    if rng is not None:
        place += spot_sd_m * np.clip(rng.standard_normal((PINS, 2)), -2.0, 2.0)
        mass += WEIGHT_SD_KG * np.clip(rng.standard_normal(PINS), -2.0, 2.0)
    bodies.r[1:, :2] = place
    bodies.r[1:, 2] = body.cg
    bodies.inv_mass[1:] = 1.0 / mass
    bodies.inv_across[1:] = 1.0 / (mass * body.rho_across**2)
    bodies.inv_more[1:] = 1.0 / (mass * body.rho_axis**2) - bodies.inv_across[1:]
    return bodies


def put_ball(bodies: Bodies, hit: Hit, board_off: float = 0.0) -> None:
    """Put the hit's ball into row 0 of the bodies, a little before the head-pin plane."""
    mass = hit.mass_lb * 0.45359237
    angle = math.radians(hit.angle_deg)
    speed = mph_to_mps(hit.speed_mph)
    vx, vy = -speed * math.sin(angle), speed * math.cos(angle)
    x = (CENTRE_BOARD - hit.board - board_off) * BOARD_M
    y = (HEAD_PIN_FT - HEAD_PIN_CENTRE_FT) * FOOT_M
    bodies.r[0] = (x - _RUN_UP_M * vx / vy, y - _RUN_UP_M, BALL_RADIUS_M)
    bodies.v[0] = (vx, vy, 0.0)
    slip = math.radians(SLIP_DIRECTION_DEG)
    roll_x, roll_y = vx - hit.slip_mps * math.sin(slip), vy - hit.slip_mps * math.cos(slip)
    bodies.w[0] = (-roll_y / BALL_RADIUS_M, roll_x / BALL_RADIUS_M, hit.side_spin_radps)
    bodies.inv_mass[0] = 1.0 / mass
    bodies.inv_across[0] = 1.0 / (mass * (hit.rg_in * INCH_M) ** 2)
    bodies.inv_more[0] = 0.0


def fell(
    hit: Hit,
    seed: tuple[int, ...] | None,
    materials: Materials = MATERIALS,
    step: float = STEP,
    watch: bool = False,
    spot_sd_m: float = SPOT_SD_M,
) -> Fall:
    """Run one rack. ``seed`` makes its scatter; ``None`` is a perfect rack and throw."""
    return _run(hit, seed, materials, step, watch, np.zeros((0, PINS + 1, 6)), 0.0, spot_sd_m)[0]


def film(
    hit: Hit, seed: tuple[int, ...] | None, materials: Materials = MATERIALS, every: float = 0.01
) -> tuple[Fall, NDArray[np.float64]]:
    """Run one rack and keep its states: places and axes (frames, 11, 6) every ``every`` seconds."""
    record = np.zeros((int(LIMIT / every) + 1, PINS + 1, 6))
    fall, frames = _run(hit, seed, materials, STEP, False, record, every, SPOT_SD_M)
    return fall, record[:frames]


def _run(
    hit: Hit,
    seed: tuple[int, ...] | None,
    materials: Materials,
    step: float,
    watch: bool,
    record: NDArray[np.float64],
    every: float,
    spot_sd_m: float,
) -> tuple[Fall, int]:
    rng = None if seed is None else np.random.default_rng(seed)
    bodies = set_rack(rng, pin(), spot_sd_m)
    if rng is None:
        put_ball(bodies, hit)
    else:
        put_ball(bodies, hit, BOARD_SD * rng.standard_normal())
    out = np.zeros(RESULTS)
    frames = run(
        bodies,
        no_contacts(),
        SHAPE,
        BALL_RADIUS_M,
        materials,
        step,
        LIMIT,
        out,
        record,
        every,
        watch,
        _NO_LOG,
    )
    return Fall(
        standing=int(out[STANDING]),
        exit_board=CENTRE_BOARD - float(out[EXIT_X]) / BOARD_M,
        corner=_way(out[CORNER_RIGHT], out[SIX_Y]),
        far_corner=_way(out[CORNER_LEFT], out[FOUR_Y]),
        ball_touched=int(out[BALL_TOUCHED]),
        seconds=float(out[SECONDS]),
        timed_out=bool(out[TIMED_OUT]),
        held=int(out[HELD]),
        worst_rise_j=float(out[WORST_RISE]),
        corner_mps=float(out[SIX_SPEED]),
        far_corner_mps=float(out[FOUR_SPEED]),
        corner_wall=bool(out[SIX_WALL]),
        far_corner_wall=bool(out[FOUR_WALL]),
    ), int(frames)


def _way(touched: float, crossed_y: float) -> str:
    """Name how the neighbour went by the corner pin."""
    if touched:
        return INTO
    if math.isnan(crossed_y):
        return AWAY
    return FLAT if crossed_y < SPOTS[PINS - 1, 1] else AROUND


def pins_of(standing: int) -> tuple[int, ...]:
    """Return the numbers of the pins whose bits are set."""
    return tuple(n for n in range(1, PINS + 1) if standing >> (n - 1) & 1)
