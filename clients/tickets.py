"""Shop tickets: taken in, moved on, signed off, and written into the ball's history.

A ticket goes taken in, on the bench, ready, handed over; or it is dropped. The work is done when
somebody signs the ticket off as ready: at that moment the ball is another one, so that is when its
history is written and the client is told. A step back takes the history back with it.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Case, Max, QuerySet, When
from django.urls import reverse
from django.utils import timezone

from clients import audit, gear, layouts, outbox, records
from clients.models import (
    AuditEntry,
    Ball,
    BallEvent,
    Client,
    Counter,
    Layout,
    Mail,
    Surface,
    Ticket,
    User,
)

Kind, Status = Ticket.Kind, Ticket.Status

NEXT = {
    Status.TAKEN_IN: Status.ON_BENCH,
    Status.ON_BENCH: Status.READY,
    Status.READY: Status.HANDED_OVER,
}
OPEN = (Status.TAKEN_IN, Status.ON_BENCH, Status.READY)
# Work that is not done yet: it can be dropped, and what it shall be can be changed.
IN_HAND = (Status.TAKEN_IN, Status.ON_BENCH)
SURFACE_KINDS = (Kind.RESURFACE, Kind.POLISH)
# What the work itself is.
OF_THE_WORK = ("kind", "ball", "layout", "grit", "polished")
EVENT_OF = {
    Kind.DRILL: BallEvent.Kind.DRILLED,
    Kind.PLUG: BallEvent.Kind.PLUGGED,
    Kind.CLEAN: BallEvent.Kind.CLEANED,
    Kind.OIL_OUT: BallEvent.Kind.OIL_OUT,
    Kind.INSERTS: BallEvent.Kind.INSERTS,
}
_BOOK = "ticket numbers"
_FINISHED = "ticket.finished"


class NotReady(Exception):
    """The ball's history could not be written; the text says what the ticket lacks."""


@transaction.atomic
def take_in(
    *,
    client: Client,
    kind: str,
    by: User,
    key: uuid.UUID | None = None,
    ball: Ball | None = None,
    grit: int | None = None,
    polished: bool = False,
    layout: Layout | None = None,
    due_on: date | None = None,
    price: Decimal | None = None,
    assigned_to: User | None = None,
    note: str = "",
) -> Ticket:
    """Write a ticket; a second call with the same key finds the first one's.

    A client or a ball that is not on file yet is put there first. Where a drill ticket names no
    layout it gets the newest of the ball that is not drilled yet. Raises NameTaken for a new ball
    with a name that the client's gear has, ValueError for somebody else's ball or layout.
    """
    book = _open_the_book()
    found = Ticket.objects.filter(pk=key).first() if key else None
    if found:
        return found
    if client.pk is None:
        client = records.add_client(client, by=by)
    if ball and ball.pk is None:
        ball.client = client
        gear.save_ball(ball, by=by)
    if ball and ball.client_id != client.pk:
        raise ValueError(f"{ball} is not {client}'s ball.")
    if layout and (ball is None or layout.ball_id != ball.pk):
        raise ValueError("The layout is another ball's.")
    if kind == Kind.DRILL and ball and layout is None:
        layout = ball.layouts.filter(drilled_on=None, replaced_on=None).first()
    ticket = Ticket(
        id=key or uuid.uuid4(),
        number=_next_number(book),
        client=client,
        ball=ball,
        kind=kind,
        layout=layout if kind == Kind.DRILL else None,
        grit=grit if kind in SURFACE_KINDS else None,
        polished=kind == Kind.POLISH or (polished and kind == Kind.RESURFACE),
        due_on=due_on,
        price=price,
        assigned_to=assigned_to,
        note=note,
        created_by=by,
    )
    ticket.save(force_insert=True)
    audit.record(by, "ticket.taken_in", ticket, number=ticket.number, kind=kind)
    return ticket


def _open_the_book() -> Counter:
    """Let one writer at a time take a number, so that the numbers have no gap and no double."""
    Counter.objects.get_or_create(name=_BOOK)
    return Counter.objects.select_for_update().get(name=_BOOK)


def _next_number(book: Counter) -> int:
    """Return a number that no ticket ever had, deleted ones included."""
    highest = Ticket.objects.aggregate(last=Max("number"))["last"] or 0
    book.last = max(book.last, highest) + 1
    book.save(update_fields=["last"])
    return book.last


@transaction.atomic
def change(ticket: Ticket, *, by: User, fields: Iterable[str]) -> None:
    """Save those of the fields that differ from what is kept, and write down which.

    Once the work is signed off, what it was stays as it stands in the ball's history.
    """
    kept = _locked(ticket)
    changed = [
        name
        for name in fields
        if getattr(ticket, name) != getattr(kept, name)
        and (kept.is_in_hand or name not in OF_THE_WORK)
    ]
    if changed:
        ticket.save(update_fields=changed)
        audit.record(by, "ticket.changed", ticket, fields=changed)


@transaction.atomic
def name_layout(layout: Layout, *, by: User) -> list[Ticket]:
    """Put a new layout on the drill tickets of its ball that wait for one; return those tickets."""
    waiting = list(
        Ticket.objects.select_for_update()
        .filter(ball=layout.ball_id, kind=Kind.DRILL, layout=None, status__in=IN_HAND)
        .order_by("number")
    )
    for ticket in waiting:
        ticket.layout = layout
        ticket.save(update_fields=["layout"])
        audit.record(by, "ticket.changed", ticket, fields=["layout"])
    return waiting


@transaction.atomic
def move_on(ticket: Ticket, *, seen: str, by: User) -> Ticket:
    """Move the ticket one step on from the status that was seen, and return it as it is now.

    Where it has left that status, a second tap has come late and does nothing. Raises NotReady.
    """
    ticket = _locked(ticket)
    if ticket.status != seen or seen not in NEXT:
        return ticket
    ticket.status = NEXT[Status(seen)]
    now = timezone.now()
    if ticket.status == Status.ON_BENCH:
        ticket.started_at = now
        ticket.assigned_to = ticket.assigned_to or by
    elif ticket.status == Status.READY:
        ticket.ready_at, ticket.signed_by = now, by
    else:
        ticket.handed_over_at = now
    _save(ticket)
    audit.record(by, "ticket.moved", ticket, was=seen, now=ticket.status)
    if ticket.status == Status.READY:
        finish(ticket, by=by)
        _tell(ticket)
    return ticket


@transaction.atomic
def step_back(ticket: Ticket, *, seen: str, by: User) -> Ticket:
    """Take the last step back from the status that was seen, and return the ticket as it is now.

    Back from ready, the ball's history loses the lines of this ticket, and letters that have not
    gone out yet are taken out of the outbox.
    """
    ticket = _locked(ticket)
    if ticket.status != seen or seen == Status.TAKEN_IN:
        return ticket
    if seen == Status.DROPPED:
        ticket.status = Status.ON_BENCH if ticket.started_at else Status.TAKEN_IN
    elif seen == Status.ON_BENCH:
        ticket.status, ticket.started_at = Status.TAKEN_IN, None
    elif seen == Status.READY:
        ticket.status, ticket.ready_at, ticket.signed_by = Status.ON_BENCH, None, None
    else:
        ticket.status, ticket.handed_over_at = Status.READY, None
    _save(ticket)
    audit.record(by, "ticket.moved_back", ticket, was=seen, now=ticket.status)
    if seen == Status.READY:
        _unfinish(ticket, by=by)
        outbox.recall(_letter_key(ticket))
    return ticket


@transaction.atomic
def drop(ticket: Ticket, *, by: User) -> Ticket:
    """Drop work that is not done: the client does not want it, or it cannot be done."""
    ticket = _locked(ticket)
    if ticket.status in IN_HAND:
        was, ticket.status = ticket.status, Status.DROPPED
        _save(ticket)
        audit.record(by, "ticket.dropped", ticket, was=was)
    return ticket


def _locked(ticket: Ticket) -> Ticket:
    tickets = Ticket.objects.select_for_update(of=["self"])
    return tickets.select_related("client", "ball", "layout").get(pk=ticket.pk)


def _save(ticket: Ticket) -> None:
    steps = ["status", "assigned_to", "started_at", "ready_at", "signed_by", "handed_over_at"]
    ticket.save(update_fields=steps)


# What a finished ticket writes.


def what_is_missing(ticket: Ticket) -> str:
    """Return what the ticket lacks to be signed off, in one sentence; empty when it may be."""
    if ticket.ball and ticket.kind in SURFACE_KINDS and _grit(ticket) is None:
        return "Write down the last grit first: it goes into the ball's history."
    return ""


def finish(ticket: Ticket, *, by: User, on: date | None = None) -> None:
    """Write the ball's history, once however often it is asked for. Raises NotReady.

    A ticket without a ball has no history to write.
    """
    missing = what_is_missing(ticket)
    if missing:
        raise NotReady(missing)
    ball, on = ticket.ball, on or timezone.localdate()
    if ball is None or _has_written(ticket):
        return
    wrote: dict[str, Any] = {"ball": ball.pk}
    grit = _grit(ticket)
    if ticket.kind in SURFACE_KINDS and grit is not None:
        surface = Surface(ball=ball, grit=grit, polished=ticket.polished, done_on=on, ticket=ticket)
        gear.add_surface(surface, by=by)
    elif ticket.kind == Kind.DRILL and ticket.layout and ticket.layout.drilled_on:
        pass  # somebody wrote it down on the layout sheet already
    else:
        if ticket.kind == Kind.PLUG:
            wrote["plugged"] = layouts.mark_plugged(ball, on=on, by=by)
        if ticket.kind == Kind.DRILL and ticket.layout:
            layouts.mark_drilled(ticket.layout, on=on, by=by)
            wrote["drilled"] = ticket.layout.pk
        gear.write_event(ball=ball, kind=EVENT_OF[Kind(ticket.kind)], on=on, by=by, ticket=ticket)
    audit.record(by, _FINISHED, ticket, **wrote)


def _has_written(ticket: Ticket) -> bool:
    by_ticket = (BallEvent.objects.filter(ticket=ticket), Surface.objects.filter(ticket=ticket))
    return any(lines.exists() for lines in by_ticket)


def _grit(ticket: Ticket) -> int | None:
    """Return the grit that the cover has after this work: a polish may leave what is there."""
    if ticket.grit is None and ticket.kind == Kind.POLISH and ticket.ball and ticket.ball.surface:
        return ticket.ball.surface.grit
    return ticket.grit


def _unfinish(ticket: Ticket, *, by: User) -> None:
    """Take out of the ball's history what this ticket wrote, and nothing that another hand did."""
    finished = _entries(ticket).filter(action=_FINISHED).first()
    wrote = finished.data if finished else {}
    gear.take_back_written_by(ticket, by=by)
    if ticket.layout and wrote.get("drilled") == ticket.layout.pk:
        layouts.unmark_drilled(ticket.layout, by=by)
    if ticket.ball and wrote.get("plugged"):
        layouts.unmark_plugged(ticket.ball, layouts=wrote["plugged"], by=by)


# What the client hears of it.


def _letter_key(ticket: Ticket) -> str:
    return f"ticket-ready:{ticket.pk}"


def _tell(ticket: Ticket) -> None:
    """Write to the client and the guardians that it can be collected, once."""
    thing = str(ticket.ball) if ticket.ball else "the ball"
    address = settings.SITE_URL + reverse("clients:ticket", args=[ticket.pk])
    for person in outbox.people_around(ticket.client):
        whose = "" if person.pk == ticket.client.user_id else f" for {ticket.client}"
        outbox.write(
            key=_letter_key(ticket),
            to=person,
            client=ticket.client,
            subject=f"Ready to collect{whose}: {thing}",
            body=(
                f"Hello {person.name},\n\n"
                f"the work on {thing}{whose} is done ({ticket.get_kind_display()}), and it is "
                f"ready to collect at the shop. It is ticket {ticket.number}:\n{address}\n"
            ),
        )


def letters_of(ticket: Ticket) -> QuerySet[Mail]:
    """Return the letters that say the ticket is ready, those in the outbox and those gone out."""
    return Mail.objects.filter(key__startswith=f"{_letter_key(ticket)}:").select_related("to")


# What is told of a ticket.


def of_person_open(user: User) -> QuerySet[Ticket]:
    """Return what the shop has in hand of the user and their wards, first what is to collect."""
    mine = Ticket.objects.of_person(user).filter(status__in=OPEN)
    ready_first = Case(When(status=Status.READY, then=0), default=1)
    return mine.select_related("client", "ball").order_by(ready_first, "due_on", "number")


@dataclass(frozen=True)
class Line:
    """One line of a ticket's own history."""

    at: datetime
    who: str
    words: str


def history_of(ticket: Ticket) -> list[Line]:
    """Return what happened to the ticket, newest first, from the audit log."""
    lines = []
    for entry in _entries(ticket).select_related("actor").order_by("-at", "-pk"):
        words = _words(entry)
        if words:
            lines.append(Line(entry.at, entry.actor.name if entry.actor else "", words))
    return lines


def _entries(ticket: Ticket) -> QuerySet[AuditEntry]:
    return AuditEntry.objects.filter(subject=f"{ticket._meta.label} {ticket.pk}")


def _words(entry: AuditEntry) -> str:
    """Return what an entry of the audit log says of a ticket; nothing for those that repeat it."""
    data = entry.data
    match entry.action:
        case "ticket.taken_in":
            return "taken in"
        case "ticket.moved":
            signed = " and signed off" if data["now"] == Status.READY else ""
            return Status(data["now"]).label + signed
        case "ticket.moved_back":
            return f"back to “{Status(data['now']).label}”"
        case "ticket.dropped":
            return "dropped"
        case "ticket.changed":
            names = [str(_field_label(name)) for name in data["fields"]]
            return "changed: " + ", ".join(names)
        case "ticket.photo_added":
            return "picture added"
        case "ticket.photo_removed":
            return "picture removed"
    return ""


def _field_label(name: str) -> str:
    return {"due_on": "due date", "assigned_to": "who does it"}.get(name, name)


def money(amount: Decimal | None) -> str:
    """Return an amount with the shop's currency, nothing where there is none."""
    return "" if amount is None else f"{amount:.2f} {settings.CURRENCY}".strip()


def facts_of(client: Client) -> list[dict[str, object]]:
    """Return the client's tickets as plain values, for the export of everything kept of them.

    `photos` are names of files in the site's storage.
    """
    tickets = Ticket.objects.filter(client=client).prefetch_related("photos").order_by("number")
    return [
        {
            "number": ticket.number,
            "kind": ticket.kind,
            "status": ticket.status,
            "ball": ticket.ball.name if ticket.ball else None,
            "grit": ticket.grit,
            "polished": ticket.polished,
            "due_on": _plain(ticket.due_on),
            "price": None if ticket.price is None else str(ticket.price),
            "note": ticket.note,
            "created_at": _plain(ticket.created_at),
            "ready_at": _plain(ticket.ready_at),
            "signed_by": ticket.signed_by.name if ticket.signed_by else None,
            "handed_over_at": _plain(ticket.handed_over_at),
            "photos": [photo.picture.name for photo in ticket.photos.all()],
        }
        for ticket in tickets.select_related("ball", "signed_by")
    ]


def _plain(moment: date | datetime | None) -> str | None:
    return moment.isoformat() if moment else None
