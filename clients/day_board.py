"""The shop's day board: what is due, what is on the bench, what waits to be collected."""

from __future__ import annotations

from dataclasses import dataclass, field

from django.db.models import F, Q, QuerySet
from django.utils import timezone

from clients.models import Role, Ticket, User
from clients.tickets import IN_HAND, OPEN

Status = Ticket.Status
NOBODY = "nobody"


@dataclass
class Board:
    """Each ticket stands in one list: work that is due or late before all other work."""

    due: list[Ticket] = field(default_factory=list)
    on_bench: list[Ticket] = field(default_factory=list)
    taken_in: list[Ticket] = field(default_factory=list)
    ready: list[Ticket] = field(default_factory=list)
    handed_over: list[Ticket] = field(default_factory=list)

    @property
    def sections(self) -> list[tuple[str, str, list[Ticket]]]:
        """Return (name, heading, tickets) of the lists that hold something, in their order."""
        lists = [
            ("due", "Due today or late", self.due),
            ("on_bench", "On the bench", self.on_bench),
            ("taken_in", "Taken in", self.taken_in),
            ("ready", "Ready to collect", self.ready),
            ("handed_over", "Handed over today", self.handed_over),
        ]
        return [(name, heading, tickets) for name, heading, tickets in lists if tickets]


def board_for(user: User, *, kind: str = "", who: str = "") -> Board:
    """Return the board as the user may work it; one query, however many tickets there are."""
    today = timezone.localdate()
    morning = timezone.localtime().replace(hour=0, minute=0, second=0, microsecond=0)
    shown = Q(status__in=OPEN) | Q(status=Status.HANDED_OVER, handed_over_at__gte=morning)
    tickets = _for_lists(_chosen(user, kind, who)).filter(shown)
    board = Board()
    for ticket in tickets.order_by(F("due_on").asc(nulls_last=True), "number"):
        if ticket.is_in_hand and ticket.due_on and ticket.due_on <= today:
            board.due.append(ticket)
        else:
            getattr(board, _LIST_OF[Status(ticket.status)]).append(ticket)
    return board


_LIST_OF = {
    Status.ON_BENCH: "on_bench",
    Status.TAKEN_IN: "taken_in",
    Status.READY: "ready",
    Status.HANDED_OVER: "handed_over",
}


def due_for(user: User) -> QuerySet[Ticket]:
    """Return the work that is due today or late, the latest first."""
    tickets = _for_lists(Ticket.objects.editable_by(user))
    due = tickets.filter(status__in=IN_HAND, due_on__lte=timezone.localdate())
    return due.order_by("due_on", "number")


def closed_for(user: User, *, kind: str = "", who: str = "") -> QuerySet[Ticket]:
    """Return what was handed over or dropped, the newest number first."""
    closed = _chosen(user, kind, who).exclude(status__in=OPEN)
    return _for_lists(closed).order_by("-number")


def _chosen(user: User, kind: str, who: str) -> QuerySet[Ticket]:
    tickets = Ticket.objects.editable_by(user)
    if kind in Ticket.Kind:
        tickets = tickets.filter(kind=kind)
    if who == NOBODY:
        tickets = tickets.filter(assigned_to=None)
    elif who.isdecimal() and len(who) < 12:
        tickets = tickets.filter(assigned_to=int(who))
    return tickets


def _for_lists(tickets: QuerySet[Ticket]) -> QuerySet[Ticket]:
    return tickets.select_related("client", "ball", "assigned_to", "signed_by")


def workers() -> QuerySet[User]:
    """Return who may be named as the one who does a ticket: everybody who works here."""
    roles = [Role.OWNER, Role.COACH, Role.OPERATOR]
    staff = User.objects.filter(grants__role__in=roles, is_active=True)
    return staff.distinct().order_by("name")
