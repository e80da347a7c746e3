"""Who will get the report, sending it, and the next version."""

from __future__ import annotations

import pytest
from django.urls import reverse

from lanes import reports
from lanes.models import Report
from tests.reports.conftest import make_reading
from tests.reports.pages import text_of

pytestmark = pytest.mark.usefixtures("no_broker")


def test_the_send_page_lists_who_gets_it_and_sends_nothing(cast, draft, as_user):
    page = text_of(as_user(cast.carl).get(reverse("lanes:report_send", args=[draft.pk])))
    assert "Sam <span" in page
    assert not Report.objects.get().is_sent


def test_the_send_page_says_where_there_is_no_account_yet(cast, as_user):
    report = reports.draft_from(make_reading(cast.tess_session))
    page = text_of(as_user(cast.dora).get(reverse("lanes:report_send", args=[report.pk])))
    assert "Tess has no account yet" in page


def test_send_then_revise(cast, draft, as_user):
    browser = as_user(cast.carl)
    browser.post(reverse("lanes:report_send", args=[draft.pk]))
    assert Report.objects.get().is_sent
    browser.post(reverse("lanes:report_revise", args=[draft.pk]))
    assert list(Report.objects.order_by("version").values_list("version", "state")) == [
        (1, "sent"),
        (2, "draft"),
    ]
