"""The second opinion on the pins: the gate's cells in a general rigid-body engine (extra `tables`).

    python -m tests.studies.general_engine --racks 200 --out second.json

The same racks (pins, places, weights, throw) as the impulse solver's, the same profile as spheres,
the same restitution and friction, but another way to compute: penalty-like soft contacts of about a
millisecond, solved implicitly, at a step of an eighth of a millisecond. Restitution is set through
the contact's damping, for a spring that lets go when it would pull (``returned``); taken for one
that pulls to the end, it came out at 0.39 for 0.30 and 0.48 for 0.41. Between ball and pins the
step still adds up to 0.02, so what is asked for there is set by trial blows (``trimmed``). The
app never imports this.

Friction is laid on by hand. The engine's own is part of one convex problem, in which a contact
that slides must also open, in proportion to its slip: a pin that slides upright at 10 m/s,
which should stay on the deck, is thrown off it at 0.7 m/s, and a blow of 1 ms is over before its
slip is checked. So contacts are solved without friction, and each is then rubbed by Coulomb's law
with the normal force of the step before. ``--own-friction`` gives the engine's own back.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import os
import time
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import mujoco
import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.optimize import brentq

from lanes.motion.geometry import BALL_RADIUS_M, BOARD_M, GRAVITY, INCH_M
from lanes.pins.gate import CELLS, MASS_LB, SEED, SLIP_MPS, SPEED_MPH
from lanes.pins.impulse import Bodies
from lanes.pins.rack import BOARD_SD, CENTRE_BOARD, PINS, Hit, put_ball, set_rack
from lanes.pins.room import CUSHION, DECK_END, GUTTER_FLOOR, HALF_DECK, KICKBACK
from lanes.pins.shape import pin
from lanes.pins.solver import Materials

CONTACT_S = 0.001  # how long a blow lasts
STEP_S = 0.000125
LIMIT_S = 3.0
_SPHERES = (*range(0, 75, 5), *range(80, 121, 10))  # of the envelope's 121; close where pins touch
_LOOK_EVERY = 80  # steps
BELLY_M = 4.766 / 2.0 * INCH_M  # the pin's largest radius, 4-1/2 in up (pin specification)


def returned(damping: float) -> float:
    """Return the restitution of a damped spring that cannot pull (Schwager and Poeschel 2007)."""
    rest = math.sqrt(1.0 - damping**2)
    pressed = math.pi - math.atan2(2.0 * damping * rest, 1.0 - 2.0 * damping**2)
    return math.exp(-damping / rest * pressed)


def contact(bounce: float) -> str:
    """Return the engine's time constant and damping ratio for a restitution."""
    damping = float(brentq(lambda z: returned(z) - bounce, 1e-6, 0.95))
    slow = CONTACT_S / math.pi * math.sqrt(1.0 - damping**2)
    return f"{slow / damping:.6g} {damping:.6g}"


def model(m: Materials, step: float, own_friction: bool = False) -> mujoco.MjModel:
    """Return ball, ten pins, deck, gutters, kickbacks and cushion; bodies are placed later."""
    dim = 3 if own_friction else 1
    body = pin()
    ball = BALL_RADIUS_M
    long, deep = 1.0, 0.2
    room = (
        (f"0 {DECK_END - long} {-deep}", f"{HALF_DECK} {long} {deep}", "deck"),
        *(
            (
                f"{side * (HALF_DECK + KICKBACK) / 2} {DECK_END - long} {GUTTER_FLOOR - 0.1}",
                f"{(KICKBACK - HALF_DECK) / 2} {long} 0.1",
                "deck",
            )
            for side in (-1, 1)
        ),
        *((f"{side * (KICKBACK + 0.1)} 0.5 0", "0.1 1.5 0.61", "kickback") for side in (-1, 1)),
        (f"0 {CUSHION + 0.1} 0", "1 0.1 1", "cushion"),
    )
    walls = "".join(
        f'<geom class="{kind}" type="box" pos="{place}" size="{size}"/>'
        for place, size, kind in room
    )
    spheres = "".join(
        f'<geom class="pin" type="sphere" size="{body.radius[k]:.6g}" '
        f'pos="0 0 {body.centre[k] - body.cg:.6g}"/>'
        for k in _SPHERES
    )
    base = (
        f'<geom class="base" type="cylinder" size="{body.bearing:.6g} 0.005" '
        f'pos="0 0 {0.005 - body.cg:.6g}"/>'
    )
    across, about = body.mass * body.rho_across**2, body.mass * body.rho_axis**2
    pins = "".join(
        f'<body name="pin{n}" pos="0 0 {n}"><freejoint/><inertial pos="0 0 0" mass="{body.mass}" '
        f'diaginertia="{across} {across} {about}"/>{spheres}{base}</body>'
        for n in range(1, PINS + 1)
    )
    solid = 'solimp="0.99 0.99 0.001"'
    return mujoco.MjModel.from_xml_string(f"""
<mujoco>
 <option timestep="{step}" gravity="0 0 {-GRAVITY}" cone="elliptic" solver="Newton" iterations="30"
  integrator="Euler" impratio="3"/>
 <size memory="64M"/>
 <default>
  <default class="pin"><geom contype="1" conaffinity="7" condim="{dim}" priority="0" {solid}
   solref="{contact(m.bounce_pin_pin)}" friction="{m.friction_pin_pin} 0 0"/></default>
  <default class="base"><geom contype="8" conaffinity="0" condim="{dim}" {solid}/></default>
  <default class="ball"><geom contype="2" conaffinity="5" condim="{dim}" priority="1" {solid}
   solref="{contact(m.bounce_ball_pin)}" friction="{m.friction_ball_pin} 0 0"/></default>
  <default class="deck"><geom contype="4" conaffinity="11" condim="{dim}" priority="2" {solid}
   solref="{contact(m.bounce_pin_deck)}" friction="{m.friction_pin_deck} 0 0"/></default>
  <default class="kickback"><geom contype="4" conaffinity="3" condim="{dim}" priority="2" {solid}
   solref="{contact(m.bounce_kickback)}" friction="{m.friction_kickback} 0 0"/></default>
  <default class="cushion"><geom contype="4" conaffinity="3" condim="{dim}" priority="2" {solid}
   solref="{contact(m.bounce_cushion)}" friction="{m.friction_pin_deck} 0 0"/></default>
 </default>
 <worldbody>{walls}
  <body name="ball" pos="0 0 20"><freejoint/><inertial pos="0 0 0" mass="1"
   diaginertia="0.01 0.01 0.01"/><geom class="ball" type="sphere" size="{ball}"/></body>
  {pins}
 </worldbody>
</mujoco>""")


def tried(m: Materials, step: float, first: int) -> float:
    """Return the restitution of a blow at the belly of pin 2: by the ball (0), by pin 1 (1)."""
    mj = model(m, step)
    mj.opt.gravity[:] = 0.0
    start = set_rack(None, pin())
    put_ball(start, Hit(17.5, 5.0))
    for i in range(PINS + 1):
        set_body(mj, i, start)
    data = mujoco.MjData(mj)
    mujoco.mj_setConst(mj, data)
    for i in range(PINS + 1):
        data.qpos[7 * i : 7 * i + 4] = (5.0 + i, 0.0, 5.0, 1.0)
    belly = 4.5 * INCH_M - pin().cg
    reach = (BALL_RADIUS_M if first == 0 else BELLY_M) + BELLY_M + 0.002
    data.qpos[7 * first : 7 * first + 3] = (-reach, 0.0, 2.0 + (belly if first == 0 else 0.0))
    data.qpos[14:17] = (0.0, 0.0, 2.0)
    data.qvel[6 * first] = 6.0
    for _ in range(int(0.005 / step)):
        mujoco.mj_step(mj, data)
    ahead = data.qvel[12] + belly * data.qvel[16]
    behind = data.qvel[6 * first] + (belly * data.qvel[10] if first == 1 else 0.0)
    return float(ahead - behind) / 6.0


@cache
def trimmed(m: Materials, step: float) -> Materials:
    """Return what to ask for, so that ball and pins return what ``m`` says at this step."""
    ask = m
    for _ in range(3):
        ask = ask._replace(
            bounce_ball_pin=ask.bounce_ball_pin + m.bounce_ball_pin - tried(ask, step, 0),
            bounce_pin_pin=ask.bounce_pin_pin + m.bounce_pin_pin - tried(ask, step, 1),
        )
    return ask


def set_body(mj: mujoco.MjModel, i: int, start: Bodies) -> None:
    """Give body ``i`` the mass and moments it has in the solver."""
    across = 1.0 / start.inv_across[i]
    about = 1.0 / (start.inv_across[i] + start.inv_more[i])
    mj.body_mass[i + 1] = 1.0 / start.inv_mass[i]
    mj.body_inertia[i + 1] = sorted((across, across, about), reverse=True)


class Fixed(NamedTuple):
    """What of a model does not change while a rack falls."""

    body: NDArray[np.int32]  # of each geometry
    rank: NDArray[np.int32]  # of two geometries that touch, the higher one's friction rules
    friction: NDArray[np.float64]
    mass: NDArray[np.float64]  # of each body
    inertia: NDArray[np.float64]  # its largest
    step: float


def fixed(mj: mujoco.MjModel) -> Fixed:
    """Return what friction needs to know of a model."""
    return Fixed(
        mj.geom_bodyid.copy(), mj.geom_priority.copy(), mj.geom_friction[:, 0].copy(),
        mj.body_mass.copy(), mj.body_inertia.max(axis=1), mj.opt.timestep,
    )  # fmt: skip


@njit(cache=True)
def _rub(
    fixed: Any,
    geoms: Any,
    places: Any,
    frames: Any,
    rows: Any,
    pushes: Any,
    qpos: Any,
    qvel: Any,
    out: Any,
) -> None:
    """Fill ``out`` (bodies, 6) with friction's force and moment on each body, by Coulomb's law.

    Never more than what would stop the slip within the step, shared among a pair's contacts.
    """
    mass, inertia, step = fixed.mass, fixed.inertia, fixed.step
    bodies = np.zeros((len(rows), 2), np.int64)
    forces, frictions = np.zeros(len(rows)), np.zeros(len(rows))
    for k in range(len(rows)):
        one, two = geoms[k, 0], geoms[k, 1]
        bodies[k, 0], bodies[k, 1] = fixed.body[one], fixed.body[two]
        forces[k] = pushes[rows[k]] if rows[k] >= 0 else 0.0
        frictions[k] = fixed.friction[two if fixed.rank[two] > fixed.rank[one] else one]
    out[:] = 0.0
    arm, velocity = np.zeros((2, 3)), np.zeros((2, 3))
    turn = np.zeros((len(mass), 3))
    for b in range(1, len(mass)):
        p, v = 7 * (b - 1), 6 * (b - 1)
        w, x, y, z = qpos[p + 3], qpos[p + 4], qpos[p + 5], qpos[p + 6]
        a, b1, c = qvel[v + 3], qvel[v + 4], qvel[v + 5]
        # The engine tells spins in the body's frame.
        tx, ty, tz = 2 * (y * c - z * b1), 2 * (z * a - x * c), 2 * (x * b1 - y * a)
        turn[b, 0] = a + w * tx + y * tz - z * ty
        turn[b, 1] = b1 + w * ty + z * tx - x * tz
        turn[b, 2] = c + w * tz + x * ty - y * tx
    for k in range(len(forces)):
        if forces[k] <= 0.0:
            continue
        n = frames[k, :3].copy()
        share = 0
        for q in range(len(forces)):
            if forces[q] > 0.0 and bodies[q, 0] == bodies[k, 0] and bodies[q, 1] == bodies[k, 1]:
                share += 1
        ease = 0.0
        for side in range(2):
            b = bodies[k, side]
            velocity[side] = 0.0
            if b == 0:
                continue
            arm[side] = places[k] - qpos[7 * (b - 1) : 7 * (b - 1) + 3]
            velocity[side] = qvel[6 * (b - 1) : 6 * (b - 1) + 3] + np.cross(turn[b], arm[side])
            ease += 1.0 / mass[b] + (arm[side] @ arm[side]) / inertia[b]
        slip = velocity[1] - velocity[0]
        slip = slip - (slip @ n) * n
        speed = math.sqrt(slip @ slip)
        if speed < 1e-9:
            continue
        rub = min(frictions[k] * forces[k], speed / (ease * share * step)) / speed * slip
        for side in range(2):
            b = bodies[k, side]
            sign = 1.0 if side == 0 else -1.0
            if b > 0:
                out[b, :3] += sign * rub
                out[b, 3:] += sign * np.cross(arm[side], rub)


def rub(still: Fixed, data: mujoco.MjData) -> None:
    """Lay friction on all contacts, as a force from outside for the next step."""
    found = data.contact
    _rub(
        still, found.geom, found.pos, found.frame, found.efc_address, data.efc_force, data.qpos,
        data.qvel, data.xfrc_applied,
    )  # fmt: skip


def rack(
    mj: mujoco.MjModel, hit: Hit, seed: tuple[int, int] | None, own_friction: bool = False
) -> tuple[int, float, float]:
    """Run one rack; return (bits standing, deck exit board or nan, seconds)."""
    rng = None if seed is None else np.random.default_rng(seed)
    start = set_rack(rng, pin())
    put_ball(start, hit, 0.0 if rng is None else BOARD_SD * rng.standard_normal(2)[0])
    for i in range(PINS + 1):
        set_body(mj, i, start)
    data = mujoco.MjData(mj)
    mujoco.mj_setConst(mj, data)
    for i in range(PINS + 1):
        data.qpos[7 * i : 7 * i + 3] = start.r[i]
        data.qpos[7 * i + 3 : 7 * i + 7] = (1.0, 0.0, 0.0, 0.0)
    data.qvel[:3], data.qvel[3:6] = start.v[0], start.w[0]
    exit_board = float("nan")
    y = start.r[0, 1]
    gone = False
    cg = pin().cg
    standing = 1023
    steps = int(LIMIT_S / mj.opt.timestep)
    still = fixed(mj)
    for k in range(steps):
        mujoco.mj_step(mj, data)
        if not own_friction:
            rub(still, data)
        if not gone:
            new_x, new_y = data.qpos[0], data.qpos[1]
            if y < DECK_END <= new_y and abs(new_x) < HALF_DECK:
                exit_board = CENTRE_BOARD - new_x / BOARD_M
            y = new_y
            gone = y > DECK_END + 0.1
        if k % _LOOK_EVERY == 0:
            standing = 0
            energy = 0.0
            for n in range(1, PINS + 1):
                z = data.qpos[7 * n + 2]
                up = 1.0 - 2.0 * (data.qpos[7 * n + 4] ** 2 + data.qpos[7 * n + 5] ** 2)
                if z < -0.2 or (data.qpos[7 * n + 1] > DECK_END + 0.06 and z < -0.03):
                    continue
                upright = up > 0.9 and z > 0.12
                standing |= int(upright) << (n - 1)
                speed = data.qvel[6 * n : 6 * n + 3]
                spin = data.qvel[6 * n + 3 : 6 * n + 6]
                height = max(z - (cg if upright else 0.057), 0.0)
                energy += 0.5 * pin().mass * float(speed @ speed) + pin().mass * GRAVITY * height
                energy += 0.5 * pin().mass * pin().rho_across ** 2 * float(spin @ spin)
            if gone and (standing == 0 or energy < 0.03):
                break
    return standing, exit_board, k * mj.opt.timestep


def _job(job: tuple[int, int, bool, float, Materials]) -> tuple[int, int, int, float]:
    cell, index, own, step, materials = job
    if (key := (step, materials, own)) not in _MODELS:
        _MODELS[key] = model(materials if own else trimmed(materials, step), step, own)
    board, angle = CELLS[cell]
    hit = Hit(board, angle, SPEED_MPH, SLIP_MPS, MASS_LB)
    standing, exit_board, _seconds = rack(_MODELS[key], hit, (SEED, index), own)
    return cell, index, standing, exit_board


_MODELS: dict[Any, mujoco.MjModel] = {}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--racks", type=int, default=200)
    parser.add_argument("--of", type=int, default=2000, help="racks a cell in the gate's numbering")
    parser.add_argument("--step", type=float, default=STEP_S)
    parser.add_argument("--seconds", type=float, default=1e9, help="stop starting racks after this")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--materials", default="{}", help="JSON of what differs from the default")
    parser.add_argument("--own-friction", action="store_true", help="the engine's own friction")
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    materials = Materials()._replace(**json.loads(options.materials))
    jobs = [
        (cell, cell * options.of + k, options.own_friction, options.step, materials)
        for k in range(options.racks)
        for cell in range(len(CELLS))
    ]
    began = time.monotonic()
    rows = []
    with multiprocessing.get_context("fork").Pool(options.processes) as pool:
        for row in pool.imap(_job, jobs):
            rows.append(row)
            if time.monotonic() - began > options.seconds:
                pool.terminate()
                break
    took = time.monotonic() - began
    np.save(options.out, np.array(rows))
    rate = len(rows) / took / options.processes
    print(f"{len(rows)} racks, {rate:.2f} a second and process")


if __name__ == "__main__":
    main()
