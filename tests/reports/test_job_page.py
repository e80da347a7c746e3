"""Asking for a reading, and its progress, as the coach sees them."""

from __future__ import annotations

import html
import re

import pytest
from django.urls import reverse

from clients import jobs
from clients.models import Job
from tests.reports.pages import text_of

pytestmark = pytest.mark.usefixtures("no_broker")


def test_read_asks_the_worker_once(cast, as_user):
    browser = as_user(cast.carl)
    answers = [browser.post(reverse("lanes:session_read", args=[cast.session.pk])) for _ in "ab"]
    job = Job.objects.get()
    assert [a.url for a in answers] == [reverse("lanes:job", args=[job.pk])] * 2
    assert (job.kind, job.subject, job.created_by) == (
        "read_session",
        str(cast.session.pk),
        cast.carl,
    )


def test_looking_does_not_read(cast, as_user):
    assert (
        as_user(cast.carl).get(reverse("lanes:session_read", args=[cast.session.pk])).status_code
        == 405
    )
    assert not Job.objects.exists()


def test_progress_is_shown_and_says_when_no_worker_is_alive(cast, as_user):
    browser = as_user(cast.carl)
    job = jobs.enqueue("read_session", cast.session.pk, by=cast.carl)
    page = text_of(browser.get(reverse("lanes:job", args=[job.pk])))
    assert "No worker has shown itself" in page
    jobs.show_life()
    Job.objects.update(state="running", fraction=0.4, message="Fitting the paths")
    part = text_of(browser.get(reverse("lanes:job", args=[job.pk]), headers={"HX-Request": "true"}))
    assert 'value="40"' in part
    assert "Fitting the paths" in part
    assert "No worker" not in part
    assert "<html" not in part
    assert 'hx-trigger="every 1s"' in part
    again = html.unescape(re.search('hx-get="([^"]+)"', part)[1])
    answer = browser.get(again, headers={"HX-Request": "true"})
    assert answer.status_code == 204  # nothing new to say
    Job.objects.update(fraction=0.5)
    assert browser.get(again, headers={"HX-Request": "true"}).status_code == 200


def test_a_failed_job_says_why_and_offers_another_try(cast, as_user):
    job = jobs.enqueue("read_session", cast.session.pk, by=cast.carl)
    jobs.run(job.pk)
    page = text_of(as_user(cast.carl).get(reverse("lanes:job", args=[job.pk])))
    assert "There are no first balls in the shot log" in page
    assert reverse("lanes:session_read", args=[cast.session.pk]) in page
    assert "hx-trigger" not in page


def test_a_done_job_leads_to_the_report(cast, draft, as_user):
    job = jobs.enqueue("read_session", cast.session.pk, by=cast.carl)
    Job.objects.update(state="done", result={"report": draft.pk})
    address = reverse("lanes:job", args=[job.pk])
    browser = as_user(cast.carl)
    assert browser.get(address).url == reverse("lanes:report", args=[draft.pk])
    part = browser.get(address, headers={"HX-Request": "true"})
    assert part.headers["HX-Redirect"] == reverse("lanes:report", args=[draft.pk])


def test_a_job_is_for_whoever_coaches_the_session(cast, as_user):
    job = jobs.enqueue("read_session", cast.session.pk, by=cast.olive)
    address = reverse("lanes:job", args=[job.pk])
    seen = {u.name: as_user(u).get(address).status_code for u in (cast.carl, cast.olive)}
    assert seen == {"Carl": 200, "Olive": 200}
    for user in (cast.dora, cast.otto, cast.sam, cast.nick):
        assert as_user(user).get(address).status_code == 404, user
