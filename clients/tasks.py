"""What the broker's messages call: thin, since the work is in functions without Celery."""

from __future__ import annotations

from celery import shared_task

from clients import jobs, outbox


@shared_task(name="clients.run_job")
def run_job(job_id: str) -> None:
    jobs.run(job_id)


@shared_task(name="clients.send_letters")
def send_letters() -> None:
    outbox.send_waiting()
