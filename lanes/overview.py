"""What a client's lessons add up to, for the list of clients and a client's page."""

from __future__ import annotations

from django.db.models import (
    Count,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
)
from django.db.models.functions import Coalesce

from clients.models import Client, User
from lanes.models import Receipt, Report, Session, Shot


def _waiting(sessions: QuerySet[Session]) -> QuerySet[Session]:
    """Sessions with shots in them and no report sent."""
    return sessions.filter(
        Exists(Shot.objects.live().filter(session=OuterRef("pk"))),
        ~Exists(Report.objects.filter(session=OuterRef("pk"), state=Report.State.SENT)),
    )


def with_lessons(clients: QuerySet[Client]) -> QuerySet[Client]:
    """Add `last_session`, when, and `waiting`, how many sessions have no report sent yet."""
    sessions = Session.objects.filter(client=OuterRef("pk"), deleted_at=None).order_by()
    latest = sessions.order_by("-block__starts_at").values("block__starts_at")[:1]
    count = _waiting(sessions).values("client").annotate(n=Count("pk")).values("n")
    return clients.annotate(
        last_session=Subquery(latest),
        waiting=Coalesce(Subquery(count, output_field=IntegerField()), 0),
    )


def sessions_of(client: Client, *, user: User) -> QuerySet[Session]:
    """The client's sessions that the user may see, the newest first, with their shots counted and
    `sent` and `drafted` saying how far the report is."""
    reports = Report.objects.filter(session=OuterRef("pk"))
    return (
        Session.objects.visible_to(user)
        .filter(client=client)
        .select_related("block__centre", "block__pattern")
        .annotate(
            shot_count=Count("shots", filter=Q(shots__deleted_at=None)),
            sent=Exists(reports.filter(state=Report.State.SENT)),
            drafted=Exists(reports.filter(state=Report.State.DRAFT)),
        )
        .order_by(F("block__starts_at").desc(), "-created_at")
    )


def sent_reports_of(client: Client, *, user: User) -> QuerySet[Report]:
    """The client's sent reports, which of student and guardians has read them, and the answers."""
    readers = Q(user=client.user_id) | Q(user__wards__client=client)
    receipts = Receipt.objects.filter(readers).select_related("user").distinct()
    return (
        Report.objects.visible_to(user)
        .filter(session__client=client, state=Report.State.SENT)
        .select_related("session__block__centre")
        .prefetch_related(Prefetch("receipts", receipts), "answers__author")
    )
