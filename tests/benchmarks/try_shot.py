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
        return made, try_shot.try_shot(made.trial(None))

    def page() -> None:
        made, found = answer()
        render_to_string("lanes/try/renewed.html", {"form": made, "answer": found})

    page()
    print(f"the form read:                       {_middle(form) * 1e3:6.1f} ms")
    print(f"and the balls rolled on a worn lane: {_middle(answer) * 1e3:6.1f} ms")
    whole = _middle(page)
    print(f"and the answer drawn as HTML:        {whole * 1e3:6.1f} ms (limit {LIMIT_S * 1e3:g})")
    return int(whole > LIMIT_S)


def _middle(work: Callable[[], object]) -> float:
    """Return the median of some rounds, seconds."""
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return sorted(times)[ROUNDS // 2]


if __name__ == "__main__":
    sys.exit(main())
