"""From racks to the table: the statistical model, fitted once, offline.

    python -m lanes.pins.table racks.npz [more.npz] --out lanes/pins/data/carry.npz --commit abc123

Model. Strike is a logistic regression on penalised tensor-product cubic B-splines of board and
angle, one surface each for the terms of ``surface.terms`` (P-splines, Eilers and Marx 1996: second
differences of neighbouring coefficients are penalised; how strongly is chosen by the deviance of a
tenth of the racks, held back). Given no strike, each frequent leave has a logistic regression of
its own, and they are scaled to add up to one; so do the ways in which the corner's neighbour
fell. The deck exit is a penalised least-squares fit of the same surfaces, its spread the same on
the residuals. Standard errors are those of the penalised fit (Wood 2006: the Bayesian covariance).

Racks are gathered in narrow bins of board and angle first, a twentieth of a board and a fifth of a
degree, which blurs by less than the robot's repeatability and makes the fit fast.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import linalg, sparse

from .carry import RUN_CELL
from .generate import WAYS
from .surface import (
    ANGLE_FUNCTIONS,
    ANGLE_RANGE,
    BOARD_FUNCTIONS,
    BOARD_RANGE,
    FUNCTIONS,
    TERMS,
    places,
    terms,
)

BIN_BOARD, BIN_ANGLE = 0.05, 0.2
HELD_BACK = 10  # every tenth rack
SMOOTHNESS = (0.1, 0.3, 1.0, 3.0)
_SMOOTHER = 10.0  # the surfaces of speed, slip and mass bend less than the first
LEAST_RACKS = 150  # of a leave to be told apart
RUN_LEAST = 20  # racks in a cell of the map of what was run
_RIDGE = 1e-3  # pulls the surfaces of speed, slip and mass toward none
_ROUNDS, _HALVINGS = 25, 12
_DONE = 1e-6  # of the deviance


class Bins:
    """Racks gathered by board and angle, with everything the fits need of where they are."""

    def __init__(self, hits: NDArray[np.void]) -> None:
        i = np.floor((hits["board"] - BOARD_RANGE[0]) / BIN_BOARD).astype(int)
        j = np.floor((hits["angle_deg"] - ANGLE_RANGE[0]) / BIN_ANGLE).astype(int)
        across = round((ANGLE_RANGE[1] - ANGLE_RANGE[0]) / BIN_ANGLE)
        long = round((BOARD_RANGE[1] - BOARD_RANGE[0]) / BIN_BOARD)
        i, j = np.clip(i, 0, long - 1), np.clip(j, 0, across - 1)
        self.count = across * long
        self.bin = i * across + j
        board = BOARD_RANGE[0] + (np.arange(self.count) // across + 0.5) * BIN_BOARD
        angle = ANGLE_RANGE[0] + (np.arange(self.count) % across + 0.5) * BIN_ANGLE
        index, values = places(board, angle)
        rows = np.repeat(np.arange(self.count), index.shape[1])
        self.design = sparse.csr_matrix(
            (values.ravel(), (rows, index.ravel())), shape=(self.count, FUNCTIONS)
        )
        # For each bin the products of every two of its functions, so that a weighted sum over bins
        # is one product of matrices.
        pairs = index[:, :, None] * FUNCTIONS + index[:, None, :]
        both = values[:, :, None] * values[:, None, :]
        columns = np.repeat(np.arange(self.count), pairs[0].size)
        self.pairs = sparse.csr_matrix(
            (both.ravel(), (pairs.ravel(), columns)), shape=(FUNCTIONS**2, self.count)
        )
        self.q = terms(hits["speed_mph"], hits["slip_mps"], hits["mass_lb"])

    def take(self, keep: NDArray[np.bool_]) -> Bins:
        """Return the same bins with only some of the racks."""
        part = object.__new__(Bins)
        part.count, part.design, part.pairs = self.count, self.design, self.pairs
        part.bin, part.q = self.bin[keep], self.q[keep]
        return part

    def eta(self, coefficients: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return ``eta`` (racks,) for coefficients (FUNCTIONS, terms)."""
        by_bin = self.design @ coefficients
        return np.einsum("nt,nt->n", self.q[:, : coefficients.shape[1]], by_bin[self.bin])

    def normal(
        self, weight: NDArray[np.float64], target: NDArray[np.float64], count: int
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Return ``X'WX`` and ``X'W target`` for the first ``count`` terms."""
        q = self.q[:, :count]
        matrix = np.empty((FUNCTIONS, count, FUNCTIONS, count))
        pairs = [(s, t) for s in range(count) for t in range(s, count)]
        sums = np.stack([self._sum(weight * q[:, s] * q[:, t]) for s, t in pairs], axis=1)
        blocks = self.pairs @ sums
        for k, (s, t) in enumerate(pairs):
            matrix[:, s, :, t] = matrix[:, t, :, s] = blocks[:, k].reshape(FUNCTIONS, FUNCTIONS)
        size = FUNCTIONS * count
        return matrix.reshape(size, size), self.gather(weight * target, count)

    def gather(self, per_rack: NDArray[np.float64], count: int) -> NDArray[np.float64]:
        """Return ``X' per_rack`` for the first ``count`` terms."""
        sums = [self._sum(per_rack * self.q[:, s]) for s in range(count)]
        return np.asarray(self.design.T @ np.stack(sums, axis=1)).ravel()

    def _sum(self, per_rack: NDArray[np.float64]) -> NDArray[np.float64]:
        sums = np.bincount(self.bin, weights=per_rack, minlength=self.count)
        return np.asarray(sums, dtype=float)


def penalty(smoothness: float, count: int) -> NDArray[np.float64]:
    """Return the penalty matrix: second differences along board and along angle, each surface."""
    along = np.diff(np.eye(BOARD_FUNCTIONS), 2, axis=0)
    across = np.diff(np.eye(ANGLE_FUNCTIONS), 2, axis=0)
    bend = np.kron(along.T @ along, np.eye(ANGLE_FUNCTIONS)) + np.kron(
        np.eye(BOARD_FUNCTIONS), across.T @ across
    )
    each = np.array([1.0] + [_SMOOTHER] * (count - 1))
    ridge = np.diag([1e-6] + [_RIDGE] * (count - 1))
    return np.kron(smoothness * bend, np.diag(each)) + np.kron(np.eye(FUNCTIONS), ridge)


def logistic(
    bins: Bins, hit: NDArray[np.bool_], smoothness: float, count: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return coefficients (FUNCTIONS, count) and the Cholesky factor of their precision."""
    pull = penalty(smoothness, count)
    coefficients = np.zeros((FUNCTIONS, count))
    share = min(max(float(hit.mean()), 1e-6), 1.0 - 1e-6)
    coefficients[:, 0] = np.log(share / (1.0 - share))
    base = coefficients.copy()

    def loss(eta: NDArray[np.float64], off: NDArray[np.float64]) -> float:
        told = np.logaddexp(0.0, np.where(hit, -eta, eta)).sum()
        return float(told + 0.5 * off.ravel() @ pull @ off.ravel())

    eta = bins.eta(coefficients)
    now = loss(eta, coefficients - base)
    factor = np.empty((0, 0))
    for _ in range(_ROUNDS):
        p = 1.0 / (1.0 + np.exp(-np.clip(eta, -30.0, 30.0)))
        matrix, _ = bins.normal(np.maximum(p * (1.0 - p), 1e-9), p, count)
        right = bins.gather(hit - p, count) - pull @ (coefficients - base).ravel()
        factor = linalg.cholesky(matrix + pull, lower=True, overwrite_a=True)
        step = linalg.cho_solve((factor, True), right).reshape(FUNCTIONS, count)
        # Newton's step, halved until the penalised deviance falls: rare leaves overshoot otherwise.
        for _ in range(_HALVINGS):
            trial = bins.eta(coefficients + step)
            then = loss(trial, coefficients + step - base)
            if then <= now:
                break
            step *= 0.5
        else:
            break
        coefficients, eta, gain, now = coefficients + step, trial, now - then, then
        if gain < _DONE * now:
            break
    return coefficients, factor


def least_squares(
    bins: Bins, y: NDArray[np.float64], smoothness: float, count: int
) -> NDArray[np.float64]:
    """Return coefficients (FUNCTIONS, count) of a penalised least-squares fit."""
    matrix, right = bins.normal(np.ones_like(y), y, count)
    solved = linalg.solve(matrix + penalty(smoothness, count), right, assume_a="pos")
    return np.asarray(solved).reshape(FUNCTIONS, count)


def deviances(
    bins: Bins, hit: NDArray[np.bool_], coefficients: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the deviance of each rack (racks,) from a logistic fit."""
    eta = bins.eta(coefficients)
    return np.asarray(2.0 * np.logaddexp(0.0, np.where(hit, -eta, eta)))


def smoothest(tried: dict[float, NDArray[np.float64]]) -> float:
    """Return the smoothest fit that is no worse than the best by more than one standard error.

    ``tried`` are the deviances of the same held-back racks under each smoothness. The error is that
    of the difference from the best, rack by rack (the rule of Breiman and others, Classification
    and Regression Trees, 1984, section 3.4.3).
    """
    best = min(tried.values(), key=lambda found: float(found.mean()))

    def as_good(found: NDArray[np.float64]) -> bool:
        worse = found - best
        return bool(worse.mean() <= worse.std() / np.sqrt(len(worse)))

    return max(smoothness for smoothness, found in tried.items() if as_good(found))


def standard_errors(
    factor: NDArray[np.float64], coefficients: NDArray[np.float64]
) -> dict[str, NDArray[np.float64]]:
    """Return the standard error of ``eta`` on a grid of board, angle, speed and slip (15 lb)."""
    boards, angles = np.linspace(*BOARD_RANGE, 57), np.linspace(*ANGLE_RANGE, 17)
    speeds, slips = np.array([13.0, 16.0, 19.0]), np.array([0.0, 1.25, 2.5])
    at = np.meshgrid(boards, angles, speeds, slips, indexing="ij")
    b, a, v, s = (x.ravel() for x in at)
    index, values = places(b, a)
    count = coefficients.shape[1]
    q = terms(v, s, np.full_like(v, 15.0))[:, :count]
    error = np.empty(len(b))
    for start in range(0, len(b), 1000):
        part = slice(start, start + 1000)
        rows = np.zeros((len(b[part]), FUNCTIONS, count))
        n = np.arange(len(rows))[:, None]
        rows[n, index[part]] = values[part][:, :, None] * q[part][:, None, :]
        half = linalg.solve_triangular(factor, rows.reshape(len(rows), -1).T, lower=True)
        error[part] = np.sqrt(np.sum(half**2, axis=0))
    return {
        "se_board": boards,
        "se_angle": angles,
        "se_speed": speeds,
        "se_slip": slips,
        "se_eta": error.reshape(at[0].shape).astype(np.float32),
    }


def build(hits: NDArray[np.void], falls: NDArray[np.void], say: Any = print) -> dict[str, Any]:
    """Fit everything and return the table's arrays; ``report`` tells how well it did."""
    bins = Bins(hits)
    strike = falls["standing"] == 0
    held = np.arange(len(hits)) % HELD_BACK == 0
    tried = {}
    for smoothness in SMOOTHNESS:
        fitted, _ = logistic(bins.take(~held), strike[~held], smoothness, TERMS)
        tried[smoothness] = deviances(bins.take(held), strike[held], fitted)
        say(f"smoothness {smoothness:g}: held-back deviance {tried[smoothness].mean():.5f}")
    best = smoothest(tried)
    calibration = calibrate(bins, strike, held, best)
    coefficients, factor = logistic(bins, strike, best, TERMS)
    say("strike fitted")
    out: dict[str, Any] = {"strike": coefficients.astype(np.float32), "run": where_run(hits)}
    out |= standard_errors(factor, coefficients)
    on_deck = np.isfinite(falls["exit_board"])
    exits = falls["exit_board"][on_deck].astype(float)
    deck = bins.take(on_deck)
    mean = least_squares(deck, exits, 1.0, TERMS)
    spread = least_squares(deck, np.log(np.abs(exits - deck.eta(mean)) + 1e-3), 30.0, 1)
    # The mean log of a normal's absolute value lies 0.635 below the log of its spread.
    spread[:, 0] += 0.635
    out |= {"exit": mean.astype(np.float32), "exit_log_sd": spread.astype(np.float32)}
    say("deck exit fitted")
    left = falls["standing"][~strike]
    counted = Counter(left.tolist())
    leaves = [leave for leave, n in counted.most_common() if n >= LEAST_RACKS]
    without = bins.take(~strike)
    out["leaves"] = np.array(leaves, np.uint16)
    fits = [logistic(without, left == leave, 1.0, 4)[0] for leave in leaves]
    fits.append(logistic(without, ~np.isin(left, leaves), 1.0, 4)[0])
    out["leave"] = np.stack(fits, axis=2).astype(np.float32)
    say(f"{len(leaves)} leaves fitted")
    for name, bit in (("corner", 9), ("far_corner", 6)):
        ways = [logistic(bins, falls[name] == k, 1.0, 4)[0] for k in range(len(WAYS))]
        out[name] = np.stack(ways, axis=2).astype(np.float32)
        alone = falls["standing"] == 1 << bit
        ways = [
            logistic(bins.take(alone), falls[name][alone] == k, 10.0, 1)[0]
            for k in range(len(WAYS))
        ]
        out[f"{name}_alone"] = np.stack(ways, axis=2).astype(np.float32)
    say("corners fitted")
    out["report"] = json.dumps(
        {
            "racks": len(hits),
            "strikes": int(strike.sum()),
            "smoothness": best,
            "held_back_deviance": {str(k): round(float(v.mean()), 5) for k, v in tried.items()},
            "calibration": calibration,
            "leaves": len(leaves),
            "leaves_pooled_share": round(float(np.mean(~np.isin(left, leaves))), 4),
            "off_deck_share": round(float(np.mean(~on_deck)), 5),
            "timed_out_share": round(float(falls["timed_out"].mean()), 4),
        }
    )
    return out


def where_run(hits: NDArray[np.void]) -> NDArray[np.bool_]:
    """Return the map (boards, angles) of the cells in which enough racks were run to tell."""
    edges = [
        np.arange(low, high + step / 2.0, step)
        for (low, high), step in zip((BOARD_RANGE, ANGLE_RANGE), RUN_CELL, strict=True)
    ]
    counts, _, _ = np.histogram2d(hits["board"], hits["angle_deg"], bins=edges)
    return np.asarray(counts >= RUN_LEAST)


def calibrate(
    bins: Bins, strike: NDArray[np.bool_], held: NDArray[np.bool_], smoothness: float
) -> list[dict[str, float]]:
    """Compare a fit without the held-back racks with what those did, by tenths of chance."""
    fitted, _ = logistic(bins.take(~held), strike[~held], smoothness, TERMS)
    p = 1.0 / (1.0 + np.exp(-bins.take(held).eta(fitted)))
    seen = strike[held]
    rows = []
    for low in np.arange(0.0, 1.0, 0.1):
        within = (p >= low) & (p < low + 0.1 + (low > 0.85))
        if within.sum() > 0:
            rows.append(
                {
                    "from": round(float(low), 1),
                    "racks": int(within.sum()),
                    "told": round(float(p[within].mean()), 4),
                    "seen": round(float(seen[within].mean()), 4),
                    "se": round(
                        float(np.sqrt(np.sum(p[within] * (1 - p[within]))) / within.sum()), 4
                    ),
                }
            )
    return rows


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("racks", type=Path, nargs="+", help="stretches of one design")
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--commit", required=True, help="of the generator that made the racks")
    parser.add_argument("--version", required=True)
    options = parser.parse_args()
    parts = []
    for path in options.racks:
        with np.load(path) as file:
            parts.append({name: file[name] for name in file.files})
    made, *others = [
        {name: str(part[name]) for name in ("materials", "spot_sd_m", "step", "seed")}
        for part in parts
    ]
    if any(other != made for other in others):
        parser.error("racks: the files were not made with the same materials, step and seed")
    hits = np.concatenate([part["hits"] for part in parts])
    if len(np.unique(hits)) < len(hits):
        parser.error("racks: the files hold the same racks twice")
    out = build(hits, np.concatenate([part["falls"] for part in parts]))
    out |= {"version": options.version, "commit": options.commit} | made
    np.savez_compressed(options.out, **out)


if __name__ == "__main__":
    main()
