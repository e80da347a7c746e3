"""One rack as it falls: fetched beside its ball, played, stepped by keyboard, still where asked."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from lanes.warm import warm

pytestmark = pytest.mark.django_db(transaction=True)

ONE = "/try/?b1-ball=new&b1-cover=solid"
LIGHT = "/try/rack/?board=16.2&angle=5"  # leaves a corner in every third rack


@pytest.fixture(autouse=True, scope="module")
def _compiled() -> None:
    warm()


@pytest.fixture(params=["phone", "desk"])
def page(request) -> Page:
    return request.getfixturevalue(request.param)


def fits(page: Page) -> bool:
    return page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_rack_is_watched_beside_its_ball(page, log_in, cast, axe, shoot):
    log_in(page, cast.carl)
    page.goto(ONE)
    address = page.url
    page.get_by_role("link", name="Watch one rack").click()
    film = page.locator("#film-1 [data-film]")
    words = film.locator("[data-words] p").first
    expect(words).to_contain_text("Rack 1 ")
    expect(words).to_be_focused()  # read out, and the keyboard goes on from here
    play = film.get_by_role("button", name="Pause")
    play.click()
    expect(film.get_by_role("button", name="Play")).to_be_visible()
    assert page.url == address
    axe(page)
    assert fits(page)
    shoot(page, "rack-film")
    film.get_by_role("link", name="Another rack").click()
    expect(words).to_contain_text("Rack 2 ")
    # Another line is another hit: its film is gone with it.
    page.get_by_role("textbox", name="Target at the arrows, board").fill("13")
    expect(page.get_by_role("link", name="Watch one rack")).to_be_visible()
    expect(film).to_have_count(0)


def test_the_film_is_stepped_by_keyboard_and_ends_as_the_words_say(page, log_in, cast, axe, shoot):
    log_in(page, cast.carl)
    page.goto(LIGHT)
    player = page.locator(".player")
    moment = page.get_by_role("slider", name="Moment")
    pins = player.locator("g.pin")
    downs = player.locator("g.pin.down")
    expect(pins).to_have_count(10)
    expect(downs).to_have_count(0)
    moment.focus()
    start = player.locator("circle.ball").get_attribute("cy")
    page.keyboard.press("ArrowRight")
    expect(moment).to_have_value("1")
    assert player.locator("circle.ball").get_attribute("cy") != start
    page.get_by_role("button", name="One state back").press("Enter")
    expect(moment).to_have_value("0")
    moment.press("End")
    told = moment.get_attribute("aria-valuetext")
    left = re.search(r"standing: ([\d ]+)$", told)
    standing = left.group(1).split() if left else []
    words = page.locator("[data-words]").inner_text()
    assert ("is a strike" in words) == (not standing)
    for pin in standing:
        assert re.search(rf"leaves the .*\b{pin}\b", words)
    axe(page)
    assert fits(page)
    shoot(page, "rack-film-end")
    moment.evaluate("slider => { slider.value = 40; slider.dispatchEvent(new Event('input')); }")
    shoot(page, "rack-film-amid")
    page.emulate_media(color_scheme="dark")
    axe(page)
    shoot(page, "rack-film-dark")


def test_playing_goes_on_by_itself_and_stops_at_the_end(desk, log_in, cast):
    log_in(desk, cast.carl)
    desk.goto(LIGHT)
    moment = desk.get_by_role("slider", name="Moment")
    desk.get_by_role("button", name="Play").press("Enter")
    expect(moment).not_to_have_value("0")
    expect(moment).to_have_value(moment.get_attribute("max"))
    expect(desk.get_by_role("button", name="Play")).to_be_visible()


def test_with_less_motion_two_stills_stand_in(desk, log_in, cast, axe, shoot):
    log_in(desk, cast.carl)
    desk.emulate_media(reduced_motion="reduce")
    desk.goto(ONE)
    desk.get_by_role("link", name="Watch one rack").click()
    film = desk.locator("#film-1 [data-film]")
    expect(film.locator(".stills figure")).to_have_count(2)
    expect(film.locator(".stills figure").first).to_be_visible()
    expect(film.locator(".player")).to_be_hidden()
    axe(desk)
    shoot(desk, "rack-film-stills")


def test_the_last_still_is_printed(desk, log_in, cast, shoot):
    log_in(desk, cast.carl)
    desk.goto(LIGHT)
    desk.emulate_media(media="print")
    expect(desk.locator(".stills figure.first")).to_be_hidden()
    expect(desk.locator(".stills figure").last).to_be_visible()
    expect(desk.locator(".player")).to_be_hidden()
    shoot(desk, "rack-film-print")


def test_it_works_without_a_script(chromium, live_server, log_in, cast):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    log_in(page, cast.carl)
    page.goto(ONE)
    page.get_by_role("link", name="Watch one rack").click()
    expect(page.get_by_role("heading", name="One rack", exact=True)).to_be_visible()
    expect(page.locator(".stills figure").last).to_be_visible()
    page.get_by_role("link", name="Another rack").click()
    expect(page.locator("[data-words]")).to_contain_text("Rack 2 ")
    context.close()


def test_what_is_wrong_is_told_at_its_field(phone, log_in, cast, axe, shoot):
    log_in(phone, cast.carl)
    phone.goto("/try/rack/?board=70&rack=0&angle=x")
    expect(phone.locator("#id_board_error")).to_have_text("Expected 1 to 39 board.")
    expect(phone.locator("#id_rack_error")).to_contain_text("Expected a whole number")
    expect(phone.get_by_role("textbox", name="Entry angle, deg")).to_have_value("x")
    axe(phone)
    assert fits(phone)
    shoot(phone, "rack-film-wrong")
