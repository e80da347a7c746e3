"""The records pages on a phone and at a desk: accessible, and working without a mouse."""

from __future__ import annotations

import pytest
from django.urls import reverse

from clients.models import Ball, Surface
from lanes.models import Pattern, Shot
from lanes.motion import HOUSE
from lanes.patterns import import_pattern, write_csv

SHEET = """Pass;Way;Start;End;Left;Right;Oil
1;F;0;34;2L;2R;3.2
2;F;0;40;6L;6R;2.9
3;R;8;38;9L;9R;3.3
"""


@pytest.fixture
def shelf(transactional_db, cast):
    """The cast with a fuller shelf: balls old and new, a pattern, shots."""
    cast.sam_client.pap_over_in, cast.sam_client.pap_up_in = 4.875, 0.5
    cast.sam_client.save()
    light = Ball.objects.create(
        client=cast.sam_client, name="Grey", cover="urethane", rg_in=2.45, differential_in=0.02
    )
    Surface.objects.create(ball=light, grit=800, note="Both sides alike", done_by=cast.otto)
    Ball.objects.create(client=cast.sam_client, name="S", cover="plastic", is_spare_ball=True)
    Ball.objects.create(
        client=cast.wendy_client, name="Old one", cover="pearl", retired_at="2026-01-01"
    )
    cast.light = light
    cast.pattern, _ = import_pattern(HOUSE, by=cast.carl)
    Shot.objects.create(session=cast.session, number=1)
    return cast


def addresses(w) -> dict[str, str]:
    return {
        "clients": reverse("clients:list"),
        "clients_nobody": reverse("clients:list") + "?q=zzz",
        "client": reverse("clients:detail", args=[w.sam_client.pk]),
        "client_minor": reverse("clients:detail", args=[w.wendy_client.pk]),
        "client_edit": reverse("clients:edit", args=[w.sam_client.pk]),
        "ball": reverse("clients:ball", args=[w.light.pk]),
        "ball_edit": reverse("clients:ball_edit", args=[w.ball.pk]),
        "surface": reverse("clients:surface_add", args=[w.ball.pk]),
        "gear": reverse("clients:gear"),
        "gear_oldest": reverse("clients:gear") + "?order=surface",
        "walkin": reverse("clients:walkin_new"),
        "centres": reverse("lanes:centres"),
        "centre": reverse("lanes:centre", args=[w.centre.pk]),
        "centre_edit": reverse("lanes:centre_edit", args=[w.centre.pk]),
        "patterns": reverse("lanes:patterns"),
        "pattern": reverse("lanes:pattern", args=[w.pattern.pk]),
        "pattern_import": reverse("lanes:pattern_import"),
        "numbers": reverse("lanes:numbers"),
    }


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_every_page_is_accessible(request, device, shelf, log_in, axe, shoot):
    page = request.getfixturevalue(device)
    log_in(page, shelf.olive)
    for name, address in addresses(shelf).items():
        page.goto(address)
        axe(page)
        shoot(page, f"records_{name}_{device}")


def test_a_sheet_with_other_columns_is_imported_on_a_phone(phone, shelf, log_in, axe, shoot):
    log_in(phone, shelf.carl)
    phone.goto(reverse("lanes:pattern_import"))
    phone.get_by_label("Or paste the sheet").fill(SHEET)
    phone.get_by_label("Name of the pattern").fill("Tuesday oil")
    phone.get_by_role("button", name="Look at it").click()
    asked = {"Layer": "Pass", "Direction": "Way", "From, distance": "Start", "To, distance": "End"}
    asked |= {"First board": "Left", "Last board": "Right", "Volume": "Oil"}
    for ours, theirs in asked.items():
        select = phone.get_by_label(ours, exact=False).first
        option = select.locator("option", has_text=theirs).first.get_attribute("value")
        select.select_option(option)
    axe(phone)
    shoot(phone, "records_pattern_map_phone")
    phone.get_by_role("button", name="Look at it").click()
    axe(phone)
    shoot(phone, "records_pattern_preview_phone")
    phone.get_by_role("button", name="Keep this pattern").click()
    assert Pattern.objects.get(name="Tuesday oil").volume_ml == 9.4
    assert phone.get_by_role("img", name="Oil film of Tuesday oil from above").is_visible()


def test_bad_cells_are_listed_beside_the_sheet(desk, shelf, log_in, axe, shoot):
    log_in(desk, shelf.carl)
    desk.goto(reverse("lanes:pattern_import"))
    desk.get_by_label("Or paste the sheet").fill(write_csv(HOUSE).replace("2,38", "2,55"))
    desk.get_by_label("Name of the pattern").fill("Broken")
    desk.get_by_role("button", name="Look at it").click()
    assert "55" in desk.get_by_role("row", name="last_board").inner_text()
    axe(desk)
    shoot(desk, "records_pattern_bad_desk")


def test_the_operator_takes_a_walk_in_to_a_first_surface(phone, shelf, log_in):
    log_in(phone, shelf.otto)
    phone.goto(reverse("clients:gear"))
    phone.get_by_role("link", name="Walk-in").click()
    phone.get_by_label("Name").fill("Walt")
    phone.get_by_role("button", name="Save and add a ball").click()
    phone.get_by_label("Name").fill("Blue")
    phone.get_by_label("Cover").select_option("pearl")
    phone.get_by_role("button", name="Save and write down the surface").click()
    phone.get_by_label("Last grit").fill("3000")
    phone.get_by_role("button", name="Write it down").click()
    assert phone.get_by_text("3000 grit").first.is_visible()
