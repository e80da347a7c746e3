"""One rack: a ball, ten pins, deck, gutters, kickbacks and cushion, stepped from hit to rest.

An impulse solver with fixed steps. What makes it converge at half a millisecond: a contact counts
when it would close within half a step, its geometry is taken at the moment of touch, and the body
moves with its old velocity up to that moment and with its new one after it; the axis of a pin turns
exactly about its angular momentum; a pin that nothing has touched sleeps. A rack ends when all pins
are down, or when what still moves has too little energy to tip a pin. Hard blows are springs for as
long as they last (``blows``); what only leans or slides is solved as rigid.

What makes it fast: ``run`` makes every array and holds it, and what it calls makes and counts none
(``compiled``). A pair, and a pin over the room, are looked at again only when they could have met.

Compiled with numba. Frame and units as in ``touch``. Body 0 is the ball, body n is pin n.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from lanes.motion.geometry import GRAVITY

from .blows import MICRO, press
from .compiled import inner
from .impulse import MOST_CONTACTS, kinetic, relative, solve
from .room import (
    DECK_END,
    EASE_OUT,
    HALF_DECK,
    REACH,
    SLACK,
    clear,
    pin_in_room,
    sphere_in_room,
)
from .touch import axes_apart, pin_to_pin, point_to_pin

_LOST = -0.25  # m; what is lower than this has fallen into the pit

_SPARE = 1.0  # m/s
_SLOW, _SLOWEST = 1.5, 0.6  # m/s; below these, steps are twice and three times as long
_TIMED = 0.3  # m/s; faster blows are placed at their moment within the step
_NEAR = 0.003  # m; what of the room a body may reach while a blow lasts
_UPRIGHT = 0.9  # cosine of the lean beyond which a pin is down (26 deg; it tips at 10)
_STILL = 0.0005  # J; a standing pin with less than this above rest is at rest
_TIPS = 0.030  # J; all that moves together with less than this cannot tip a pin: that takes 0.035
_LYING = 0.057  # m; height of the centre of a pin that lies on the deck


class Materials(NamedTuple):
    """Restitution, friction and stiffness of every pair; sources and fit: EVIDENCE.md."""

    bounce_ball_pin: float = 0.653  # fitted, within the 0.65 to 0.78 of ball rules
    bounce_pin_pin: float = 0.615  # fitted
    bounce_pin_deck: float = 0.30  # assumed; hardly matters
    bounce_ball_deck: float = 0.20  # assumed
    bounce_kickback: float = 0.474  # fitted
    bounce_cushion: float = 0.15  # assumed
    friction_ball_pin: float = 0.136  # fitted, below the 0.32 of ball rules
    friction_pin_pin: float = 0.183  # fitted
    friction_pin_deck: float = 0.30  # assumed
    friction_ball_deck: float = 0.20  # assumed: dry lane
    friction_kickback: float = 0.30  # assumed
    # N/m on the way in; ball's and pins' assumed, so that a ball is on a pin for a millisecond
    stiff_ball_pin: float = 1.1e7
    stiff_pin_pin: float = 1.0e7
    stiff_deck: float = 4.9e6  # fitted: of each of the bearing ring's four points, and what lies


MATERIALS = Materials()


# Places in the row of results that ``run`` fills.
(
    EXIT_X,
    BALL_TOUCHED,
    CORNER_RIGHT,
    CORNER_LEFT,
    SIX_Y,
    FOUR_Y,
    SECONDS,
    HELD,
    WORST_RISE,
    STANDING,
) = range(10)
TIMED_OUT, FIRST_ENERGY, LOGGED, SIX_SPEED, FOUR_SPEED, SIX_WALL, FOUR_WALL = range(10, 17)
RESULTS = 17

# A row of the log of blows: when, which bodies (-1 the room), impulse on the first, where it acts,
# and both bodies' velocity and spin right after all blows of that moment were solved.
LOG_WIDTH = 21


@inner
def _closing(bodies, contacts, c):
    x, y, z = relative(bodies, contacts, c)
    n = contacts.normal
    return x * n[c, 0] + y * n[c, 1] + z * n[c, 2]


@inner
def _ahead(bodies, i, when, r, a):
    """Write where body ``i`` and its axis will be ``when`` seconds from now."""
    v, w, axis = bodies.v[i], bodies.w[i], bodies.axis[i]
    ax = axis[0] + when * (w[1] * axis[2] - w[2] * axis[1])
    ay = axis[1] + when * (w[2] * axis[0] - w[0] * axis[2])
    az = axis[2] + when * (w[0] * axis[1] - w[1] * axis[0])
    size = math.sqrt(ax * ax + ay * ay + az * az)
    a[0], a[1], a[2] = ax / size, ay / size, az / size
    for k in range(3):
        r[k] = bodies.r[i, k] + when * v[k]


@inner
def _pair(bodies, contacts, count, i, j, shape, ball_radius, dt, fastest, bounce, friction, work):
    """Look at bodies ``i`` (ball or pin) and ``j`` (pin); return (gap, new count of contacts)."""
    n, ri, ai, rj, aj = work[0], work[1], work[2], work[3], work[4]
    when = 0.0
    gap = 0.0
    for look in range(2):
        _ahead(bodies, i, when, ri, ai)
        _ahead(bodies, j, when, rj, aj)
        if i == 0:
            seen = point_to_pin(ri, rj, aj, shape, n) - ball_radius
            radius = ball_radius
            height = 0.0
        else:
            seen, radius, height = pin_to_pin(ri, ai, rj, aj, shape, n)
        # The touching point, carried back to where the bodies are now for its arms.
        arm1 = contacts.arm1[count]
        arm2 = contacts.arm2[count]
        for k in range(3):
            arm1[k] = height * ai[k] - radius * n[k]
            arm2[k] = ri[k] + arm1[k] - rj[k]
            contacts.normal[count, k] = n[k]
        contacts.first[count] = i
        contacts.second[count] = j
        if look == 1:
            break
        gap = seen
        if gap > fastest * dt:
            return gap, count
        closing = _closing(bodies, contacts, count)
        if gap + 0.5 * dt * closing >= 0.0:
            return gap, count
        if closing > -_TIMED:
            break
        when = min(max(-gap / closing, -0.5 * dt), 0.5 * dt)
    contacts.bounce[count] = bounce
    contacts.friction[count] = friction
    contacts.when[count] = when
    contacts.depth[count] = 0.0
    if gap < -SLACK and when == 0.0:
        undo = EASE_OUT * (-gap - SLACK)
        share = bodies.inv_mass[i] / (bodies.inv_mass[i] + bodies.inv_mass[j])
        for k in range(3):
            bodies.r[i, k] += share * undo * n[k]
            bodies.r[j, k] -= (1.0 - share) * undo * n[k]
    return gap, min(count + 1, MOST_CONTACTS - 1)


@inner
def _turn(bodies, i, w, seconds):
    """Turn body ``i``'s axis for a time at spin ``w``, exactly about its angular momentum.

    Writes the spin at the end back: of a top that nothing touches it wanders, its momentum not.
    """
    a = bodies.axis[i]
    across = 1.0 / bodies.inv_across[i]
    about = 1.0 / (bodies.inv_across[i] + bodies.inv_more[i])
    spin = a[0] * w[0] + a[1] * w[1] + a[2] * w[2]
    more = (about - across) * spin
    lx, ly, lz = (
        across * w[0] + more * a[0],
        across * w[1] + more * a[1],
        across * w[2] + more * a[2],
    )
    size = math.sqrt(lx * lx + ly * ly + lz * lz)
    if size < 1e-14:
        return
    angle = size / across * seconds
    ux, uy, uz = lx / size, ly / size, lz / size
    c, s = math.cos(angle), math.sin(angle)
    dot = (ux * a[0] + uy * a[1] + uz * a[2]) * (1.0 - c)
    ax = c * a[0] + s * (uy * a[2] - uz * a[1]) + dot * ux
    ay = c * a[1] + s * (uz * a[0] - ux * a[2]) + dot * uy
    az = c * a[2] + s * (ux * a[1] - uy * a[0]) + dot * uz
    length = math.sqrt(ax * ax + ay * ay + az * az)
    a[0], a[1], a[2] = ax / length, ay / length, az / length
    rest = spin * (about / across - 1.0)  # the spin about the axis stays
    w[0] = lx / across - rest * a[0]
    w[1] = ly / across - rest * a[1]
    w[2] = lz / across - rest * a[2]


@inner
def _move(bodies, i, dt, touched, old_v, old_w, when):
    """Carry body ``i`` through the step: old velocity up to the blow, the new one after it.

    Gravity pulls at the end of the step; a free body follows its parabola exactly.
    """
    if touched:
        for k in range(3):
            bodies.r[i, k] += dt * bodies.v[i, k]
        if when != 0.0:
            for k in range(3):
                bodies.r[i, k] += when * (old_v[k] - bodies.v[i, k])
            _tip(bodies, i, old_w, when)
    else:
        when = 0.0
        for k in range(3):
            bodies.r[i, k] += dt * bodies.v[i, k]
        bodies.r[i, 2] -= 0.5 * GRAVITY * dt * dt
    bodies.v[i, 2] -= GRAVITY * dt
    _turn(bodies, i, bodies.w[i], dt - when)


@inner
def _tip(bodies, i, w, seconds):
    """Carry axis and new spin alike through the turn at the old spin up to the blow."""
    angle = math.sqrt(w[0] ** 2 + w[1] ** 2 + w[2] ** 2) * seconds
    if abs(angle) < 1e-9:
        return
    ux, uy, uz = w[0] * seconds / angle, w[1] * seconds / angle, w[2] * seconds / angle
    c, s = math.cos(angle), math.sin(angle)
    for row in (bodies.axis, bodies.w):
        x, y, z = row[i, 0], row[i, 1], row[i, 2]
        dot = (ux * x + uy * y + uz * z) * (1.0 - c)
        row[i, 0] = c * x + s * (uy * z - uz * y) + dot * ux
        row[i, 1] = c * y + s * (uz * x - ux * z) + dot * uy
        row[i, 2] = c * z + s * (ux * y - uy * x) + dot * uz


@inner
def _speed(bodies, i):
    """Return a speed that no point of body ``i``'s skin exceeds."""
    v = w = 0.0
    for k in range(3):
        v += bodies.v[i, k] ** 2
        w += bodies.w[i, k] ** 2
    return math.sqrt(v) + (REACH * math.sqrt(w) if i > 0 else 0.0)


@inner
def _total_energy(bodies, gone):
    total = 0.0
    for i in range(len(gone)):
        if not gone[i]:
            total += kinetic(bodies, i) + GRAVITY * bodies.r[i, 2] / bodies.inv_mass[i]
    return total


@inner
def _corner(bodies, gone, inner, corner, side, result, at, speed):
    """Note where, and how fast, the corner's neighbour first passes the corner's line."""
    if not gone[inner] and math.isnan(result[at]) and side * bodies.r[inner, 0] > side * corner:
        result[at] = bodies.r[inner, 1]
        result[speed] = math.hypot(bodies.v[inner, 0], bodies.v[inner, 1])


@inner
def _walls(bodies, contacts, count, result):
    """Note whether a corner's neighbour was pushed back by the kickback on its side."""
    for c in range(count):
        x = contacts.normal[c, 0]
        if contacts.second[c] < 0 and contacts.push[c] > 0.0 and abs(x) == 1.0:
            # A kickback pushes toward the middle, the deck's side away from it.
            if contacts.first[c] == 6 and x < 0.0 < bodies.r[6, 0]:
                result[SIX_WALL] = 1.0
            if contacts.first[c] == 4 and bodies.r[4, 0] < 0.0 < x:
                result[FOUR_WALL] = 1.0


@inner
def _finished(bodies, gone, awake, cg):
    """Return (whether nothing more can happen, bits of the pins that stand)."""
    standing = 0
    energy = 0.0
    for i in range(1, 11):
        if gone[i]:
            continue
        upright = bodies.axis[i, 2] > _UPRIGHT and bodies.r[i, 2] > 0.12
        if upright:
            standing |= 1 << (i - 1)
        if awake[i]:
            rest = cg if upright else _LYING
            height = max(bodies.r[i, 2] - rest, 0.0)
            energy += kinetic(bodies, i) + GRAVITY * height / bodies.inv_mass[i]
    return standing == 0 or energy < _TIPS, standing


@inner
def _room_of_blows(bodies, contacts, pairs, aside, stiff, shape, ball_radius, m, dt, n):
    """Append what of the room the bodies of ``pairs`` contacts may press on; return the new count.

    Writes every contact's stiffness; ``aside`` (bodies,) is work space and comes back all false.
    """
    for c in range(pairs):
        stiff[c] = m.stiff_ball_pin if contacts.first[c] == 0 else m.stiff_pin_pin
        aside[contacts.first[c]] = aside[contacts.second[c]] = True
    count = pairs
    for i in range(1, len(aside)):
        if aside[i]:
            count = pin_in_room(bodies, contacts, count, i, shape, m, dt, _NEAR, n)
    if aside[0]:
        count = sphere_in_room(
            bodies, contacts, count, 0, bodies.r[0, 0], bodies.r[0, 1], bodies.r[0, 2],
            ball_radius, 0, m.bounce_ball_deck, m.friction_ball_deck, dt, _NEAR, n,
        )  # fmt: skip
    aside[:] = False
    stiff[pairs:count] = m.stiff_deck
    return count


@inner
def _note(bodies, contacts, count, time, log, logged):
    """Append the contacts that pushed to the log; return how many rows it has."""
    for c in range(count):
        if contacts.push[c] <= 0.0 or logged >= log.shape[0]:
            continue
        i, j = contacts.first[c], contacts.second[c]
        row = log[logged]
        row[0], row[1], row[2] = time, i, j
        for k in range(3):
            row[3 + k] = contacts.push[c] * contacts.normal[c, k] + contacts.drag[c, k]
            row[6 + k] = bodies.r[i, k] + contacts.arm1[c, k]
            row[9 + k], row[12 + k] = bodies.v[i, k], bodies.w[i, k]
            row[15 + k] = bodies.v[j, k] if j >= 0 else 0.0
            row[18 + k] = bodies.w[j, k] if j >= 0 else 0.0
        logged += 1
    return logged


class _Work(NamedTuple):
    """What a rack is followed with: of each body unless said otherwise."""

    gone: NDArray[np.bool_]
    awake: NDArray[np.bool_]
    struck: NDArray[np.bool_]  # in this step's blows between bodies
    touched: NDArray[np.bool_]  # by the room
    aside: NDArray[np.bool_]
    look_at: NDArray[np.float64]  # of each pair: not before this time
    room_at: NDArray[np.float64]
    when: NDArray[np.float64]  # of the hardest blow, within the step
    hardest: NDArray[np.float64]
    last_change: NDArray[np.int64]
    old_v: NDArray[np.float64]  # from before the blows; and from before the room's answer
    old_w: NDArray[np.float64]
    room_v: NDArray[np.float64]
    room_w: NDArray[np.float64]
    aim: NDArray[np.float64]  # of each contact
    ease: NDArray[np.float64]
    vectors: NDArray[np.float64]
    normal: NDArray[np.float64]


@njit(cache=True, error_model="numpy")
def run(
    bodies, contacts, shape, ball_radius, m, shortest, limit, result, record, every, watch, log
):
    """Step one rack to its end and fill ``result`` (RESULTS,).

    ``bodies`` hold the start; a sleeping pin is one at rest. ``record`` (frames, 11, 6) gets places
    and axes every ``every`` seconds (0: none); returns the number of frames kept. ``watch`` also
    follows the energy. ``log`` (rows, LOG_WIDTH) gets the first blows, as many as it has rows.
    """
    n = bodies.r.shape[0]
    work = _Work(
        gone=np.zeros(n, np.bool_),
        awake=np.zeros(n, np.bool_),
        struck=np.zeros(n, np.bool_),
        touched=np.zeros(n, np.bool_),
        aside=np.zeros(n, np.bool_),
        look_at=np.zeros((n, n)),
        room_at=np.zeros(n),
        when=np.zeros(n),
        hardest=np.zeros(n),
        last_change=np.zeros(n, np.int64),
        old_v=np.zeros((n, 3)),
        old_w=np.zeros((n, 3)),
        room_v=np.zeros((n, 3)),
        room_w=np.zeros((n, 3)),
        aim=np.zeros(MOST_CONTACTS),
        ease=np.zeros(MOST_CONTACTS),
        vectors=np.zeros((5, 3)),
        normal=np.zeros(3),
    )
    return _follow(
        bodies, contacts, shape, ball_radius, m, shortest, limit, result, record, every, watch, log,
        work,
    )  # fmt: skip


@inner
def _follow(
    bodies, contacts, shape, ball_radius, m, shortest, limit, result, record, every, watch, log,
    work,
):  # fmt: skip
    count_bodies = bodies.r.shape[0]
    gone, awake, look_at, room_at = work.gone, work.awake, work.look_at, work.room_at
    struck, touched, when, hardest = work.struck, work.touched, work.when, work.hardest
    old_v, old_w, room_v, room_w = work.old_v, work.old_w, work.room_v, work.room_w
    aim, ease, last_change, n = work.aim, work.ease, work.last_change, work.normal
    awake[0] = True
    for i in range(1, count_bodies):
        for k in range(3):
            if bodies.v[i, k] != 0.0 or bodies.w[i, k] != 0.0:
                awake[i] = True
        if bodies.axis[i, 2] < 1.0 - 1e-9:
            awake[i] = True
    below, above = shape.cg - shape.centre[0], shape.centre[-1] - shape.cg
    corner_right, corner_left = bodies.r[10, 0], bodies.r[7, 0]
    result[:] = 0.0
    result[EXIT_X] = np.nan
    result[SIX_Y] = np.nan
    result[FOUR_Y] = np.nan
    result[SIX_SPEED] = result[FOUR_SPEED] = np.nan
    ball_bits = 0
    held = 0
    frames = 0
    logged = 0
    time = 0.0
    dt = shortest
    standing = 1023
    done = False
    energy = _total_energy(bodies, gone)
    result[FIRST_ENERGY] = energy
    step = 0
    while time < limit:
        if every > 0.0 and time >= every * frames and frames < record.shape[0]:
            for i in range(count_bodies):
                for k in range(3):
                    record[frames, i, k] = bodies.r[i, k] if not gone[i] else np.nan
                    record[frames, i, 3 + k] = bodies.axis[i, k]
            frames += 1
        # No two skins close faster than this before the next look: a blow of equal bodies at most
        # doubles the greatest speed, so a gap tells when to look again.
        fastest = 0.0
        for i in range(count_bodies):
            if awake[i] and not gone[i]:
                fastest = max(fastest, _speed(bodies, i))
        # What is left at the end rolls and wobbles slowly and is followed in longer steps.
        dt = shortest * (3.0 if fastest < _SLOWEST else 2.0 if fastest < _SLOW else 1.0)
        fastest = 3.0 * fastest + _SPARE
        count = 0
        for i in range(count_bodies - 1):
            if gone[i]:
                continue
            for j in range(i + 1, count_bodies):
                if gone[j] or not (awake[i] or awake[j]) or look_at[i, j] > time:
                    continue
                if i == 0:
                    gap, count = _pair(
                        bodies, contacts, count, 0, j, shape, ball_radius, dt, fastest,
                        m.bounce_ball_pin, m.friction_ball_pin, work.vectors,
                    )  # fmt: skip
                else:
                    gap = -2.0 * shape.fattest + axes_apart(
                        bodies.r[i], bodies.axis[i], bodies.r[j], bodies.axis[j], below, above
                    )
                    if gap < 0.02:
                        gap, count = _pair(
                            bodies, contacts, count, i, j, shape, ball_radius, dt, fastest,
                            m.bounce_pin_pin, m.friction_pin_pin, work.vectors,
                        )  # fmt: skip
                look_at[i, j] = time + gap / fastest - dt
        for c in range(count):
            i, j = contacts.first[c], contacts.second[c]
            if i == 0:
                ball_bits |= 1 << (j - 1)
            if i == 6 and j == 10:
                result[CORNER_RIGHT] = 1.0
            if i == 4 and j == 7:
                result[CORNER_LEFT] = 1.0
            awake[i] = True
            awake[j] = True
        # Blows between bodies come first; the room answers while a hard one lasts.
        hard = False
        for c in range(count):
            hard = hard or _closing(bodies, contacts, c) < -_TIMED
        if hard:
            count = _room_of_blows(
                bodies, contacts, count, work.aside, ease, shape, ball_radius, m, dt, n
            )
            press(bodies, contacts, count, struck, old_v, old_w, ease, aim, MICRO)
        else:
            held += solve(bodies, contacts, count, struck, old_v, old_w, aim, ease, last_change)
        _walls(bodies, contacts, count, result)
        if logged < log.shape[0]:
            logged = _note(bodies, contacts, count, time, log, logged)
        when[:] = 0.0
        hardest[:] = 0.0
        for c in range(count):
            for b in (contacts.first[c], contacts.second[c]):
                if b >= 0 and contacts.second[c] >= 0 and contacts.push[c] > hardest[b]:
                    hardest[b] = contacts.push[c]
                    when[b] = contacts.when[c]
        count = 0
        for i in range(1, count_bodies):
            if awake[i] and not gone[i] and (room_at[i] <= time or struck[i]):
                count = pin_in_room(bodies, contacts, count, i, shape, m, dt, 0.0, n)
                room_at[i] = time + clear(bodies, i, shape) / fastest - dt
        if not gone[0]:
            for surface in range(3):
                friction = m.friction_kickback if surface == 2 else m.friction_ball_deck
                count = sphere_in_room(
                    bodies, contacts, count, 0, bodies.r[0, 0], bodies.r[0, 1], bodies.r[0, 2],
                    ball_radius, surface, m.bounce_ball_deck, friction, dt, 0.0, n,
                )  # fmt: skip
        held += solve(bodies, contacts, count, touched, room_v, room_w, aim, ease, last_change)
        _walls(bodies, contacts, count, result)
        if logged < log.shape[0]:
            logged = _note(bodies, contacts, count, time, log, logged)
        before_y, before_x = bodies.r[0, 1], bodies.r[0, 0]
        for i in range(count_bodies):
            if awake[i] and not gone[i]:
                blow = when[i] if struck[i] else 0.0
                _move(bodies, i, dt, struck[i] or touched[i], old_v[i], old_w[i], blow)
        step += 1
        time += dt
        if watch:
            after = _total_energy(bodies, gone)
            result[WORST_RISE] = max(result[WORST_RISE], after - energy)
        if not gone[0]:
            x, y = bodies.r[0, 0], bodies.r[0, 1]
            if before_y < DECK_END <= y and abs(x) < HALF_DECK:
                result[EXIT_X] = before_x + (x - before_x) * (DECK_END - before_y) / (y - before_y)
            if y > DECK_END + ball_radius or bodies.r[0, 2] < _LOST:
                gone[0] = True
        for i in range(1, count_bodies):
            if awake[i] and not gone[i]:
                r, a = bodies.r[i], bodies.axis[i]
                if r[2] < _LOST or (r[1] > DECK_END + 0.06 and r[2] < -0.03) or abs(r[0]) > 1.0:
                    gone[i] = True
                elif a[2] > 0.99995 and abs(r[2] - shape.cg) < 0.0005:
                    rise = max(r[2] - shape.cg, 0.0)
                    extra = kinetic(bodies, i) + GRAVITY * rise / bodies.inv_mass[i]
                    if extra < _STILL:
                        awake[i] = False
                        for k in range(3):
                            bodies.v[i, k] = bodies.w[i, k] = 0.0
                        a[0], a[1], a[2] = 0.0, 0.0, 1.0
                        r[2] = shape.cg
        _corner(bodies, gone, 6, corner_right, 1.0, result, SIX_Y, SIX_SPEED)
        _corner(bodies, gone, 4, corner_left, -1.0, result, FOUR_Y, FOUR_SPEED)
        if watch:
            energy = _total_energy(bodies, gone)
        if gone[0] and step % 8 == 0:
            done, standing = _finished(bodies, gone, awake, shape.cg)
            if done:
                break
    if not done:
        done, standing = _finished(bodies, gone, awake, shape.cg)
        result[TIMED_OUT] = 0.0 if done else 1.0
    result[STANDING] = standing
    result[BALL_TOUCHED] = ball_bits
    result[SECONDS] = time
    result[HELD] = held
    result[LOGGED] = logged
    return frames
