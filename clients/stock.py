"""The stock list: put in, changed, taken out, and sold into a client's arsenal."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.db.models import F, Q
from django.utils import timezone

from clients import audit, gear, limits, tickets
from clients.access import StockQuerySet
from clients.drilling.rules import Finding
from clients.models import Ball, BallEvent, Client, Counter, StockBall, StockSale, Surface, User
from clients.names import refused_if_taken

NUMBERS = ("mass_lb", "rg_in", "differential_in", "intermediate_in")
_LIST = "stock list"


class SoldOut(Exception):
    """None of these is left."""


class TakenBack(Exception):
    """The sale with this key was taken back; the text says so."""


class InUse(Exception):
    """A sale can no longer be taken back; the text says what was done with the ball since."""


def searched(stock: StockQuerySet, *, words: str = "", cover: str = "") -> StockQuerySet:
    """Return those whose name or article number has the words in it, of one cover if given."""
    if words:
        stock = stock.filter(Q(name__icontains=words) | Q(code__icontains=words))
    return stock.filter(cover=cover) if cover else stock


@dataclass(frozen=True)
class Checked:
    """An article beside what the published limits say of its numbers."""

    ball: StockBall
    findings: list[Finding]

    @property
    def outside(self) -> list[Finding]:
        return [finding for finding in self.findings if finding.is_outside]

    @property
    def verdict(self) -> str:
        """In one word: outside, within or unknown; unknown where nothing could be checked."""
        if self.outside:
            return "outside"
        # One number beyond checking leaves the whole article unknown.
        told = {finding.quantity: finding.verdict for finding in self.findings}
        needed = [told.get(name, "unknown") for name in ("mass", "rg", "differential")]
        return "within" if set(needed) == {"within"} else "unknown"


def checked(balls: Iterable[StockBall]) -> list[Checked]:
    """Return each article with the limits in force today."""
    today = timezone.localdate()
    return [Checked(ball, limits.of_ball(ball, on=today)) for ball in balls]


def lock_list() -> None:
    """Let one writer at a time add to the list, so that nothing is in it twice."""
    Counter.objects.get_or_create(name=_LIST)
    Counter.objects.select_for_update().get(name=_LIST)


@transaction.atomic
def save_ball(ball: StockBall, *, by: User, fields: Iterable[str] = ()) -> StockBall:
    """Save a new or changed article; a new one that is in the list already is that one.

    Of a kept one only ``fields`` are saved, so that a sale meanwhile is not undone. Raises
    NameTaken for an article number that another one has.
    """
    fields = list(fields)
    if ball.pk is None:
        lock_list()
        twin = StockBall.objects.filter(code=ball.code).first() if ball.code else None
        twin = twin or next((one for one in StockBall.objects.all() if is_same(one, ball)), None)
        if twin and is_same(twin, ball) and (twin.code or None) == (ball.code or None):
            return twin
    with refused_if_taken(f"Another ball has the article number {ball.code}."):
        if ball.pk is None:
            ball.save()
            audit.record(by, "stock.added", ball, quantity=ball.quantity)
        elif fields:
            ball.save(update_fields=[*fields, "updated_at"])
            audit.record(by, "stock.changed", ball, fields=fields)
    return ball


def identity(ball: StockBall) -> tuple[object, ...]:
    """Return what makes an article the same one where no article number tells: name, cover,
    weight and numbers."""
    names = (*NUMBERS, "pin_out_in")
    values = (getattr(ball, name) for name in names)
    rounded = (None if value is None else round(float(value), 4) for value in values)
    return (" ".join(ball.name.split()).casefold(), ball.cover, *rounded)


def is_same(one: StockBall, other: StockBall) -> bool:
    return identity(one) == identity(other)


@transaction.atomic
def remove(ball: StockBall, *, by: User) -> None:
    """Take an article out of the list; what was sold of it stays in the arsenals. Once more does no
    harm."""
    if StockBall.objects.filter(pk=ball.pk).delete()[0]:
        audit.record(by, "stock.removed", ball, name=ball.name, code=ball.code)


def first_tap(key: uuid.UUID | None) -> StockSale | None:
    """Return the sale that has the key already."""
    if key is None:
        return None
    return StockSale.objects.select_related("ball__client").filter(pk=key).first()


def sell(
    stock: StockBall,
    *,
    client: Client,
    by: User,
    key: uuid.UUID,
    name: str = "",
    price: Decimal | None = None,
) -> StockSale:
    """Put one of the stock into a client's arsenal, and take it off the list.

    The ball has the article's numbers, its box finish as its surface and "bought" in its life. A
    second call with the same key finds the first one's sale. Raises SoldOut where none is left,
    TakenBack where that sale was undone, NameTaken where the client's gear has a ball of the name;
    nothing is changed then.
    """
    try:
        with transaction.atomic():
            return _sell(stock, client, by, key, name or stock.name, price)
    except IntegrityError:  # the first tap's sale was written meanwhile
        found = first_tap(key)
        if found is None:
            raise
        return found


def _sell(
    stock: StockBall, client: Client, by: User, key: uuid.UUID, name: str, price: Decimal | None
) -> StockSale:
    stock = StockBall.objects.select_for_update().get(pk=stock.pk)
    found = first_tap(key)
    if found and found.undone_at:
        raise TakenBack("This sale was undone. To sell one after all, open this page anew.")
    if found:
        return found
    if not stock.is_available:
        raise SoldOut(f"None of {stock} is left in stock.")
    numbers = {field: getattr(stock, field) for field in NUMBERS}
    ball = Ball(
        client=client,
        name=name,
        cover=stock.cover,
        is_spare_ball=stock.cover == Ball.Cover.PLASTIC,
        **numbers,
    )
    gear.save_ball(ball, by=by)
    if stock.grit is not None:
        box = Surface(ball=ball, grit=stock.grit, polished=stock.polished, note="Box finish")
        gear.add_surface(box, by=by)
    gear.write_event(ball=ball, kind=BallEvent.Kind.BOUGHT, by=by, note="From the shop's stock")
    sale = StockSale(id=key, stock=stock, ball=ball, price=price, sold_by=by)
    sale.save(force_insert=True)
    stock.quantity -= 1
    stock.save(update_fields=["quantity", "updated_at"])
    audit.record(by, "stock.sold", stock, ball=ball.pk, left=stock.quantity)
    return sale


# Taken back.


@transaction.atomic
def take_back(sale: StockSale, *, by: User) -> None:
    """Undo a sale: the ball leaves the arsenal and is in stock again, its ticket is dropped.

    Only while nothing was done with the ball; raises InUse else, and changes nothing. A second call
    does no harm. The ticket keeps its number, the sale its row, and both changes an entry.
    """
    sale = StockSale.objects.select_for_update(of=["self"]).get(pk=sale.pk)
    if sale.ball is None:
        return
    ball = Ball.objects.select_for_update(of=["self"]).get(pk=sale.ball_id)
    reason = done_since(ball)
    if reason:
        raise InUse(f"{reason} The sale stands; retire {ball}, or pass it on.")
    for ticket in ball.tickets.all():
        tickets.drop(ticket, by=by)
    sale.ball, sale.undone_at, sale.undone_by = None, timezone.now(), by
    sale.save(update_fields=["ball", "undone_at", "undone_by"])
    if sale.stock_id:
        StockBall.objects.filter(pk=sale.stock_id).update(
            quantity=F("quantity") + 1, updated_at=timezone.now()
        )
    subject = sale.stock or sale
    audit.record(
        by, "stock.sale_undone", subject, ball=ball.pk, name=ball.name, client=ball.client_id
    )
    ball.delete()


def done_since(ball: Ball) -> str:
    """Say what was done with a ball since it was sold, empty for nothing."""
    begun = ball.tickets.exclude(started_at=None).first()
    if begun:
        return f"Work on {begun} has begun."
    if ball.retired_at or ball.events.exclude(kind=BallEvent.Kind.BOUGHT).exists():
        return "There is more in the ball's life than that it was bought."
    if ball.layouts.exclude(drilled_on=None).exists():
        return "It is drilled."
    if ball.surfaces.count() > 1:
        return "It has had a new surface."
    # Whatever else hangs on a ball, here or in an app above this one: then it was used.
    for relation in Ball._meta.related_objects:
        name = relation.get_accessor_name()
        if name not in ("sale", "tickets", "events", "layouts", "surfaces"):
            rows = relation.related_model._default_manager.filter(**{relation.field.name: ball})
            if rows.exists():
                return f"It is in a {relation.related_model._meta.verbose_name}."
    return ""
