"""A rigid ball on a lane with film on it: equations and friction law of the harness alone.

Every bowler is computed as a left-hander, for whom x from the strong-side edge, y to the pins and z
up make a right-handed frame; a right-hander is the mirror image. The state is the contact's place
and velocity, the attitude as a quaternion from body to space, and the spin in the body's frame:

    dv/dt = F / m                                   F = -mu(film, slip) m g u / |u|
    I dw/dt = r x F (in the body) - w x (I w)       u = v + w x r,  r = (0, 0, -R)
    dq/dt = q (0, w) / 2

(Euler's equations, any mechanics text.) There is no switch to rolling: friction falls to nothing
within the last few cm/s of slip, so a ball that rolls creeps. Classical Runge-Kutta, fixed step.

Friction is a Stribeck curve in the sense of any tribology text: boundary friction where the film is
thin against the cover's roughness, falling by a power of their ratio to the friction of a full
film, which grows with slip and film (shear of the oil). Its numbers are invented so that ordinary
releases run ordinary lines (checked in the tests); nothing is taken from ``lanes.motion``.
"""

from __future__ import annotations

import numpy as np
from numba import njit

BOARD = 41.5 * 0.0254 / 39
FOOT = 0.3048
MPH = 0.44704
RPM = 2 * np.pi / 60
G = 9.80665
RADIUS = 4.2975 * 0.0254
STEP = 0.008
ARROWS_FT, PINS_FT = 15.0, 59.5
_CREEP = 0.05  # m/s of slip within which friction falls away
# columns of a result
ARROWS, LOW, LOW_FT, PIN, ANGLE, SPEED, GUTTER_FT = range(7)
FEET = 61  # the path is kept at every foot from 0 to 60

# law: dry, wet, film at half (um), power, slip scale (m/s), slip power, shear per um and m/s
DRY, WET, HALF, POWER, SLIP, SLIP_POWER, SHEAR = range(7)


@njit(cache=True)
def friction(film, slip, law):
    """Friction under a film in um at a slip in m/s."""
    if law[POWER] == 0.0:  # constant friction, for checks
        return law[DRY]
    thick = (max(film, 0.0) / law[HALF]) ** law[POWER]
    thick *= (1.0 + slip / law[SLIP]) ** law[SLIP_POWER]
    boundary = 1.0 / (1.0 + thick)
    full = law[WET] + law[SHEAR] * film * slip
    return full + (law[DRY] - full) * boundary


@njit(cache=True)
def film_at(film, x, y):
    """Film (um) between the grid's nodes: half boards across, feet along."""
    across = x / BOARD * 2.0
    along = y / FOOT
    rows, columns = film.shape
    a = min(max(across, 0.0), rows - 1.001)
    b = min(max(along, 0.0), columns - 1.001)
    i, j = int(a), int(b)
    p, q = a - i, b - j
    return (1 - q) * ((1 - p) * film[i, j] + p * film[i + 1, j]) + q * (
        (1 - p) * film[i, j + 1] + p * film[i + 1, j + 1]
    )


@njit(cache=True)
def _rates(s, film, law, moments, radius, gravity, out):
    qw, qx, qy, qz = s[4], s[5], s[6], s[7]
    wx, wy, wz = s[8], s[9], s[10]
    # rotation matrix from body to space
    r00 = 1 - 2 * (qy * qy + qz * qz)
    r01 = 2 * (qx * qy - qw * qz)
    r02 = 2 * (qx * qz + qw * qy)
    r10 = 2 * (qx * qy + qw * qz)
    r11 = 1 - 2 * (qx * qx + qz * qz)
    r12 = 2 * (qy * qz - qw * qx)
    # spin in space, its horizontal part
    sx = r00 * wx + r01 * wy + r02 * wz
    sy = r10 * wx + r11 * wy + r12 * wz
    ux, uy = s[2] - radius * sy, s[3] + radius * sx
    slip = np.sqrt(ux * ux + uy * uy)
    pull = friction(film_at(film, s[0], s[1]), slip, law) * gravity
    share = np.tanh(slip / _CREEP) / max(slip, 1e-9)
    ax, ay = -pull * share * ux, -pull * share * uy
    # couple over mass in space (R ay, -R ax, 0), turned into the body
    tx, ty = radius * ay, -radius * ax
    bx = r00 * tx + r10 * ty
    by = r01 * tx + r11 * ty
    bz = r02 * tx + r12 * ty
    out[0], out[1], out[2], out[3] = s[2], s[3], ax, ay
    out[4] = 0.5 * (-qx * wx - qy * wy - qz * wz)
    out[5] = 0.5 * (qw * wx + qy * wz - qz * wy)
    out[6] = 0.5 * (qw * wy + qz * wx - qx * wz)
    out[7] = 0.5 * (qw * wz + qx * wy - qy * wx)
    out[8] = (bx - (moments[2] - moments[1]) * wy * wz) / moments[0]
    out[9] = (by - (moments[0] - moments[2]) * wz * wx) / moments[1]
    out[10] = (bz - (moments[1] - moments[0]) * wx * wy) / moments[2]


@njit(cache=True)
def _follow(start, film, law, moments, radius, gravity, until, step, found, path):
    """Follow one ball to ``until`` metres; returns the state there and the time."""
    s = start.copy()
    a, b, c, d, t = np.empty(11), np.empty(11), np.empty(11), np.empty(11), np.empty(11)
    found[:] = np.nan
    path[:] = np.nan
    path[0] = s[0] / BOARD + 0.5
    low_x, low_y = s[0], s[1]
    time = 0.0
    foot = 1
    for _ in range(4000):
        _rates(s, film, law, moments, radius, gravity, a)
        t[:] = s + 0.5 * step * a
        _rates(t, film, law, moments, radius, gravity, b)
        t[:] = s + 0.5 * step * b
        _rates(t, film, law, moments, radius, gravity, c)
        t[:] = s + step * c
        _rates(t, film, law, moments, radius, gravity, d)
        t[:] = s + step / 6.0 * (a + 2 * b + 2 * c + d)
        norm = np.sqrt(t[4] ** 2 + t[5] ** 2 + t[6] ** 2 + t[7] ** 2)
        t[4:8] /= norm
        while foot < FEET and t[1] >= foot * FOOT:
            part = (foot * FOOT - s[1]) / (t[1] - s[1])
            path[foot] = (s[0] + part * (t[0] - s[0])) / BOARD + 0.5
            foot += 1
        for plane in range(2):
            y = (ARROWS_FT if plane == 0 else PINS_FT) * FOOT
            if s[1] < y <= t[1]:
                part = (y - s[1]) / (t[1] - s[1])
                found[ARROWS if plane == 0 else PIN] = (s[0] + part * (t[0] - s[0])) / BOARD + 0.5
                if plane == 1:
                    found[ANGLE] = np.degrees(np.arctan2(t[2], t[3]))
                    found[SPEED] = np.sqrt(t[2] ** 2 + t[3] ** 2) / MPH
        if t[0] < low_x and t[1] <= PINS_FT * FOOT:
            low_x, low_y = t[0], t[1]
        if np.isnan(found[GUTTER_FT]) and (t[0] < 0.0 or t[0] > 39 * BOARD):
            found[GUTTER_FT] = t[1] / FOOT
        done = t[1] >= until
        if done:
            part = (until - s[1]) / (t[1] - s[1])
            t[:] = s + part * (t - s)
            time += part * step
            s[:] = t
            break
        time += step
        s[:] = t
    found[LOW], found[LOW_FT] = low_x / BOARD + 0.5, low_y / FOOT
    if not np.isnan(found[GUTTER_FT]) and found[GUTTER_FT] < PINS_FT:
        found[PIN] = found[ANGLE] = found[SPEED] = np.nan
    return s, time


@njit(cache=True)
def _many(starts, film, law, moments, found, paths):
    for i in range(len(starts)):
        _follow(starts[i], film, law, moments, RADIUS, G, 60.2 * FOOT, STEP, found[i], paths[i])


def starts(throws, attitude):
    """Turn throws (n, 6: laydown, launch out deg, mph, rpm, rotation, tilt) into states (n, 11).

    ``attitude`` (4,) is the quaternion from body to space that every ball is let go with.
    """
    throws = np.atleast_2d(np.asarray(throws, dtype=float))
    laydown, launch, speed, revs, rotation, tilt = throws.T
    s = np.zeros((len(throws), 11))
    out, a, t = np.radians(launch), np.radians(rotation), np.radians(tilt)
    s[:, 0] = (laydown - 0.5) * BOARD
    s[:, 2] = -speed * MPH * np.sin(out)
    s[:, 3] = speed * MPH * np.cos(out)
    turn = a - out  # rotation is told against the line of launch
    spin = revs * RPM
    space = np.column_stack(
        [-np.cos(t) * np.cos(turn), np.cos(t) * np.sin(turn), -np.sin(t)]
    ) * spin[:, None]  # fmt: skip
    w, x, y, z = attitude
    to_space = np.array(
        [
            [1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)],
            [2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)],
            [2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)],
        ]
    )
    s[:, 4:8] = attitude
    s[:, 8:11] = space @ to_space
    return s


def attitude_for(rotation_deg, tilt_deg, pin_to_pap_in):
    """Return the quaternion (4,) that puts the pin, body axis 1, so far from the spin's axis."""
    a, t = np.radians(rotation_deg), np.radians(tilt_deg)
    pap = np.array([np.cos(t) * np.cos(a), -np.cos(t) * np.sin(a), np.sin(t)])
    up = np.array([0.0, 0.0, 1.0]) - pap[2] * pap
    up /= np.linalg.norm(up)
    far = pin_to_pap_in / 6.75 * np.pi / 2
    pin = np.cos(far) * pap + np.sin(far) * up
    third = np.cross(pap, up)
    matrix = np.column_stack([pin, np.cross(third, pin), third])
    trace = np.trace(matrix)
    # scalar first; the largest of the four squares keeps it away from a division by nothing
    squares = np.array([trace, matrix[0, 0], matrix[1, 1], matrix[2, 2]])
    best = int(np.argmax(squares))
    m = matrix
    if best == 0:
        q = np.array([1 + trace, m[2, 1] - m[1, 2], m[0, 2] - m[2, 0], m[1, 0] - m[0, 1]])
    elif best == 1:
        q = np.array(
            [m[2, 1] - m[1, 2], 1 + 2 * m[0, 0] - trace, m[0, 1] + m[1, 0], m[0, 2] + m[2, 0]]
        )
    elif best == 2:
        q = np.array(
            [m[0, 2] - m[2, 0], m[0, 1] + m[1, 0], 1 + 2 * m[1, 1] - trace, m[1, 2] + m[2, 1]]
        )
    else:
        q = np.array(
            [m[1, 0] - m[0, 1], m[0, 2] + m[2, 0], m[1, 2] + m[2, 1], 1 + 2 * m[2, 2] - trace]
        )
    return q / np.linalg.norm(q)


def moments_of(rg_in, differential_in, intermediate_in=0.0):
    """Return the principal moments over the mass (3,), m2: about the pin, the mass bias, third."""
    rg = np.array([rg_in, rg_in + differential_in, rg_in + differential_in - intermediate_in])
    return (rg * 0.0254) ** 2


def throw_all(throws, film, law, moments, attitude):
    """Throw every ball of ``throws`` on one film; returns results (n, 7) and paths (n, 61)."""
    begin = starts(throws, attitude)
    found, paths = np.empty((len(begin), 7)), np.empty((len(begin), FEET))
    _many(begin, film, law, moments, found, paths)
    return found, paths


def follow_one(throw, film, law, moments, attitude, until_m, radius=RADIUS, gravity=G, step=STEP):
    """Follow one throw to ``until_m``; returns the state there (11,) and the time, for checks."""
    found, path = np.empty(7), np.empty(FEET)
    begin = starts(throw, attitude)[0]
    return _follow(begin, film, law, moments, radius, gravity, until_m, step, found, path)
