"""A third opinion on the pins: springs and dry friction, stepped in hundredths of a millisecond.

    python -m tests.studies.compliant --racks 20 --out third.npy

Nothing here is solved at once and nothing is rigid. Each contact is a spring that is stiffer on the
way out than on the way in (stiffness ``k`` and ``k / e^2``), so it gives back the share ``e^2`` of
the work put in, whatever the masses and however eccentric the blow: Stronge's restitution by energy
(Impact Mechanics, 2000). Friction is Coulomb's. Ball, pin and deck push on each other at the same
time if they touch at the same time, and who gives way follows from the stiffnesses. Shape, room and
racks are the solver's. Slow, about a rack in one to three seconds; the app never imports this.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import os
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numba import njit

from lanes.motion.geometry import BALL_RADIUS_M, BOARD_M, GRAVITY
from lanes.pins.gate import CELLS, MASS_LB, SEED, SLIP_MPS, SPEED_MPH
from lanes.pins.impulse import Bodies, kinetic
from lanes.pins.rack import BOARD_SD, CENTRE_BOARD, SHAPE, Hit, put_ball, set_rack
from lanes.pins.room import (
    DECK_END,
    GUTTER_FLOOR,
    HALF_DECK,
    KICKBACK,
    clear,
    sphere_room_gap,
)
from lanes.pins.shape import pin
from lanes.pins.solver import MATERIALS, Materials, _finished, _turn
from lanes.pins.touch import axes_apart, pin_to_pin, point_to_pin

STEP_S = 1e-5
LIMIT_S = 3.0
RING = 12  # points of the bearing ring
_ROOM = RING + 8  # slots of a pin's contacts with the room: ring, four surfaces by two halves


class Springs(NamedTuple):
    """Stiffness on the way in, N/m. A blow of ball on pin lasts about a millisecond (assumed)."""

    ball_pin: float = MATERIALS.stiff_ball_pin
    pin_pin: float = MATERIALS.stiff_pin_pin
    pin_deck: float = MATERIALS.stiff_deck
    ball_deck: float = 1.0e7
    wall: float = 1.0e7


SPRINGS = Springs()


@njit(cache=True, error_model="numpy")
def _ease(bodies, i, arm, d):
    tx, ty, tz = (
        arm[1] * d[2] - arm[2] * d[1],
        arm[2] * d[0] - arm[0] * d[2],
        arm[0] * d[1] - arm[1] * d[0],
    )
    a = bodies.axis[i]
    about = a[0] * tx + a[1] * ty + a[2] * tz
    return (
        bodies.inv_mass[i]
        + bodies.inv_across[i] * (tx * tx + ty * ty + tz * tz)
        + bodies.inv_more[i] * about * about
    )


@njit(cache=True, error_model="numpy")
def _kick(bodies, i, arm, px, py, pz):
    tx, ty, tz = arm[1] * pz - arm[2] * py, arm[2] * px - arm[0] * pz, arm[0] * py - arm[1] * px
    a = bodies.axis[i]
    about = (a[0] * tx + a[1] * ty + a[2] * tz) * bodies.inv_more[i]
    m, k = bodies.inv_mass[i], bodies.inv_across[i]
    v, w = bodies.v[i], bodies.w[i]
    v[0] += m * px
    v[1] += m * py
    v[2] += m * pz
    w[0] += k * tx + about * a[0]
    w[1] += k * ty + about * a[1]
    w[2] += k * tz + about * a[2]


@njit(cache=True, error_model="numpy")
def _slide(bodies, i, j, n, arm1, arm2, d):
    """Write the direction of slip of body i over j; return its speed."""
    v, w = bodies.v[i], bodies.w[i]
    x = v[0] + w[1] * arm1[2] - w[2] * arm1[1]
    y = v[1] + w[2] * arm1[0] - w[0] * arm1[2]
    z = v[2] + w[0] * arm1[1] - w[1] * arm1[0]
    if j >= 0:
        v, w = bodies.v[j], bodies.w[j]
        x -= v[0] + w[1] * arm2[2] - w[2] * arm2[1]
        y -= v[1] + w[2] * arm2[0] - w[0] * arm2[2]
        z -= v[2] + w[0] * arm2[1] - w[1] * arm2[0]
    along = x * n[0] + y * n[1] + z * n[2]
    x -= along * n[0]
    y -= along * n[1]
    z -= along * n[2]
    speed = math.sqrt(x * x + y * y + z * z)
    if speed > 1e-12:
        d[0], d[1], d[2] = x / speed, y / speed, z / speed
    return speed


@njit(cache=True, error_model="numpy")
def _spring(bodies, i, j, n, arm1, arm2, depth, k, bounce, friction, deepest, dt, d):
    """Push bodies i and j (-1: the room) apart for a step; return (new deepest, impulse, drag)."""
    deepest = max(deepest, depth)
    hard = k / (bounce * bounce)
    force = min(k * depth, k * deepest - hard * (deepest - depth))
    if force <= 0.0:
        return deepest, 0.0, 0.0
    push = force * dt
    _kick(bodies, i, arm1, push * n[0], push * n[1], push * n[2])
    if j >= 0:
        _kick(bodies, j, arm2, -push * n[0], -push * n[1], -push * n[2])
    speed = _slide(bodies, i, j, n, arm1, arm2, d)
    drag = 0.0
    if speed > 1e-9:
        ease = _ease(bodies, i, arm1, d)
        if j >= 0:
            ease += _ease(bodies, j, arm2, d)
        drag = min(friction * push, speed / ease)
        _kick(bodies, i, arm1, -drag * d[0], -drag * d[1], -drag * d[2])
        if j >= 0:
            _kick(bodies, j, arm2, drag * d[0], drag * d[1], drag * d[2])
    return deepest, push, drag


@njit(cache=True, error_model="numpy")
def _ring(bodies, i, shape, m, s, dt, deep, arm, n, d, got):
    """The bearing ring on the deck, its edge, or the gutter's floor; fixed points of the pin."""
    ax, ay, az = bodies.axis[i, 0], bodies.axis[i, 1], bodies.axis[i, 2]
    n[0], n[1], n[2] = 0.0, 0.0, 1.0
    for p in range(RING):
        c, t = math.cos(2.0 * math.pi * p / RING), math.sin(2.0 * math.pi * p / RING)
        # The upright ring's point, turned with the axis by the shortest way.
        dot = (ax * c + ay * t) / (1.0 + az)
        arm[0] = shape.bearing * (c - ax * dot) - shape.cg * ax
        arm[1] = shape.bearing * (t - ay * dot) - shape.cg * ay
        arm[2] = shape.bearing * (-(ax * c + ay * t)) - shape.cg * az
        x, y, z = bodies.r[i, 0] + arm[0], bodies.r[i, 1] + arm[1], bodies.r[i, 2] + arm[2]
        floor = 0.0
        if y > DECK_END:
            deep[p] = 0.0
            continue
        if abs(x) > HALF_DECK:
            floor = GUTTER_FLOOR
        depth = floor - z
        if depth <= 0.0 or depth > 0.01:
            deep[p] = 0.0
            continue
        deep[p], push, _drag = _spring(
            bodies, i, -1, n, arm, arm, depth, s.pin_deck / (RING / 4), m.bounce_pin_deck,
            m.friction_pin_deck, deep[p], dt, d,
        )  # fmt: skip
        got[i] += push


@njit(cache=True, error_model="numpy")
def _room(bodies, i, shape, m, s, dt, deep, arm, n, d, got):
    x, y, z = bodies.r[i, 0], bodies.r[i, 1], bodies.r[i, 2]
    ax, ay, az = bodies.axis[i, 0], bodies.axis[i, 1], bodies.axis[i, 2]
    if az > 0.5:
        _ring(bodies, i, shape, m, s, dt, deep, arm, n, d, got)
    for surface in range(4):
        if surface <= 1 and not (abs(az) < 0.97 and z < 0.25):
            continue
        if surface == 1 and abs(x) < HALF_DECK - 0.22:
            continue
        if surface == 2 and abs(x) < KICKBACK - 0.3:
            continue
        bounce, friction, k = m.bounce_pin_deck, m.friction_pin_deck, s.pin_deck
        if surface == 2:
            bounce, friction, k = m.bounce_kickback, m.friction_kickback, s.wall
        elif surface == 3:
            bounce, k = m.bounce_cushion, s.wall
        for half in range(2):
            best, best_k = 0.0, -1
            slot = RING + 2 * surface + half
            for q in range(60 * half, 60 * half + 61, 3):
                h = shape.centre[q] - shape.cg
                gap = sphere_room_gap(
                    x + h * ax, y + h * ay, z + h * az, shape.radius[q], surface, n
                )
                if gap < best:
                    best, best_k = gap, q
            if best_k < 0 or best < -0.03:
                deep[slot] = 0.0
                continue
            h, r = shape.centre[best_k] - shape.cg, shape.radius[best_k]
            sphere_room_gap(x + h * ax, y + h * ay, z + h * az, r, surface, n)
            arm[0], arm[1], arm[2] = h * ax - r * n[0], h * ay - r * n[1], h * az - r * n[2]
            deep[slot], push, _drag = _spring(
                bodies, i, -1, n, arm, arm, -best, k, bounce, friction, deep[slot], dt, d
            )
            got[i] += push


@njit(cache=True, error_model="numpy")
def run(bodies, shape, ball_radius, m, s, dt, limit, blows, log):
    """Step to the end; return (standing, exit x, seconds, blows logged).

    ``blows`` (11, 11) gets when each pair first touched. ``log`` (rows, 21) gets each pair's first
    blows in the layout of the solver's log, written when the pair parts.
    """
    count = bodies.r.shape[0]
    gone, awake = np.zeros(count, np.bool_), np.zeros(count, np.bool_)
    awake[0] = True
    for i in range(1, count):
        if bodies.axis[i, 2] < 1.0 - 1e-9:
            awake[i] = True
        for k in range(3):
            if bodies.v[i, k] != 0.0 or bodies.w[i, k] != 0.0:
                awake[i] = True
    deep = np.zeros((count, count))
    room = np.zeros((count, _ROOM))
    ball_room = np.zeros(3)
    look_at = np.zeros((count, count))
    room_at = np.zeros(count)
    begun = np.full((count, count), -1.0)
    total = np.zeros((count, count, 3))
    got = np.zeros(count)
    n, d, arm1, arm2 = np.zeros(3), np.zeros(3), np.zeros(3), np.zeros(3)
    below, above = shape.cg - shape.centre[0], shape.centre[-1] - shape.cg
    exit_x = np.nan
    blows[:] = -1.0
    logged = 0
    now = 0.0
    step = 0
    standing = 1023
    fastest = 0.0
    while now < limit:
        if step % 10 == 0:
            fastest = 0.0
            for i in range(count):
                if awake[i] and not gone[i]:
                    v = w = 0.0
                    for k in range(3):
                        v += bodies.v[i, k] ** 2
                        w += bodies.w[i, k] ** 2
                    fastest = max(fastest, math.sqrt(v) + (0.24 * math.sqrt(w) if i > 0 else 0.0))
            fastest = 3.0 * fastest + 1.0
        for i in range(count - 1):
            if gone[i]:
                continue
            for j in range(i + 1, count):
                if gone[j] or not (awake[i] or awake[j]) or look_at[i, j] > now:
                    continue
                if i == 0:
                    gap = (
                        point_to_pin(bodies.r[0], bodies.r[j], bodies.axis[j], shape, n)
                        - ball_radius
                    )
                    radius, height = ball_radius, 0.0
                else:
                    gap = (
                        axes_apart(
                            bodies.r[i], bodies.axis[i], bodies.r[j], bodies.axis[j], below, above
                        )
                        - 2.0 * shape.fattest
                    )
                    radius = height = 0.0
                    if gap < 0.005:
                        gap, radius, height = pin_to_pin(
                            bodies.r[i], bodies.axis[i], bodies.r[j], bodies.axis[j], shape, n
                        )
                if gap > 0.0:
                    if deep[i, j] > 0.0 and logged < log.shape[0]:
                        row = log[logged]
                        row[0], row[1], row[2] = begun[i, j], i, j
                        for k in range(3):
                            row[3 + k] = total[i, j, k]
                            row[6 + k] = bodies.r[i, k]
                            row[9 + k], row[12 + k] = bodies.v[i, k], bodies.w[i, k]
                            row[15 + k], row[18 + k] = bodies.v[j, k], bodies.w[j, k]
                        logged += 1
                    deep[i, j] = 0.0
                    begun[i, j] = -1.0
                    look_at[i, j] = now + 0.9 * gap / fastest
                    continue
                if begun[i, j] < 0.0:
                    begun[i, j] = now
                    total[i, j, :] = 0.0
                    if blows[i, j] < 0.0:
                        blows[i, j] = now
                awake[i] = awake[j] = True
                for k in range(3):
                    arm1[k] = height * bodies.axis[i, k] - (radius + 0.5 * gap) * n[k]
                    arm2[k] = bodies.r[i, k] + arm1[k] - bodies.r[j, k]
                stiff, bounce, friction = s.pin_pin, m.bounce_pin_pin, m.friction_pin_pin
                if i == 0:
                    stiff, bounce, friction = s.ball_pin, m.bounce_ball_pin, m.friction_ball_pin
                deep[i, j], push, drag = _spring(
                    bodies, i, j, n, arm1, arm2, -gap, stiff, bounce, friction, deep[i, j], dt, d
                )
                for k in range(3):
                    total[i, j, k] += push * n[k] - drag * d[k]
        for i in range(1, count):
            if awake[i] and not gone[i] and room_at[i] <= now:
                _room(bodies, i, shape, m, s, dt, room[i], arm1, n, d, got)
                free = clear(bodies, i, shape)
                if free > 0.002:
                    room_at[i] = now + 0.9 * free / fastest
        if not gone[0]:
            for surface in range(3):
                gap = sphere_room_gap(
                    bodies.r[0, 0], bodies.r[0, 1], bodies.r[0, 2], ball_radius, surface, n
                )
                if gap >= 0.0:
                    ball_room[surface] = 0.0
                    continue
                for k in range(3):
                    arm1[k] = -ball_radius * n[k]
                friction = m.friction_kickback if surface == 2 else m.friction_ball_deck
                ball_room[surface], _p, _q = _spring(
                    bodies, 0, -1, n, arm1, arm1, -gap, s.ball_deck, m.bounce_ball_deck, friction,
                    ball_room[surface], dt, d,
                )  # fmt: skip
        was_x, was_y = bodies.r[0, 0], bodies.r[0, 1]
        for i in range(count):
            if awake[i] and not gone[i]:
                bodies.v[i, 2] -= GRAVITY * dt
                for k in range(3):
                    bodies.r[i, k] += dt * bodies.v[i, k]
                _turn(bodies, i, bodies.w[i], dt)
        now += dt
        step += 1
        if not gone[0]:
            x, y = bodies.r[0, 0], bodies.r[0, 1]
            if was_y < DECK_END <= y and abs(x) < HALF_DECK:
                exit_x = was_x
            if y > DECK_END + ball_radius or bodies.r[0, 2] < -0.25:
                gone[0] = True
        if step % 100 == 0:
            for i in range(1, count):
                if awake[i] and not gone[i]:
                    r = bodies.r[i]
                    behind = r[1] > DECK_END + 0.06 and r[2] < -0.03
                    if r[2] < -0.25 or behind or abs(r[0]) > 1.0:
                        gone[i] = True
                    elif bodies.axis[i, 2] > 0.99995 and kinetic(bodies, i) < 0.0002:
                        awake[i] = abs(r[2] - shape.cg) > 0.0005
                        if not awake[i]:
                            bodies.v[i], bodies.w[i] = 0.0, 0.0
                            bodies.axis[i, 0] = bodies.axis[i, 1] = 0.0
                            bodies.axis[i, 2] = 1.0
                            r[2] = shape.cg
            if gone[0]:
                done, standing = _finished(bodies, gone, awake, shape.cg)
                if done:
                    break
    return standing, exit_x, now, logged


def rack(
    hit: Hit,
    seed: tuple[int, ...] | None,
    m: Materials = MATERIALS,
    s: Springs = SPRINGS,
    step: float = STEP_S,
    limit: float = LIMIT_S,
    log: int = 0,
):
    """Run one rack; return (bits standing, deck exit board or nan, seconds, log of blows)."""
    rng = None if seed is None else np.random.default_rng(seed)
    bodies: Bodies = set_rack(rng, pin())
    put_ball(bodies, hit, 0.0 if rng is None else BOARD_SD * rng.standard_normal(2)[0])
    rows = np.zeros((log, 21))
    standing, exit_x, seconds, logged = run(
        bodies, SHAPE, BALL_RADIUS_M, m, s, step, limit, np.zeros((11, 11)), rows
    )
    return standing, CENTRE_BOARD - exit_x / BOARD_M, seconds, rows[:logged]


def _job(job):
    cell, index, materials, springs, step = job
    board, angle = CELLS[cell]
    hit = Hit(board, angle, SPEED_MPH, SLIP_MPS, MASS_LB)
    standing, exit_board, _, _ = rack(hit, (SEED, index), materials, springs, step)
    return cell, index, standing, exit_board


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--racks", type=int, default=20)
    parser.add_argument("--of", type=int, default=2000, help="racks a cell in the gate's numbering")
    parser.add_argument("--cells", type=int, nargs="*", default=range(len(CELLS)))
    parser.add_argument("--seconds", type=float, default=1e9, help="stop starting racks after this")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    jobs = [
        (cell, cell * options.of + k, MATERIALS, SPRINGS, STEP_S)
        for k in range(options.racks)
        for cell in options.cells
    ]
    began = time.monotonic()
    rows = []
    with multiprocessing.get_context("fork").Pool(options.processes) as pool:
        for row in pool.imap(_job, jobs):
            rows.append(row)
            if time.monotonic() - began > options.seconds:
                pool.terminate()
                break
    np.save(options.out, np.array(rows))
    print(f"{len(rows)} racks in {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
