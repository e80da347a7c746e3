"""The read at the lane, after each shot: gathered here, computed by `lanes.reading.live`.

It runs in the web server's process, where the phone waits for it. What one read leaves for the next
stands in the cache; lost, or on another process, the next one takes longer and says the same.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.core.cache import cache

from clients.jobs import JobProblem
from lanes import readings
from lanes.models import Session
from lanes.reading.pooling import EarlierSession
from lanes.reading.version import READING_VERSION

# Long enough for a session; what an earlier session says is then looked up again.
KEPT_S = 3 * 60 * 60


@dataclass(frozen=True)
class _Between:
    """What stands in the cache between two shots of a session."""

    earlier: list[EarlierSession]
    kept: Any = None


def read(session: Session) -> dict[str, Any]:
    """Return the session as read up to its last shot, for the phone; writes nothing.

    With too little for any read, it says so under ``missing`` and holds no option.
    """
    # Here and not above: numpy and numba, which most pages do without.
    from lanes.reading.live import read_live

    name = f"live:{READING_VERSION}:{session.pk}"
    between: _Between | None = cache.get(name)
    try:
        inputs = readings.gather(session, None if between is None else between.earlier)
    except JobProblem as problem:
        return {"provisional": True, "as_of_shot": None, "options": [], "missing": [str(problem)]}
    kept = None if between is None else between.kept
    live = read_live(**inputs.as_arguments(), kept=kept)
    cache.set(name, _Between(inputs.earlier, live.kept), KEPT_S)
    return live.data
