"""What lies in the demo's shop: a few tickets, each in another state."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from clients import tickets
from clients.models import AuditEntry, Ball, BallEvent, Mail, Surface, Ticket, User
from coachsite.demo.scenario import PETRA

Kind, Status = Ticket.Kind, Ticket.Status
STEPS = (Status.TAKEN_IN, Status.ON_BENCH, Status.READY, Status.HANDED_OVER)


@dataclass(frozen=True)
class _Work:
    client: str
    kind: str
    until: str  # how far it has come
    taken_in_days_ago: int
    due_in_days: int
    price: str
    grit: int | None = None
    ball: int = 0  # which of the client's, by name
    note: str = ""


_WORK = (
    _Work("Ivo Harrowgate", Kind.CLEAN, Status.HANDED_OVER, 9, -6, "5.00"),
    _Work("Lotte Birdsong", Kind.RESURFACE, Status.READY, 4, 1, "25.00", grit=3000,
          note="Klara collects it on Saturday."),
    _Work("Hugo Pennifold", Kind.PLUG, Status.ON_BENCH, 6, -1, "60.00",
          note="Thumb hole only. Old grip is in the bag."),
    _Work("Sofia Drakeley", Kind.POLISH, Status.ON_BENCH, 2, 0, "15.00", ball=1),
    _Work("Kofi Tamsin", Kind.OIL_OUT, Status.TAKEN_IN, 1, 0, "30.00"),
    _Work("Teodor Plimsoll", Kind.DRILL, Status.TAKEN_IN, 1, 3, "70.00", ball=1,
          note="Wants to try it on Thursday."),
    _Work("Greta Obuya", Kind.INSERTS, Status.TAKEN_IN, 0, 5, "12.50"),
    _Work("Emil Wharram", Kind.RESURFACE, Status.DROPPED, 5, -2, "25.00", grit=1000,
          note="Bought another ball instead."),
)  # fmt: skip

_WRITTEN = "demo.tickets_written"


def are_written() -> bool:
    return AuditEntry.objects.filter(action=_WRITTEN).exists()


@transaction.atomic
def write() -> None:
    """Take the work in and move it on, as the shop would have; what is not there is left out."""
    petra = User.objects.filter(email=PETRA.email).first()
    for work in _WORK:
        balls = Ball.objects.filter(client__name=work.client).select_related("client")
        ball = balls.order_by("name")[work.ball : work.ball + 1].first()
        if petra and ball:
            _write(work, ball, petra)
    AuditEntry.objects.create(action=_WRITTEN, subject="demo")


def _write(work: _Work, ball: Ball, by: User) -> None:
    today = timezone.localdate()
    ticket = tickets.take_in(
        client=ball.client,
        ball=ball,
        kind=work.kind,
        by=by,
        grit=work.grit,
        due_on=today + timedelta(days=work.due_in_days),
        price=Decimal(work.price),
        note=work.note,
    )
    if work.until == Status.DROPPED:
        tickets.drop(ticket, by=by)
    else:
        for seen in STEPS[: STEPS.index(work.until)]:
            ticket = tickets.move_on(ticket, seen=seen, by=by)
    _date_back(ticket, work)


def _date_back(ticket: Ticket, work: _Work) -> None:
    """Tell each step on a day of its own, the first one when the ball came in."""
    began = timezone.now() - timedelta(days=work.taken_in_days_ago)
    day = timedelta(days=work.taken_in_days_ago / len(STEPS))
    for number, name in enumerate(("created_at", "started_at", "ready_at", "handed_over_at")):
        if getattr(ticket, name):
            Ticket.objects.filter(pk=ticket.pk).update(**{name: began + number * day})
    own = AuditEntry.objects.filter(subject=f"{ticket._meta.label} {ticket.pk}")
    steps = own.exclude(action="ticket.finished").order_by("pk")
    for number, entry in enumerate(steps):
        AuditEntry.objects.filter(pk=entry.pk).update(at=began + number * day)
    ready = timezone.localdate(began + 2 * day)
    BallEvent.objects.filter(ticket=ticket).update(on=ready)
    Surface.objects.filter(ticket=ticket).update(done_on=ready)
    Mail.objects.filter(key__startswith=f"ticket-ready:{ticket.pk}:").update(
        created_at=began + 2 * day
    )
