"""Run many racks: over a design of hits for the table, or over stated cells.

    python -m lanes.pins.generate --racks 420000 --out racks.npz [--from-rack N] [--processes 16]

A rack is told by its row in the design and the seed alone, so the result is the same whatever the
number of processes, and a run that was cut off goes on where it stopped: finished chunks lie beside
the result and are not run again. Chunks of another set of materials, step or seed are refused.
Several machines can share a design: each runs its own stretch of it, and ``table`` takes them all.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import time
from collections.abc import Iterable, Sequence
from dataclasses import astuple
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.stats import qmc

from .rack import SPOT_SD_M, STEP, Fall, Hit, fell
from .solver import MATERIALS, Materials

CHUNK = 50
WAYS = ("", "into", "flat", "around")
SEED = 20261

FALL = np.dtype(
    [
        ("standing", "<u2"),
        ("exit_board", "<f4"),
        ("corner", "u1"),
        ("far_corner", "u1"),
        ("ball_touched", "<u2"),
        ("timed_out", "?"),
        ("held", "<u2"),
        ("corner_mps", "<f4"),
        ("far_corner_mps", "<f4"),
        ("corner_wall", "?"),
        ("far_corner_wall", "?"),
    ]
)
HIT = np.dtype(
    [(name, "<f4") for name in ("board", "angle_deg", "speed_mph", "slip_mps", "mass_lb")]
)
# What the table covers. A third of the racks fill the whole box evenly, the others the pocket's
# part of it.
BOX = {
    "board": (14.0, 21.0),
    "angle_deg": (0.0, 8.0),
    "speed_mph": (13.0, 19.0),
    "slip_mps": (0.0, 2.5),
    "mass_lb": (12.0, 16.0),
}
WHOLE_EVERY = 3
POCKET_BOX = BOX | {"board": (15.75, 19.25), "angle_deg": (1.5, 7.5)}


def design(racks: int, seed: int = SEED) -> NDArray[np.void]:
    """Return hits (racks,): every third row of the whole box, the others of the pocket's part.

    Each part has a scrambled Sobol sequence of its own. One sequence dealt out to both in turn
    would not do: in its second column every other point lies in the same half, so the whole box
    would get steep hits only and the pocket flat ones (so it was for the table of version 1).
    A shorter design is the beginning of a longer one.
    """
    hits = np.zeros(racks, HIT)
    whole = np.arange(racks) % WHOLE_EVERY == 0
    for part, (box, rows) in enumerate(((BOX, whole), (POCKET_BOX, ~whole))):
        count = int(rows.sum())
        sampler = qmc.Sobol(len(box), scramble=True, rng=np.random.default_rng((seed, part)))
        unit = sampler.random_base2(max(count - 1, 1).bit_length())[:count]
        for k, name in enumerate(HIT.names or ()):
            low, high = box[name]
            hits[name][rows] = low + (high - low) * unit[:, k]
    return hits


def run_rack(
    hit: NDArray[np.void], seed: Sequence[int], materials: Materials, step: float
) -> tuple[float, ...]:
    """Run one rack of a design and return its row for ``FALL``."""
    board, angle, speed, slip, mass = (float(hit[name]) for name in HIT.names or ())
    fall = fell(Hit(board, angle, speed, slip, mass), tuple(seed), materials, step)
    return as_row(fall)


def as_row(fall: Fall) -> tuple[float, ...]:
    """Return a fall as a row of ``FALL``."""
    standing, exit_board, corner, far, touched, _, timed_out, held, _, *more = astuple(fall)
    return (
        standing, exit_board, WAYS.index(corner), WAYS.index(far), touched, timed_out,
        min(held, 65535), *more,
    )  # fmt: skip


def _chunk(
    job: tuple[NDArray[np.void], NDArray[np.int64], int, Materials, float],
) -> NDArray[np.void]:
    hits, indices, seed, materials, step = job
    rows = [
        run_rack(hit, (seed, int(index)), materials, step)
        for hit, index in zip(hits, indices, strict=True)
    ]
    return np.array(rows, FALL)


def run_all(
    hits: NDArray[np.void],
    seed: int = SEED,
    materials: Materials = MATERIALS,
    step: float = STEP,
    processes: int = 1,
    indices: NDArray[np.int64] | None = None,
    keep: Path | None = None,
    seconds: float = float("inf"),
) -> NDArray[np.void]:
    """Run every hit's rack and return falls (racks,), in order.

    Rack ``i`` is seeded with ``(seed, indices[i])``; by default its place. With ``keep``, finished
    chunks are stored in that folder and taken from there. After ``seconds`` no new chunk starts and
    only the chunks done so far, from the first on, are returned. Raises ``ValueError`` when the
    chunks in ``keep`` were made with other materials, another step or seed, or other hits.
    """
    indices = np.arange(len(hits)) if indices is None else indices
    starts = range(0, len(hits), CHUNK)
    jobs = [(hits[s : s + CHUNK], indices[s : s + CHUNK], seed, materials, step) for s in starts]
    if keep is not None:
        _same_run(keep, told_of(materials, step, seed) | {"first_hit": repr(hits[:1].tolist())})
    began = time.monotonic()
    done: list[NDArray[np.void]] = []
    results: Iterable[NDArray[np.void]]
    todo = [k for k in range(len(jobs)) if keep is None or not _file(keep, k).exists()]
    fell(Hit(17.5, 5.0), (seed, 0), materials, step)  # compiled once, before any process forks
    with multiprocessing.get_context("fork").Pool(processes) as pool:
        results = pool.imap(_chunk, (jobs[k] for k in todo))
        waiting = set(todo)
        for k in range(len(jobs)):
            if k in waiting:
                chunk = next(iter(results))
                if keep is not None:
                    np.save(_file(keep, k), chunk)
            else:
                assert keep is not None
                chunk = np.load(_file(keep, k))
            done.append(chunk)
            if time.monotonic() - began > seconds:
                pool.terminate()
                break
    return np.concatenate(done)


def told_of(materials: Materials, step: float, seed: int) -> dict[str, str]:
    """Return what a run was made with, as a table keeps it."""
    return {
        "materials": json.dumps(materials._asdict()),
        "spot_sd_m": str(SPOT_SD_M),
        "step": str(step),
        "seed": str(seed),
    }


def _same_run(keep: Path, told: dict[str, str]) -> None:
    keep.mkdir(parents=True, exist_ok=True)
    note = keep / "made.json"
    if note.exists():
        was = json.loads(note.read_text())
        for name, value in told.items():
            if was.get(name) != value:
                raise ValueError(f"{keep}: its chunks have {name} {was.get(name)}, not {value}")
    elif any(keep.glob("chunk-*.npy")):
        raise ValueError(f"{keep}: its chunks do not say what they were made with")
    else:
        note.write_text(json.dumps(told))


def _file(keep: Path, k: int) -> Path:
    return keep / f"chunk-{k:05d}.npy"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--racks", type=int, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seconds", type=float, default=float("inf"))
    parser.add_argument(
        "--from-rack", type=int, default=0, help="the design's rows before are left"
    )
    options = parser.parse_args()
    hits = design(options.racks)[options.from_rack :]
    keep = options.out.with_suffix(".chunks")
    try:
        falls = run_all(
            hits,
            processes=options.processes,
            indices=np.arange(options.from_rack, options.racks),
            keep=keep,
            seconds=options.seconds,
        )
    except ValueError as error:
        parser.error(str(error))
    arrays: dict[str, Any] = told_of(MATERIALS, STEP, SEED) | {
        "hits": hits[: len(falls)],
        "falls": falls,
    }
    np.savez_compressed(options.out, **arrays)
    print(f"{len(falls)} of {len(hits)} racks in {options.out}")  # noqa: T201


if __name__ == "__main__":
    main()
