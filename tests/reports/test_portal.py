"""What student and guardian see of a sent report, and what they send back."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse

from lanes import reports
from lanes.models import Answer, Receipt, Session, Shot
from tests.conftest import make_session
from tests.reports.conftest import make_reading
from tests.reports.pages import text_of

pytestmark = pytest.mark.usefixtures("no_broker")

PRIVATE = ["Drops the shoulder.", "Seemed tired after work.", "typed by mistake"]


def test_nothing_reaches_the_student_before_it_is_sent(cast, draft, as_user):
    browser = as_user(cast.sam)
    assert browser.get(reverse("portal_report", args=[draft.pk])).status_code == 404
    assert draft.headline not in text_of(browser.get(reverse("portal")))
    for name in ("portal_read", "portal_answer"):
        assert browser.post(reverse(name, args=[draft.pk]), {"text": "x"}).status_code == 404
    assert not Receipt.objects.exists()
    assert not Answer.objects.exists()


@pytest.fixture
def with_secrets(cast, draft):
    """Sam's report sent, with something private in every place that has such a thing."""
    Session.objects.filter(pk=cast.session.pk).update(note=PRIVATE[1])
    Shot.objects.create(session=cast.session, number=1, note=PRIVATE[2])
    return reports.send(draft, by=cast.carl)


def test_the_students_pages_show_nothing_private(cast, with_secrets, as_user):
    browser = as_user(cast.sam)
    pages = text_of(browser.get(reverse("portal")))
    pages += text_of(browser.get(reverse("portal_report", args=[with_secrets.pk])))
    assert with_secrets.went_well in pages
    for words in PRIVATE:
        assert words not in pages
    # Nor the reading's raw judgements, shot by shot: the page is short.
    for words in ("2 boards in at the arrows", "charts-data", "verdict", "table 7"):
        assert words not in pages


def test_the_student_sees_one_thing_of_each_and_the_newest_version_first(cast, sent, as_user):
    browser = as_user(cast.sam)
    page = text_of(browser.get(reverse("portal_report", args=[sent.pk])))
    for words in ("Well done", "To change", "To practise", "your last balls", "I have read it"):
        assert words in page, words
    second = reports.send(reports.revise(sent, by=cast.carl), by=cast.carl)
    listed = text_of(browser.get(reverse("portal")))
    assert reverse("portal_report", args=[second.pk]) in listed
    assert reverse("portal_report", args=[sent.pk]) not in listed
    old = text_of(browser.get(reverse("portal_report", args=[sent.pk])))
    assert "There is a newer version" in old


def test_an_e_mail_is_promised_only_where_one_can_come(cast, as_user, settings):
    assert "You get an e-mail" not in text_of(as_user(cast.sam).get(reverse("portal")))
    settings.EMAIL_HOST = "mail.example.org"
    assert "You get an e-mail" in text_of(as_user(cast.sam).get(reverse("portal")))


def test_an_empty_portal_says_what_will_be_here(cast, as_user):
    page = text_of(as_user(cast.sam).get(reverse("portal")))
    assert "After a lesson" in page


def test_read_and_answer_from_the_phone(cast, sent, as_user):
    browser = as_user(cast.sam)
    for _ in range(2):
        browser.post(reverse("portal_read", args=[sent.pk]))
    assert Receipt.objects.filter(user=cast.sam).count() == 1
    post = {"key": str(uuid.uuid4()), "text": "It went better.\r\nThank you"}
    for _ in range(2):
        browser.post(reverse("portal_answer", args=[sent.pk]), post)
    assert Answer.objects.get().text == "It went better.\nThank you"
    page = text_of(browser.get(reverse("portal_report", args=[sent.pk])))
    assert "You have read this." in page
    assert "It went better.<br>Thank you" in page


@pytest.mark.parametrize(("text", "said"), [(" ", "Write a few words"), ("x" * 2001, "2001")])
def test_an_answer_that_cannot_be_kept_keeps_its_words_and_key(cast, sent, as_user, text, said):
    key = str(uuid.uuid4())
    answer = as_user(cast.sam).post(
        reverse("portal_answer", args=[sent.pk]), {"key": key, "text": text}
    )
    page = text_of(answer)
    assert answer.status_code == 400
    assert said in page
    assert key in page
    assert text.strip() in page
    assert not Answer.objects.exists()


def test_markup_in_an_answer_stays_text(cast, sent, as_user):
    reports.answer(sent, by=cast.sam, key=uuid.uuid4(), text="<script>alert(1)</script>")
    for user, name in ((cast.sam, "portal_report"), (cast.carl, "lanes:report")):
        page = text_of(as_user(user).get(reverse(name, args=[sent.pk])))
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert" in page


def test_a_guardian_sees_the_wards_report_and_may_answer(cast, wendys, as_user):
    browser = as_user(cast.gina)
    assert "Wendy’s lesson" in text_of(browser.get(reverse("portal_report", args=[wendys.pk])))
    assert "Wendy" in text_of(browser.get(reverse("portal")))
    browser.post(
        reverse("portal_answer", args=[wendys.pk]), {"key": str(uuid.uuid4()), "text": "Thanks"}
    )
    assert Answer.objects.get().author == cast.gina


def test_homework_is_ticked_once_and_the_tick_taken_back(cast, draft, as_user):
    draft = reports.save_draft(
        draft,
        by=cast.carl,
        opened_at=draft.edited_at,
        texts={field: getattr(draft, field) for field in reports.WORDS},
        order=[],
        dropped=[],
        homework=[reports.HomeworkLine("Corner pins")],
    )
    sent = reports.send(draft, by=cast.carl)
    line = sent.homework.get()
    browser, address = as_user(cast.sam), reverse("portal_homework_done", args=[line.pk])
    assert "Corner pins" in text_of(browser.get(reverse("portal")))
    browser.post(address, {"done": "yes"})
    line.refresh_from_db()
    first = line.done_at
    assert first
    browser.post(address, {"done": "yes"})
    line.refresh_from_db()
    assert line.done_at == first
    assert "Corner pins" not in text_of(browser.get(reverse("portal")))
    browser.post(address, {"done": "no"})
    line.refresh_from_db()
    assert line.done_at is None
    for user in (cast.wendy, cast.gina, cast.nick):
        assert as_user(user).post(address, {"done": "yes"}).status_code == 404


def test_a_portal_of_many_lessons_costs_no_more_queries(
    cast, as_user, django_assert_max_num_queries
):
    for _ in range(6):
        session = make_session(cast.block, cast.sam_client, cast.carl)
        reports.send(reports.draft_from(make_reading(session)), by=cast.carl)
    browser = as_user(cast.sam)
    # session, user, grants x2, tickets, reports, receipts, homework, wards
    with django_assert_max_num_queries(10):
        browser.get(reverse("portal"))


def test_an_answer_with_a_nul_is_kept_without_it(cast, sent, as_user):
    """PostgreSQL keeps no NUL in a text."""
    as_user(cast.sam).post(f"/portal/{sent.pk}/answer/", {"text": "Will\0 do."})
    assert Answer.objects.get().text == "Will do."
