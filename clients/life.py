"""A ball's life: what is written down by hand, passing it on, and all of it on one time line.

Games in logged sessions are counted by `lanes.games`; whoever shows a time line hands them in, as
one sum for each surface, so that the line tells nothing of when the client bowled.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone

from clients import audit, gear, layouts
from clients.models import (
    AuditEntry,
    Ball,
    BallEvent,
    Client,
    Surface,
    SurfaceReading,
    Ticket,
    User,
)
from clients.names import refused_if_taken
from clients.records import SAME_TAP

Kind = BallEvent.Kind
# What a person writes down. A drilled layout and work of the shop come from sheet and ticket too.
BY_HAND = (
    Kind.GAMES,
    Kind.CLEANED,
    Kind.OIL_OUT,
    Kind.BOUGHT,
    Kind.DRILLED,
    Kind.PLUGGED,
    Kind.INSERTS,
)
_PLUGGED = "ball.plugged_by_hand"


class InHand(Exception):
    """The ball is at the shop with work that is not handed over; the text says which."""


@transaction.atomic
def write_down(
    *, ball: Ball, kind: str, by: User, on: date, games: int | None = None, note: str = ""
) -> BallEvent:
    """Write one line by hand; a second tap within a minute finds the first one's.

    A ball that is plugged has no layout any more. Raises ValueError for games without a number.
    """
    if kind == Kind.GAMES and not games:
        raise ValueError("How many games?")
    games = games if kind == Kind.GAMES else None
    Ball.objects.select_for_update().get(pk=ball.pk)
    first = ball.events.filter(
        kind=kind,
        on=on,
        games=games,
        note=note,
        ticket=None,
        created_at__gt=timezone.now() - SAME_TAP,
    ).first()
    if first:
        return first
    event = gear.write_event(ball=ball, kind=kind, by=by, on=on, games=games, note=note)
    if kind == Kind.PLUGGED:
        audit.record(by, _PLUGGED, event, layouts=layouts.mark_plugged(ball, on=on, by=by))
    return event


@transaction.atomic
def take_out(event: BallEvent, *, by: User) -> None:
    """Take a line that was written by mistake out again; once more does no harm.

    What a ticket wrote goes with its ticket, and who had the ball stays. Raises ValueError there.
    """
    if event.ticket_id or event.kind == Kind.PASSED_ON:
        raise ValueError("This line is not written by hand.")
    ball = Ball.objects.select_for_update().get(pk=event.ball_id)
    if event.kind == Kind.PLUGGED:
        wrote = AuditEntry.objects.filter(action=_PLUGGED, subject=_subject(event)).first()
        if wrote:
            layouts.unmark_plugged(ball, layouts=wrote.data["layouts"], by=by)
    deleted, _ = BallEvent.objects.filter(pk=event.pk).delete()
    if deleted:
        audit.record(by, "ball.event_taken_back", ball, kind=event.kind, on=str(event.on))


@transaction.atomic
def add_reading(*, ball: Ball, number: int, by: User, on: date, note: str = "") -> SurfaceReading:
    """Write down what the shop's meter said; a second tap within a minute finds the first."""
    Ball.objects.select_for_update().get(pk=ball.pk)
    first = ball.readings.filter(
        number=number, read_on=on, note=note, created_at__gt=timezone.now() - SAME_TAP
    ).first()
    if first:
        return first
    reading = SurfaceReading.objects.create(ball=ball, number=number, read_on=on, by=by, note=note)
    audit.record(by, "ball.cover_read", ball, number=number, on=str(on))
    return reading


@transaction.atomic
def take_out_reading(reading: SurfaceReading, *, by: User) -> None:
    """Take a mistaken reading out again; once more does no harm."""
    deleted, _ = SurfaceReading.objects.filter(pk=reading.pk).delete()
    if deleted:
        audit.record(by, "ball.reading_taken_back", reading.ball, number=reading.number)


@transaction.atomic
def pass_on(*, ball: Ball, to: Client, by: User, on: date, note: str = "") -> None:
    """Give the ball to another client; to the one who has it already is no change.

    Its history goes along. Sessions stay with the client who bowled them, and so does the fit sheet
    that a layout was drilled to. The layout's numbers are told from the old hand's axis point and
    do not hold for another hand, so the ball has none until it is measured or drilled again.
    Raises NameTaken where the new owner has a ball of that name, InHand while work is open on it.
    """
    ball = Ball.objects.select_for_update().get(pk=ball.pk)
    if ball.client_id == to.pk:
        return
    open_work = ball.tickets.exclude(
        status__in=(Ticket.Status.HANDED_OVER, Ticket.Status.DROPPED)
    ).first()
    if open_work:
        raise InHand(f"{ball} is at the shop: ticket {open_work.number} is still open.")
    data: dict[str, Any] = {"from_client": ball.client_id, "to_client": to.pk}
    data["layout"] = {name: getattr(ball, name) for name in layouts.BALL_LAYOUT}
    ball.client = to
    for name in layouts.BALL_LAYOUT:
        setattr(ball, name, None)
    with refused_if_taken(f"{to} has a ball called {ball.name} already; rename one of the two."):
        ball.save(update_fields=["client", *layouts.BALL_LAYOUT])
    ball.layouts.update(fit=None)
    gear.write_event(ball=ball, kind=Kind.PASSED_ON, by=by, on=on, note=note)
    audit.record(by, "ball.changed_hands", ball, **data)


def _subject(event: BallEvent) -> str:
    return f"{event._meta.label} {event.pk}"


# The time line.


@dataclass(frozen=True)
class Entry:
    """One line: what happened when. `kind` is an event's, "surface", "reading" or "retired".

    `is_now` marks the surface that the cover has, `is_own` what may be taken out again by hand.
    """

    on: date
    kind: str
    title: str
    detail: str = ""
    note: str = ""
    by: str = ""
    pk: int | None = None
    ticket: Ticket | None = None
    is_now: bool = False
    is_own: bool = False


def time_line(ball: Ball, *, user: User, games_on: Mapping[int, str] | None = None) -> list[Entry]:
    """Return the ball's life, newest first.

    `games_on` is what is known of the games on each surface, in words, by the surface's key.
    A ticket is named where the user may see it.
    """
    entries = [
        *(_of_event(event) for event in ball.events.select_related("by", "ticket")),
        *_of_surfaces(ball, games_on or {}),
        *(_of_reading(reading) for reading in ball.readings.select_related("by")),
    ]
    if ball.retired_at:
        entries.append(Entry(ball.retired_at, "retired", "Retired"))
    tickets = {entry.ticket.pk for entry in entries if entry.ticket}
    seen = set()
    if tickets:
        visible = Ticket.objects.visible_to(user).filter(pk__in=tickets)
        seen = set(visible.values_list("pk", flat=True))
    told = [
        entry if not entry.ticket or entry.ticket.pk in seen else replace(entry, ticket=None)
        for entry in entries
    ]
    return sorted(told, key=lambda entry: entry.on, reverse=True)


def _of_event(event: BallEvent) -> Entry:
    title = str(event.get_kind_display()).capitalize()
    if event.kind == Kind.GAMES and event.games:
        title = f"{event.games} game{'' if event.games == 1 else 's'} bowled"
    return Entry(
        event.on,
        event.kind,
        title,
        note=event.note,
        by=event.by.name if event.by else "",
        pk=event.pk,
        ticket=event.ticket,
        is_own=event.ticket_id is None and event.kind != Kind.PASSED_ON,
    )


def _of_surfaces(ball: Ball, games_on: Mapping[int, str]) -> list[Entry]:
    surfaces: list[Surface] = list(ball.surfaces.select_related("done_by", "ticket"))
    return [
        Entry(
            surface.done_on,
            "surface",
            f"Surface: {surface}",
            detail=games_on.get(surface.pk, ""),
            note=surface.note,
            by=surface.done_by.name if surface.done_by else "",
            pk=surface.pk,
            ticket=surface.ticket,
            is_now=position == 0,
        )
        for position, surface in enumerate(surfaces)
    ]


def _of_reading(reading: SurfaceReading) -> Entry:
    return Entry(
        reading.read_on,
        "reading",
        f"Cover read {reading.number}",
        note=reading.note,
        by=reading.by.name if reading.by else "",
        pk=reading.pk,
        is_own=True,
    )


def facts_of(client: Client) -> list[dict[str, object]]:
    """Return the lives of the client's balls as plain values, for the export of all that is kept
    of a client. Deleting the client deletes these rows with the balls."""
    balls = client.balls.prefetch_related("surfaces", "events", "readings").order_by("name")
    return [
        {
            "ball": ball.name,
            "retired_at": ball.retired_at.isoformat() if ball.retired_at else None,
            "surfaces": [
                {
                    "grit": surface.grit,
                    "polished": surface.polished,
                    "done_on": surface.done_on.isoformat(),
                    "note": surface.note,
                }
                for surface in ball.surfaces.all()
            ],
            "events": [
                {
                    "kind": event.kind,
                    "on": event.on.isoformat(),
                    "games": event.games,
                    "note": event.note,
                }
                for event in ball.events.all()
            ],
            "readings": [
                {
                    "number": reading.number,
                    "read_on": reading.read_on.isoformat(),
                    "note": reading.note,
                }
                for reading in ball.readings.all()
            ],
        }
        for ball in balls
    ]
