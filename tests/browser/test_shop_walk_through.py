"""One day at the shop, from a new ball over the counter to next week's surfaces."""

from __future__ import annotations

import os
import re
from datetime import date, timedelta
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils import timezone
from playwright.sync_api import Page, expect

from clients import life, tickets
from clients.models import AxisPoint, Ball, FitHole, FitSheet, Layout, Surface, Ticket

pytestmark = pytest.mark.browser

OVER_A_SHEET_OF_TEXT = 20_000  # bytes; a PDF with nothing on it has about a thousand


@pytest.fixture
def shop(transactional_db, cast, settings, tmp_path):
    """Sam has a fit, an axis point and one worn ball; Otto keeps the shop."""
    settings.MEDIA_ROOT = tmp_path
    client = cast.sam_client
    client.pap_over_in, client.pap_up_in = 5.0, 0.5
    client.save()
    fit = FitSheet.objects.create(client=client, bridge_in=0.25)
    for finger, size, depth, span, lateral in (
        ("thumb", 1.0, 2.5, None, 0.0),
        ("middle", 0.96875, 1.25, 4.375, -0.5),
        ("ring", 0.9375, 1.25, 4.5, 0.5),
    ):
        FitHole.objects.create(
            sheet=fit, finger=finger, size_in=size, depth_in=depth, span_in=span,
            lateral_in=lateral,
        )  # fmt: skip
    AxisPoint.objects.create(client=client, repeats=[[5.0, 0.5]])
    Surface.objects.filter(ball=cast.ball).update(
        grit=500, done_on=timezone.localdate() - timedelta(days=90)
    )
    yesterday = timezone.localdate() - timedelta(days=1)
    life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=yesterday, games=45)
    return cast


def printed(desk: Page, address: str, name: str, sides: int = 1, **paper: object) -> None:
    """Print a page; it must hold something, and is kept where pictures are wanted."""
    desk.goto(address)
    data = desk.pdf(**paper)
    assert len(data) > OVER_A_SHEET_OF_TEXT
    assert len(re.findall(rb"/Type\s*/Page\b", data)) == sides
    if folder := os.environ.get("SCREENSHOTS"):
        (Path(folder) / f"{name}.pdf").write_bytes(data)


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_a_new_ball_from_the_counter_to_the_arsenal(request, device, shop, log_in, axe, shoot):
    page: Page = request.getfixturevalue(device)
    log_in(page, shop.otto)
    steps = iter(range(1, 30))

    def see(name: str) -> None:
        axe(page)
        shoot(page, f"walk_{next(steps):02d}_{name}")

    def press(button: str) -> None:
        page.get_by_role("button", name=button).click()

    # Over the counter: a new ball, to be drilled.
    page.goto(reverse("clients:shop"))
    see("board")
    page.get_by_role("link", name="Take in work").first.click()
    see("whose")
    page.get_by_role("link", name="Sam", exact=True).click()
    page.get_by_role("radio", name="drill", exact=True).check(force=True)
    page.get_by_label("Ball", exact=True).select_option(label="another ball")
    page.get_by_label("Name of the new ball").fill("Blue")
    page.get_by_label("Its cover").select_option("pearl")
    page.get_by_label("Price, USD").fill("60")
    see("take_in")
    press("Take it in")
    ticket = Ticket.objects.get()
    expect(page.get_by_role("heading", name=f"Ticket {ticket.number}: Drill")).to_be_visible()
    see("ticket")

    # What is on the box, then where it goes in the ball.
    ball = Ball.objects.get(name="Blue")
    page.get_by_role("link", name="Write it down").click()
    page.get_by_label("Weight, lb").fill("15")
    page.get_by_label("RG, in").fill("2.51")
    page.get_by_label("Differential, in", exact=True).fill("0.048")
    see("box")
    press("Save")
    page.goto(reverse("clients:ticket", args=[ticket.pk]))
    page.get_by_role("link", name="Plan a layout").click()
    page.get_by_label("Pin to PAP, in").fill("4 1/2")
    page.get_by_label("Angle at the pin, deg").fill("60")
    page.get_by_label("Angle at the PAP, deg").fill("35")
    see("plan")
    press("Draw the sheet")
    # The ticket that waited for it has it now, and the sheet leads back there.
    expect(page.get_by_text(f"Ticket {ticket.number} drills this layout now.")).to_be_visible()
    expect(page.get_by_role("img", name="Cross-section: middle and ring")).to_be_visible()
    see("sheet")
    layout = Layout.objects.get()
    page.get_by_role("link", name=f"Ticket {ticket.number}", exact=True).click()
    assert page.url.endswith(reverse("clients:ticket", args=[ticket.pk]))
    desk = page if device == "desk" else request.getfixturevalue("desk")
    log_in(desk, shop.otto)
    printed(desk, reverse("lanes:layout", args=[layout.pk]), "print_sheet", 2, format="A4")
    printed(desk, reverse("clients:ticket", args=[ticket.pk]), "print_drill", format="A4")

    # Through the shop, to done.
    page.goto(reverse("clients:ticket", args=[ticket.pk]))
    for button in ("To the bench", "Sign off as ready", "Hand over"):
        press(button)
        page.wait_for_load_state()
        see("ticket_on")
    ticket.refresh_from_db()
    assert ticket.status == Ticket.Status.HANDED_OVER
    ball.refresh_from_db()
    assert ball.pin_to_pap_in == pytest.approx(4.5, abs=1e-4)
    assert ball.angle_at_pap_deg == pytest.approx(35, abs=1e-4)
    layout.refresh_from_db()
    assert layout.drilled_on == timezone.localdate()

    # A surface, and what the ball does.
    page.goto(reverse("clients:ball", args=[ball.pk]))
    page.get_by_role("link", name="New surface").click()
    page.get_by_label("Grit").fill("2000")
    see("surface")
    press("Write it down")
    expect(page.get_by_role("heading", name="On the reference lane")).to_be_visible()
    see("ball")
    page.goto(reverse("lanes:arsenal", args=[ball.client_id]))
    expect(page.locator(".arsenal li", has_text="Blue")).to_contain_text("2000 grit")
    expect(page.get_by_text("From the most hook to the least:")).to_be_visible()
    see("arsenal")

    # The week's surfaces, and a ticket from the list.
    page.goto(reverse("lanes:surface_plan"))
    row = page.get_by_role("listitem").filter(has_text="Resurface to 500").last
    expect(row).to_contain_text("games")
    see("week")
    row.get_by_role("button").first.click()
    expect(page.get_by_role("heading", name="Resurface to 500 grit")).to_be_visible()
    see("week_ticket")
    page.goto(reverse("lanes:surface_plan"))
    expect(page.get_by_text("taken in").first).to_be_visible()
    assert Ticket.objects.filter(kind="resurface", grit=500, ball=shop.ball).count() == 1


def test_what_lies_at_the_bench_is_printed(shop, desk, log_in):
    """The plug ticket has its cautions and a box for each step, on one side; the label is a label.

    The label is for a 62-mm roll: nothing on it is cut off.
    """
    ticket = tickets.take_in(
        client=shop.sam_client, ball=shop.ball, kind="plug", by=shop.otto,
        due_on=date(2030, 1, 5), note="Thumb hole only.",
    )  # fmt: skip
    log_in(desk, shop.otto)
    address = reverse("clients:ticket", args=[ticket.pk])
    printed(desk, address, "print_plug", format="A4")
    desk.emulate_media(media="print")
    for text in ("isocyanates", "under extraction", "grows hot", "Local codes"):
        expect(desk.get_by_text(text).first).to_be_visible()
    steps = desk.locator(".boxes li")
    assert steps.count() >= 8
    for step in steps.all():
        box = step.evaluate("e => getComputedStyle(e, '::before').borderTopWidth")
        assert float(box.removesuffix("px")) >= 1
    label = reverse("clients:ticket_label", args=[ticket.pk])
    printed(desk, label, "print_label", prefer_css_page_size=True)
