"""The list of sessions, page by page, and how far each session's report is."""

from __future__ import annotations

from django.urls import reverse

from lanes import reports
from lanes.models import Session, Shot
from lanes.views.sessions import PER_PAGE
from tests.reports.conftest import make_reading


def page(browser, **data) -> str:
    return browser.get(reverse("lanes:sessions"), data).content.decode()


def test_a_long_list_goes_on_for_the_same_client(cast, as_user):
    for _ in range(PER_PAGE):
        Session.objects.create(
            block=cast.block, client=cast.sam_client, hand="right", hook="usual", style="one"
        )
    html = page(as_user(cast.carl), client=cast.sam_client.pk)
    assert f'href="?client={cast.sam_client.pk}&amp;page=2">Older' in html
    assert html.count('class="main"') == PER_PAGE
    html = page(as_user(cast.carl), client=cast.sam_client.pk, page=2)
    assert html.count('class="main"') == 1
    assert f'href="?client={cast.sam_client.pk}&amp;page=1">Newer' in html


def test_each_session_says_how_far_its_report_is(cast, as_user):
    browser = as_user(cast.carl)
    assert "waiting for a report" not in page(browser)  # no shot yet, nothing to report on
    Shot.objects.create(session=cast.session, number=1)
    assert "waiting for a report" in page(browser)
    draft = reports.draft_from(make_reading(cast.session))
    assert "report to check" in page(browser)
    sent = reports.send(draft, by=cast.carl)
    assert "report sent" in page(browser)
    reports.revise(sent, by=cast.carl)
    assert "report to check" in page(browser)
