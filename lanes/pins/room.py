"""Where ball and pins touch the room: deck, its edges, gutters, kickbacks and cushion.

Compiled with numba; used by the solver only. Frame and units as in ``touch``.
"""

from __future__ import annotations

import math

from lanes.motion.geometry import (
    DECK_EXIT_FT,
    GUTTER_WIDTH_IN,
    HEAD_PIN_CENTRE_FT,
    INCH_M,
    LANE_WIDTH_IN,
)

from .compiled import inner
from .impulse import MOST_CONTACTS

HALF_DECK = LANE_WIDTH_IN / 2.0 * INCH_M
DECK_END = (DECK_EXIT_FT - HEAD_PIN_CENTRE_FT) * 12.0 * INCH_M  # pit edge without tail plank
GUTTER_FLOOR = -1.875 * INCH_M  # the flat gutter beside the deck (lane specification)
KICKBACK = HALF_DECK + GUTTER_WIDTH_IN * INCH_M
KICKBACK_TOP = 24.0 * INCH_M  # the high one of the specification
CUSHION = DECK_END + 30.0 * INCH_M  # assumed: no figure was found

SLACK = 0.0005  # m; overlap that is left alone
EASE_OUT = 0.1  # share of any more overlap that is undone in a step
REACH = 0.24  # m; from a pin's centre to its farthest skin, and a little
_RIM = 4  # points of the bearing ring that can touch the deck at once
_DEEPEST = 0.005  # m; a ring further down is beside the deck, not on it


@inner
def _room_contact(
    bodies, contacts, count, i, nx, ny, nz, px, py, pz, gap, bounce, friction, dt, reach
):
    """Append a contact of body ``i`` with the room, at a point, if it closes within half a step.

    With a ``reach`` (m) above nought, every point nearer than that is taken, for a blow that lasts.
    """
    ax, ay, az = px - bodies.r[i, 0], py - bodies.r[i, 1], pz - bodies.r[i, 2]
    wx, wy, wz = bodies.w[i, 0], bodies.w[i, 1], bodies.w[i, 2]
    closing = (
        nx * (bodies.v[i, 0] + wy * az - wz * ay)
        + ny * (bodies.v[i, 1] + wz * ax - wx * az)
        + nz * (bodies.v[i, 2] + wx * ay - wy * ax)
    )
    near = gap < reach if reach > 0.0 else gap + 0.5 * dt * closing < 0.0
    if not near or count >= MOST_CONTACTS - 1:
        return count
    contacts.depth[count] = -gap
    contacts.first[count] = i
    contacts.second[count] = -1
    contacts.bounce[count] = bounce
    contacts.friction[count] = friction
    contacts.when[count] = 0.0
    contacts.normal[count, 0], contacts.normal[count, 1], contacts.normal[count, 2] = nx, ny, nz
    contacts.arm1[count, 0], contacts.arm1[count, 1], contacts.arm1[count, 2] = ax, ay, az
    if gap < -SLACK and reach == 0.0:
        undo = EASE_OUT * (-gap - SLACK)
        bodies.r[i, 0] += undo * nx
        bodies.r[i, 1] += undo * ny
        bodies.r[i, 2] += undo * nz
    return count + 1


@inner
def _deck_gap(x, y, z, radius, n):
    """Return the gap of a sphere over the deck and its edges; ``n`` gets the unit normal."""
    cx = min(max(x, -HALF_DECK), HALF_DECK)
    cy = min(y, DECK_END)
    if cx == x and cy == y:
        n[0], n[1], n[2] = 0.0, 0.0, 1.0
        return z - radius
    dz = z if z > 0.0 else 0.0  # below the top it is the deck's side that is near
    size = math.sqrt((x - cx) ** 2 + (y - cy) ** 2 + dz * dz)
    n[0], n[1], n[2] = (x - cx) / size, (y - cy) / size, dz / size
    return size - radius


@inner
def sphere_in_room(
    bodies, contacts, count, i, x, y, z, radius, surface, bounce, friction, dt, reach, n
):
    """Try one sphere of body ``i`` on a surface: 0 deck, 1 gutter, 2 kickback, 3 cushion."""
    gap = sphere_room_gap(x, y, z, radius, surface, n)
    if gap > 0.02:
        return count
    px, py, pz = x - radius * n[0], y - radius * n[1], z - radius * n[2]
    return _room_contact(
        bodies, contacts, count, i, n[0], n[1], n[2], px, py, pz, gap, bounce, friction, dt, reach
    )


@inner
def sphere_room_gap(x, y, z, radius, surface, n):
    if surface == 0:
        return _deck_gap(x, y, z, radius, n)
    n[0], n[1], n[2] = 0.0, 0.0, 0.0
    if surface == 1:
        n[2] = 1.0
        outside = abs(x) > HALF_DECK and y < DECK_END
        return z - GUTTER_FLOOR - radius if outside and z > GUTTER_FLOOR else 1.0
    if surface == 2:
        n[0] = -1.0 if x > 0.0 else 1.0
        return KICKBACK - abs(x) - radius if z < KICKBACK_TOP else 1.0
    n[1] = -1.0
    return CUSHION - y - radius


@inner
def pin_in_room(bodies, contacts, count, i, shape, m, dt, reach, n):
    """Find a pin's contacts with deck, gutters, kickbacks and cushion."""
    x, y, z = bodies.r[i, 0], bodies.r[i, 1], bodies.r[i, 2]
    ax, ay, az = bodies.axis[i, 0], bodies.axis[i, 1], bodies.axis[i, 2]
    if az > 0.5 and z < shape.cg + 0.03:
        count = _ring_on_deck(bodies, contacts, count, i, shape, m, dt, reach)
    low = abs(az) < 0.97 and z < 0.25
    aside = abs(x) > KICKBACK - shape.cg - 0.12
    behind = y > CUSHION - 0.25
    if low and abs(x) < HALF_DECK - 0.24 and y < DECK_END - 0.24:
        count = _lying_on_deck(bodies, contacts, count, i, shape, m, dt, reach)
        low = False
    for surface in range(4):
        if surface <= 1 and not low:
            continue
        if surface == 1 and abs(x) < HALF_DECK - 0.22:
            continue
        if surface == 2 and not aside:
            continue
        if surface == 3 and not behind:
            continue
        bounce, friction = m.bounce_pin_deck, m.friction_pin_deck
        if surface == 2:
            bounce, friction = m.bounce_kickback, m.friction_kickback
        elif surface == 3:
            bounce = m.bounce_cushion
        for half in range(2):
            best = 0.02
            best_k = -1
            start = 0 if half == 0 else 60
            for k in range(start, start + 61, 10):
                h = shape.centre[k] - shape.cg
                gap = sphere_room_gap(
                    x + h * ax, y + h * ay, z + h * az, shape.radius[k], surface, n
                )
                if gap < best:
                    best = gap
                    best_k = k
            if best_k >= 0:
                h = shape.centre[best_k] - shape.cg
                count = sphere_in_room(
                    bodies, contacts, count, i,
                    x + h * ax, y + h * ay, z + h * az, shape.radius[best_k],
                    surface, bounce, friction, dt, reach, n,
                )  # fmt: skip
    return count


@inner
def clear(bodies, i, shape):
    """Return a distance that is surely free around a pin: to floor, kickbacks and cushion."""
    x, y, z = bodies.r[i, 0], bodies.r[i, 1], bodies.r[i, 2]
    down = z + min(-shape.cg * bodies.axis[i, 2], REACH * bodies.axis[i, 2])
    floor = 0.0 if abs(x) < HALF_DECK - REACH and y < DECK_END - REACH else GUTTER_FLOOR
    free = (
        down - shape.fattest if floor == 0.0 else z - REACH
    )  # at an edge the deck's side counts too
    return min(free, KICKBACK - abs(x) - REACH, CUSHION - y - REACH)


@inner
def _lying_on_deck(bodies, contacts, count, i, shape, m, dt, reach):
    """Find where the lower and the upper half of a pin touch the deck, well inside its edges."""
    x, y, z = bodies.r[i, 0], bodies.r[i, 1], bodies.r[i, 2]
    ax, ay, az = bodies.axis[i, 0], bodies.axis[i, 1], bodies.axis[i, 2]
    for half in range(2):
        best = 0.02
        best_k = -1
        for k in range(60 * half, 60 * half + 61, 10):
            gap = z + (shape.centre[k] - shape.cg) * az - shape.radius[k]
            if gap < best:
                best = gap
                best_k = k
        if best_k >= 0:
            h = shape.centre[best_k] - shape.cg
            count = _room_contact(
                bodies, contacts, count, i, 0.0, 0.0, 1.0, x + h * ax, y + h * ay,
                z + h * az - shape.radius[best_k], best, m.bounce_pin_deck, m.friction_pin_deck,
                dt, reach,
            )  # fmt: skip
    return count


@inner
def _ring_on_deck(bodies, contacts, count, i, shape, m, dt, reach):
    """Find where the bearing ring touches the deck, its edge or the gutter's floor."""
    ax, ay, az = bodies.axis[i, 0], bodies.axis[i, 1], bodies.axis[i, 2]
    bx = bodies.r[i, 0] - shape.cg * ax
    by = bodies.r[i, 1] - shape.cg * ay
    bz = bodies.r[i, 2] - shape.cg * az
    # Downhill in the base's plane; of an upright pin, the way it is about to lean.
    lean = math.hypot(ax, ay)
    if bz - shape.bearing * lean > 0.02:
        return count
    if lean > 1e-6:
        ex, ey, ez = ax * az / lean, ay * az / lean, -lean
    else:
        lx, ly = bodies.w[i, 1], -bodies.w[i, 0]
        size = math.hypot(lx, ly)
        ex, ey, ez = (lx / size, ly / size, 0.0) if size > 1e-12 else (1.0, 0.0, 0.0)
    fx, fy, fz = ay * ez - az * ey, az * ex - ax * ez, ax * ey - ay * ex
    for k in range(_RIM):
        c = shape.bearing if k == 0 else -shape.bearing if k == 2 else 0.0
        s = shape.bearing if k == 1 else -shape.bearing if k == 3 else 0.0
        px, py, pz = bx + c * ex + s * fx, by + c * ey + s * fy, bz + c * ez + s * fz
        floor = 0.0
        if py > DECK_END:
            continue
        if abs(px) > HALF_DECK:
            if abs(bx) < HALF_DECK:  # the deck's edge holds the base further in
                edge = HALF_DECK if px > 0.0 else -HALF_DECK
                share = (edge - bx) / (px - bx)
                px, py, pz = bx + share * (px - bx), by + share * (py - by), bz + share * (pz - bz)
            else:
                floor = GUTTER_FLOOR
        gap = pz - floor
        if -_DEEPEST < gap < 0.02:
            count = _room_contact(
                bodies, contacts, count, i, 0.0, 0.0, 1.0, px, py, pz, gap,
                m.bounce_pin_deck, m.friction_pin_deck, dt, reach,
            )  # fmt: skip
    return count
