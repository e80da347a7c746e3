"""Impulses at the contacts of one step: Newton's restitution and Coulomb's friction.

All contacts of a step are solved together by projected Gauss-Seidel sweeps. Energy cannot rise: if
the impulses of a step would add kinetic energy, which Newton's rule can do where friction acts on
an eccentric blow, they are scaled back to where they add none. Compiled with numba; SI units.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .compiled import inner

MOST_CONTACTS = 128
SWEEPS = 12
_SLOWEST_BOUNCE = 0.05  # m/s; slower contacts rest instead of bouncing
_SETTLED = 1e-4  # m/s; a contact is solved again once a change beyond this reaches it


class Bodies(NamedTuple):
    """The ball (row 0) and the pins: places, velocities, spins, axes, and inverse masses.

    A body has moment ``1/inv_across`` across its axis and ``1/(inv_across + inv_more)`` about it.
    """

    r: NDArray[np.float64]
    v: NDArray[np.float64]
    w: NDArray[np.float64]
    axis: NDArray[np.float64]
    inv_mass: NDArray[np.float64]
    inv_across: NDArray[np.float64]
    inv_more: NDArray[np.float64]


class Contacts(NamedTuple):
    """One step's contacts. The normal points from ``second`` (or the room, -1) to ``first``.

    ``depth`` is the overlap (negative: the gap) at the moment the contact is looked at.
    """

    first: NDArray[np.int64]
    second: NDArray[np.int64]
    normal: NDArray[np.float64]
    arm1: NDArray[np.float64]
    arm2: NDArray[np.float64]
    bounce: NDArray[np.float64]
    friction: NDArray[np.float64]
    when: NDArray[np.float64]
    push: NDArray[np.float64]
    drag: NDArray[np.float64]
    depth: NDArray[np.float64]


def no_bodies(count: int) -> Bodies:
    """Return ``count`` bodies at rest at the origin, axes upright, of infinite mass."""
    axis = np.zeros((count, 3))
    axis[:, 2] = 1.0
    three = [np.zeros((count, 3)) for _ in range(3)]
    one = [np.zeros(count) for _ in range(3)]
    return Bodies(three[0], three[1], three[2], axis, one[0], one[1], one[2])


def no_contacts() -> Contacts:
    """Return an empty list of contacts."""
    n = MOST_CONTACTS
    three = [np.zeros((n, 3)) for _ in range(4)]
    one = [np.zeros(n) for _ in range(5)]
    return Contacts(
        np.zeros(n, np.int64),
        np.full(n, -1, np.int64),
        three[0],
        three[1],
        three[2],
        one[0],
        one[1],
        one[2],
        one[3],
        three[3],
        one[4],
    )


@inner
def velocity_at(bodies, i, arm, c):
    """Return the velocity of the point that row ``c`` of ``arm`` is away from body ``i``."""
    x, y, z = arm[c, 0], arm[c, 1], arm[c, 2]
    wx, wy, wz = bodies.w[i, 0], bodies.w[i, 1], bodies.w[i, 2]
    return (
        bodies.v[i, 0] + wy * z - wz * y,
        bodies.v[i, 1] + wz * x - wx * z,
        bodies.v[i, 2] + wx * y - wy * x,
    )


@inner
def relative(bodies, contacts, c):
    """Return the velocity of contact ``c``'s first body over its second, where they touch."""
    x, y, z = velocity_at(bodies, contacts.first[c], contacts.arm1, c)
    j = contacts.second[c]
    if j >= 0:
        x2, y2, z2 = velocity_at(bodies, j, contacts.arm2, c)
        x -= x2
        y -= y2
        z -= z2
    return x, y, z


@inner
def _ease_of(bodies, i, arm, c, dx, dy, dz):
    """Return how much one unit of impulse along a direction speeds up the touching point."""
    x, y, z = arm[c, 0], arm[c, 1], arm[c, 2]
    tx, ty, tz = y * dz - z * dy, z * dx - x * dz, x * dy - y * dx
    about = bodies.axis[i, 0] * tx + bodies.axis[i, 1] * ty + bodies.axis[i, 2] * tz
    return (
        bodies.inv_mass[i]
        + bodies.inv_across[i] * (tx * tx + ty * ty + tz * tz)
        + bodies.inv_more[i] * about * about
    )


@inner
def _strike(bodies, i, arm, c, px, py, pz):
    """Give body ``i`` an impulse at row ``c`` of ``arm``."""
    x, y, z = arm[c, 0], arm[c, 1], arm[c, 2]
    m, k = bodies.inv_mass[i], bodies.inv_across[i]
    tx, ty, tz = y * pz - z * py, z * px - x * pz, x * py - y * px
    ax, ay, az = bodies.axis[i, 0], bodies.axis[i, 1], bodies.axis[i, 2]
    about = (ax * tx + ay * ty + az * tz) * bodies.inv_more[i]
    bodies.v[i, 0] += m * px
    bodies.v[i, 1] += m * py
    bodies.v[i, 2] += m * pz
    bodies.w[i, 0] += k * tx + about * ax
    bodies.w[i, 1] += k * ty + about * ay
    bodies.w[i, 2] += k * tz + about * az


@inner
def strike_both(bodies, contacts, c, px, py, pz):
    _strike(bodies, contacts.first[c], contacts.arm1, c, px, py, pz)
    if contacts.second[c] >= 0:
        _strike(bodies, contacts.second[c], contacts.arm2, c, -px, -py, -pz)


@inner
def ease_along(bodies, contacts, c, x, y, z):
    ease = _ease_of(bodies, contacts.first[c], contacts.arm1, c, x, y, z)
    if contacts.second[c] >= 0:
        ease += _ease_of(bodies, contacts.second[c], contacts.arm2, c, x, y, z)
    return ease


@inner
def kinetic(bodies, i):
    """Return a body's kinetic energy in joules."""
    across = 1.0 / bodies.inv_across[i]
    about = 1.0 / (bodies.inv_across[i] + bodies.inv_more[i])
    spin = square = speed = 0.0
    for k in range(3):
        spin += bodies.axis[i, k] * bodies.w[i, k]
        square += bodies.w[i, k] ** 2
        speed += bodies.v[i, k] ** 2
    return 0.5 * (speed / bodies.inv_mass[i] + across * square + (about - across) * spin * spin)


@inner
def solve(bodies, contacts, count, touched, before_v, before_w, aim, ease, last_change):
    """Solve ``count`` contacts in place; return whether the impulses had to be scaled back.

    ``touched`` (bodies,) is filled with which bodies took part; ``before_v`` and ``before_w`` keep
    their velocities from before. ``aim`` and ``ease`` are work space of the contacts' length,
    ``last_change`` of the bodies'.
    """
    touched[:] = False
    for c in range(count):
        nx, ny, nz = contacts.normal[c, 0], contacts.normal[c, 1], contacts.normal[c, 2]
        x, y, z = relative(bodies, contacts, c)
        closing = x * nx + y * ny + z * nz
        aim[c] = -contacts.bounce[c] * closing if closing < -_SLOWEST_BOUNCE else 0.0
        ease[c] = ease_along(bodies, contacts, c, nx, ny, nz)
        touched[contacts.first[c]] = True
        if contacts.second[c] >= 0:
            touched[contacts.second[c]] = True
        contacts.push[c] = 0.0
        contacts.drag[c, 0] = contacts.drag[c, 1] = contacts.drag[c, 2] = 0.0
    energy = 0.0
    for i in range(len(touched)):
        last_change[i] = 0
        if touched[i]:
            energy += kinetic(bodies, i)
            for k in range(3):
                before_v[i, k] = bodies.v[i, k]
                before_w[i, k] = bodies.w[i, k]
    for sweep in range(SWEEPS):
        for c in range(count):
            i, j = contacts.first[c], contacts.second[c]
            if last_change[i] < sweep - 1 and (j < 0 or last_change[j] < sweep - 1):
                continue  # nothing has moved at this contact since it was last solved
            nx, ny, nz = contacts.normal[c, 0], contacts.normal[c, 1], contacts.normal[c, 2]
            x, y, z = relative(bodies, contacts, c)
            opening = x * nx + y * ny + z * nz
            push = max(contacts.push[c] + (aim[c] - opening) / ease[c], 0.0)
            step = push - contacts.push[c]
            if push == 0.0 and step == 0.0:
                continue
            contacts.push[c] = push
            strike_both(bodies, contacts, c, step * nx, step * ny, step * nz)
            change = abs(step) * ease[c]
            x, y, z = relative(bodies, contacts, c)
            opening = x * nx + y * ny + z * nz
            x -= opening * nx
            y -= opening * ny
            z -= opening * nz
            speed = math.sqrt(x * x + y * y + z * z)
            fx, fy, fz = contacts.drag[c, 0], contacts.drag[c, 1], contacts.drag[c, 2]
            gx, gy, gz = -fx, -fy, -fz
            if speed > 1e-9:
                give = speed / ease_along(bodies, contacts, c, x / speed, y / speed, z / speed)
                fx -= x / speed * give
                fy -= y / speed * give
                fz -= z / speed * give
            most = contacts.friction[c] * push
            size = math.sqrt(fx * fx + fy * fy + fz * fz)
            if size > most:
                fx *= most / size
                fy *= most / size
                fz *= most / size
            contacts.drag[c, 0], contacts.drag[c, 1], contacts.drag[c, 2] = fx, fy, fz
            gx += fx
            gy += fy
            gz += fz
            strike_both(bodies, contacts, c, gx, gy, gz)
            change += (abs(gx) + abs(gy) + abs(gz)) * ease[c]
            if change > _SETTLED:
                last_change[i] = sweep
                if j >= 0:
                    last_change[j] = sweep
    return _hold_energy(bodies, touched, before_v, before_w, energy)


@inner
def _hold_energy(bodies, touched, before_v, before_w, energy):
    """Scale the step's change of velocities back to where it adds no energy; return whether it did.

    Along the change the energy is a parabola, ``energy + slope k + bend k^2`` at the share ``k``.
    """
    after = 0.0
    for i in range(len(touched)):
        if touched[i]:
            after += kinetic(bodies, i)
    if after <= energy * (1.0 + 1e-12) + 1e-15:
        return False
    for i in range(len(touched)):
        if touched[i]:
            for k in range(3):
                bodies.v[i, k] -= before_v[i, k]
                bodies.w[i, k] -= before_w[i, k]
    bend = 0.0
    for i in range(len(touched)):
        if touched[i]:
            bend += kinetic(bodies, i)
    slope = after - energy - bend
    share = min(max(-slope / bend, 0.0), 1.0) if bend > 0.0 else 0.0
    for i in range(len(touched)):
        if touched[i]:
            for k in range(3):
                bodies.v[i, k] = before_v[i, k] + share * bodies.v[i, k]
                bodies.w[i, k] = before_w[i, k] + share * bodies.w[i, k]
    return True
