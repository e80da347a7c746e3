"""The compiled inner loop of the ball path (the model and its signs are told in ``path.py``).

Everything here is SI. ``film`` and ``stride`` (39, feet), ``law`` (mu_oil, mu_dry, 1 / soak, length
in ft) and ``factors`` (scale, front, mid, back) are those of ``friction.Lane``.

While the ball slips, only the number ``s``, the speed that friction has taken, changes by what the
lane does: ``s' = mu g`` at ``(x0, y0) + v0 t - e S``, with ``S`` the integral of ``s``. So one step
needs friction at two new places only, its middle and its end, and takes the friction in between
for a parabola of time: Simpson's rule for ``s``, the same parabola for ``S``. Every event within a
step (roll, breakpoint, a plane, the gutter) is then a root of a polynomial and costs no friction.

A film is smooth between the centres of its feet and boards, and bends there. A step ends where the
ball comes to the next foot at which the film bends (``stride``), and where friction bites, or the
ball runs across the lane, at the next board too: about 50 a path.
"""

import math

import numpy as np
from numba import njit

from .friction import BACK_RAMP_FT, FRONT_UNTIL_FT, MID_FROM_FT
from .geometry import BOARD_M, FOOT_M, GRAVITY, LANE_WIDTH_M

MAX_STEPS = 8000
# Friction that is slight, m/s2 (mu of 0.04): there the film is thick and its bends do not matter.
SLIGHT = 0.4
# Boards crossed for each travelled, as a slope: what crosses more (a slow ball that runs off the
# lane) meets bends at boards that slight friction adds up over.
STEEP = 0.1
# What is left to a line of the film that counts as having reached it, in boards or feet: a step
# is cut with the friction at its start, so it ends within a hundredth of the line.
_NEAR = 0.05
# Reordering is allowed, but nan keeps its meaning: it marks what a path does not have.
_FAST = {"contract", "reassoc", "arcp", "nsz", "afn"}

# Results of one traced path, in SI.
ARROWS_X, BREAK_X, BREAK_Y, BREAK_INSIDE, PIN_X, PIN_VX, PIN_VY, PIN_SLIP = range(8)
PIN_TIME, ROLL_Y, GUTTER_Y = range(8, 11)
RESULTS = 11


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _held(value, high):  # type: ignore[no-untyped-def]
    """Hold a value between 0 and ``high``; nan becomes 0, so that it never picks a place."""
    value = value if value > 0.0 else 0.0
    return value if value < high else high


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _friction(x, y, film, law, factors):  # type: ignore[no-untyped-def]
    """Friction at one place; the same law as ``Lane.mu``."""
    board = _held(x / BOARD_M - 0.5, film.shape[0] - 1.0)
    feet = y / FOOT_M
    row = _held(feet - 0.5, film.shape[1] - 1.0)
    i = min(int(board), film.shape[0] - 2)
    j = min(int(row), film.shape[1] - 2)
    a = board - i
    b = row - j
    oil = (1.0 - a) * ((1.0 - b) * film[i, j] + b * film[i, j + 1])
    oil += a * ((1.0 - b) * film[i + 1, j] + b * film[i + 1, j + 1])
    front = _held((MID_FROM_FT - feet) / (MID_FROM_FT - FRONT_UNTIL_FT), 1.0)
    back = _held((feet - law[3]) / BACK_RAMP_FT, 1.0)
    oil *= factors[1] * front + factors[2] * (1.0 - front)
    dry = law[1] * (1.0 + back * (factors[3] - 1.0))
    return factors[0] * (law[0] + (dry - law[0]) * math.exp(-oil * law[2]))


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _step_time(x, y, vx, vy, ex, ey, rate, stride, longest):  # type: ignore[no-untyped-def]
    """Time to the film's next bend along the lane, and to the next board where friction bites."""
    feet = y / FOOT_M - 0.5
    line = math.floor(feet + _NEAR)
    i = int(_held(x / BOARD_M, stride.shape[0] - 1.0))
    j = int(_held(line, stride.shape[1] - 1.0))
    ahead = (line + stride[i, j] - feet) * FOOT_M
    pace = 1.0 / max(vy, 0.1)
    h = ahead * pace
    h = min(h + 0.5 * ey * rate * h * h * pace, longest)
    if rate > SLIGHT or abs(vx) > STEEP * vy:
        board = x / BOARD_M - 0.5
        across = vx - 0.5 * h * ex * rate
        line = math.floor(board + _NEAR) + 1.0 if across > 0.0 else math.ceil(board - _NEAR) - 1.0
        aside = abs(line - board) * BOARD_M
        if abs(across) * h > aside:
            h = aside / abs(across)
    return h


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _value(part, a, b, c, d):  # type: ignore[no-untyped-def]
    return part * (a + part * (b + part * (c + part * d)))


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def _when(target, last, a, b, c, d):  # type: ignore[no-untyped-def]
    """Part of a step, up to ``last``, at which its polynomial comes to ``target``.

    Newton's method from the chord's guess, held between places on either side of the target.
    """
    low, high = 0.0, last
    end = _value(last, a, b, c, d)
    part = last * target / end
    for _ in range(5):
        off = _value(part, a, b, c, d) - target
        if (off > 0.0) == (end > 0.0):
            high = part
        else:
            low = part
        part -= off / (a + part * (2.0 * b + part * (3.0 * c + part * 4.0 * d)))
        if not low <= part <= high:
            part = 0.5 * (low + high)
    return part


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace(  # type: ignore[no-untyped-def]
    x,
    v0x,
    v0y,
    ux,
    uy,
    k,
    gravity,
    film,
    stride,
    law,
    factors,
    arrows_y,
    pin_y,
    longest,
    out,
    track,
):
    """Follow one ball to the head-pin plane; fill ``out`` and, if it has rows, ``track``.

    No step takes longer than ``longest``, in s. ``track`` rows are time, x, y, s at the end of each
    step; the number of rows written is returned. A ball that rolls back never comes to the pins,
    and one with a nan goes nowhere.
    """
    slip = math.hypot(ux, uy)
    ex = ux / slip if slip > 0.0 else 0.0
    ey = uy / slip if slip > 0.0 else 0.0
    s_end = slip * k / (1.0 + k)
    s_turn = v0x / ex if ex < 0.0 else -1.0  # where the sideways speed passes through nought
    y = 0.0
    s = 0.0
    t = 0.0
    rows = 0
    for i in range(out.shape[0]):
        out[i] = np.nan
    if math.isnan(x + v0x + v0y + slip + factors.sum()):
        return rows
    out[BREAK_INSIDE] = 0.0
    out[BREAK_X] = x
    out[BREAK_Y] = 0.0
    rolling = s_end <= 1e-12
    if rolling:
        out[ROLL_Y] = 0.0
    rate = gravity * _friction(x, y, film, law, factors)
    for _ in range(MAX_STEPS):
        if rows < track.shape[0]:
            track[rows, 0] = t
            track[rows, 1] = x
            track[rows, 2] = y
            track[rows, 3] = s
            rows += 1
        vx = v0x - ex * s
        vy = v0y - ey * s
        last = 1.0
        if rolling:
            if vy <= 0.0:
                return rows
            # Straight from here, in one step.
            h = (pin_y - y) / vy
            end = a = b = c = 0.0
            nx = x + h * vx
            ny = pin_y
            ns = s
        else:
            h = _step_time(x, y, vx, vy, ex, ey, rate, stride, longest)
            back = 0.125 * h * h * rate
            middle = gravity * _friction(
                x + 0.5 * h * vx - ex * back, y + 0.5 * h * vy - ey * back, film, law, factors
            )
            back = h * h * (rate + 2.0 * middle) / 6.0
            nx = x + h * vx - ex * back
            ny = y + h * vy - ey * back
            end = gravity * _friction(nx, ny, film, law, factors)
            ns = s + h * (rate + 4.0 * middle + end) / 6.0
            # The same parabola: s after a part p of the step is s + a p + b p^2 + c p^3.
            a = h * rate
            b = h * (2.0 * middle - 1.5 * rate - 0.5 * end)
            c = h * (rate - 2.0 * middle + end) * (2.0 / 3.0)
        xs = (h * vx, -0.5 * h * ex * a, -h * ex * b / 3.0, -0.25 * h * ex * c)
        ys = (h * vy, -0.5 * h * ey * a, -h * ey * b / 3.0, -0.25 * h * ey * c)
        if not rolling and ns >= s_end:
            rolling = True
            last = _when(s_end - s, 1.0, a, b, c, 0.0)
            nx = x + _value(last, *xs)
            ny = y + _value(last, *ys)
            ns = s_end
        if s < s_turn <= ns:
            part = _when(s_turn - s, last, a, b, c, 0.0)
            break_y = y + _value(part, *ys)
            if break_y <= pin_y:
                out[BREAK_X] = x + _value(part, *xs)
                out[BREAK_Y] = break_y
                out[BREAK_INSIDE] = 1.0
        if y < arrows_y <= ny:
            out[ARROWS_X] = x + _value(_when(arrows_y - y, last, *ys), *xs)
        if not out[GUTTER_Y] >= 0.0 and (nx < 0.0 or nx > LANE_WIDTH_M):
            edge = 0.0 if nx < 0.0 else LANE_WIDTH_M
            crossing = y + _value(_when(edge - x, last, *xs), *ys)
            if crossing <= pin_y:
                out[GUTTER_Y] = crossing
        if ny >= pin_y:
            part = _when(pin_y - y, last, *ys)
            ns = min(s + _value(part, a, b, c, 0.0), s_end)
            nx = x + _value(part, *xs)
            out[PIN_X] = nx
            out[PIN_VX] = v0x - ex * ns
            out[PIN_VY] = v0y - ey * ns
            out[PIN_SLIP] = slip - ns * (1.0 + k) / k if ns < s_end else 0.0
            out[PIN_TIME] = t + part * h
            if nx < out[BREAK_X] and out[BREAK_INSIDE] == 0.0:
                out[BREAK_X] = nx
                out[BREAK_Y] = pin_y
            if rows < track.shape[0]:
                track[rows, 0] = t + part * h
                track[rows, 1] = nx
                track[rows, 2] = pin_y
                track[rows, 3] = ns
                rows += 1
            return rows
        if ns >= s_end and s < s_end:
            out[ROLL_Y] = ny
        x = nx
        y = ny
        s = ns
        t += last * h
        rate = end
    return rows


@njit(cache=True, error_model="numpy", fastmath=_FAST)
def trace_many(  # type: ignore[no-untyped-def]
    starts, k, film, stride, law, factors, arrows_y, pin_y, longest, results
):
    """Trace every row of ``starts`` (x, v0x, v0y, ux, uy) with its own row of ``factors``."""
    track = np.empty((0, 4))
    for i in range(starts.shape[0]):
        a = starts[i]
        trace(
            a[0], a[1], a[2], a[3], a[4], k, GRAVITY, film, stride, law, factors[i],
            arrows_y, pin_y, longest, results[i], track,
        )  # fmt: skip
