"""Write what EVIDENCE.md of the pins tells: its tables on standard output, its pictures beside it.

    python -m tests.studies.evidence --fit fit.json --gate gate.json --second second.npy --racks 400

``fit.json`` is what ``lanes.pins.fit`` wrote, ``gate.json`` the gate's report, ``second.npy`` the
general engine's racks. The held-back figures are run here, ``racks`` of each.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.pins.carry import table
from lanes.pins.fit import (
    FIGURES,
    PROS_ANGLE,
    PROS_ANGLE_SD,
    PROS_BOARD,
    PROS_BOARD_SD,
    PUBLISHED_PLANE_FT,
    Figure,
    at_first_touch,
)
from lanes.pins.gate import CELLS
from lanes.pins.rack import Fall, fell, pins_of

HERE = Path("lanes/pins")
SEED = 2718
INK, QUIET, PAPER, BLUE, RUST = "#1d2733", "#5b6b7b", "#ffffff", "#1f5f99", "#a34a12"


def error(share: float, n: int) -> float:
    """Return the sampling error of a share in per cent, never below that of one rack in ``n``."""
    p = min(max(share / 100.0, 0.5 / n), 1.0 - 0.5 / n)
    return 100.0 * float(np.sqrt(p * (1.0 - p) / n))


def row(*cells: object) -> str:
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def fit_table(last: dict[str, Any]) -> Iterable[str]:
    yield row("figure", "published", "computed (se)", "errors off")
    yield row(*["---"] * 4)
    for figure in FIGURES:
        value = last["figures"].get(figure.name)
        if value is None:
            continue
        racks = last["racks"] * (4 if "pros" in figure.name else 1)
        told = f"{value:.1f}"
        if figure.name.startswith("strike"):
            told = f"{value:.0f} % ({error(value, racks):.0f})"
        short = max(figure.low - value, value - figure.high, 0.0) / figure.off
        yield row(figure.name, _range(figure), told, f"{short:.1f}")


def _range(figure: Figure) -> str:
    unit = "" if figure.name.startswith("exit") else " %"
    if figure.low == figure.high:
        return f"{figure.low:g}{unit}"
    if figure.high >= 100.0:
        return f"over {figure.low:g}{unit}"
    return (
        f"under {figure.high:g}{unit}"
        if figure.low <= 0.0
        else (f"{figure.low:g} to {figure.high:g}{unit}")
    )


def gate_table(gate: dict[str, Any]) -> Iterable[str]:
    yield row(
        "board", "deg", "strike %", "at half step", "99 % interval of the shift", "exit",
        "exit shift", "p leaves",
    )  # fmt: skip
    yield row(*["---"] * 8)
    for c in gate["cells"]:
        low, high = c["interval_points"]
        yield row(
            c["board"], f"{c['angle_deg']:g}", c["strike_pct"], c["strike_half_step_pct"],
            f"{low:+.2f} to {high:+.2f}", c["exit_board"], f"{c['exit_shift_boards']:+.3f}",
            c["p_leaves"],
        )  # fmt: skip


def second_table(second: NDArray[np.float64], gate: dict[str, Any]) -> Iterable[str]:
    yield row(
        "board", "deg", "n", "general, strike %", "impulse, strike %", "difference (se)",
        "exit, general", "exit, impulse", "general: most",
    )  # fmt: skip
    yield row(*["---"] * 9)
    for k, (board, angle) in enumerate(CELLS):
        rows = second[second[:, 0] == k]
        n = len(rows)
        share = 100.0 * float(np.mean(rows[:, 2] == 0))
        told = gate["cells"][k]
        gap = share - told["strike_pct"]
        se = float(np.hypot(error(share, n), error(told["strike_pct"], gate["racks_per_cell"])))
        most = Counter(rows[:, 2].astype(int).tolist()).most_common(3)
        yield row(
            board, f"{angle:g}", n, f"{share:.1f}", told["strike_pct"], f"{gap:+.1f} ({se:.1f})",
            f"{np.nanmean(rows[:, 3]):.2f}", told["exit_board"],
            ", ".join(f"{_name(leave)} {100 * m / n:.0f}" for leave, m in most),
        )  # fmt: skip


def _name(leave: int) -> str:
    return "-".join(str(pin) for pin in pins_of(leave)) or "X"


def strike_table() -> Iterable[str]:
    boards = np.arange(14.5, 20.1, 0.5)
    yield row("deg", *(f"{b:g}" for b in boards))
    yield row(*["---"] * (len(boards) + 1))
    for angle in range(9):
        chance = table().strike(boards, float(angle), 16.5, 0.0)
        yield row(angle, *(f"{100 * p:.0f}" for p in chance))


def held_back(racks: int) -> Iterable[str]:
    """Run the hits of figures that were not fitted and tell what came of them."""
    rng = np.random.default_rng(SEED)

    def run(board: float, angle: float) -> list[Fall]:
        hit = at_first_touch(board, angle, PUBLISHED_PLANE_FT)
        return [fell(hit, (SEED, int(10 * board), int(angle), k)) for k in range(racks)]

    def share(falls: list[Fall], is_so: Callable[[Fall], bool]) -> str:
        seen = 100.0 * float(np.mean([is_so(fall) for fall in falls]))
        return f"{seen:.0f} % ({error(seen, len(falls)):.0f})"

    boards = PROS_BOARD + PROS_BOARD_SD * rng.standard_normal(racks * 4)
    angles = PROS_ANGLE + PROS_ANGLE_SD * rng.standard_normal(racks * 4)
    pros = [
        fell(at_first_touch(b, a, PUBLISHED_PLANE_FT), (SEED, 1, k))
        for k, (b, a) in enumerate(zip(boards.tolist(), angles.tolist(), strict=True))
    ]
    misses = [fall for fall in pros if not fall.strike]
    ideal = sum(1 << (pin - 1) for pin in (1, 3, 5, 9))
    yield row("figure", "published", "computed (se)")
    yield row(*["---"] * 3)
    yield row("pros, all first balls", "61 %", share(pros, lambda f: f.strike))
    for pin, told in ((10, "25.5 %"), (7, "12.0 %")):
        yield row(
            f"{pin}-pin among their leaves",
            told,
            share(misses, lambda f, bit=1 << pin - 1: f.standing == bit),
        )
    for board, angle in ((17.5, 6.0), (17.5, 4.0), (17.0, 5.0), (16.5, 5.0), (18.5, 5.0)):
        falls = run(board, angle)
        yield row(
            f"ball touches 1-3-5-9 only, {board:g} at {angle:g}",
            "yes" if (board, angle) == (17.5, 6.0) else "no",
            share(falls, lambda f: f.ball_touched == ideal),
        )
        if board == 18.5:
            yield row("high: the ball hits the eight on its way out", "yes", share(
                falls, lambda f: bool(f.ball_touched >> 7 & 1)))  # fmt: skip
        if board == 16.5:
            exits = float(np.nanmean([f.exit_board for f in falls]))
            yield row("light: exit right of the nine (14.4)", "yes", f"{exits:.1f}")
            ten = [f for f in falls if f.standing == 1 << 9]
            if ten:
                yield row("how the six went by a standing ten", "not told", ", ".join(
                    f"{way or 'away'} {n}" for way, n in Counter(f.corner for f in ten).items()
                ))  # fmt: skip
            fallen = [f for f in falls if not f.standing >> 9 & 1]
            yield row("light: the six takes the ten down", "the three does", share(
                fallen, lambda f: f.corner == "into"))  # fmt: skip


def strike_picture() -> str:
    """Return the map of strike chances, with the chance in tenths written into it."""
    boards, angles = np.arange(14.0, 21.0, 0.125), np.arange(0.0, 8.0, 0.25)
    at = np.meshgrid(boards + 0.0625, angles + 0.125, indexing="ij")
    chance = table().strike(at[0].ravel(), at[1].ravel(), 16.5, 0.0).reshape(at[0].shape)
    x = lambda b: 48 + (b - 14.0) * 72  # noqa: E731
    y = lambda a: 300 - a * 32  # noqa: E731
    parts = []
    for i, b in enumerate(boards):
        for j, a in enumerate(angles):
            p = float(chance[i, j])
            shade = tuple(round(247 + p * (c - 247)) for c in (31, 95, 153))
            parts.append(
                f'<rect x="{x(b):.0f}" y="{y(a) - 8:.0f}" width="9" height="8" '
                f'fill="#{shade[0]:02x}{shade[1]:02x}{shade[2]:02x}"/>'
            )
    for b in np.arange(14.25, 21.0, 0.5):
        for a in np.arange(0.5, 8.0, 1.0):
            p = float(table().strike(b, a, 16.5, 0.0)[0])
            parts.append(
                _text(x(b), y(a) + 4, f"{100 * p:.0f}", PAPER if p > 0.55 else INK, "middle")
            )
    parts += [_text(x(b), 318, f"{b:g}", INK, "middle") for b in range(14, 22)]
    parts += [_text(40, y(a) + 4, f"{a:g}", INK, "end") for a in range(9)]
    parts.append(_text(300, 336, "board at the head pin (59.5 ft)", INK, "middle"))
    parts.append(_text(48, 34, "entry angle, degrees; strike in per cent, 16.5 mph, no slip", INK))
    return _svg(568, 344, "Chance of a strike by board and entry angle", parts)


def gate_picture(gate: dict[str, Any]) -> str:
    """Return the shift of every cell's strike rate at half the step, with its 99 % interval."""
    x = lambda points: 350 + points * 42  # noqa: E731
    parts = [f'<line x1="{x(0)}" y1="24" x2="{x(0)}" y2="{36 + 18 * 24}" stroke="{QUIET}"/>']
    for k, c in enumerate(gate["cells"]):
        low, high = c["interval_points"]
        y = 40 + 18 * k
        parts.append(_text(118, y + 4, f"{c['board']:g} at {c['angle_deg']:g} deg", INK, "end"))
        parts.append(
            f'<line x1="{x(low):.1f}" y1="{y}" x2="{x(high):.1f}" y2="{y}" stroke="{BLUE}" '
            f'stroke-width="2"/>'
            f'<circle cx="{x(c["shift_points"]):.1f}" cy="{y}" r="4" fill="{BLUE}"/>'
        )
    bottom = 40 + 18 * 24
    parts += [
        f'<line x1="{x(s)}" y1="24" x2="{x(s)}" y2="{bottom - 4}" stroke="{RUST}" '
        'stroke-dasharray="4 3"/>'
        for s in (-5, 5)
    ]
    parts += [
        _text(x(p), bottom + 12, f"{p:+d}" if p else "0", INK, "middle") for p in range(-4, 5, 2)
    ]
    parts.append(
        _text(350, bottom + 30, "points of strike chance; allowed: 5 either way", INK, "middle")
    )
    return _svg(580, bottom + 40, "Shift of the strike rate at half the step, by cell", parts)


def window_picture() -> str:
    """Return strike by board head-on and at 6 degrees, with the published windows over 90 %."""
    boards = np.arange(15.5, 19.51, 0.05)
    x = lambda b: 50 + (b - 15.5) * 120  # noqa: E731
    y = lambda p: 268 - 2.1 * p  # noqa: E731
    parts = []
    for angle, low, high, dash, top in ((0.0, 17.0, 18.0, "6 4", 34), (6.0, 17.0, 18.5, "", 20)):
        ours = [at_first_touch(b, angle, PUBLISHED_PLANE_FT).board for b in boards]
        chance = 100.0 * table().strike(ours, angle, 16.5, 0.0)
        line = " ".join(f"{x(b):.1f},{y(p):.1f}" for b, p in zip(boards, chance, strict=True))
        parts.append(
            f'<polyline points="{line}" fill="none" stroke="{BLUE}" stroke-width="2" '
            f'stroke-dasharray="{dash}"/>'
        )
        parts.append(
            f'<line x1="{x(low)}" y1="{top}" x2="{x(high)}" y2="{top}" stroke="{RUST}" '
            f'stroke-width="3" stroke-dasharray="{dash}"/>'
        )
        parts.append(_text(x(low) - 6, top + 4, f"published over 90 %, {angle:g} deg", RUST, "end"))
    parts.append(f'<line x1="50" y1="{y(90)}" x2="530" y2="{y(90)}" stroke="{QUIET}"/>')
    parts += [_text(44, y(p) + 4, f"{p} %", INK, "end") for p in (0, 50, 90, 100)]
    parts += [_text(x(b), 286, f"{b:g}", INK, "middle") for b in range(16, 20)]
    parts.append(_text(290, 304, "published board, taken as read at 60 ft", INK, "middle"))
    parts.append(_text(50, 322, "line: computed, 6 deg; dashed: head-on", BLUE))
    return _svg(560, 330, "The published window against the table", parts)


def _text(x: float, y: float, words: str, colour: str, anchor: str = "start") -> str:
    return f'<text x="{x:.0f}" y="{y:.0f}" fill="{colour}" text-anchor="{anchor}">{words}</text>'


def _svg(width: int, height: int, label: str, parts: list[str]) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'font-family="sans-serif" font-size="11" role="img" aria-label="{label}">\n'
        f'<rect width="100%" height="100%" fill="{PAPER}"/>\n' + "\n".join(parts) + "\n</svg>\n"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fit", type=Path, required=True)
    parser.add_argument("--gate", type=Path, required=True)
    parser.add_argument("--second", type=Path)
    parser.add_argument("--racks", type=int, default=400)
    options = parser.parse_args()
    last = json.loads(options.fit.read_text())[-1]
    gate = json.loads(options.gate.read_text())
    sections = {
        "Fit": fit_table(last),
        "Held back": held_back(options.racks),
        "Gate": gate_table(gate),
        "Strike": strike_table(),
    }
    if options.second:
        sections["Second opinion"] = second_table(np.load(options.second), gate)
    for name, lines in sections.items():
        print(f"\n## {name}\n")
        print("\n".join(lines))
    (HERE / "strike.svg").write_text(strike_picture())
    (HERE / "gate.svg").write_text(gate_picture(gate))
    (HERE / "window.svg").write_text(window_picture())


if __name__ == "__main__":
    main()
