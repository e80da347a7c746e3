"""Stock by thumb: a list comes in, one ball goes to a client, and its drill ticket is written."""

from __future__ import annotations

import uuid
from decimal import Decimal

import pytest
from django.urls import reverse

from clients import stock, stock_files
from clients.models import Ball, StockBall, Ticket

FACTS = {"mass_lb": 15, "differential_in": 0.045, "grit": 3000, "price": Decimal("189.90")}


@pytest.fixture
def shop(transactional_db, cast):
    """The cast, with two articles, one of them outside a limit, and a file that waits."""
    cast.bell = StockBall.objects.create(
        name="Fog Bell", cover="pearl", polished=True, rg_in=2.5, quantity=2, code="FB15", **FACTS
    )
    StockBall.objects.create(
        name="Salt Lamp with a long name", cover="solid", rg_in=2.45, quantity=0, **FACTS
    )
    cast.sale = stock.sell(cast.bell, client=cast.sam_client, by=cast.otto, key=uuid.uuid4())
    text = b"code,name,cover,price,Shelf\nFB15,Fog Bell,pearl,150,B3\nX,New,solid,99,\n,,x,y,\n"
    cast.draft = stock_files.keep_upload(filename="list.csv", data=text, by=cast.otto)
    return cast


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_every_page_is_accessible(request, device, shop, log_in, axe, shoot):
    page = request.getfixturevalue(device)
    log_in(page, shop.otto)
    outside = StockBall.objects.get(rg_in=2.45)
    addresses = {
        "list": reverse("clients:stock"),
        "none": reverse("clients:stock") + "?q=zzz",
        "ball": reverse("clients:stock_ball", args=[shop.bell.pk]),
        "sold": reverse("clients:ball", args=[shop.sale.ball_id]),
        "outside": reverse("clients:stock_ball", args=[outside.pk]),
        "new": reverse("clients:stock_new"),
        "edit": reverse("clients:stock_edit", args=[shop.bell.pk]),
        "whose": reverse("clients:stock_sell", args=[shop.bell.pk]),
        "sell": reverse("clients:stock_sell_to", args=[shop.bell.pk, shop.sam_client.pk]),
        "import": reverse("clients:stock_import"),
        "preview": reverse("clients:stock_preview", args=[shop.draft.pk]),
    }
    for name, address in addresses.items():
        page.goto(address)
        axe(page)
        shoot(page, f"stock_{name}")
    StockBall.objects.all().delete()
    page.goto(addresses["list"])
    axe(page)
    shoot(page, "stock_empty")


def test_from_a_file_to_a_drill_ticket(phone, cast, log_in, axe):
    page = phone
    log_in(page, cast.otto)
    page.goto(reverse("clients:stock"))
    page.get_by_role("link", name="a list that you have as CSV or XLSX").click()
    text = b"code;name;cover;mass_lb;grit;polished;price;quantity\n"
    text += b"FB;Fog Bell;pearl;15;3000;yes;189,90;1\n"
    file = {"name": "list.csv", "mimeType": "text/csv", "buffer": text}
    page.get_by_label("Stock list").set_input_files(file)
    page.get_by_role("button", name="Look at the file").click()
    page.get_by_role("button", name="Import the 1 good row").click()
    page.get_by_role("link", name="Fog Bell").click()
    page.get_by_role("link", name="For a client").click()
    page.get_by_role("link", name="Sam", exact=True).click()
    axe(page)
    page.get_by_role("button", name="Sold to Sam").click()
    page.wait_for_url("**/shop/take-in/**")
    axe(page)
    ball = Ball.objects.get(name="Fog Bell")
    assert (ball.client, ball.surface.grit) == (cast.sam_client, 3000)
    assert StockBall.objects.get().quantity == 0
    page.get_by_role("button", name="Take it in").click()
    ticket = Ticket.objects.get()
    assert (ticket.kind, ticket.ball) == ("drill", ball)
    page.goto(reverse("clients:stock"))
    assert page.get_by_text("sold out").is_visible()
    # Sold by mistake: one step back, and the ticket with it.
    page.get_by_role("link", name="Fog Bell").click()
    page.get_by_role("button", name="Undo the sale of Fog Bell to Sam").click()
    assert page.get_by_text("is undone; it is in stock again").is_visible()
    ticket.refresh_from_db()
    assert (ticket.status, StockBall.objects.get().quantity) == ("dropped", 1)
