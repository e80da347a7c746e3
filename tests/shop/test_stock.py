"""The stock list: what is in it, what the limits say, and what a sale writes."""

from __future__ import annotations

import threading
import uuid
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clients import gear, life, stock, tickets
from clients.models import (
    AuditEntry,
    Ball,
    BallEvent,
    Layout,
    StockBall,
    StockSale,
    Surface,
    SurfaceReading,
    Ticket,
)
from clients.names import NameTaken
from lanes.models import SessionBall


def article(**more) -> StockBall:
    facts = {"name": "Fog Bell", "cover": "pearl", "quantity": 2, "mass_lb": 15.0, "rg_in": 2.5}
    facts |= {"differential_in": 0.045, "grit": 3000, "polished": True, "price": Decimal("189.90")}
    return StockBall.objects.create(**(facts | more))


# The list.


@pytest.mark.parametrize(
    ("name", "value"), [("rg_in", 2.95), ("differential_in", 0.09), ("mass_lb", 17), ("grit", 20)]
)
def test_numbers_are_held_to_the_same_ranges_as_a_clients_ball(name, value):
    ball = StockBall(name="X", cover="solid", **{name: value})
    with pytest.raises(ValidationError) as error:
        ball.full_clean()
    assert list(error.value.message_dict) == [name]
    if name != "grit":
        stock_field, field = StockBall._meta.get_field(name), Ball._meta.get_field(name)
        assert [v.limit_value for v in stock_field.validators] == [
            v.limit_value for v in field.validators
        ]


def test_who_sees_and_who_changes(cast):
    article()
    for name in ("olive", "carl", "dora", "otto"):
        assert StockBall.objects.visible_to(getattr(cast, name)).count() == 1
    for name in ("sam", "wendy", "gina", "nick"):
        assert not StockBall.objects.visible_to(getattr(cast, name)).exists()
    can = [
        name
        for name in ("olive", "carl", "dora", "otto", "sam", "gina", "nick")
        if StockBall.objects.editable_by(getattr(cast, name)).exists()
    ]
    assert can == ["olive", "otto"]


def test_an_article_number_is_had_by_one(cast):
    article(code="A-1")
    with pytest.raises(NameTaken, match="A-1"):
        stock.save_ball(StockBall(name="Other", cover="solid", code="A-1"), by=cast.otto)
    article(code=None)
    article(code=None)  # none is no number


def test_a_second_tap_on_add_finds_the_first_ones_article(cast):
    facts = {"name": "Salt Lamp", "cover": "solid", "mass_lb": 15.0}
    first = stock.save_ball(StockBall(**facts), by=cast.otto)
    assert stock.save_ball(StockBall(**facts), by=cast.otto) == first
    assert StockBall.objects.count() == 1
    assert AuditEntry.objects.filter(action="stock.added").count() == 1


def test_a_change_of_the_price_does_not_undo_a_sale_meanwhile(cast):
    seen = article()
    stock.sell(seen, client=cast.sam_client, by=cast.otto, key=uuid.uuid4())
    seen.price = Decimal("150")
    stock.save_ball(seen, by=cast.otto, fields=["price"])
    kept = StockBall.objects.get()
    assert (kept.quantity, kept.price) == (1, Decimal("150"))


# Published limits; the values are those of FACTS section 2, as in test_rules.


@pytest.mark.parametrize(
    ("numbers", "verdict"),
    [
        ({}, "within"),
        ({"rg_in": 2.45}, "outside"),  # 2.460 to 2.800 in from 13 lb
        ({"rg_in": 2.46}, "within"),
        ({"differential_in": 0.061}, "outside"),  # up to 0.060 in from 13 lb
        ({"rg_in": 2.45, "mass_lb": 12.0}, "unknown"),  # lighter balls have limits of their own
        ({"rg_in": None}, "unknown"),
        ({"mass_lb": None, "rg_in": 2.45}, "outside"),  # taken for a heavy one
    ],
)
def test_limits_say_outside_within_or_unknown(db, numbers, verdict):
    [found] = stock.checked([article(**numbers)])
    assert found.verdict == verdict


def test_a_ball_outside_is_shown_with_limit_source_and_date(cast, as_user):
    html = (
        as_user(cast.otto)
        .get(reverse("clients:stock_ball", args=[article(rg_in=2.45).pk]))
        .content.decode()
    )
    assert "RG 2.45 in is outside 2.460 to 2.800 in." in html
    assert "in force since 1 Jul 2010" in html
    assert "USBC release as reported" in html


# A sale.


def test_a_sale_puts_the_ball_into_the_arsenal_with_its_surface_and_history(cast):
    one = article()
    sale = stock.sell(
        one, client=cast.sam_client, by=cast.otto, key=uuid.uuid4(), price=Decimal("180")
    )
    ball = sale.ball
    assert (ball.client, ball.name, ball.cover) == (cast.sam_client, "Fog Bell", "pearl")
    assert (ball.mass_lb, ball.rg_in, ball.differential_in) == (15.0, 2.5, 0.045)
    assert (ball.surface.grit, ball.surface.polished) == (3000, True)
    assert [event.kind for event in ball.events.all()] == ["bought"]
    one.refresh_from_db()
    assert one.quantity == 1
    assert AuditEntry.objects.filter(action="stock.sold").count() == 1


def test_a_double_tap_sells_one(cast):
    one, key = article(quantity=1), uuid.uuid4()
    first = stock.sell(one, client=cast.sam_client, by=cast.otto, key=key)
    assert stock.sell(one, client=cast.sam_client, by=cast.otto, key=key) == first
    assert (StockSale.objects.count(), StockBall.objects.get().quantity) == (1, 0)


def test_nothing_is_sold_at_none(cast):
    one = article(quantity=0)
    with pytest.raises(stock.SoldOut):
        stock.sell(one, client=cast.sam_client, by=cast.otto, key=uuid.uuid4())
    assert not Ball.objects.filter(name="Fog Bell").exists()


def test_a_name_that_the_gear_has_sells_nothing(cast):
    one = article(name="A")
    with pytest.raises(NameTaken):
        stock.sell(one, client=cast.sam_client, by=cast.otto, key=uuid.uuid4())
    assert (StockSale.objects.count(), StockBall.objects.get().quantity) == (0, 2)
    stock.sell(one, client=cast.sam_client, by=cast.otto, key=uuid.uuid4(), name="A new")
    assert StockBall.objects.get().quantity == 1


def test_a_ball_that_is_sold_stays_when_its_article_goes(cast):
    one = article()
    sale = stock.sell(one, client=cast.sam_client, by=cast.otto, key=uuid.uuid4())
    stock.remove(one, by=cast.otto)
    sale.refresh_from_db()
    assert sale.stock is None
    assert sale.ball.name == "Fog Bell"


@pytest.mark.django_db(transaction=True)
def test_two_counters_cannot_sell_the_last_one_twice(transactional_db, cast):
    one = article(quantity=1)
    results: list[str] = []

    def work(name: str) -> None:
        try:
            stock.sell(one, client=cast.sam_client, by=cast.otto, key=uuid.uuid4(), name=name)
            results.append("sold")
        except stock.SoldOut:
            results.append("sold out")
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=[f"Bell {n}"]) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(results) == ["sold", "sold out", "sold out", "sold out"]
    assert StockBall.objects.get().quantity == 0


# A sale taken back.


def sold(cast, **facts) -> StockSale:
    return stock.sell(article(**facts), client=cast.sam_client, by=cast.otto, key=uuid.uuid4())


def to_drill(sale: StockSale, cast) -> Ticket:
    return tickets.take_in(client=cast.sam_client, kind="drill", by=cast.otto, ball=sale.ball)


def test_an_undone_sale_leaves_nothing_but_its_traces(cast):
    before = Ball.objects.count(), Surface.objects.count(), BallEvent.objects.count()
    sale = sold(cast)
    ticket = to_drill(sale, cast)
    ball = sale.ball.pk
    for _ in range(2):  # a second tap
        stock.take_back(sale, by=cast.otto)
    assert (Ball.objects.count(), Surface.objects.count(), BallEvent.objects.count()) == before
    assert StockBall.objects.get().quantity == 2
    ticket.refresh_from_db()
    assert (ticket.status, ticket.ball) == ("dropped", None)  # it keeps its number
    sale.refresh_from_db()
    assert (sale.ball, sale.undone_by) == (None, cast.otto)
    [entry] = AuditEntry.objects.filter(action="stock.sale_undone")
    assert (entry.actor, entry.data["ball"], entry.data["name"]) == (cast.otto, ball, "Fog Bell")
    assert AuditEntry.objects.filter(action="stock.sold").count() == 1
    # A form that was still open sells nothing by the old key.
    with pytest.raises(stock.TakenBack):
        stock.sell(StockBall.objects.get(), client=cast.sam_client, by=cast.otto, key=sale.pk)
    assert StockBall.objects.get().quantity == 2


def begin(sale, cast):
    tickets.move_on(to_drill(sale, cast), seen="taken_in", by=cast.otto)


def begin_and_drop(sale, cast):
    tickets.drop(tickets.move_on(to_drill(sale, cast), seen="taken_in", by=cast.otto), by=cast.otto)


def throw(sale, cast):
    SessionBall.objects.create(session=cast.session, ball=sale.ball, label="F", cover="pearl")


@pytest.mark.parametrize(
    ("done", "words"),
    [
        (begin, "has begun"),
        (begin_and_drop, "has begun"),
        (lambda sale, cast: gear.retire(sale.ball, by=cast.otto), "more in the ball's life"),
        (
            lambda sale, cast: life.write_down(
                ball=sale.ball, kind="games", by=cast.otto, games=3, on=timezone.localdate()
            ),
            "more in the ball's life",
        ),
        (
            lambda sale, cast: Surface.objects.create(ball=sale.ball, grit=500),
            "a new surface",
        ),
        (
            lambda sale, cast: Layout.objects.create(
                ball=sale.ball, pap_over_in=5, pap_up_in=0, pin_over_in=1, pin_up_in=2,
                drilled_on=timezone.localdate(),
            ),
            "drilled",
        ),
        (
            lambda sale, cast: SurfaceReading.objects.create(
                ball=sale.ball, number=3000, read_on=timezone.localdate()
            ),
            "surface reading",
        ),
        (throw, "session"),
    ],
)  # fmt: skip
def test_a_ball_that_was_used_stays_sold(cast, done, words):
    sale = sold(cast)
    done(sale, cast)
    with pytest.raises(stock.InUse, match=words):
        stock.take_back(sale, by=cast.otto)
    assert Ball.objects.filter(pk=sale.ball_id).exists()
    assert StockBall.objects.get().quantity == 1
    assert not AuditEntry.objects.filter(action="stock.sale_undone").exists()


def test_a_ticket_that_was_moved_back_has_not_begun(cast):
    sale = sold(cast)
    ticket = tickets.move_on(to_drill(sale, cast), seen="taken_in", by=cast.otto)
    tickets.step_back(ticket, seen="on_bench", by=cast.otto)
    stock.take_back(sale, by=cast.otto)
    assert StockBall.objects.get().quantity == 2


def test_where_the_article_is_gone_only_the_ball_goes(cast):
    sale = sold(cast)
    stock.remove(sale.stock, by=cast.otto)
    sale.refresh_from_db()
    stock.take_back(sale, by=cast.otto)
    assert not StockBall.objects.exists()
    assert not Ball.objects.filter(name="Fog Bell").exists()


def test_the_pages_offer_the_way_back_to_the_shop_alone(cast, as_user):
    sale = sold(cast)
    url = reverse("clients:sale_undo", args=[sale.pk])
    ball, stocked = (
        reverse("clients:ball", args=[sale.ball_id]),
        reverse("clients:stock_ball", args=[sale.stock_id]),
    )
    for page in (ball, stocked):
        assert url in as_user(cast.otto).get(page).content.decode()
        assert url not in as_user(cast.carl).get(page).content.decode()
    browser = as_user(cast.otto)
    answers = [browser.post(url, follow=True) for _ in range(2)]
    assert [answer.redirect_chain for answer in answers] == [[(stocked, 302)]] * 2
    assert "is undone; it is in stock again" in answers[0].content.decode()
    assert "Undo the sale" not in answers[1].content.decode()
    assert StockBall.objects.get().quantity == 2


def test_a_refusal_is_told_on_the_balls_page(cast, as_user):
    sale = sold(cast)
    begin(sale, cast)
    answer = as_user(cast.otto).post(reverse("clients:sale_undo", args=[sale.pk]), follow=True)
    assert answer.redirect_chain == [(reverse("clients:ball", args=[sale.ball_id]), 302)]
    assert "has begun. The sale stands" in answer.content.decode()


# Pages.


def test_the_page_sells_and_leads_to_the_drill_ticket(cast, as_user):
    one = article()
    browser = as_user(cast.otto)
    url = reverse("clients:stock_sell_to", args=[one.pk, cast.sam_client.pk])
    data = {"key": str(uuid.uuid4()), "name": "Fog Bell", "price": "179,50"}
    answers = [browser.post(url, data) for _ in range(2)]
    ball = Ball.objects.get(name="Fog Bell")
    to = reverse("clients:ticket_new", args=[cast.sam_client.pk]) + f"?ball={ball.pk}&kind=drill"
    assert [answer.url for answer in answers] == [to, to]
    assert StockSale.objects.get().price == Decimal("179.50")
    assert "Fog Bell" in browser.get(to).content.decode()


def test_the_page_says_that_none_is_left_and_that_a_name_is_taken(cast, as_user):
    browser = as_user(cast.otto)
    for facts, words in (({"quantity": 0}, "None of"), ({"name": "A"}, "There is another ball")):
        one = article(**facts)
        url = reverse("clients:stock_sell_to", args=[one.pk, cast.sam_client.pk])
        answer = browser.post(url, {"key": str(uuid.uuid4()), "name": one.name})
        assert answer.status_code == 200
        assert words in answer.content.decode()


def test_search_filter_and_empty_states(cast, as_user):
    browser = as_user(cast.otto)
    url = reverse("clients:stock")
    assert "Nothing in stock" in browser.get(url).content.decode()
    article(code="FB-15")
    article(name="Salt Lamp", cover="solid", quantity=0)
    both = browser.get(url).content.decode()
    assert "2 in stock" in both
    assert "sold out" in both
    assert "189.90 USD" in both
    for query, shown, hidden in (("?q=fb-", "Fog Bell", "Salt Lamp"),
                                 ("?cover=solid", "Salt Lamp", "Fog Bell")):  # fmt: skip
        html = browser.get(url + query).content.decode()
        assert shown in html
        assert hidden not in html
    assert "None of these" in browser.get(url + "?q=zzz").content.decode()
    assert browser.get(url + "?cover=x&page=99").status_code == 200


def test_a_coach_sees_the_list_and_no_button(cast, as_user):
    one = article()
    html = as_user(cast.carl).get(reverse("clients:stock_ball", args=[one.pk])).content.decode()
    assert "Fog Bell" in html
    assert "For a client" not in html


def test_adding_changing_and_removing_by_page(cast, as_user):
    browser = as_user(cast.otto)
    data = {
        "name": "Salt Lamp",
        "cover": "solid",
        "quantity": "3",
        "price": "99,5",
        "rg_in": "2,51",
    }
    browser.post(reverse("clients:stock_new"), data)
    one = StockBall.objects.get()
    assert (one.price, one.rg_in, one.code) == (Decimal("99.50"), 2.51, None)
    browser.post(reverse("clients:stock_edit", args=[one.pk]), data | {"quantity": "0"})
    one.refresh_from_db()
    assert not one.is_available
    bad = browser.post(reverse("clients:stock_edit", args=[one.pk]), data | {"rg_in": "9"})
    assert "Expected 2.4 to 2.9 in." in bad.content.decode()
    for _ in range(2):
        answer = browser.post(reverse("clients:stock_remove", args=[one.pk]))
        assert answer.url == reverse("clients:stock")
    assert not StockBall.objects.exists()
    assert AuditEntry.objects.filter(action="stock.removed").count() == 1


def test_a_longer_list_asks_no_more_queries(cast, as_user, django_assert_num_queries):
    browser, url = as_user(cast.otto), reverse("clients:stock")
    article()
    browser.get(url)
    with CaptureQueriesContext(connection) as short:
        browser.get(url)
    for number in range(20):
        article(name=f"Ball {number}")
    with django_assert_num_queries(len(short)):
        browser.get(url)
