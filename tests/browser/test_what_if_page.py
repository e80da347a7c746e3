"""What if, in a browser: at a desk and on a phone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from lanes import readings, reports
from tests.reading.simulator import session as simulated
from tests.sessions.simulated import log

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.mark.parametrize("width", [360, 1280])
def test_a_coach_asks_for_another_way(chromium, live_server, log_in, cast, axe, shoot, width):
    log(cast, simulated("mid burn", 3)[:40])
    report = reports.draft_from(readings.read(cast.session, lambda share, words: None))
    context = chromium.new_context(
        base_url=live_server.url, viewport={"width": width, "height": 800}
    )
    page = context.new_page()
    log_in(page, cast.carl)
    page.goto(f"/reports/{report.pk}/")
    shoot(page, "report-ahead")
    page.get_by_role("link", name="What if: another option").click()
    expect(page.locator(".board-chart svg").first).to_be_visible()
    page.get_by_label("From shot", exact=True).select_option("11")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_role("heading", level=2)).to_contain_text("From shot 11 on")
    axe(page)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    shoot(page, "what-if")
    context.close()
