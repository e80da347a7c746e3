"""Have every kernel compiled and kept before anybody waits for one.

Compiled kernels are kept in ``NUMBA_CACHE_DIR``, or beside the code. Numba asks of a kept one only
whether its own file has changed; but a kernel takes other kernels and constants in, whose change
would go unseen. So the sources' fingerprint is kept too, and where it differs all are made anew.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np

from . import kernel, rigid_kernel, wear
from .balls import BallSpec
from .friction import lane_friction
from .oil import HOUSE
from .path import Release, checkpoints, roll
from .rigid import checkpoints_rigid, roll_rigid

KERNELS = (
    kernel.trace,
    kernel.trace_many,
    rigid_kernel.trace_rigid,
    rigid_kernel.trace_rigid_many,
    wear._pass,
)
# The modules that kernels stand in, and those whose constants they take in.
SOURCES = ("constants", "friction", "geometry", "kernel", "rigid_kernel", "wear")
_FINGERPRINT = "kernels.sha256"


def warm() -> int:
    """Load every kernel, compiling those that are not kept; return how many had to be compiled."""
    drop_stale()
    ball = BallSpec("any")
    lane = lane_friction(None, ball)
    release = Release(17.5, 340, 55, 12, 20, 2.6)
    launches = np.array([[20.0, 2.6, 17.5, 340.0]])
    roll(release, ball, lane)
    roll_rigid(release, ball, lane)
    checkpoints(launches, 55, 12, ball, lane)
    checkpoints_rigid(launches, 55, 12, ball, lane)
    wear.after(HOUSE.film(), [wear.Throw(release, ball)])
    return compiled()


def compiled() -> int:
    """Return how many kernels this process has compiled rather than loaded."""
    return sum(sum(one.stats.cache_misses.values()) for one in KERNELS)


def drop_stale() -> None:
    """Throw kept kernels away that were made from other sources than those that stand here."""
    folder = Path(kernel.trace.stats.cache_path or ".")
    sources = [Path(__file__).with_name(f"{name}.py").read_bytes() for name in SOURCES]
    now = hashlib.sha256(b"".join(sources)).hexdigest()
    kept = folder / _FINGERPRINT
    if kept.exists() and kept.read_text(encoding="ascii") == now:
        return
    for made in folder.glob("*.nb[ic]"):
        made.unlink(missing_ok=True)
    folder.mkdir(parents=True, exist_ok=True)
    kept.write_text(now, encoding="ascii")
