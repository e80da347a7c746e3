"""Today, as coach, shop operator and owner see it."""

from __future__ import annotations

import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clients import jobs
from clients.models import Job
from lanes import reports
from lanes.models import Shot
from tests.conftest import make_session
from tests.reports.conftest import make_reading
from tests.reports.pages import text_of

pytestmark = pytest.mark.usefixtures("no_broker")


def test_an_empty_today_says_how_to_begin(cast, as_user):
    page = text_of(as_user(cast.carl).get(reverse("today")))
    assert "Nothing waits for you" in page
    assert reverse("lanes:session_start") in page


def test_today_shows_what_waits_for_the_coach_and_not_for_another(cast, sent, as_user):
    reports.answer(sent, by=cast.sam, key=uuid.uuid4(), text="It works now")
    Shot.objects.create(session=cast.tess_session, number=1)
    jobs.enqueue("read_session", cast.tess_session.pk, by=cast.dora)
    page = text_of(as_user(cast.carl).get(reverse("today")))
    assert "It works now" in page
    assert "Tess" not in page
    page = text_of(as_user(cast.dora).get(reverse("today")))
    assert "It works now" not in page
    assert "Being read" in page
    assert "Sessions without a report" not in page  # it is being read
    Job.objects.update(state="done")
    page = text_of(as_user(cast.dora).get(reverse("today")))
    assert "Sessions without a report" in page


def test_seen_takes_the_answer_off_today(cast, sent, as_user):
    reports.answer(sent, by=cast.sam, key=uuid.uuid4(), text="It works now")
    browser = as_user(cast.carl)
    answer = browser.post(reverse("lanes:report_seen", args=[sent.pk]))
    assert answer.url == reverse("today")
    assert "It works now" not in text_of(browser.get(answer.url))
    assert "It works now" in text_of(browser.get(reverse("lanes:report", args=[sent.pk])))


def test_the_operator_sees_gear_and_no_lessons(cast, draft, as_user):
    page = text_of(as_user(cast.otto).get(reverse("today")))
    assert page.index("surface not written down") < page.index("since")  # oldest first
    assert "Walk-in" in page
    assert "Start a session" not in page
    assert "Reports to send" not in page
    assert reverse("lanes:report", args=[draft.pk]) not in page
    assert "Nothing waits for you" not in page


def test_the_owner_sees_both(cast, draft, as_user):
    page = text_of(as_user(cast.olive).get(reverse("today")))
    assert "Reports to send" in page
    assert "oldest surfaces" in page


def test_today_costs_the_same_queries_however_much_waits(
    cast, as_user, django_assert_max_num_queries
):
    for n in range(6):
        session = make_session(cast.block, cast.sam_client, cast.carl)
        report = reports.send(reports.draft_from(make_reading(session)), by=cast.carl)
        reports.answer(report, by=cast.sam, key=uuid.uuid4(), text=f"Answer {n}")
        reports.revise(report, by=cast.carl)
        waiting = make_session(cast.block, cast.sam_client, cast.carl)
        Shot.objects.create(session=waiting, number=1)
        read = make_session(cast.block, cast.sam_client, cast.carl)
        jobs.enqueue("read_session", read.pk, by=cast.carl)
    cast.block.starts_at = timezone.now() - timedelta(days=1)
    cast.block.save()
    browser = as_user(cast.olive)
    # session, user, grants x2, receipts, answers, drafts, jobs, their sessions, sessions without a
    # report, worker, balls
    with django_assert_max_num_queries(14):
        browser.get(reverse("today"))
