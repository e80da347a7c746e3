"""``manage.py read_session SESSION``: have the worker read a session, and wait for it."""

from __future__ import annotations

import json
import time
import uuid
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from lanes import readings
from lanes.models import Report, Session

LOOK_EVERY_S = 0.1


class Command(BaseCommand):
    help = "Have the worker read a session, wait for it, and print where its report is."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("session", metavar="SESSION", help="the session's key (a UUID)")
        parser.add_argument("--patience", type=float, default=300, metavar="SECONDS")
        parser.add_argument("--json", action="store_true")

    def handle(self, *args: Any, **options: Any) -> None:
        report = read_by_worker(options["session"], options["patience"])
        facts = {"report": report.pk, "path": reverse("lanes:report", args=[report.pk])}
        self.stdout.write(json.dumps(facts) if options["json"] else facts["path"])


def read_by_worker(key: str, patience_s: float) -> Report:
    """Return the report that the worker makes of the session; CommandError if there comes none."""
    try:
        session = Session.objects.filter(pk=uuid.UUID(key), deleted_at=None).first()
    except ValueError:
        raise CommandError(f"SESSION: expected a UUID, not {key!r}", returncode=2) from None
    if session is None:
        raise CommandError(f"SESSION: there is no session {key}", returncode=2)
    job = readings.ask(session, by=session.coach)
    until = time.monotonic() + patience_s
    while job.is_live:
        if time.monotonic() > until:
            raise CommandError(f"no worker has read the session within {patience_s:g} s")
        time.sleep(LOOK_EVERY_S)
        job.refresh_from_db()
    if job.state == job.State.FAILED:
        raise CommandError(f"the reading failed: {job.error}")
    return Report.objects.get(pk=job.result["report"])
