"""What waits for somebody who works here: for a coach lessons, for the shop operator gear."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import timedelta

from django.db.models import Exists, F, OuterRef
from django.utils import timezone

from clients import day_board, gear, jobs
from clients.models import Ball, Job, Ticket, User
from lanes import reports
from lanes.models import Answer, Report, Session, Shot

ROWS = 8
RECENT = timedelta(days=60)


@dataclass
class Today:
    """The lists of the page; each is short, and says how many more there are."""

    answers: list[Answer] = field(default_factory=list)
    drafts: list[Report] = field(default_factory=list)
    jobs: list[tuple[Job, Session]] = field(default_factory=list)
    unread_sessions: list[Session] = field(default_factory=list)
    tickets: list[Ticket] = field(default_factory=list)
    balls: list[Ball] = field(default_factory=list)
    worker_is_alive: bool = True

    @property
    def has_lessons_waiting(self) -> bool:
        return bool(self.answers or self.drafts or self.jobs or self.unread_sessions)


def todays_work(user: User) -> Today:
    """Return what waits for the user, by their roles."""
    today = Today()
    if user.is_coach:
        today.answers = reports.new_answers(user)[:ROWS]
        today.drafts = list(
            Report.objects.editable_by(user)
            .select_related("session__client", "session__block__centre")
            .order_by("-edited_at")[:ROWS]
        )
        today.jobs = _jobs(user)
        today.unread_sessions = _without_report(user, [session.pk for _, session in today.jobs])
        if any(job.is_live for job, _ in today.jobs):
            today.worker_is_alive = jobs.worker_is_alive()
    if user.is_operator or user.is_owner:
        today.tickets = list(day_board.due_for(user)[:ROWS])
        today.balls = list(
            gear.with_surface_date(Ball.objects.visible_to(user))
            .filter(retired_at=None, is_spare_ball=False)
            .select_related("client")
            .prefetch_related("surfaces")
            .order_by(F("surface_on").asc(nulls_first=True), "name")[:ROWS]
        )
    return today


def _jobs(user: User) -> list[tuple[Job, Session]]:
    """Return readings under way, and those that failed today and were not tried again."""
    found = list(
        Job.objects.filter(kind="read_session")
        .filter(state__in=[Job.State.WAITING, Job.State.RUNNING, Job.State.FAILED])
        .filter(created_at__gt=timezone.now() - timedelta(days=1))
        .order_by("-created_at")[:50]
    )
    sessions = {
        str(session.pk): session
        for session in Session.objects.visible_to(user)
        .filter(pk__in=[job.subject for job in found])
        .annotate(has_report=Exists(Report.objects.filter(session=OuterRef("pk"))))
        .select_related("client", "block__centre")
    }
    shown: dict[str, tuple[Job, Session]] = {}
    for job in found:
        session = sessions.get(job.subject)
        if session is None or (session.has_report and not job.is_live):
            continue
        shown.setdefault(job.subject, (job, session))
    return list(shown.values())[:ROWS]


def _without_report(user: User, being_read: list) -> list[Session]:
    """Return recent sessions with shots and no report, which nobody is reading just now."""
    return list(
        Session.objects.visible_to(user)
        .filter(block__starts_at__gt=timezone.now() - RECENT)
        .exclude(pk__in=being_read)
        .filter(Exists(Shot.objects.live().filter(session=OuterRef("pk"))))
        .filter(~Exists(Report.objects.filter(session=OuterRef("pk"))))
        .select_related("client", "block__centre")
        .order_by("-block__starts_at")[:ROWS]
    )
