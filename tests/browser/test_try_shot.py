"""Try a shot on a phone and at a desk: sliders by touch and keyboard, four balls, no script."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from clients.models import Ball, Surface
from lanes.warm import warm

pytestmark = pytest.mark.django_db(transaction=True)

FOUR = "&".join(
    f"b{n}-ball=new&b{n}-cover={cover}"
    for n, cover in enumerate(("solid", "pearl", "urethane", "plastic"), start=1)
)


@pytest.fixture(autouse=True, scope="module")
def _compiled() -> None:
    """What `prepare` does before a site answers; in a fresh clone it takes half a minute."""
    warm()


def head_pins(page: Page) -> list[str]:
    """Return the row of the table that tells where the balls meet the head pin."""
    row = page.locator("#answer tr", has_text="At the head pin")
    return row.locator("td").all_inner_texts()


@pytest.fixture(params=["phone", "desk"])
def page(request) -> Page:
    return request.getfixturevalue(request.param)


def test_the_page_reads_well_on_phone_and_desk(page, log_in, cast, axe, shoot):
    log_in(page, cast.carl)
    for name, address in (
        ("try-shot", "/try/"),
        ("try-shot-client", f"/try/?client={cast.sam_client.pk}"),
        ("try-shot-left", f"/try/?client={cast.wendy_client.pk}"),
        ("try-shot-four", f"/try/?{FOUR}&b2-grit=500&own=30&right=20&left=10"),
        ("try-shot-wrong", "/try/?speed_mph=70&tilt_deg=&b1-ball=new&b1-grit=none"),
    ):
        page.goto(address)
        axe(page)
        shoot(page, name)
        page.emulate_media(color_scheme="dark")
        axe(page)
        shoot(page, f"{name}-dark")
        page.emulate_media(color_scheme="light")


def test_a_slider_is_moved_by_touch_and_the_answer_changes(phone, log_in, cast, axe):
    log_in(phone, cast.carl)
    phone.goto(f"/try/?{FOUR}")
    before = head_pins(phone)
    assert len(before) == 4
    slider = phone.get_by_role("slider", name="Target at the arrows, slider")
    slider.scroll_into_view_if_needed()
    box = slider.bounding_box()
    assert box["height"] >= 24  # WCAG 2.2, 2.5.8 target size (minimum): 24 by 24 CSS pixels
    phone.touchscreen.tap(box["x"] + 0.45 * box["width"], box["y"] + box["height"] / 2)
    number = phone.get_by_role("textbox", name="Target at the arrows, board")
    expect(number).not_to_have_value("12.5")
    expect(phone.locator("#answer")).to_contain_text(f"sent at {number.input_value()} at")
    assert head_pins(phone) != before
    # The address holds it: a reload gives the same again.
    after = head_pins(phone)
    phone.wait_for_url(re.compile(f"target={number.input_value()}"))
    phone.reload()
    assert head_pins(phone) == after
    axe(phone)


def test_a_slider_is_moved_by_keyboard_and_a_number_moves_the_slider(desk, log_in, cast):
    log_in(desk, cast.carl)
    desk.goto("/try/")
    slider = desk.get_by_role("slider", name="Rev rate, slider")
    slider.focus()
    desk.keyboard.press("ArrowRight")
    number = desk.get_by_role("textbox", name="Rev rate, rpm")
    expect(number).to_have_value("355")
    expect(desk.locator("#answer")).to_contain_text("355 rpm")
    expect(slider).to_be_focused()
    number.fill("300")
    expect(desk.locator("#answer")).to_contain_text("300 rpm")
    expect(slider).to_have_value("300")


def test_what_is_wrong_is_told_at_its_field_and_the_answer_before_stays(desk, log_in, cast, axe):
    log_in(desk, cast.carl)
    desk.goto("/try/")
    before = head_pins(desk)
    speed = desk.get_by_role("textbox", name="Speed, mph")
    speed.fill("50")
    expect(speed).to_have_attribute("aria-invalid", "true")
    expect(desk.locator("#wrong")).to_contain_text("still the answer to the values before")
    expect(desk.locator("#id_speed_mph_error")).to_have_text("Expected 5 to 35 mph.")
    assert head_pins(desk) == before
    axe(desk)
    desk.reload()
    expect(speed).to_have_value("50")
    speed.fill("16,5")
    expect(desk.locator("#answer")).to_contain_text("16.5 mph")
    expect(desk.locator("#wrong")).to_be_empty()
    expect(speed).not_to_have_attribute("aria-invalid", "true")


def test_a_client_is_chosen_and_a_fourth_ball_added(desk, log_in, cast):
    for name, grit in (("B", 500), ("C", 3000)):
        ball = Ball.objects.create(client=cast.sam_client, name=name, cover="pearl")
        Surface.objects.create(ball=ball, grit=grit)
    log_in(desk, cast.carl)
    desk.goto("/try/?own=10")
    desk.get_by_label("Client").select_option("Sam")
    desk.wait_for_url(re.compile(rf"/try/\?client={cast.sam_client.pk}&own=10(#|$)"))
    columns = desk.locator("section[aria-labelledby='numbers-h'] thead th")
    expect(columns).to_have_text(["A", "B", "C"])
    fourth = desk.locator("[data-slot='4'] select").first
    expect(fourth).to_be_visible()  # one slot more than are in use
    fourth.select_option("describe one")
    expect(columns).to_have_count(4)
    expect(desk.locator("#answer .lane-picture polyline")).to_have_count(4)


def test_it_works_without_a_script(chromium, live_server, log_in, cast):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    log_in(page, cast.carl)
    page.goto("/try/")
    page.get_by_role("textbox", name="Speed, mph").fill("15")
    page.get_by_role("button", name="Roll").click()
    expect(page.locator("#answer")).to_contain_text("15 mph")
    assert "speed_mph=15" in page.url
    context.close()


def test_a_printed_page_is_the_answer(desk, log_in, cast, shoot):
    log_in(desk, cast.carl)
    desk.goto("/try/")
    desk.emulate_media(media="print")
    expect(desk.locator("#try")).to_be_hidden()
    expect(desk.locator("#answer .lane-picture")).to_be_visible()
    shoot(desk, "try-shot-print")
