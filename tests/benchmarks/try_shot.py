"""How long "Try a shot" takes at the server: the whole answer, and its parts.

Run with ``python -m tests.benchmarks.try_shot``; it ends with 1 where the whole takes 200 ms (issue
"The motion core"). Four balls, the film drawn, 60 balls thrown before; what is compiled is warm,
each time with another release, so that nothing is answered from a memory.
"""

from __future__ import annotations

import itertools
import os
import sys
import time
from collections.abc import Callable

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as coachsite does
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")

import django

django.setup()

from django.template.loader import render_to_string  # noqa: E402

from lanes import try_shot  # noqa: E402
from lanes.forms.try_shot import TryForm  # noqa: E402
from lanes.motion.friction import SURFACE_LAW  # noqa: E402

LIMIT_S = 0.200
ROUNDS = 25
BALLS = {
    f"b{number}-{name}": value
    for number, cover in enumerate(("solid", "hybrid", "urethane", "pearl"), start=1)
    for name, value in {"ball": "new", "cover": cover, "differential_in": "0.045"}.items()
}


def main() -> int:
    speeds = (f"{16 + 0.01 * n:g}" for n in itertools.count())

    def form() -> TryForm:
        asked = {"own": "30", "right": "20", "left": "10", "speed_mph": next(speeds)} | BALLS
        made = TryForm(asked, clients=[], client=None, knows_release=False, patterns=[], locker=[])
        assert made.is_valid(), made.wrong
        return made

    def answer() -> tuple[TryForm, try_shot.Answer]:
        made = form()
        return made, try_shot.try_shot(made.trial(None, SURFACE_LAW))

    def page() -> None:
        made, found = answer()
        render_to_string("lanes/try/renewed.html", {"form": made, "answer": found})

    page()
    print("median of each; the processor's own time in brackets")
    _tell("the form read", form)
    _tell("and the balls rolled on a worn lane", answer)
    whole = _tell("and the answer drawn as HTML", page)
    print(f"limit {LIMIT_S * 1e3:g} ms")
    return int(whole > LIMIT_S)


def _tell(what: str, work: Callable[[], object]) -> float:
    """Print and return the median time of some rounds, seconds."""
    walls, own = [], []
    for _ in range(ROUNDS):
        start, start_own = time.perf_counter(), time.process_time()
        work()
        walls.append(time.perf_counter() - start)
        own.append(time.process_time() - start_own)
    wall = sorted(walls)[ROUNDS // 2]
    print(f"{what:<36} {wall * 1e3:6.1f} ms ({sorted(own)[ROUNDS // 2] * 1e3:.1f})")
    return wall


if __name__ == "__main__":
    sys.exit(main())
