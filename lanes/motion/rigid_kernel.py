"""The compiled inner loop of the rigid ball (the model, its frame and its signs: ``rigid.py``).

Everything is SI and per unit of mass, in a right-handed frame: X toward the strong side, Y to the
pins, Z up. ``film``, ``law`` and ``factors`` are those of ``friction.Lane``.

**State.** Friction and the normal force act at the contact point, so the angular momentum *about
the contact* ``M = L + R Z x v`` stays what it was at release, slipping or rolling, but for the
small couple of rolling resistance. It takes the place of the spin, which then needs no equation:

- slipping, ``L = M - R Z x v`` and the spin is ``J^-1 L``; the state is place, velocity, attitude;
- rolling, contact slip is nought and the spin is ``(J + R^2 (1 - Z Z^T))^-1 M``; velocity follows
  from it, so the constraint holds exactly and nothing drifts.

The attitude is a quaternion from the principal axes (pin, mass bias, third) to space.

**From slip to roll and back.** A slipping step is cut to a part of ``slip / d(slip)/dt``, so that
the end of slip is run up to and not stepped over. Within ``LANDED`` of it, the ball rolls if the
force that rolling asks for is at most ``mu N``; while it rolls that is asked at every step, and
where it no longer holds (found within the step) the ball slips on, against the force that was
wanting. No friction is smoothed.
"""

import math

import numpy as np
from numba import njit

from .geometry import LANE_WIDTH_M
from .kernel import (
    _FAST,
    ARROWS_X,
    BREAK_INSIDE,
    BREAK_X,
    BREAK_Y,
    GUTTER_Y,
    MAX_STEPS,
    PIN_SLIP,
    PIN_TIME,
    PIN_VX,
    PIN_VY,
    PIN_X,
    RESULTS,
    ROLL_Y,
    _friction,
)

# Results of one traced ball: those of ``kernel.trace``, then these.
PIN_SIDE_SLIP = RESULTS
FIRST_RING, LAST_RING = RESULTS + 1, RESULTS + 5  # pole in principal axes (3) and radius, each
RIGID_RESULTS = RESULTS + 9

LANDED = 1e-3  # m/s; slip that is taken for none, a part in 5,000 of what most balls start with
SHORTEST_STEP = 2.5e-4  # s
PART_OF_SLIP = 0.5  # the most of the remaining slip that one step may take
STOPPED = 0.02  # m/s; a ball this slow has come to rest on the lane
LONGEST_TURN = 0.7  # rad; the most that the ball may turn in one step

# Columns of ``track`` and of ``rings``.
TRACK = 11  # time, x, y, vx, vy (bowler's count), spin X Y Z, slip x, slip y, 1 where it rolls
RING = 5  # pole in principal axes (3), radius, y


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _turn(q0, q1, q2, q3):  # type: ignore[no-untyped-def]
    """Rows of the rotation from the principal axes to space; any length of quaternion will do."""
    s = 2.0 / (q0 * q0 + q1 * q1 + q2 * q2 + q3 * q3)
    return (
        1.0 - s * (q2 * q2 + q3 * q3), s * (q1 * q2 - q0 * q3), s * (q1 * q3 + q0 * q2),
        s * (q1 * q2 + q0 * q3), 1.0 - s * (q1 * q1 + q3 * q3), s * (q2 * q3 - q0 * q1),
        s * (q1 * q3 - q0 * q2), s * (q2 * q3 + q0 * q1), 1.0 - s * (q1 * q1 + q2 * q2),
    )  # fmt: skip


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _slipping(q0, q1, q2, q3, vx, vy, mx, my, mz, radius, i0, i1, i2):  # type: ignore[no-untyped-def]
    """Spin in the principal axes (3) and in space (3), and contact slip (2), of a slipping ball."""
    a, b, c, d, e, f, g, h, i = _turn(q0, q1, q2, q3)
    lx = mx + radius * vy
    ly = my - radius * vx
    w0 = i0 * (a * lx + d * ly + g * mz)
    w1 = i1 * (b * lx + e * ly + h * mz)
    w2 = i2 * (c * lx + f * ly + i * mz)
    wx = a * w0 + b * w1 + c * w2
    wy = d * w0 + e * w1 + f * w2
    wz = g * w0 + h * w1 + i * w2
    return w0, w1, w2, wx, wy, wz, vx - radius * wy, vy + radius * wx


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _over_contact(p0, p1, p2, e0, e1, e2, radius, i0, i1, i2):  # type: ignore[no-untyped-def]
    """Solve ``(J + R^2 (1 - e e^T)) w = p`` in the principal axes (Sherman and Morrison)."""
    r2 = radius * radius
    d0 = i0 / (1.0 + r2 * i0)
    d1 = i1 / (1.0 + r2 * i1)
    d2 = i2 / (1.0 + r2 * i2)
    along = r2 * (e0 * d0 * p0 + e1 * d1 * p1 + e2 * d2 * p2)
    share = along / (1.0 - r2 * (e0 * e0 * d0 + e1 * e1 * d1 + e2 * e2 * d2))
    return d0 * (p0 + e0 * share), d1 * (p1 + e1 * share), d2 * (p2 + e2 * share)


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _rolling(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2):  # type: ignore[no-untyped-def]
    """Spin in the principal axes (3) and in space (3) of a ball that rolls."""
    a, b, c, d, e, f, g, h, i = _turn(q0, q1, q2, q3)
    w0, w1, w2 = _over_contact(
        a * mx + d * my + g * mz, b * mx + e * my + h * mz, c * mx + f * my + i * mz,
        g, h, i, radius, i0, i1, i2,
    )  # fmt: skip
    wx = a * w0 + b * w1 + c * w2
    wy = d * w0 + e * w1 + f * w2
    wz = g * w0 + h * w1 + i * w2
    return w0, w1, w2, wx, wy, wz


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _asked(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2, resistance):  # type: ignore[no-untyped-def]
    """The horizontal force over mass (2) that rolling asks of the contact.

    The derivative of ``(J + R^2 (1 - e e^T)) w = M`` in the turning axes gives the change of spin,
    and that of the velocity is the force.
    """
    a, b, c, d, e, f, g, h, i = _turn(q0, q1, q2, q3)
    w0, w1, w2, wx, wy, wz = _rolling(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2)
    m0 = a * mx + d * my + g * mz
    m1 = b * mx + e * my + h * mz
    m2 = c * mx + f * my + i * mz
    speed = math.hypot(wx, wy) + 1e-12
    tx = -resistance * wx / speed  # the couple against rolling, along the rolling part of the spin
    ty = -resistance * wy / speed
    up = radius * radius * wz
    p0 = a * tx + d * ty - (w1 * m2 - w2 * m1) - up * (w1 * i - w2 * h)
    p1 = b * tx + e * ty - (w2 * m0 - w0 * m2) - up * (w2 * g - w0 * i)
    p2 = c * tx + f * ty - (w0 * m1 - w1 * m0) - up * (w0 * h - w1 * g)
    n0, n1, n2 = _over_contact(p0, p1, p2, g, h, i, radius, i0, i1, i2)
    return radius * (d * n0 + e * n1 + f * n2), -radius * (a * n0 + b * n1 + c * n2)


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _slip_change(q0, q1, q2, q3, w0, w1, w2, ax, ay, radius, i0, i1, i2):  # type: ignore[no-untyped-def]
    """How the contact slip changes (2) under the force over mass ``ax, ay``: Euler's equations."""
    a, b, c, d, e, f, _, _, _ = _turn(q0, q1, q2, q3)
    tx = radius * ay
    ty = -radius * ax
    n0 = i0 * (a * tx + d * ty - w1 * w2 * (1.0 / i2 - 1.0 / i1))
    n1 = i1 * (b * tx + e * ty - w2 * w0 * (1.0 / i0 - 1.0 / i2))
    n2 = i2 * (c * tx + f * ty - w0 * w1 * (1.0 / i1 - 1.0 / i0))
    return ax - radius * (d * n0 + e * n1 + f * n2), ay + radius * (a * n0 + b * n1 + c * n2)


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _attitude_rate(q0, q1, q2, q3, w0, w1, w2):  # type: ignore[no-untyped-def]
    return (
        0.5 * (-q1 * w0 - q2 * w1 - q3 * w2),
        0.5 * (q0 * w0 + q2 * w2 - q3 * w1),
        0.5 * (q0 * w1 + q3 * w0 - q1 * w2),
        0.5 * (q0 * w2 + q1 * w1 - q2 * w0),
    )


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _slip_rates(  # type: ignore[no-untyped-def]
    x, y, vx, vy, q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2, gravity, film, law, factors,
    dx, dy,
):  # fmt: skip
    """Force over mass (2) and rate of the attitude (4). ``dx, dy``: slip's direction if it is 0."""
    w0, w1, w2, _, _, _, ux, uy = _slipping(q0, q1, q2, q3, vx, vy, mx, my, mz, radius, i0, i1, i2)
    slip = math.sqrt(ux * ux + uy * uy)
    if slip > 1e-12:
        dx = ux / slip
        dy = uy / slip
    pull = gravity * _friction(-x, y, film, law, factors)
    r0, r1, r2, r3 = _attitude_rate(q0, q1, q2, q3, w0, w1, w2)
    return -pull * dx, -pull * dy, r0, r1, r2, r3


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _slip_step(  # type: ignore[no-untyped-def]
    s, step, mx, my, mz, radius, i0, i1, i2, gravity, film, law, factors, dx, dy
):
    """One Runge-Kutta step of fourth order of place, velocity and attitude while the ball slips."""
    x, y, vx, vy, q0, q1, q2, q3 = s
    tail = 0.5 * step
    a1, b1, c1, d1, e1, f1 = _slip_rates(
        x, y, vx, vy, q0, q1, q2, q3,
        mx, my, mz, radius, i0, i1, i2, gravity, film, law, factors, dx, dy,
    )  # fmt: skip
    vx2 = vx + tail * a1
    vy2 = vy + tail * b1
    a2, b2, c2, d2, e2, f2 = _slip_rates(
        x + tail * vx, y + tail * vy, vx2, vy2,
        q0 + tail * c1, q1 + tail * d1, q2 + tail * e1, q3 + tail * f1,
        mx, my, mz, radius, i0, i1, i2, gravity, film, law, factors, dx, dy,
    )  # fmt: skip
    vx3 = vx + tail * a2
    vy3 = vy + tail * b2
    a3, b3, c3, d3, e3, f3 = _slip_rates(
        x + tail * vx2, y + tail * vy2, vx3, vy3,
        q0 + tail * c2, q1 + tail * d2, q2 + tail * e2, q3 + tail * f2,
        mx, my, mz, radius, i0, i1, i2, gravity, film, law, factors, dx, dy,
    )  # fmt: skip
    vx4 = vx + step * a3
    vy4 = vy + step * b3
    a4, b4, c4, d4, e4, f4 = _slip_rates(
        x + step * vx3, y + step * vy3, vx4, vy4,
        q0 + step * c3, q1 + step * d3, q2 + step * e3, q3 + step * f3,
        mx, my, mz, radius, i0, i1, i2, gravity, film, law, factors, dx, dy,
    )  # fmt: skip
    sixth = step / 6.0
    n0 = q0 + sixth * (c1 + 2.0 * (c2 + c3) + c4)
    n1 = q1 + sixth * (d1 + 2.0 * (d2 + d3) + d4)
    n2 = q2 + sixth * (e1 + 2.0 * (e2 + e3) + e4)
    n3 = q3 + sixth * (f1 + 2.0 * (f2 + f3) + f4)
    norm = 1.0 / math.sqrt(n0 * n0 + n1 * n1 + n2 * n2 + n3 * n3)
    return (
        x + sixth * (vx + 2.0 * (vx2 + vx3) + vx4),
        y + sixth * (vy + 2.0 * (vy2 + vy3) + vy4),
        vx + sixth * (a1 + 2.0 * (a2 + a3) + a4),
        vy + sixth * (b1 + 2.0 * (b2 + b3) + b4),
        n0 * norm, n1 * norm, n2 * norm, n3 * norm,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _roll_rates(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2, resistance):  # type: ignore[no-untyped-def]
    w0, w1, w2, wx, wy, _ = _rolling(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2)
    r0, r1, r2, r3 = _attitude_rate(q0, q1, q2, q3, w0, w1, w2)
    speed = math.sqrt(wx * wx + wy * wy) + 1e-12
    return (
        radius * wy, -radius * wx, r0, r1, r2, r3,
        -resistance * wx / speed, -resistance * wy / speed,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _roll_step(s, step, mx, my, mz, radius, i0, i1, i2, resistance):  # type: ignore[no-untyped-def]
    """One Runge-Kutta step of place, attitude and ``M`` while the ball rolls."""
    x, y, _, _, q0, q1, q2, q3 = s
    h = 0.5 * step
    a1, b1, c1, d1, e1, f1, g1, k1 = _roll_rates(
        q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2, resistance
    )
    a2, b2, c2, d2, e2, f2, g2, k2 = _roll_rates(
        q0 + h * c1, q1 + h * d1, q2 + h * e1, q3 + h * f1,
        mx + h * g1, my + h * k1, mz, radius, i0, i1, i2, resistance,
    )  # fmt: skip
    a3, b3, c3, d3, e3, f3, g3, k3 = _roll_rates(
        q0 + h * c2, q1 + h * d2, q2 + h * e2, q3 + h * f2,
        mx + h * g2, my + h * k2, mz, radius, i0, i1, i2, resistance,
    )  # fmt: skip
    h = step
    a4, b4, c4, d4, e4, f4, g4, k4 = _roll_rates(
        q0 + h * c3, q1 + h * d3, q2 + h * e3, q3 + h * f3,
        mx + h * g3, my + h * k3, mz, radius, i0, i1, i2, resistance,
    )  # fmt: skip
    sixth = step / 6.0
    n0 = q0 + sixth * (c1 + 2.0 * (c2 + c3) + c4)
    n1 = q1 + sixth * (d1 + 2.0 * (d2 + d3) + d4)
    n2 = q2 + sixth * (e1 + 2.0 * (e2 + e3) + e4)
    n3 = q3 + sixth * (f1 + 2.0 * (f2 + f3) + f4)
    norm = 1.0 / math.sqrt(n0 * n0 + n1 * n1 + n2 * n2 + n3 * n3)
    mx += sixth * (g1 + 2.0 * (g2 + g3) + g4)
    my += sixth * (k1 + 2.0 * (k2 + k3) + k4)
    n0, n1, n2, n3 = n0 * norm, n1 * norm, n2 * norm, n3 * norm
    _, _, _, wx, wy, _ = _rolling(n0, n1, n2, n3, mx, my, mz, radius, i0, i1, i2)
    return (
        (
            x + sixth * (a1 + 2.0 * (a2 + a3) + a4),
            y + sixth * (b1 + 2.0 * (b2 + b3) + b4),
            radius * wy, -radius * wx, n0, n1, n2, n3,
        ),
        mx, my,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _between(p0, v0, p1, v1, step, part):  # type: ignore[no-untyped-def]
    """Place and velocity at ``part`` of a step, by the cubic through both ends."""
    rise = p1 - p0
    c2 = 3.0 * rise - step * (2.0 * v0 + v1)
    c3 = step * (v0 + v1) - 2.0 * rise
    return (
        p0 + part * (step * v0 + part * (c2 + part * c3)),
        v0 + part * (2.0 * c2 + 3.0 * part * c3) / step,
    )


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _part_to(plane, p0, v0, p1, v1, step):  # type: ignore[no-untyped-def]
    """The part of a step at which the cubic crosses a plane."""
    part = (plane - p0) / (p1 - p0)
    for _ in range(3):
        p, v = _between(p0, v0, p1, v1, step, part)
        if v != 0.0:
            part = min(max(part + (plane - p) / (v * step), 0.0), 1.0)
    return part


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace_rigid(  # type: ignore[no-untyped-def]
    start, inertia, radius, gravity, resistance, film, law, factors, arrows_y, pin_y, h,
    out, track, rings,
):  # fmt: skip
    """Follow one ball to the head-pin plane; fill ``out``, and ``track`` and ``rings`` as they fit.

    ``start`` (10): X, Y, velocity (2), attitude (4, principal axes to space, unit), then of the
    spin's place the angular momentum about the contact (3) is computed from the last three, the
    spin in space: so start has 11 numbers. ``inertia`` (3) in m2, ``resistance`` without unit,
    ``h`` the longest step. Returns how many rows of ``track`` and of ``rings`` were written.
    """
    for n in range(out.shape[0]):
        out[n] = np.nan
    i0 = 1.0 / inertia[0]
    i1 = 1.0 / inertia[1]
    i2 = 1.0 / inertia[2]
    most = max(inertia[0], inertia[1], inertia[2])
    least = min(inertia[0], inertia[1], inertia[2])
    # Bounds on how fast slip can change: by friction, and by what unequal moments ask for.
    lever = 2.0 * (1.0 + radius * radius / least)
    unrest = radius * (most / least - 1.0)
    couple = resistance * radius * gravity  # over mass; the normal force runs ahead by c R
    x, y, vx, vy = start[0], start[1], start[2], start[3]
    q0, q1, q2, q3 = start[4], start[5], start[6], start[7]
    a, b, c, d, e, f, g, hh, i = _turn(q0, q1, q2, q3)
    s0 = inertia[0] * (a * start[8] + d * start[9] + g * start[10])
    s1 = inertia[1] * (b * start[8] + e * start[9] + hh * start[10])
    s2 = inertia[2] * (c * start[8] + f * start[9] + i * start[10])
    mx = a * s0 + b * s1 + c * s2 - radius * vy
    my = d * s0 + e * s1 + f * s2 + radius * vx
    mz = g * s0 + hh * s1 + i * s2

    out[BREAK_INSIDE] = 0.0
    out[BREAK_X] = -x
    out[BREAK_Y] = y
    rolls = False
    dx = 0.0  # the direction in which slip begins where it is nought
    dy = 1.0
    t = 0.0
    step = 0.0
    rows = 0
    laps = 0
    turn = 0.0
    p0 = p1 = p2 = pz = 0.0  # sums over the present revolution: spin in the body, its upright part
    lap_y = y
    ox, oy, ovx, ovy, oux, ouy = x, y, vx, vy, 0.0, 0.0
    ow0 = ow1 = ow2 = owz = 0.0
    for _ in range(MAX_STEPS):
        if rolls:
            w0, w1, w2, wx, wy, wz = _rolling(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2)
            ux = 0.0
            uy = 0.0
        else:
            w0, w1, w2, wx, wy, wz, ux, uy = _slipping(
                q0, q1, q2, q3, vx, vy, mx, my, mz, radius, i0, i1, i2
            )
        spin = math.sqrt(w0 * w0 + w1 * w1 + w2 * w2)

        if step > 0.0:  # what happened on the way here
            if oy < arrows_y <= y:
                part = _part_to(arrows_y, oy, ovy, y, vy, step)
                out[ARROWS_X] = -_between(ox, ovx, x, vx, step, part)[0]
            if ovx > 0.0 >= vx and oy < pin_y:
                part = ovx / (ovx - vx)
                for _ in range(2):
                    drift = _between(ox, ovx, x, vx, step, part)[1]
                    part = min(max(part + drift / (ovx - vx), 0.0), 1.0)
                bx = -_between(ox, ovx, x, vx, step, part)[0]
                by = _between(oy, ovy, y, vy, step, part)[0]
                if by < pin_y and bx < out[BREAK_X]:
                    out[BREAK_X] = bx
                    out[BREAK_Y] = by
                    out[BREAK_INSIDE] = 1.0
            if not out[GUTTER_Y] >= 0.0 and (-x < 0.0 or -x > LANE_WIDTH_M):
                edge = 0.0 if x > 0.0 else -LANE_WIDTH_M
                part = _part_to(edge, ox, ovx, x, vx, step) if x != ox else 0.0
                crossing = _between(oy, ovy, y, vy, step, part)[0]
                if crossing <= pin_y:
                    out[GUTTER_Y] = crossing
            ospin = math.sqrt(ow0 * ow0 + ow1 * ow1 + ow2 * ow2)
            by_now = 0.5 * step * (ospin + spin)
            part = 0.0
            if turn + by_now >= 2.0 * math.pi:
                part = (2.0 * math.pi - turn) / by_now
                half = 0.5 * step * part
                p0 += half * (ow0 + w0)
                p1 += half * (ow1 + w1)
                p2 += half * (ow2 + w2)
                pz += half * (owz + wz)
                long = math.sqrt(p0 * p0 + p1 * p1 + p2 * p2)
                ring = math.degrees(math.asin(min(max(pz / long, -1.0), 1.0))) + 90.0
                end_y = oy + part * (y - oy)
                if end_y <= pin_y:
                    if laps < rings.shape[0]:
                        rings[laps, 0] = p0 / long
                        rings[laps, 1] = p1 / long
                        rings[laps, 2] = p2 / long
                        rings[laps, 3] = ring
                        rings[laps, 4] = 0.5 * (lap_y + end_y)
                    laps += 1
                    if not 0.5 * (lap_y + end_y) > out[ROLL_Y]:
                        at = LAST_RING if laps > 1 else FIRST_RING
                        out[at] = p0 / long
                        out[at + 1] = p1 / long
                        out[at + 2] = p2 / long
                        out[at + 3] = ring
                lap_y = end_y
                p0 = p1 = p2 = pz = 0.0
                turn = -part * by_now
            half = 0.5 * step * (1.0 - part)
            turn += by_now
            p0 += half * (ow0 + w0)
            p1 += half * (ow1 + w1)
            p2 += half * (ow2 + w2)
            pz += half * (owz + wz)
            if y >= pin_y - 1e-12:
                part = _part_to(pin_y, oy, ovy, y, vy, step)
                px, pvx = _between(ox, ovx, x, vx, step, part)
                pvy = _between(oy, ovy, y, vy, step, part)[1]
                pux = oux + part * (ux - oux)
                puy = ouy + part * (uy - ouy)
                out[PIN_X] = -px
                out[PIN_VX] = -pvx
                out[PIN_VY] = pvy
                out[PIN_SLIP] = math.hypot(pux, puy)
                out[PIN_SIDE_SLIP] = -pux
                out[PIN_TIME] = t - step + part * step
                if -px < out[BREAK_X]:
                    out[BREAK_X] = -px
                    out[BREAK_Y] = pin_y
                    out[BREAK_INSIDE] = 0.0
                if rows < track.shape[0]:
                    spins = (
                        part * wx + (1.0 - part) * (track[rows - 1, 5]),
                        part * wy + (1.0 - part) * (track[rows - 1, 6]),
                        part * wz + (1.0 - part) * (track[rows - 1, 7]),
                    )
                    _note(
                        track[rows], out[PIN_TIME], px, pin_y, pvx, pvy, spins[0], spins[1],
                        spins[2], pux, puy, rolls,
                    )  # fmt: skip
                    rows += 1
                return rows, laps
        if rows < track.shape[0]:
            _note(track[rows], t, x, y, vx, vy, wx, wy, wz, ux, uy, rolls)
            rows += 1
        ox, oy, ovx, ovy, oux, ouy = x, y, vx, vy, ux, uy
        ow0, ow1, ow2, owz = w0, w1, w2, wz

        step = min(h, LONGEST_TURN / (spin + 1e-9))
        s = (x, y, vx, vy, q0, q1, q2, q3)
        if not rolls:
            slip = math.sqrt(ux * ux + uy * uy)
            pull = gravity * _friction(-x, y, film, law, factors)
            if slip < step * (lever * pull + unrest * spin * spin):
                if slip > 1e-12:
                    dx = ux / slip
                    dy = uy / slip
                if slip < LANDED:
                    ax, ay = _asked(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2, couple)
                    asked = math.hypot(ax, ay)
                    rolls = asked <= pull
                    if not rolls and slip <= 1e-12:
                        dx = -ax / asked
                        dy = -ay / asked
                cx, cy = _slip_change(
                    q0, q1, q2, q3, w0, w1, w2, -pull * dx, -pull * dy, radius, i0, i1, i2
                )
                reach = PART_OF_SLIP * slip / (math.hypot(cx, cy) + 1e-12)
                step = min(step, max(reach, SHORTEST_STEP))
            if rolls:
                w0, w1, w2, wx, wy, wz = _rolling(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2)
                s = (x, y, radius * wy, -radius * wx, q0, q1, q2, q3)
                ovx, ovy = s[2], s[3]
                step = min(h, LONGEST_TURN / (spin + 1e-9))
                if not out[ROLL_Y] >= 0.0:
                    out[ROLL_Y] = y
        if not rolls:
            x, y, vx, vy, q0, q1, q2, q3 = _slip_step(
                s, step, mx, my, mz, radius, i0, i1, i2, gravity, film, law, factors, dx, dy
            )
        else:
            if math.hypot(s[2], s[3]) < STOPPED:
                return rows, laps
            begun = _hold(s, mx, my, mz, radius, i0, i1, i2, couple, gravity, film, law, factors)
            n, nx, ny = _roll_step(s, step, mx, my, mz, radius, i0, i1, i2, couple)
            ended = _hold(n, nx, ny, mz, radius, i0, i1, i2, couple, gravity, film, law, factors)
            if ended < 0.0:
                part = begun / (begun - ended) if begun > 0.0 else 0.0
                step = max(step * part, SHORTEST_STEP)
                n, nx, ny = _roll_step(s, step, mx, my, mz, radius, i0, i1, i2, couple)
                rolls = False
            x, y, vx, vy, q0, q1, q2, q3 = n
            mx = nx
            my = ny
            if not rolls:
                ax, ay = _asked(q0, q1, q2, q3, mx, my, mz, radius, i0, i1, i2, couple)
                asked = math.hypot(ax, ay) + 1e-300
                dx = -ax / asked
                dy = -ay / asked
        t += step
    return rows, laps


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _hold(  # type: ignore[no-untyped-def]
    s, mx, my, mz, radius, i0, i1, i2, couple, gravity, film, law, factors
):
    """Friction's force less the one that rolling asks for, over mass; negative: it slips."""
    ax, ay = _asked(s[4], s[5], s[6], s[7], mx, my, mz, radius, i0, i1, i2, couple)
    return gravity * _friction(-s[0], s[1], film, law, factors) - math.hypot(ax, ay)


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _note(row, t, x, y, vx, vy, wx, wy, wz, ux, uy, rolls):  # type: ignore[no-untyped-def]
    row[0] = t
    row[1] = -x
    row[2] = y
    row[3] = -vx
    row[4] = vy
    row[5] = wx
    row[6] = wy
    row[7] = wz
    row[8] = -ux
    row[9] = uy
    row[10] = 1.0 if rolls else 0.0


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace_rigid_many(  # type: ignore[no-untyped-def]
    starts, inertia, radius, gravity, resistance, film, law, factors, arrows_y, pin_y, h, results
):
    """Trace every row of ``starts`` (11 numbers) with its own row of ``factors``."""
    track = np.empty((0, TRACK))
    rings = np.empty((0, RING))
    for n in range(starts.shape[0]):
        trace_rigid(
            starts[n], inertia, radius, gravity, resistance, film, law, factors[n],
            arrows_y, pin_y, h, results[n], track, rings,
        )  # fmt: skip
