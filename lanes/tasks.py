"""Jobs that lanes can do. Thin: each calls one function that knows no Celery."""

from __future__ import annotations

from typing import Any

from clients.jobs import Progress, handler
from clients.models import Job


@handler("read_session")
def read_session(job: Job, progress: Progress) -> dict[str, Any]:
    from lanes import readings  # numpy and numba, which most commands of manage.py do without

    return readings.read_for_job(job, progress)


@handler("new_ball_plan")
def new_ball_plan(job: Job, progress: Progress) -> dict[str, Any]:
    from lanes import new_ball

    return new_ball.plan_for_job(job, progress)
