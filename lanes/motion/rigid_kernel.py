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

# Results of one traced ball: those of ``kernel.trace``, then these. ``trace_rigid_many`` fills in
# the two rings: pole in principal axes (3) and radius in degrees, each.
PIN_SIDE_SLIP = RESULTS
FIRST_RING, LAST_RING = RESULTS + 1, RESULTS + 5
RIGID_RESULTS = RESULTS + 9

LANDED = 2e-5  # m/s; slip that is taken for none, four parts in a million of an ordinary start
# The most of the remaining slip that one step may take: less while its direction may still turn.
PART_OF_SLIP = 0.5
PART_OF_LAST_SLIP = 0.9
LAST_SLIP = 0.01  # m/s; the ball is said to roll from where this would be gone
SHORTEST_STEP = 2.5e-4  # s, where slip grows from nothing
STOPPED = 0.02  # m/s; a ball this slow has come to rest on the lane
LONGEST_TURN = 1.1  # rad; the most that the ball may turn in one step

# A track's row: time, x, y, vx, vy (bowler's count), spin X Y Z, slip x, slip y, 1 where it rolls,
# attitude (4).
TRACK = 15
RING = 5  # pole in principal axes (3), radius in degrees, y
MOST_RINGS = 200  # the slowest ball with the most revs turns some hundred times

# Inside, ``s`` is x, y, vx, vy and the quaternion (4); ``m`` is M (3); ``ball`` is radius,
# 1 / J (3), 1 / (J + R^2) (3), couple of rolling resistance and gravity; ``lane`` is film, law and
# factors.


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _axes(q0, q1, q2, q3):  # type: ignore[no-untyped-def]
    """Rows of the rotation from the principal axes to space; any length of quaternion will do."""
    s = 2.0 / (q0 * q0 + q1 * q1 + q2 * q2 + q3 * q3)
    return (
        1.0 - s * (q2 * q2 + q3 * q3), s * (q1 * q2 - q0 * q3), s * (q1 * q3 + q0 * q2),
        s * (q1 * q2 + q0 * q3), 1.0 - s * (q1 * q1 + q3 * q3), s * (q2 * q3 - q0 * q1),
        s * (q1 * q3 - q0 * q2), s * (q2 * q3 + q0 * q1), 1.0 - s * (q1 * q1 + q2 * q2),
    )  # fmt: skip


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _slipping(vx, vy, q0, q1, q2, q3, m, ball):  # type: ignore[no-untyped-def]
    """Spin in the principal axes (3) and in space (3), and contact slip (2), of a slipping ball."""
    a, b, c, d, e, f, g, h, i = _axes(q0, q1, q2, q3)
    radius = ball[0]
    lx = m[0] + radius * vy
    ly = m[1] - radius * vx
    w0 = ball[1] * (a * lx + d * ly + g * m[2])
    w1 = ball[2] * (b * lx + e * ly + h * m[2])
    w2 = ball[3] * (c * lx + f * ly + i * m[2])
    wx = a * w0 + b * w1 + c * w2
    wy = d * w0 + e * w1 + f * w2
    return w0, w1, w2, wx, wy, g * w0 + h * w1 + i * w2, vx - radius * wy, vy + radius * wx


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _over_contact(p0, p1, p2, e0, e1, e2, ball):  # type: ignore[no-untyped-def]
    """Solve ``(J + R^2 (1 - e e^T)) w = p`` in the principal axes (Sherman and Morrison)."""
    r2 = ball[0] * ball[0]
    c0, c1, c2 = ball[4], ball[5], ball[6]
    along = e0 * c0 * p0 + e1 * c1 * p1 + e2 * c2 * p2
    share = r2 * along / (1.0 - r2 * (e0 * e0 * c0 + e1 * e1 * c1 + e2 * e2 * c2))
    return c0 * (p0 + e0 * share), c1 * (p1 + e1 * share), c2 * (p2 + e2 * share)


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _rolling(q0, q1, q2, q3, m, ball):  # type: ignore[no-untyped-def]
    """Spin in the principal axes (3) and in space (3) of a ball that rolls."""
    a, b, c, d, e, f, g, h, i = _axes(q0, q1, q2, q3)
    w0, w1, w2 = _over_contact(
        a * m[0] + d * m[1] + g * m[2],
        b * m[0] + e * m[1] + h * m[2],
        c * m[0] + f * m[1] + i * m[2],
        g, h, i, ball,
    )  # fmt: skip
    wx = a * w0 + b * w1 + c * w2
    wy = d * w0 + e * w1 + f * w2
    return w0, w1, w2, wx, wy, g * w0 + h * w1 + i * w2


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _asked(s, m, ball):  # type: ignore[no-untyped-def]
    """The horizontal force over mass (2) that rolling asks of the contact.

    The derivative of ``(J + R^2 (1 - e e^T)) w = M`` in the turning axes gives the change of spin,
    and that of the velocity is the force.
    """
    a, b, c, d, e, f, g, h, i = _axes(s[4], s[5], s[6], s[7])
    w0, w1, w2, wx, wy, wz = _rolling(s[4], s[5], s[6], s[7], m, ball)
    radius = ball[0]
    m0 = a * m[0] + d * m[1] + g * m[2]
    m1 = b * m[0] + e * m[1] + h * m[2]
    m2 = c * m[0] + f * m[1] + i * m[2]
    couple = ball[7] / (math.sqrt(wx * wx + wy * wy) + 1e-12)
    tx = -couple * wx  # against the part of the spin that rolls
    ty = -couple * wy
    up = radius * radius * wz
    n0, n1, n2 = _over_contact(
        a * tx + d * ty - (w1 * m2 - w2 * m1) - up * (w1 * i - w2 * h),
        b * tx + e * ty - (w2 * m0 - w0 * m2) - up * (w2 * g - w0 * i),
        c * tx + f * ty - (w0 * m1 - w1 * m0) - up * (w0 * h - w1 * g),
        g, h, i, ball,
    )  # fmt: skip
    return radius * (d * n0 + e * n1 + f * n2), -radius * (a * n0 + b * n1 + c * n2)


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _slip_change(s, w0, w1, w2, ax, ay, ball):  # type: ignore[no-untyped-def]
    """How the contact slip changes (2), m/s2, under the force over mass: Euler's equations."""
    a, b, c, d, e, f, _, _, _ = _axes(s[4], s[5], s[6], s[7])
    radius, i0, i1, i2 = ball[0], ball[1], ball[2], ball[3]
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
def _slip_rates(pull, vx, vy, q0, q1, q2, q3, m, ball, dx, dy):  # type: ignore[no-untyped-def]
    """Force over mass (2) and rate of the attitude (4). ``dx, dy``: slip's direction if it is 0."""
    w0, w1, w2, _, _, _, ux, uy = _slipping(vx, vy, q0, q1, q2, q3, m, ball)
    slip = math.sqrt(ux * ux + uy * uy)
    if slip > 1e-12:
        dx = ux / slip
        dy = uy / slip
    r0, r1, r2, r3 = _attitude_rate(q0, q1, q2, q3, w0, w1, w2)
    return -pull * dx, -pull * dy, r0, r1, r2, r3


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _pull(x, y, ball, lane):  # type: ignore[no-untyped-def]
    """The force of friction over mass, ``mu g``."""
    return ball[8] * _friction(-x, y, lane[0], lane[1], lane[2])


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _slip_step(s, step, pull, m, ball, lane, dx, dy):  # type: ignore[no-untyped-def]
    """One Runge-Kutta step of fourth order while the ball slips.

    ``pull`` is ``mu g`` at its beginning. The two stages in its middle lie a tenth of a millimetre
    apart and share one look at the lane.
    """
    x, y, vx, vy, q0, q1, q2, q3 = s
    h = 0.5 * step
    a1, b1, c1, d1, e1, f1 = _slip_rates(pull, vx, vy, q0, q1, q2, q3, m, ball, dx, dy)
    vx2 = vx + h * a1
    vy2 = vy + h * b1
    pull = _pull(x + h * vx2, y + h * vy2, ball, lane)
    a2, b2, c2, d2, e2, f2 = _slip_rates(
        pull, vx2, vy2, q0 + h * c1, q1 + h * d1, q2 + h * e1, q3 + h * f1, m, ball, dx, dy
    )
    vx3 = vx + h * a2
    vy3 = vy + h * b2
    a3, b3, c3, d3, e3, f3 = _slip_rates(
        pull, vx3, vy3, q0 + h * c2, q1 + h * d2, q2 + h * e2, q3 + h * f2, m, ball, dx, dy
    )
    h = step
    vx4 = vx + h * a3
    vy4 = vy + h * b3
    pull = _pull(x + h * vx3, y + h * vy3, ball, lane)
    a4, b4, c4, d4, e4, f4 = _slip_rates(
        pull, vx4, vy4, q0 + h * c3, q1 + h * d3, q2 + h * e3, q3 + h * f3, m, ball, dx, dy
    )
    h = step / 6.0
    n0 = q0 + h * (c1 + 2.0 * (c2 + c3) + c4)
    n1 = q1 + h * (d1 + 2.0 * (d2 + d3) + d4)
    n2 = q2 + h * (e1 + 2.0 * (e2 + e3) + e4)
    n3 = q3 + h * (f1 + 2.0 * (f2 + f3) + f4)
    norm = 1.0 / math.sqrt(n0 * n0 + n1 * n1 + n2 * n2 + n3 * n3)
    return (
        x + h * (vx + 2.0 * (vx2 + vx3) + vx4),
        y + h * (vy + 2.0 * (vy2 + vy3) + vy4),
        vx + h * (a1 + 2.0 * (a2 + a3) + a4),
        vy + h * (b1 + 2.0 * (b2 + b3) + b4),
        n0 * norm, n1 * norm, n2 * norm, n3 * norm,
    )  # fmt: skip


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _roll_rates(q0, q1, q2, q3, m, ball):  # type: ignore[no-untyped-def]
    """Velocity (2), rate of the attitude (4) and of ``M`` (2)."""
    w0, w1, w2, wx, wy, _ = _rolling(q0, q1, q2, q3, m, ball)
    r0, r1, r2, r3 = _attitude_rate(q0, q1, q2, q3, w0, w1, w2)
    couple = ball[7] / (math.sqrt(wx * wx + wy * wy) + 1e-12)
    return ball[0] * wy, -ball[0] * wx, r0, r1, r2, r3, -couple * wx, -couple * wy


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _roll_step(s, step, m, ball):  # type: ignore[no-untyped-def]
    """One Runge-Kutta step of fourth order while the ball rolls: the new ``s`` and ``m``."""
    x, y, _, _, q0, q1, q2, q3 = s
    mx, my, mz = m
    h = 0.5 * step
    a1, b1, c1, d1, e1, f1, g1, k1 = _roll_rates(q0, q1, q2, q3, m, ball)
    a2, b2, c2, d2, e2, f2, g2, k2 = _roll_rates(
        q0 + h * c1, q1 + h * d1, q2 + h * e1, q3 + h * f1, (mx + h * g1, my + h * k1, mz), ball
    )
    a3, b3, c3, d3, e3, f3, g3, k3 = _roll_rates(
        q0 + h * c2, q1 + h * d2, q2 + h * e2, q3 + h * f2, (mx + h * g2, my + h * k2, mz), ball
    )
    h = step
    a4, b4, c4, d4, e4, f4, g4, k4 = _roll_rates(
        q0 + h * c3, q1 + h * d3, q2 + h * e3, q3 + h * f3, (mx + h * g3, my + h * k3, mz), ball
    )
    h = step / 6.0
    n0 = q0 + h * (c1 + 2.0 * (c2 + c3) + c4)
    n1 = q1 + h * (d1 + 2.0 * (d2 + d3) + d4)
    n2 = q2 + h * (e1 + 2.0 * (e2 + e3) + e4)
    n3 = q3 + h * (f1 + 2.0 * (f2 + f3) + f4)
    m = (mx + h * (g1 + 2.0 * (g2 + g3) + g4), my + h * (k1 + 2.0 * (k2 + k3) + k4), mz)
    x += h * (a1 + 2.0 * (a2 + a3) + a4)
    y += h * (b1 + 2.0 * (b2 + b3) + b4)
    norm = 1.0 / math.sqrt(n0 * n0 + n1 * n1 + n2 * n2 + n3 * n3)
    return _constrained((x, y, 0.0, 0.0, n0 * norm, n1 * norm, n2 * norm, n3 * norm), m, ball), m


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _constrained(s, m, ball):  # type: ignore[no-untyped-def]
    """The same state with the velocity of a ball that rolls."""
    _, _, _, wx, wy, _ = _rolling(s[4], s[5], s[6], s[7], m, ball)
    return s[0], s[1], ball[0] * wy, -ball[0] * wx, s[4], s[5], s[6], s[7]


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _turning(s, m, ball, rolls):  # type: ignore[no-untyped-def]
    """Spin in the principal axes (3) and in space (3), and contact slip (2)."""
    if rolls:
        w0, w1, w2, wx, wy, wz = _rolling(s[4], s[5], s[6], s[7], m, ball)
        return w0, w1, w2, wx, wy, wz, 0.0, 0.0
    return _slipping(s[2], s[3], s[4], s[5], s[6], s[7], m, ball)


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _held(s, m, ball, lane):  # type: ignore[no-untyped-def]
    """Friction's force less the one that rolling asks for, over mass; and that one's direction."""
    ax, ay = _asked(s, m, ball)
    asked = math.sqrt(ax * ax + ay * ay) + 1e-300
    return _pull(s[0], s[1], ball, lane) - asked, ax / asked, ay / asked


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
def _passed(s, n, step, arrows_y, out):  # type: ignore[no-untyped-def]
    """Note what lies between two states: the arrows, the breakpoint, the gutter."""
    x, y, vx, vy = s[0], s[1], s[2], s[3]
    nx, ny, nvx, nvy = n[0], n[1], n[2], n[3]
    if y < arrows_y <= ny:
        part = _part_to(arrows_y, y, vy, ny, nvy, step)
        out[ARROWS_X] = -_between(x, vx, nx, nvx, step, part)[0]
    if vx > 0.0 >= nvx:
        part = vx / (vx - nvx)
        for _ in range(2):
            drift = _between(x, vx, nx, nvx, step, part)[1]
            part = min(max(part + drift / (vx - nvx), 0.0), 1.0)
        bx = -_between(x, vx, nx, nvx, step, part)[0]
        if bx < out[BREAK_X]:
            out[BREAK_X] = bx
            out[BREAK_Y] = _between(y, vy, ny, nvy, step, part)[0]
            out[BREAK_INSIDE] = 1.0
    if not out[GUTTER_Y] >= 0.0 and (nx > 0.0 or nx < -LANE_WIDTH_M):
        edge = 0.0 if nx > 0.0 else -LANE_WIDTH_M
        part = _part_to(edge, x, vx, nx, nvx, step) if nx != x else 0.0
        out[GUTTER_Y] = _between(y, vy, ny, nvy, step, part)[0]


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _lap(w, n, step, y, ny, lap, rings, laps):  # type: ignore[no-untyped-def]
    """Add a step to the present revolution; write its ring where it is full.

    ``lap`` holds the angle turned, the integral of the spin in the principal axes (3) and of its
    upright part, and where the revolution began. The mean axis is the ring's pole: what the push of
    friction does to the axis within one revolution averages out.
    """
    spin = math.sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2])
    spin += math.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
    turn = 0.5 * step * spin
    part = 0.0
    if lap[0] + turn >= 2.0 * math.pi:
        part = (2.0 * math.pi - lap[0]) / turn
        h = 0.5 * step * part
        p0 = lap[1] + h * (w[0] + n[0])
        p1 = lap[2] + h * (w[1] + n[1])
        p2 = lap[3] + h * (w[2] + n[2])
        up = lap[4] + h * (w[5] + n[5])
        long = math.sqrt(p0 * p0 + p1 * p1 + p2 * p2)
        end_y = y + part * (ny - y)
        if laps < rings.shape[0]:
            rings[laps, 0] = p0 / long
            rings[laps, 1] = p1 / long
            rings[laps, 2] = p2 / long
            rings[laps, 3] = 90.0 + math.degrees(math.asin(min(max(up / long, -1.0), 1.0)))
            rings[laps, 4] = 0.5 * (lap[5] + end_y)
            laps += 1
        lap[0] = -part * turn
        lap[1:5] = 0.0
        lap[5] = end_y
    h = 0.5 * step * (1.0 - part)
    lap[0] += turn
    lap[1] += h * (w[0] + n[0])
    lap[2] += h * (w[1] + n[1])
    lap[3] += h * (w[2] + n[2])
    lap[4] += h * (w[5] + n[5])
    return laps


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _note(row, t, s, w, rolls):  # type: ignore[no-untyped-def]
    row[0] = t
    row[1] = -s[0]
    row[2] = s[1]
    row[3] = -s[2]
    row[4] = s[3]
    row[5] = w[3]
    row[6] = w[4]
    row[7] = w[5]
    row[8] = -w[6]
    row[9] = w[7]
    row[10] = 1.0 if rolls else 0.0
    for n in range(4):
        row[11 + n] = s[4 + n]


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _start_of(start, inertia, ball):  # type: ignore[no-untyped-def]
    """State and angular momentum about the contact of a row of ``starts``."""
    s = (start[0], start[1], start[2], start[3], start[4], start[5], start[6], start[7])
    a, b, c, d, e, f, g, h, i = _axes(s[4], s[5], s[6], s[7])
    wx, wy, wz = start[8], start[9], start[10]
    l0 = inertia[0] * (a * wx + d * wy + g * wz)
    l1 = inertia[1] * (b * wx + e * wy + h * wz)
    l2 = inertia[2] * (c * wx + f * wy + i * wz)
    return s, (
        a * l0 + b * l1 + c * l2 - ball[0] * s[3],
        d * l0 + e * l1 + f * l2 + ball[0] * s[2],
        g * l0 + h * l1 + i * l2,
    )


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace_rigid(  # type: ignore[no-untyped-def]
    start, inertia, radius, gravity, resistance, film, law, factors, arrows_y, pin_y, h,
    out, lap, track, rings,
):  # fmt: skip
    """Follow one ball to the head-pin plane; fill ``out``, and ``track`` and ``rings`` as they fit.

    ``start`` (11) is X, Y, velocity (2), attitude (4: unit quaternion from the principal axes to
    space, scalar first) and spin in space (3). ``inertia`` (3) is in m2, ``resistance`` without
    unit, ``h`` the longest step in s, ``lap`` (6) room to work in. Returns how many rows of
    ``track`` and of ``rings`` were written.
    """
    out[:] = np.nan
    ball = (
        radius, 1.0 / inertia[0], 1.0 / inertia[1], 1.0 / inertia[2],
        1.0 / (inertia[0] + radius * radius), 1.0 / (inertia[1] + radius * radius),
        1.0 / (inertia[2] + radius * radius),
        resistance * radius * gravity,  # the normal force runs ahead of the contact by c R
        gravity,
    )  # fmt: skip
    lane = (film, law, factors)
    # Twice the most by which slip can change: by friction, and by what unequal moments ask for.
    least = min(inertia[0], inertia[1], inertia[2])
    by_friction = 2.0 * (1.0 + radius * radius / least)
    by_unrest = radius * (max(inertia[0], inertia[1], inertia[2]) / least - 1.0)

    s, m = _start_of(start, inertia, ball)
    rolls = False
    w = _turning(s, m, ball, rolls)
    out[BREAK_INSIDE] = 0.0
    out[BREAK_X] = -s[0]
    out[BREAK_Y] = s[1]
    lap[:] = 0.0
    lap[5] = s[1]
    dx = 0.0  # the direction in which slip begins where it is nought
    dy = 1.0
    held = 0.0
    t = 0.0
    rows = 0
    laps = 0
    for _ in range(MAX_STEPS):
        spin = math.sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2])
        step = min(h, LONGEST_TURN / (spin + 1e-9))
        pull = 0.0
        if not rolls:
            slip = math.sqrt(w[6] * w[6] + w[7] * w[7])
            pull = _pull(s[0], s[1], ball, lane)
            if slip < LANDED:
                held, ax, ay = _held(s, m, ball, lane)
                rolls = held >= 0.0
                if slip <= 1e-12:
                    dx = -ax
                    dy = -ay
            if rolls:
                s = _constrained(s, m, ball)
                w = _turning(s, m, ball, rolls)
                if not out[ROLL_Y] >= 0.0:
                    out[ROLL_Y] = s[1]
            elif slip < step * (by_friction * pull + by_unrest * spin * spin):
                if slip > 1e-12:
                    dx = w[6] / slip
                    dy = w[7] / slip
                cx, cy = _slip_change(s, w[0], w[1], w[2], -pull * dx, -pull * dy, ball)
                reach = PART_OF_SLIP if slip > LAST_SLIP else PART_OF_LAST_SLIP
                left = slip / (math.sqrt(cx * cx + cy * cy) + 1e-12)  # s, if it went straight down
                if slip < LAST_SLIP and not out[ROLL_Y] >= 0.0:
                    out[ROLL_Y] = s[1] + s[3] * left
                reach *= left
                closes = dx * cx + dy * cy < 0.0
                step = min(step, max(reach, 1e-7 if closes else SHORTEST_STEP))
        if rows < track.shape[0]:
            _note(track[rows], t, s, w, rolls)
            rows += 1

        slips_on = False
        if rolls:
            if s[2] * s[2] + s[3] * s[3] < STOPPED * STOPPED:
                return rows, laps
            n, nm = _roll_step(s, step, m, ball)
            still, ax, ay = _held(n, nm, ball, lane)
            if still < 0.0:
                step = max(step * held / (held - still), SHORTEST_STEP)
                n, nm = _roll_step(s, step, m, ball)
                still, ax, ay = _held(n, nm, ball, lane)
                slips_on = True
            held = max(still, 0.0)
        else:
            n, nm = _slip_step(s, step, pull, m, ball, lane, dx, dy), m
        arrives = n[1] >= pin_y
        if arrives:  # once more, as far as the plane
            step *= _part_to(pin_y, s[1], s[3], n[1], n[3], step)
            if rolls:
                n, nm = _roll_step(s, step, m, ball)
            else:
                n = _slip_step(s, step, pull, m, ball, lane, dx, dy)
        if step > 0.0:
            nw = _turning(n, nm, ball, rolls)
            _passed(s, n, step, arrows_y, out)
            laps = _lap(w, nw, step, s[1], n[1], lap, rings, laps)
            w = nw
        s = n
        m = nm
        t += step
        if slips_on:
            rolls = False
            dx = -ax
            dy = -ay
            w = _turning(s, m, ball, rolls)
        if arrives:
            out[PIN_X] = -s[0]
            out[PIN_VX] = -s[2]
            out[PIN_VY] = s[3]
            out[PIN_SLIP] = math.sqrt(w[6] * w[6] + w[7] * w[7])
            out[PIN_SIDE_SLIP] = -w[6]
            out[PIN_TIME] = t
            if -s[0] < out[BREAK_X]:
                out[BREAK_X] = -s[0]
                out[BREAK_Y] = pin_y
                out[BREAK_INSIDE] = 0.0
            if rows < track.shape[0]:
                _note(track[rows], t, s, w, rolls)
                rows += 1
            return rows, laps
    return rows, laps


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _first_and_last(rings, laps, out):  # type: ignore[no-untyped-def]
    """Fill in the first ring and the one where slip ends (``flare.Rings.until``), if there are."""
    if laps == 0 or rings[0, 4] > out[ROLL_Y]:
        return
    n = laps - 1
    part = 0.0
    while rings[n, 4] > out[ROLL_Y]:
        n -= 1
    if n < laps - 1 and out[ROLL_Y] > 0.0:
        part = (out[ROLL_Y] - rings[n, 4]) / (rings[n + 1, 4] - rings[n, 4])
    for m in range(4):
        out[FIRST_RING + m] = rings[0, m]
        out[LAST_RING + m] = rings[n, m]
        if part > 0.0:
            out[LAST_RING + m] += part * (rings[n + 1, m] - rings[n, m])


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace_rigid_many(  # type: ignore[no-untyped-def]
    starts, inertia, radius, gravity, resistance, film, law, factors, arrows_y, pin_y, h, results
):
    """Trace every row of ``starts`` (11 numbers) with its own row of ``factors``."""
    track = np.empty((0, TRACK))
    rings = np.empty((MOST_RINGS, RING))
    lap = np.empty(6)
    for n in range(starts.shape[0]):
        _, laps = trace_rigid(
            starts[n], inertia, radius, gravity, resistance, film, law, factors[n],
            arrows_y, pin_y, h, results[n], lap, track, rings,
        )  # fmt: skip
        _first_and_last(rings, laps, results[n])
