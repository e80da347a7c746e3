"""Work for the worker: claimed, renewed, swept.

A local broker loses messages and a killed worker loses its task, so the job's row is the truth and
the broker's message only a nudge. A worker claims a row by a conditional update, holds a lease on
it and renews that while it works; whoever finds a lease run out gives the job back. So work that
was cut off starts again within half a minute. Handlers must be safe to repeat.
"""

from __future__ import annotations

import logging
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta
from typing import Any

from django.db import DatabaseError, IntegrityError, connection, transaction
from django.db.models import F, Q
from django.utils import timezone

from clients.models import Job, Lease, User

logger = logging.getLogger(__name__)

LEASE = timedelta(seconds=20)
BEAT_S = 5
MAX_ATTEMPTS = 3
# Progress is for eyes: a write lock twice a second at most.
PROGRESS_EVERY_S = 0.5
WORKER_LEASE = "worker"
SWEEP_EVERY_S = 10
NUDGES_PER_SWEEP = 50

Progress = Callable[[float, str], None]
Handler = Callable[[Job, Progress], dict[str, Any]]
_handlers: dict[str, Handler] = {}


class JobProblem(Exception):
    """Something the asker can mend; its text is shown to them, and the job is not tried again."""


class LeaseLost(Exception):
    """Another worker has taken the job over; this one must stop and write nothing."""


def handler(kind: str) -> Callable[[Handler], Handler]:
    """Register the function that does jobs of this kind; it returns the job's result."""

    def register(function: Handler) -> Handler:
        _handlers[kind] = function
        return function

    return register


def enqueue(kind: str, subject: object, *, by: User | None, key: str = "") -> Job:
    """Return the live job for this key, made now if there is none, and nudge the worker.

    A second call while the first job waits or runs returns that job, so double taps do no harm.
    """
    if kind not in _handlers:
        raise LookupError(f"no handler for jobs of kind {kind!r}")
    key = key or f"{kind}:{subject}"
    live = Job.objects.filter(key=key, state__in=[Job.State.WAITING, Job.State.RUNNING])
    job = live.first()
    while job is None:
        try:
            with transaction.atomic():
                job = Job.objects.create(kind=kind, subject=str(subject), key=key, created_by=by)
        except IntegrityError:  # somebody was faster between the look and the write
            job = live.first()  # none, if that one is finished by now: then it is ours to make
    nudge(job)
    return job


def nudge(job: Job) -> None:
    """Tell a worker about the job once the transaction is through; a lost nudge is swept up."""
    from clients.tasks import run_job  # which imports this module

    def send() -> None:
        try:
            run_job.delay(str(job.pk))
        except Exception:  # the broker is down: the sweep finds the row
            logger.exception("could not nudge the worker for job %s", job.pk)

    transaction.on_commit(send)


def run(job_id: uuid.UUID | str) -> bool:
    """Claim the job and do it. Return whether this call did it; False where another has it."""
    token = uuid.uuid4()
    now = timezone.now()
    free = Q(state=Job.State.WAITING) | Q(state=Job.State.RUNNING, lease_until__lt=now)
    claimed = Job.objects.filter(free, pk=job_id, attempts__lt=MAX_ATTEMPTS).update(
        state=Job.State.RUNNING,
        lease_token=token,
        lease_until=now + LEASE,
        attempts=F("attempts") + 1,
        message="",
        fraction=0.0,
    )
    if not claimed:
        return False
    job = Job.objects.get(pk=job_id)
    try:
        with _held(job.pk, token) as lost:
            result = _handlers[job.kind](job, _progress(job.pk, token, lost))
    except LeaseLost:
        logger.warning("job %s went to another worker", job.pk)
        return False
    except JobProblem as problem:
        _finish(job.pk, token, state=Job.State.FAILED, error=str(problem))
    except Exception:
        logger.exception("job %s (%s) failed", job.pk, job.kind)
        _finish(
            job.pk,
            token,
            state=Job.State.FAILED,
            error="Something went wrong on our side. It is in the worker's log; try again.",
        )
    else:
        _finish(job.pk, token, state=Job.State.DONE, fraction=1.0, result=result, error="")
    return True


@contextmanager
def _held(job_id: uuid.UUID, token: uuid.UUID) -> Iterator[threading.Event]:
    """Renew the job's lease while the block runs; the event is set once another worker has it.

    A thread does it, so that a handler deep in one long computation keeps its job.
    """
    done, lost = threading.Event(), threading.Event()

    def beat() -> None:
        while not done.wait(BEAT_S):
            try:
                if not _renew(job_id, token):
                    lost.set()
                    return
            except DatabaseError:  # away for a moment; the lease outlasts several beats
                logger.exception("could not renew the lease of job %s", job_id)
            finally:
                connection.close()  # this thread's own

    thread = threading.Thread(target=beat, name=f"lease of {job_id}", daemon=True)
    thread.start()
    try:
        yield lost
    finally:
        done.set()
        thread.join()


def _renew(job_id: uuid.UUID, token: uuid.UUID, **seen: Any) -> bool:
    return bool(
        Job.objects.filter(pk=job_id, lease_token=token).update(
            lease_until=timezone.now() + LEASE, **seen
        )
    )


def _progress(job_id: uuid.UUID, token: uuid.UUID, lost: threading.Event) -> Progress:
    """Return the function by which a handler tells how far it is, and learns of a lost lease."""
    last = 0.0

    def report(fraction: float, message: str = "") -> None:
        nonlocal last
        if lost.is_set():
            raise LeaseLost
        if time.monotonic() - last < PROGRESS_EVERY_S:
            return
        last = time.monotonic()
        fraction = min(max(fraction, 0.0), 1.0)
        if not _renew(job_id, token, fraction=fraction, message=message[:200]):
            raise LeaseLost

    return report


def _finish(job_id: uuid.UUID, token: uuid.UUID, **fields: Any) -> None:
    Job.objects.filter(pk=job_id, lease_token=token).update(
        lease_token=None, lease_until=None, finished_at=timezone.now(), message="", **fields
    )


def sweep() -> int:
    """Give back jobs whose worker died, fail those that died too often. Return how many wait.

    Every job that waits is nudged again, since a local broker can lose its message.
    """
    now = timezone.now()
    dead = Job.objects.filter(state=Job.State.RUNNING, lease_until__lt=now)
    dead.filter(attempts__gte=MAX_ATTEMPTS).update(
        state=Job.State.FAILED,
        lease_token=None,  # should that worker live after all, it has nothing to say any more
        finished_at=now,
        error="The worker stopped three times while doing this. See its log.",
    )
    dead.update(state=Job.State.WAITING, lease_token=None, lease_until=None)
    waiting = Job.objects.filter(
        state=Job.State.WAITING, created_at__lt=now - timedelta(seconds=5)
    ).order_by("created_at")[:NUDGES_PER_SWEEP]
    for job in waiting:
        nudge(job)
    return len(waiting)


def take_lease(name: str, seconds: float) -> bool:
    """Return whether this process has the named lease for so many seconds; one process has it."""
    now = timezone.now()
    until = now + timedelta(seconds=seconds)
    if Lease.objects.filter(name=name, until__lt=now).update(until=until):
        return True
    _, made = Lease.objects.get_or_create(name=name, defaults={"until": until})
    return made


def give_back_lease(name: str) -> None:
    """Let the next one take the lease before its time is up."""
    Lease.objects.filter(name=name).delete()


def show_life() -> None:
    """Note that a worker is alive, so that the site can say whether one is."""
    Lease.objects.update_or_create(
        name=WORKER_LEASE,
        defaults={"until": timezone.now() + timedelta(seconds=3 * SWEEP_EVERY_S)},
    )


def worker_is_alive() -> bool:
    return Lease.objects.filter(name=WORKER_LEASE, until__gt=timezone.now()).exists()
