"""Tape readings and other bowlers: their pages on a phone and at a desk."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from lanes.models import Pattern
from tests.records.test_tape_readings import TAPE

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(params=["phone", "desk"])
def page(request) -> Page:
    return request.getfixturevalue(request.param)


def look(page: Page, name: str, axe, shoot) -> None:
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        axe(page)
        shoot(page, f"{name}-{scheme}")


def test_tape_readings_are_pasted_looked_at_and_kept(page, log_in, cast, axe, shoot):
    log_in(page, cast.carl)
    page.goto("/patterns/import/")
    look(page, "pattern-import", axe, shoot)
    page.get_by_label("Or paste the sheet").fill(TAPE)
    page.get_by_label("Name of the pattern").fill("Lane 7 before league")
    page.get_by_role("button", name="Look at it").click()
    expect(page.get_by_role("heading", name="Are these the readings?")).to_be_visible()
    look(page, "tape-preview", axe, shoot)
    page.get_by_role("button", name="Keep this pattern").click()
    expect(page.get_by_role("heading", name="Readings")).to_be_visible()
    look(page, "tape", axe, shoot)
    page.goto("/patterns/")
    look(page, "tape-list", axe, shoot)
    assert Pattern.objects.get().kind == "tape"


def test_others_on_the_lanes_are_counted_at_the_start(page, log_in, cast, axe, shoot):
    log_in(page, cast.carl)
    page.goto(f"/sessions/start/?client={cast.sam_client.pk}&block=new&fresh=1")
    look(page, "others-start", axe, shoot)
    page.get_by_label("Centre", exact=True).select_option("Test Lanes")
    page.get_by_role("radio", name="league").check()
    page.get_by_label("Other right-handers on these lanes").fill("4")
    page.get_by_label("Other left-handers on these lanes").fill("1")
    page.get_by_role("button", name="Start").click()
    page.wait_for_url("**/log/")
    page.goto(page.url.removesuffix("log/"))
    expect(page.locator(".facts")).to_contain_text("4 right-handers and 1 left-hander")
    look(page, "others-session", axe, shoot)
    page.goto(page.url + "edit/")
    look(page, "others-edit", axe, shoot)
