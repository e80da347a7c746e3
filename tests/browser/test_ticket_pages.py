"""Shop tickets by thumb: take in, on the bench, signed off, in the ball's history, collected."""

from __future__ import annotations

import io
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone
from PIL import Image, ImageDraw

from clients import photos, tickets
from clients.models import Ball, Ticket


def picture_of_a_ball() -> bytes:
    image = Image.new("RGB", (1200, 900), (222, 214, 200))
    draw = ImageDraw.Draw(image)
    draw.ellipse((300, 150, 900, 750), fill=(30, 60, 110))
    draw.arc((380, 220, 820, 660), 200, 250, fill=(240, 240, 240), width=12)
    out = io.BytesIO()
    image.save(out, "JPEG")
    return out.getvalue()


@pytest.fixture
def shop(transactional_db, cast, settings, tmp_path):
    """The cast, with work of several kinds in the shop."""
    settings.MEDIA_ROOT = tmp_path
    today = timezone.localdate()
    ball = Ball.objects.create(
        client=cast.wendy_client, name="Green with a long name", cover="pearl", mass_lb=12
    )
    facts = [
        (cast.ball, "plug", {"due_on": today - timedelta(days=2), "note": "Thumb hole only."}),
        (ball, "resurface", {"due_on": today, "grit": 1000, "price": 25}),
        (cast.tess_ball, "oil_out", {"due_on": today + timedelta(days=2), "price": 30}),
        (ball, "inserts", {}),
    ]
    made = [
        tickets.take_in(client=one.client, ball=one, kind=kind, by=cast.otto, **more)
        for one, kind, more in facts
    ]
    cast.plug, cast.resurface, *_ = made
    photos.add(cast.plug, io.BytesIO(picture_of_a_ball()), by=cast.otto)
    for seen in ("taken_in", "on_bench"):
        tickets.move_on(made[3], seen=seen, by=cast.otto)
    tickets.move_on(cast.plug, seen="taken_in", by=cast.otto)
    return cast


def addresses(w) -> dict[str, str]:
    return {
        "board": reverse("clients:shop"),
        "closed": reverse("clients:shop") + "?show=closed",
        "none": reverse("clients:shop") + "?kind=polish",
        "take_in": reverse("clients:take_in"),
        "walk_in": reverse("clients:ticket_walk_in"),
        "new": reverse("clients:ticket_new", args=[w.sam_client.pk]),
        "ticket": reverse("clients:ticket", args=[w.plug.pk]),
        "change": reverse("clients:ticket_change", args=[w.resurface.pk]),
        "label": reverse("clients:ticket_label", args=[w.resurface.pk]),
        "ball": reverse("clients:ball", args=[w.ball.pk]),
        "today": reverse("today"),
    }


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_every_page_is_accessible(request, device, shop, log_in, axe, shoot):
    page = request.getfixturevalue(device)
    log_in(page, shop.otto)
    for name, address in addresses(shop).items():
        page.goto(address)
        axe(page)
        shoot(page, f"tickets_{name}")


@pytest.mark.parametrize("who", ["wendy", "gina"])
def test_the_clients_pages_are_accessible(phone, shop, log_in, axe, shoot, who):
    log_in(phone, getattr(shop, who))
    for name, address in {
        "portal": reverse("portal"),
        "own": reverse("clients:ticket", args=[shop.resurface.pk]),
    }.items():
        phone.goto(address)
        axe(phone)
        shoot(phone, f"tickets_{name}_{who}")


def test_a_ball_goes_through_the_shop_by_thumb(phone, shop, log_in, axe, shoot):
    log_in(phone, shop.otto)
    phone.goto(reverse("clients:ball", args=[shop.ball.pk]))
    phone.get_by_role("link", name="Take in work").tap()
    phone.get_by_role("radio", name="resurface").tap()
    assert phone.get_by_label("Layout").is_hidden()  # only a drill ticket asks for it
    assert phone.get_by_label("Name of the new ball").is_hidden()  # the ball is chosen
    phone.get_by_label("Last grit").fill("800")
    phone.get_by_label("Price, USD").fill("25")
    axe(phone)
    shoot(phone, "tickets_form_filled")
    phone.get_by_role("button", name="Take it in").dblclick()
    phone.get_by_role("heading", name="Resurface to 800 grit").wait_for()
    ticket = Ticket.objects.get(grit=800)

    # The board: one tap to the bench, one to ready; each button is a thumb wide.
    phone.goto(reverse("clients:shop"))
    row = phone.locator(f"#ticket-{ticket.number}")
    for label in ("To the bench", "Sign off as ready"):
        button = row.get_by_role("button", name=label)
        box = button.bounding_box()
        assert box["height"] >= 44
        assert box["width"] >= 120
        button.tap()
        phone.wait_for_url(f"**moved={ticket.number}*")
    row.get_by_role("button", name="Hand over").wait_for()
    assert row.is_visible()
    shoot(phone, "tickets_moved")

    phone.goto(reverse("clients:ball", args=[shop.ball.pk]))
    assert phone.get_by_text("Solid reactive, 800 grit").is_visible()
    assert phone.get_by_text("ready to collect").is_visible()
    assert shop.ball.surfaces.filter(ticket=ticket, grit=800, done_by=shop.otto).count() == 1

    # Not ready after all, and ready again: the history has one line still.
    phone.goto(reverse("clients:shop"))
    row.get_by_role("button", name="Undo").tap()
    row.get_by_role("button", name="Sign off as ready").wait_for()
    assert not shop.ball.surfaces.filter(ticket=ticket).exists()
    row.get_by_role("button", name="Sign off as ready").tap()
    row.get_by_role("button", name="Hand over").wait_for()
    assert shop.ball.surfaces.filter(ticket=ticket).count() == 1

    log_in(phone, shop.sam)
    phone.goto(reverse("portal"))
    assert phone.get_by_text("ready to collect").is_visible()


def test_a_picture_is_added_from_the_phone(phone, shop, log_in):
    log_in(phone, shop.otto)
    phone.goto(reverse("clients:ticket", args=[shop.resurface.pk]))
    file = {"name": "IMG_1.jpg", "mimeType": "image/jpeg", "buffer": picture_of_a_ball()}
    phone.get_by_label("Picture", exact=True).set_input_files(file)
    phone.get_by_role("button", name="Add the picture").tap()
    phone.get_by_role("img", name="Picture 1 of ticket").wait_for()
    seen = phone.locator(".photos img").evaluate(
        "async picture => { await picture.decode(); return picture.naturalWidth; }"
    )
    assert seen == 1200


def test_a_walk_in_is_taken_in_from_the_board(phone, shop, log_in):
    log_in(phone, shop.otto)
    phone.goto(reverse("clients:shop"))
    phone.get_by_role("link", name="Take in work").tap()
    phone.get_by_role("link", name="Somebody new").tap()
    phone.get_by_label("Name", exact=True).fill("Walt")
    phone.get_by_role("radio", name="drill").tap()
    phone.get_by_label("Name of the new ball").fill("Blue")
    phone.get_by_label("Its cover").select_option("pearl")
    phone.get_by_role("button", name="Take it in").tap()
    phone.get_by_text("Ticket 5 is taken in.").wait_for()
    assert Ball.objects.get(name="Blue").client.name == "Walt"


def test_the_label_is_one_page_of_the_roll(desk, shop, log_in):
    """62 mm wide: a page of 62 x 78 mm is 175.7 x 221.1 points (72 to the inch)."""
    shop.wendy_client.name = "Wendy Wilhelmina " * 4
    shop.wendy_client.save()
    shop.resurface.ball.name = "Green with a name as long as it may be " + "n" * 20
    shop.resurface.ball.save()
    log_in(desk, shop.otto)
    desk.goto(reverse("clients:ticket_label", args=[shop.resurface.pk]))
    pdf = desk.pdf(prefer_css_page_size=True)
    [box] = set(_page_boxes(pdf))
    assert box == pytest.approx((62 / 25.4 * 72, 78 / 25.4 * 72), abs=1.0)
    assert len(_page_boxes(pdf)) == 1
    desk.goto(reverse("clients:ticket_label", args=[shop.resurface.pk]) + "?paper=a4")
    sheet = desk.pdf(prefer_css_page_size=True, format="A4")
    assert _page_boxes(sheet)[0] == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=1.0)


def _page_boxes(pdf: bytes) -> list[tuple[float, float]]:
    """Return width and height of each page in points, as the PDF itself says."""
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", pdf)
    return [(float(width), float(height)) for width, height in boxes]
