"""Kernels are compiled once, and again when anything that they take in has changed."""

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

from lanes import warm

ROOT = Path(warm.__file__).parents[1]
ASK = """
from lanes import warm
print(warm.warm(), sum(sum(one.stats.cache_hits.values()) for one in warm.KERNELS))
"""


def ask(script=ASK, **environment):
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )
    assert done.returncode == 0, done.stderr
    return [int(number) for number in done.stdout.split()]


def test_a_process_with_a_warm_cache_compiles_nothing():
    ask()
    compiled, loaded = ask()
    assert compiled == 0
    assert loaded >= len(warm.KERNELS) - 1  # the trace inside trace_many need not load again


def test_what_the_site_asks_for_is_what_was_compiled():
    # Other kinds of array than those of `warm` would have their own kernel compiled. What is kept
    # from an earlier run must not hide that, so kinds are counted and not compilations.
    script = """
import numpy as np
from lanes.motion import (
    HOUSE, BallSpec, ReleasePrior, SeenShot, checkpoints, fit_session, lane_friction, roll_rigid,
    Release, LaneState,
)
from lanes import warm
from lanes.motion.rigid import checkpoints_rigid
from lanes.pins.carry import carry, table
from lanes.pins.rack import Hit, fell, film
warm.warm()
known = [set(one.signatures) for one in warm.KERNELS]
ball = BallSpec("made up", "solid")
lane = lane_friction(HOUSE.film(), ball, scale=1.1, state=LaneState(0.9, 0.8, 1.0))
roll_rigid(Release(17, 350, 50, 10, 20, 2.0), ball, lane)
launches = np.broadcast_to(np.array([20.0, 2.0, 17.0, 350.0]), (5, 4))
for factors in (None, np.ones((5, 4)), np.broadcast_to(np.ones(4), (5, 4))):
    checkpoints(launches, np.full(5, 50.0), 10, ball, lane, factors)
    checkpoints_rigid(launches, np.full(5, 50.0), 10, ball, lane, factors=factors)
shots = [SeenShot(0, i, 20.0, 12.0, 6.0, 41.0, 17.5, 17.0) for i in range(3)]
fit_session(shots, [ball], ReleasePrior.known(17, 350, 50, 10), None)
fell(Hit(17, 4), (1, 2))
film(Hit(17.5, 5, mass_lb=14), (3,), every=0.004)
carry(16.0, 4, 15.5, 0.2, "left", 14)
table().strike(np.full(3, 17.5), 5.0, mass_lb=np.full(3, 15.0))
table().deck_exit(17.5, np.broadcast_to(5.0, 4))
print(*[len(set(one.signatures) - old) for one, old in zip(warm.KERNELS, known)])
"""
    assert ask(script) == [0] * len(warm.KERNELS)


def test_a_changed_constant_throws_the_kept_kernels_away(tmp_path, monkeypatch):
    kept = SimpleNamespace(stats=SimpleNamespace(cache_path=str(tmp_path)))
    monkeypatch.setattr(warm, "SOURCES", ((kept, ("motion/kernel.py",)),))
    made = tmp_path / "kernel.trace-1.py311.nbi"
    made.touch()
    warm.drop_stale()
    assert not made.exists()  # nobody knows what it was made from
    made.touch()
    warm.drop_stale()
    assert made.exists()
    (tmp_path / "kernels.sha256").write_text("of other sources", encoding="ascii")
    warm.drop_stale()
    assert not made.exists()


def test_the_core_works_where_there_is_no_django():
    script = """
import os, sys
os.environ.pop("DJANGO_SETTINGS_MODULE", None)
sys.modules["django"] = None
from lanes.motion import BallSpec, Release, launch_for_target, lane_friction, roll, roll_rigid
ball = BallSpec("example", cover="solid", grit=2000)
release = Release(17.5, 350, 55, 12, laydown=20, launch_deg=launch_for_target(20, 12.5))
for path in (roll(release, ball, lane_friction(None, ball)),
             roll_rigid(release, ball, lane_friction(None, ball))):
    print(round(path.head_pin_board))
"""
    one, other = ask(script)
    assert abs(one - other) <= 1
    assert 12 < one < 26
