"""The read at the lane on a phone: after each shot, and where the network is gone."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from lanes import overrulings
from lanes.models import SessionBall
from tests.reading.simulator import session as simulated
from tests.sessions.simulated import log

from .test_log_page import on_phone, save, saved, tap  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)


def test_each_shot_brings_the_read_as_of_now(on_phone, cast, axe, shoot):  # noqa: F811
    page = on_phone
    SessionBall.objects.create(session=cast.session, label="B", cover="pearl", position=2)
    log(cast, simulated("nothing", 4)[:20])
    page.reload()
    expect(page.locator("#live-line")).to_contain_text("As of shot 20", timeout=20000)
    shoot(page, "live-bar")
    page.evaluate(
        "document.querySelector('#live-line').textContent ="
        " 'As of shot 20: The lane changed: the ball hooks earlier, and more words than fit'"
    )
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    tap(page, "Strike")
    save(page)
    saved(page, 21)
    expect(page.locator("#live-line")).to_contain_text("As of shot 21", timeout=20000)
    page.locator("#live-line").tap()
    expect(page.locator("#live-when")).to_have_text("As of shot 21.")
    expect(page.locator("#live-options > li").first).to_contain_text("best now")
    first = page.locator("#live-options > li").first
    expect(first).to_contain_text("%")
    expect(first).to_contain_text("holds")
    expect(first).to_contain_text(re.compile("Watch|told apart"))
    page.locator("#live-more > summary").tap()
    surface = page.locator("#live-box .rows > li", has_text="surface on ball")
    expect(surface.first).to_contain_text("No surface may be changed during competition")
    axe(page)
    shoot(page, "live-read")


def test_in_competition_no_surface_is_offered(on_phone, cast):  # noqa: F811
    page = on_phone
    cast.session.block.purpose = "league"
    cast.session.block.save()
    log(cast, simulated("nothing", 4)[:20])
    page.reload()
    expect(page.locator("#live-line")).to_contain_text("As of shot 20", timeout=20000)
    expect(page.locator("#live-options > li").first).to_contain_text("best now")
    expect(page.locator("#live-box")).not_to_contain_text("surface on ball")


def test_what_the_coach_said_of_a_shot_counts_and_is_told(on_phone, cast):  # noqa: F811
    page = on_phone
    log(cast, simulated("nothing", 4)[:20])
    shot = cast.session.shots.get(number=20)
    overrulings.write(session=cast.session, by=cast.carl, kind="cause", value="throw", shot=shot)
    page.reload()
    expect(page.locator("#live-said")).to_have_text(
        "As the coach says, shot 20 counts as a missed throw, since it was the throw.",
        timeout=20000,
    )


def test_without_a_network_the_last_read_stands_and_says_so(on_phone, cast, shoot):  # noqa: F811
    page = on_phone
    log(cast, simulated("nothing", 4)[:20])
    page.reload()
    expect(page.locator("#live-line")).to_contain_text("As of shot 20", timeout=20000)
    page.context.set_offline(True)
    tap(page, "Strike")
    save(page)
    expect(page.locator("#live-when")).to_have_text(
        "As of shot 20; shot 21 is not read yet, for want of a network."
    )
    shoot(page, "live-offline")
    page.context.set_offline(False)
    expect(page.locator("#live-when")).to_have_text("As of shot 21.", timeout=20000)


def test_the_first_shots_say_how_many_are_missing(on_phone, cast):  # noqa: F811
    page = on_phone
    tap(page, "Strike")
    save(page)
    saved(page, 1)
    expect(page.locator("#live-line")).to_have_text("Too little to read yet", timeout=20000)
    expect(page.locator("#live-why")).to_contain_text("at least 3")
