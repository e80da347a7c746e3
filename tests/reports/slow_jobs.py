"""A job for the worker tests, loaded into a real worker by `--include`: slow, with a trace.

Every start and every end is an audit entry, so a test can count how often the work was begun and
how often it was done.
"""

from __future__ import annotations

import time
from typing import Any

from clients.jobs import Progress, handler
from clients.models import AuditEntry, Job


@handler("slow")
def slow(job: Job, progress: Progress) -> dict[str, Any]:
    AuditEntry.objects.create(action="slow.begun", subject=job.subject)
    for tenth in range(10):
        progress(tenth / 10, "working")
        time.sleep(0.2)
    # What a careful handler does: its effect has a key, so a repeat adds nothing.
    AuditEntry.objects.get_or_create(action="slow.done", subject=job.subject)
    return {"subject": job.subject}
