"""Words of the shop's pages."""

from __future__ import annotations

from decimal import Decimal

from django import template

from clients import cautions, tickets
from clients.models import Ticket

register = template.Library()
Status = Ticket.Status

# What the big button says that moves a ticket on from a status, and the small one that takes the
# last step back.
_ON = {
    Status.TAKEN_IN: "To the bench",
    Status.ON_BENCH: "Sign off as ready",
    Status.READY: "Hand over",
}
_BACK = {
    Status.ON_BENCH: "Not begun after all",
    Status.READY: "Not ready after all",
    Status.HANDED_OVER: "Not handed over after all",
    Status.DROPPED: "Not dropped after all",
}


@register.filter
def step_on(ticket: Ticket) -> str:
    return _ON.get(Status(ticket.status), "")


@register.filter
def step_back(ticket: Ticket) -> str:
    return _BACK.get(Status(ticket.status), "")


@register.filter
def money(amount: Decimal | None) -> str:
    return tickets.money(amount)


@register.simple_tag
def cautions_for(*kinds: str) -> list[cautions.Caution]:
    """Return what can hurt somebody, or break a rule, at this kind of work."""
    return cautions.for_work(*kinds)
