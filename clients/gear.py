"""Balls and their surfaces: what is done to them."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.db.models import OuterRef, Subquery
from django.utils import timezone

from clients import audit
from clients.access import BallQuerySet
from clients.models import Ball, BallEvent, Surface, Ticket, User
from clients.names import refused_if_taken


def save_ball(ball: Ball, *, by: User) -> None:
    """Save a new or changed ball.

    Raises NameTaken for a name that the client's gear has: the shot log could not tell the two
    apart.
    """
    action = "ball.changed" if ball.pk else "ball.added"
    with refused_if_taken(f"There is another ball called {ball.name}."):
        ball.save()
        audit.record(by, action, ball)


@transaction.atomic
def add_surface(surface: Surface, *, by: User) -> Surface:
    """Write a surface into the ball's history; a second tap finds the first one's row.

    A ticket writes one surface, however often it is asked to.
    """
    Ball.objects.select_for_update().get(pk=surface.ball_id)
    newest = surface.ball.surfaces.first()
    if surface.ticket_id:
        newest = surface.ball.surfaces.filter(ticket=surface.ticket_id).first()
    if newest and (surface.ticket_id or _same(newest, surface)):
        return newest
    surface.done_by = by
    surface.save()
    audit.record(by, "surface.added", surface.ball, grit=surface.grit, polished=surface.polished)
    return surface


def _same(one: Surface, other: Surface) -> bool:
    names = ("grit", "polished", "done_on", "note")
    return all(getattr(one, name) == getattr(other, name) for name in names)


@transaction.atomic
def write_event(
    *,
    ball: Ball,
    kind: str,
    by: User | None,
    on: date | None = None,
    games: int | None = None,
    ticket: Ticket | None = None,
    note: str = "",
) -> BallEvent:
    """Write one line of the ball's history; a ticket writes a line of one kind once."""
    Ball.objects.select_for_update().get(pk=ball.pk)
    if ticket:
        written = BallEvent.objects.filter(ticket=ticket, kind=kind).first()
        if written:
            return written
    event = BallEvent.objects.create(
        ball=ball,
        kind=kind,
        on=on or timezone.localdate(),
        games=games,
        ticket=ticket,
        by=by,
        note=note,
    )
    audit.record(by, f"ball.{kind}", ball, event=event.pk)
    return event


@transaction.atomic
def take_back_written_by(ticket: Ticket, *, by: User) -> None:
    """Take the lines of a ticket out of its ball's history again: the work is not done yet."""
    events = list(BallEvent.objects.filter(ticket=ticket).select_related("ball"))
    for event in events:
        audit.record(by, "ball.event_taken_back", event.ball, kind=event.kind, on=str(event.on))
        event.delete()
    for surface in Surface.objects.filter(ticket=ticket).select_related("ball"):
        audit.record(by, "surface.taken_back", surface.ball, grit=surface.grit)
        surface.delete()


@transaction.atomic
def retire(ball: Ball, *, by: User, on: date | None = None) -> None:
    """Take a ball out of use; its sessions and its history stay."""
    if ball.retired_at is None:
        ball.retired_at = on or timezone.localdate()
        ball.save(update_fields=["retired_at"])
        audit.record(by, "ball.retired", ball)


@transaction.atomic
def take_back(ball: Ball, *, by: User) -> None:
    """Put a retired ball back into use."""
    if ball.retired_at is not None:
        ball.retired_at = None
        ball.save(update_fields=["retired_at"])
        audit.record(by, "ball.taken_back", ball)


def with_surface_date(balls: BallQuerySet) -> BallQuerySet:
    """Add `surface_on`, the day of the surface that the ball has now."""
    newest = Surface.objects.filter(ball=OuterRef("pk")).values("done_on")[:1]
    return balls.annotate(surface_on=Subquery(newest))
