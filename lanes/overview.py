"""Lists of clients, sessions and reports, with what the lessons add up to."""

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
from lanes.models import ImportDraft, Receipt, Report, Session, Shot


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


def clients_by_recency(user: User) -> QuerySet[Client]:
    """Return whom the user coaches, those of the latest sessions first."""
    mine = with_lessons(Client.objects.editable_by(user))
    return mine.order_by(F("last_session").desc(nulls_last=True), "name")


def sessions_seen_by(user: User, client: Client | None = None) -> QuerySet[Session]:
    """Return the sessions that the user may see, of all clients or of one, the newest first.

    Each has `shot_count`, and in `report_state` how far the newest version of its report is;
    `file_waits` says that an uploaded log was looked at and neither taken nor thrown away.
    """
    sessions = Session.objects.visible_to(user)
    if client is not None:
        sessions = sessions.filter(client=client)
    newest = Report.objects.filter(session=OuterRef("pk")).order_by("-version")
    return (
        sessions.select_related("client", "block__centre", "block__pattern")
        .annotate(
            shot_count=Count("shots", filter=Q(shots__deleted_at=None), distinct=True),
            report_state=Subquery(newest.values("state")[:1]),
            file_waits=Exists(ImportDraft.objects.filter(session=OuterRef("pk"), applied_at=None)),
        )
        .order_by("-block__starts_at", "-created_at")
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
