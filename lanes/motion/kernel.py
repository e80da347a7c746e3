"""The compiled inner loop of the ball path (the model and its signs are told in ``path.py``).

Everything here is SI. ``film`` (39, feet), ``law`` (mu_oil, mu_dry, soak, length in ft) and
``factors`` (scale, front, mid, back) are those of ``friction.Lane``.
"""

import math

import numpy as np
from numba import njit

from .friction import BACK_RAMP_FT, FRONT_UNTIL_FT, MID_FROM_FT
from .geometry import BOARD_M, FOOT_M, GRAVITY, LANE_WIDTH_M

MAX_STEPS = 8000
# Reordering is allowed, but nan keeps its meaning: it marks what a path does not have.
_FAST = {"contract", "reassoc", "arcp", "nsz", "afn"}

# Results of one traced path, in SI.
ARROWS_X, BREAK_X, BREAK_Y, BREAK_INSIDE, PIN_X, PIN_VX, PIN_VY, PIN_SLIP = range(8)
PIN_TIME, ROLL_Y, GUTTER_Y = range(8, 11)
RESULTS = 11


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _friction(x, y, film, law, factors):  # type: ignore[no-untyped-def]
    """Friction at one place; the same law as ``Lane.mu``."""
    board = min(max(x / BOARD_M - 0.5, 0.0), film.shape[0] - 1.0)
    feet = y / FOOT_M
    row = min(max(feet - 0.5, 0.0), film.shape[1] - 1.0)
    i = min(int(board), film.shape[0] - 2)
    j = min(int(row), film.shape[1] - 2)
    a = board - i
    b = row - j
    oil = (1.0 - a) * ((1.0 - b) * film[i, j] + b * film[i, j + 1])
    oil += a * ((1.0 - b) * film[i + 1, j] + b * film[i + 1, j + 1])
    front = min(max((MID_FROM_FT - feet) / (MID_FROM_FT - FRONT_UNTIL_FT), 0.0), 1.0)
    back = min(max((feet - law[3]) / BACK_RAMP_FT, 0.0), 1.0)
    oil *= factors[1] * front + factors[2] * (1.0 - front)
    dry = law[1] * (1.0 + back * (factors[3] - 1.0))
    return factors[0] * (law[0] + (dry - law[0]) * math.exp(-oil / law[2]))


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _step(x, y, s, h, v0x, v0y, ex, ey, gravity, film, law, factors):  # type: ignore[no-untyped-def]
    """One Runge-Kutta step of fourth order while the ball slips."""
    r1 = gravity * _friction(x, y, film, law, factors)
    half = 0.5 * h
    s2 = s + half * r1
    r2 = gravity * _friction(
        x + half * (v0x - ex * s), y + half * (v0y - ey * s), film, law, factors
    )
    s3 = s + half * r2
    r3 = gravity * _friction(
        x + half * (v0x - ex * s2), y + half * (v0y - ey * s2), film, law, factors
    )
    s4 = s + h * r3
    r4 = gravity * _friction(x + h * (v0x - ex * s3), y + h * (v0y - ey * s3), film, law, factors)
    taken = (s + 2.0 * s2 + 2.0 * s3 + s4) / 6.0
    return (
        x + h * (v0x - ex * taken),
        y + h * (v0y - ey * taken),
        s + h * (r1 + 2.0 * r2 + 2.0 * r3 + r4) / 6.0,
    )


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace(  # type: ignore[no-untyped-def]
    x, v0x, v0y, ux, uy, k, gravity, film, law, factors, arrows_y, pin_y, h, out, track
):
    """Follow one ball to the head-pin plane; fill ``out`` and, if it has rows, ``track``.

    ``track`` rows are time, x, y, s; the number of rows written is returned.
    """
    slip = math.hypot(ux, uy)
    ex = ux / slip if slip > 0.0 else 0.0
    ey = uy / slip if slip > 0.0 else 0.0
    s_end = slip * k / (1.0 + k)
    s_turn = v0x / ex if ex != 0.0 else -1.0  # where the sideways speed passes through nought
    y = 0.0
    s = 0.0
    t = 0.0
    rows = 0
    for i in range(out.shape[0]):
        out[i] = np.nan
    out[BREAK_INSIDE] = 0.0
    out[BREAK_X] = x
    out[BREAK_Y] = 0.0
    if s_end <= 1e-12:
        out[ROLL_Y] = 0.0
    for _ in range(MAX_STEPS):
        if rows < track.shape[0]:
            track[rows, 0] = t
            track[rows, 1] = x
            track[rows, 2] = y
            track[rows, 3] = s
            rows += 1
        rolling = s >= s_end
        if rolling:
            vx = v0x - ex * s_end
            vy = v0y - ey * s_end
            if vy <= 0.0:
                return rows
            # Straight from here: one plane at a time, in steps only where the track is wanted.
            step = (pin_y - y) / vy
            if track.shape[0] > 0:
                step = min(step, h)
            if y < arrows_y:
                step = min(step, (arrows_y - y) / vy + 1e-12)
            nx = x + vx * step
            ny = y + vy * step
            ns = s
        else:
            step = h
            nx, ny, ns = _step(x, y, s, step, v0x, v0y, ex, ey, gravity, film, law, factors)
            if ns > s_end:
                for _ in range(2):
                    step *= (s_end - s) / (ns - s)
                    nx, ny, ns = _step(x, y, s, step, v0x, v0y, ex, ey, gravity, film, law, factors)
                ns = s_end
            if s_turn > s and s_turn <= ns and ex < 0.0:
                part = step * (s_turn - s) / (ns - s)
                bx, by, bs = _step(x, y, s, part, v0x, v0y, ex, ey, gravity, film, law, factors)
                part *= (s_turn - s) / (bs - s)
                bx, by, bs = _step(x, y, s, part, v0x, v0y, ex, ey, gravity, film, law, factors)
                if by <= pin_y:
                    out[BREAK_X] = bx
                    out[BREAK_Y] = by
                    out[BREAK_INSIDE] = 1.0
        if y < arrows_y <= ny:
            out[ARROWS_X] = _across(
                arrows_y, x, y, s, step, rolling, ny,
                v0x, v0y, ex, ey, s_end, gravity, film, law, factors,
            )[0]  # fmt: skip
        if not out[GUTTER_Y] >= 0.0 and (nx < 0.0 or nx > LANE_WIDTH_M):
            edge = 0.0 if nx < 0.0 else LANE_WIDTH_M
            part = (edge - x) / (nx - x) if nx != x else 0.0
            crossing = y + part * (ny - y)
            if crossing <= pin_y:
                out[GUTTER_Y] = crossing
        if ny >= pin_y - 1e-12:
            px, ps, lag = _across(
                pin_y, x, y, s, step, rolling, ny,
                v0x, v0y, ex, ey, s_end, gravity, film, law, factors,
            )  # fmt: skip
            out[PIN_X] = px
            out[PIN_VX] = v0x - ex * ps
            out[PIN_VY] = v0y - ey * ps
            out[PIN_SLIP] = slip - ps * (1.0 + k) / k if ps < s_end else 0.0
            out[PIN_TIME] = t + lag
            if px < out[BREAK_X] and out[BREAK_INSIDE] == 0.0:
                out[BREAK_X] = px
                out[BREAK_Y] = pin_y
            if ps >= s_end and s < s_end:
                out[ROLL_Y] = pin_y
            if rows < track.shape[0]:
                track[rows, 0] = t + lag
                track[rows, 1] = px
                track[rows, 2] = pin_y
                track[rows, 3] = ps
                rows += 1
            return rows
        if ns >= s_end and s < s_end:
            out[ROLL_Y] = ny
        x = nx
        y = ny
        s = ns
        t += step
    return rows


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _across(  # type: ignore[no-untyped-def]
    plane, x, y, s, step, rolling, ny,
    v0x, v0y, ex, ey, s_end, gravity, film, law, factors,
):  # fmt: skip
    """Place, ``s`` and time after the step's start at which the ball crosses a plane."""
    part = step * (plane - y) / (ny - y)
    if rolling:
        return x + (v0x - ex * s_end) * part, s, part
    px, py, ps = _step(x, y, s, part, v0x, v0y, ex, ey, gravity, film, law, factors)
    rest = (plane - py) / (v0y - ey * ps)
    return px + (v0x - ex * ps) * rest, min(ps, s_end), part + rest


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace_many(starts, k, film, law, factors, arrows_y, pin_y, h, results):  # type: ignore[no-untyped-def]
    """Trace every row of ``starts`` (x, v0x, v0y, ux, uy) with its own row of ``factors``."""
    track = np.empty((0, 4))
    for i in range(starts.shape[0]):
        a = starts[i]
        trace(
            a[0], a[1], a[2], a[3], a[4], k, GRAVITY, film, law, factors[i],
            arrows_y, pin_y, h, results[i], track,
        )  # fmt: skip
