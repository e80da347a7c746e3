"""The convergence gate: 24 cells at a step and at half of it, the same racks in both.

    python -m lanes.pins.gate --racks 2000 --out gate.json

Passes when halving the step moves the strike rate by less than a point on average, every cell's
99 % interval of the difference lies inside five points either way, and the leaves of all cells pass
a chi-square test of being the same.
"""

from __future__ import annotations

import argparse
import json
import os
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import stats

from .generate import HIT, run_all
from .rack import STEP
from .solver import MATERIALS

BOARDS = (15.75, 16.5, 17.0, 17.5, 18.25, 19.0)
ANGLES = (2.0, 4.0, 5.0, 6.0)
CELLS = tuple((board, angle) for board in BOARDS for angle in ANGLES)
SPEED_MPH, SLIP_MPS, MASS_LB = 16.5, 0.0, 15.0
SEED = 77

MEAN_POINTS = 1.0
WIDEST_POINTS = 5.0
CONFIDENCE = 0.99


def cell_hits(racks: int) -> NDArray[np.void]:
    """Return the hits of all cells, ``racks`` each, cell by cell."""
    hits = np.zeros(len(CELLS) * racks, HIT)
    cells = np.repeat(np.array(CELLS), racks, axis=0)
    hits["board"], hits["angle_deg"] = cells[:, 0], cells[:, 1]
    hits["speed_mph"], hits["slip_mps"], hits["mass_lb"] = SPEED_MPH, SLIP_MPS, MASS_LB
    return hits


def run_cells(racks: int, step: float, processes: int) -> NDArray[np.void]:
    """Return falls (cells, racks); rack k of every cell has the same scatter at every step."""
    indices = np.arange(len(CELLS) * racks)
    falls = run_all(cell_hits(racks), SEED, MATERIALS, step, processes, indices)
    return falls.reshape(len(CELLS), racks)


def compare(coarse: NDArray[np.void], fine: NDArray[np.void]) -> dict[str, Any]:
    """Compare the cells' falls at two steps (cells, racks) and say whether the gate is passed."""
    racks = coarse.shape[1]
    a, b = coarse["standing"] == 0, fine["standing"] == 0
    shift = 100.0 * (a.mean(axis=1) - b.mean(axis=1))
    # The racks are paired, and the interval is that of paired shares.
    error = 100.0 * np.std(a.astype(float) - b.astype(float), axis=1, ddof=1) / np.sqrt(racks)
    half = stats.norm.ppf(0.5 + CONFIDENCE / 2.0) * error
    p_leaves = leaves_alike(coarse["standing"].ravel(), fine["standing"].ravel())
    exit_shift = np.nanmean(coarse["exit_board"], axis=1) - np.nanmean(fine["exit_board"], axis=1)
    cells = [
        {
            "board": board,
            "angle_deg": angle,
            "strike_pct": round(100.0 * float(a[k].mean()), 2),
            "strike_half_step_pct": round(100.0 * float(b[k].mean()), 2),
            "shift_points": round(float(shift[k]), 2),
            "interval_points": [round(float(shift[k] + s * half[k]), 2) for s in (-1, 1)],
            "exit_board": round(float(np.nanmean(coarse["exit_board"][k])), 2),
            "exit_shift_boards": round(float(exit_shift[k]), 3),
            "p_leaves": round(leaves_alike(coarse["standing"][k], fine["standing"][k]), 4),
        }
        for k, (board, angle) in enumerate(CELLS)
    ]
    widest = float(np.max(np.abs(shift) + half))
    mean = float(np.mean(np.abs(shift)))
    return {
        "racks_per_cell": racks,
        "mean_shift_points": round(mean, 3),
        "mean_signed_shift_points": round(float(shift.mean()), 3),
        "widest_interval_points": round(widest, 2),
        "p_leaves": round(p_leaves, 4),
        "passed": bool(mean < MEAN_POINTS and widest < WIDEST_POINTS and p_leaves > 0.01),
        "timed_out_pct": round(100.0 * float(coarse["timed_out"].mean()), 2),
        "held_racks": int((coarse["held"] > 0).sum()),
        "cells": cells,
    }


def leaves_alike(first: NDArray[np.uint16], second: NDArray[np.uint16]) -> float:
    """Return the chi-square p-value that two samples of leaves have the same distribution.

    Leaves seen fewer than ten times in both together are pooled.
    """
    one, two = Counter(first.tolist()), Counter(second.tolist())
    columns = [[one[leave], two[leave]] for leave in one | two if one[leave] + two[leave] >= 10]
    rest = [len(first) - sum(c[0] for c in columns), len(second) - sum(c[1] for c in columns)]
    if sum(rest) > 0:
        columns.append(rest)
    if len(columns) < 2:
        return 1.0
    return float(stats.chi2_contingency(np.array(columns).T)[1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--racks", type=int, default=2000)
    parser.add_argument("--step", type=float, default=STEP)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    options = parser.parse_args()
    coarse = run_cells(options.racks, options.step, options.processes)
    fine = run_cells(options.racks, options.step / 2.0, options.processes)
    made = {"step_s": options.step, "materials": MATERIALS._asdict()}
    report = made | compare(coarse, fine)
    options.out.write_text(json.dumps(report, indent=1))


if __name__ == "__main__":
    main()
