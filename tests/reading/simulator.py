"""An invented bowler on an invented lane, for checks: not the model that the reading fits.

Friction here is a smooth step from an oiled to a dry value at an edge that depends on the board,
rises with the ball's slip, and is integrated by plain Euler steps; readings have Student errors
with three degrees of freedom, are rounded as people round, and some cells are missing.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from lanes.reading.shots import LoggedShot

BOARD_M = 41.5 * 0.0254 / 39
FT = 0.3048
KINDS = (
    "nothing", "mid burn", "carrydown", "slow student", "moved", "bad throws", "burn followed",
)  # fmt: skip


def paths(laydown, launch_deg, speed, rpm, burn, carry, rotation=55.0, tilt=12.0):
    """Return arrows, breakpoint, breakpoint ft, head pin and deck exit line of each ball (n,)."""
    n = len(laydown)
    x = (laydown - 0.5) * BOARD_M
    y = np.zeros(n)
    launch = np.radians(launch_deg)
    v = speed * 0.44704
    vx, vy = -v * np.sin(launch), v * np.cos(launch)
    roll = rpm * 2 * np.pi / 60 * 0.1085 * np.cos(np.radians(tilt))
    sx, sy = roll * np.sin(np.radians(rotation)), roll * np.cos(np.radians(rotation))
    ux, uy = vx - sx, vy - sy
    k, h = 0.35, 0.01
    at = {15.0: np.full(n, np.nan), 59.5: np.full(n, np.nan)}
    low_x, low_y = x.copy(), y.copy()
    angle = np.zeros(n)
    for _ in range(330):
        board, feet = x / BOARD_M + 0.5, y / FT
        outside = 1 / (1 + np.exp((board - 8.5) / 2.2))
        edge = 48.0 - 10.0 * outside - burn + 2.0 * carry
        dry = 1 / (1 + np.exp(-(feet - edge) / 1.6))
        oiled = 0.016 + 0.085 * outside
        slip = np.hypot(ux, uy)
        back = 1 - 0.4 * carry / (1 + np.exp(-(feet - 41.0) / 1.0))
        mu = oiled + (0.215 * back - oiled) * dry
        mu = mu * (0.9 + 0.02 * slip)
        take = np.where(slip > 0.05, mu * 9.81 * h, 0.0)
        dx, dy = ux / np.maximum(slip, 1e-9), uy / np.maximum(slip, 1e-9)
        vx, vy = vx - take * dx, vy - take * dy
        ux, uy = ux - take * (1 + 1 / k) * dx, uy - take * (1 + 1 / k) * dy
        nx, ny = x + vx * h, y + vy * h
        for plane, seen in at.items():
            cross = (y / FT < plane) & (ny / FT >= plane)
            part = (plane * FT - y) / (ny - y)
            seen[cross] = ((x + part * (nx - x)) / BOARD_M + 0.5)[cross]
            if plane > 20:
                angle[cross] = np.degrees(np.arctan2(vx, vy))[cross]
        x, y = nx, ny
        lower = (x < low_x) & (y / FT < 59.5)
        low_x, low_y = np.where(lower, x, low_x), np.where(lower, y, low_y)
    return at[15.0], low_x / BOARD_M + 0.5, low_y / FT, at[59.5], angle


@cache
def session(kind: str, seed: int, n: int = 48, aim: float = 11.5, ball: str = "A"):
    """Return the shots of one session of first balls with the named thing planted in it."""
    rng = np.random.default_rng(seed)
    laydown0, speed0 = 20.0, 17.6
    at = np.arange(n)
    onset = int(rng.integers(n // 4, n // 2 + 1))
    grow = np.clip((at - onset) / (n - onset), 0, 1)
    burn = 7.0 * grow if kind in ("mid burn", "burn followed") else np.zeros(n)
    carry = 1.0 * grow if kind == "carrydown" else np.zeros(n)
    speed = speed0 + 0.25 * rng.standard_normal(n)
    if kind == "slow student":
        speed = speed - 1.2 * grow
    moved = np.where(at >= onset, 2.0, 0.0) if kind == "moved" else np.zeros(n)
    if kind == "burn followed":  # feet and eyes in whenever the ball has come in high for a while
        moved = 1.5 * (at >= onset + 10) + 1.5 * (at >= onset + 18)
    laydown = laydown0 + moved + 0.45 * rng.standard_normal(n)
    target = aim + 0.6 * moved + 0.7 * rng.standard_normal(n)
    if kind == "bad throws":
        target = target + 1.6 * rng.standard_normal(n)
    launch = np.degrees(np.arctan2((laydown - target) * BOARD_M, 15 * FT)) + 0.3
    rpm = 350 + 10 * rng.standard_normal(n)
    arrows, low, low_ft, head, _angle = paths(laydown, launch, speed, rpm, burn, carry)
    noise = rng.standard_t(3, (6, n)) / np.sqrt(3.0)

    def half(values):
        return np.round(2 * values) / 2

    read = {
        "laydown": half(laydown + 0.4 * noise[0]),
        "arrows": half(arrows + 0.5 * noise[1]),
        "breakpoint": np.round(low + 1.0 * noise[2]),
        "breakpoint_ft": np.round(low_ft + 2.0 * noise[3]),
        "head_pin": half(head + 0.8 * noise[4]),
        "deck_exit": np.round(head + 1.5 + 2.0 * (head - 17.5) + 1.0 * noise[5]),
        "speed_mph": np.round(speed + 0.1 * rng.standard_normal(n), 1),
    }
    limits = {"deck_exit": (1, 39), "breakpoint": (0, 39)}
    missing = rng.random((len(read), n)) < 0.08
    carried = rng.random(n)
    shots = []
    for i in range(n):
        cells = {}
        for j, (name, values) in enumerate(read.items()):
            value = float(values[i])
            low_limit, high_limit = limits.get(name, (-2, 70))
            ok = not missing[j, i] and np.isfinite(value) and low_limit <= value <= high_limit
            cells[name] = value if ok else None
        shots.append(
            LoggedShot(
                i + 1,
                ball=ball,
                stand=26.0 + moved[i],
                aim=aim + 0.6 * moved[i],
                leave=_leave(head[i], carried[i]),
                **cells,
            )
        )
    return tuple(shots)


def _leave(head: float, chance: float) -> str:
    if not np.isfinite(head):
        return "0"
    if 16.5 <= head <= 18.5:
        return "X" if chance < 0.8 else ("10" if head < 17.5 else "4")
    if head < 16.5:
        return "X" if chance < 0.3 else ("10" if head > 15.5 else "2-4-5-8")
    return "X" if chance < 0.3 else ("4-9" if head < 20 else "3-6-10")
