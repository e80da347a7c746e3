"""Have every kernel compiled and kept before anybody waits for one.

Compiled kernels are kept in ``NUMBA_CACHE_DIR``, or beside the code, a folder for each package.
Numba asks of a kept one only whether its own file has changed; but a kernel takes other kernels and
constants in, whose change would go unseen. So the sources' fingerprint is kept too, and where it
differs all of that package are made anew.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np

from lanes.motion import kernel, rigid_kernel, wear
from lanes.motion.balls import BallSpec
from lanes.motion.friction import lane_friction
from lanes.motion.oil import HOUSE
from lanes.motion.path import Release, checkpoints, roll
from lanes.motion.rigid import checkpoints_rigid, roll_rigid
from lanes.pins import solver, surface
from lanes.pins.carry import carry
from lanes.pins.rack import Hit, film

PATHS = (
    kernel.trace,
    kernel.trace_many,
    rigid_kernel.trace_rigid,
    rigid_kernel.trace_rigid_many,
    wear._pass,
)
KERNELS = (*PATHS, solver.run, surface.sums)
# For each package, by one of its kernels: the modules that its kernels stand in, and those whose
# constants they take in.
_MOTION = ("constants", "friction", "geometry", "kernel", "rigid_kernel", "wear")
_PINS = ("blows", "compiled", "impulse", "room", "solver", "surface", "touch")
SOURCES = (
    (kernel.trace, tuple(f"motion/{name}.py" for name in _MOTION)),
    (solver.run, ("motion/geometry.py", *(f"pins/{name}.py" for name in _PINS))),
)
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
    film(Hit(17.5, 5.0), seed=None)
    carry(17.5, 5.0)
    return compiled()


def compiled() -> int:
    """Return how many kernels this process has compiled rather than loaded."""
    return sum(sum(one.stats.cache_misses.values()) for one in KERNELS)


def drop_stale() -> None:
    """Throw kept kernels away that were made from other sources than those that stand here."""
    for one, sources in SOURCES:
        _drop_stale(Path(one.stats.cache_path or "."), sources)


def _drop_stale(folder: Path, sources: tuple[str, ...]) -> None:
    texts = [(Path(__file__).parent / name).read_bytes() for name in sources]
    now = hashlib.sha256(b"".join(texts)).hexdigest()
    kept = folder / _FINGERPRINT
    if kept.exists() and kept.read_text(encoding="ascii") == now:
        return
    for made in folder.glob("*.nb[ic]"):
        made.unlink(missing_ok=True)
    folder.mkdir(parents=True, exist_ok=True)
    kept.write_text(now, encoding="ascii")
