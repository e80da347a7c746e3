"""Shots read again: ten of them from the clip, and what that tells of the coach's own error."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from lanes.models import RereadShot, Shot

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(params=["phone", "desk"])
def page(request) -> Page:
    return request.getfixturevalue(request.param)


def look(page: Page, name: str, axe, shoot) -> None:
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        axe(page)
        shoot(page, f"{name}-{scheme}")


def test_ten_shots_are_read_again_by_keyboard_and_count_as_the_coachs_own(
    page, log_in, cast, axe, shoot
):
    for n in range(1, 11):
        Shot.objects.create(
            session=cast.session, number=n, ball=cast.session_ball, arrows=11 + n % 3, head_pin=17.5
        )
    log_in(page, cast.carl)
    page.goto("/account/")
    page.get_by_role("link", name="Your reading error").click()
    expect(page.get_by_text("None yet.")).to_be_visible()
    look(page, "reading-error-empty", axe, shoot)
    page.goto(f"/sessions/{cast.session.pk}/")
    page.get_by_role("link", name="Read shots again").click()
    expect(page.get_by_role("group", name="Shot 1 ·")).to_be_visible()
    look(page, "read-again", axe, shoot)
    width = page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
    assert width[0] <= width[1]

    # A board that no lane has is told at its field, and nothing else is lost.
    first = page.get_by_role("group", name="Shot 1 ·").get_by_label("Arrows")
    first.fill("99")
    first.press("Tab")
    page.keyboard.type("18")
    page.get_by_role("button", name="Keep the second readings").click()
    expect(page.get_by_text("a board from 0 to 40")).to_be_visible()
    expect(page.get_by_role("group", name="Shot 1 ·").get_by_label("Head pin")).to_have_value("18")
    look(page, "read-again-wrong", axe, shoot)
    first = page.get_by_role("group", name="Shot 1 ·").get_by_label("Arrows")
    first.fill("12")
    first.press("Tab")
    for _ in range(9):
        page.keyboard.press("Tab")
        page.keyboard.type("11,5")
        page.keyboard.press("Tab")
        page.keyboard.type("18")
    page.keyboard.press("Enter")

    expect(page.get_by_text("Kept beside the log")).to_be_visible()
    row = page.get_by_role("row").filter(has=page.get_by_role("rowheader", name="Arrows"))
    expect(row).to_contain_text("your own")
    expect(page.get_by_role("row").filter(has_text="Laydown")).to_contain_text("assumed")
    look(page, "reading-error", axe, shoot)
    assert RereadShot.objects.count() == 10
    assert Shot.objects.get(number=1).arrows == 12  # the log, 11 + 1

    page.get_by_text("Take out").click()
    page.get_by_role("button", name="Yes, take these out").click()
    expect(page.get_by_text("None yet.")).to_be_visible()
