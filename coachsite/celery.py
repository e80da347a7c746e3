"""The worker: runs jobs, and on one timer sweeps lost ones and sends letters."""

from __future__ import annotations

import logging
import os
import threading

from celery import Celery
from celery.signals import worker_ready, worker_shutting_down
from kombu.transport.sqlalchemy import Transport as LocalBroker

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "coachsite.settings")

# A coach waits for this. The setting for it would be handed on to SQLAlchemy, which refuses it.
LocalBroker.polling_interval = 0.2  # seconds

app = Celery("coachsite")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["clients"])

logger = logging.getLogger(__name__)
_stop = threading.Event()


@worker_ready.connect
def start_timer(**_: object) -> None:
    """One thread in the worker's main process; a lease lets one of several workers sweep."""
    _stop.clear()
    threading.Thread(target=_tick_until_stopped, name="timer", daemon=True).start()


@worker_shutting_down.connect
def stop_timer(**_: object) -> None:
    _stop.set()


def _tick_until_stopped() -> None:
    # Here and not above: there are no models before Celery has set Django up.
    from django.db import connection

    from clients import jobs
    from clients.tasks import send_letters

    while True:
        try:
            jobs.show_life()
            if jobs.take_lease("sweep", jobs.SWEEP_EVERY_S - 1):
                jobs.sweep()
                send_letters.delay()
        except Exception:  # the database may be away for a while; the next tick tries again
            logger.exception("the worker's timer")
        # Closed each time: the pool forks new children from this process, and none may inherit it.
        connection.close()
        if _stop.wait(jobs.SWEEP_EVERY_S):
            return
