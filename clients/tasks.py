"""What the broker's messages call: thin, since the work is in functions without Celery."""

from celery import shared_task

from clients import jobs


@shared_task(name="clients.run_job")
def run_job(job_id: str) -> None:
    jobs.run(job_id)


@shared_task(name="clients.send_letters")
def send_letters() -> None:
    from clients import outbox

    outbox.send_waiting()
