"""The coach at the draft: words, order, homework, and two at once."""

from __future__ import annotations

import pytest
from django.urls import reverse

from lanes import reports
from lanes.models import Report
from tests.reports.conftest import make_reading
from tests.reports.pages import draft_post, text_of

pytestmark = pytest.mark.usefixtures("no_broker")


def test_the_form_saves_words_order_choice_and_homework(cast, draft, as_user):
    move, stay, ball = draft.suggestions.all()
    answer = as_user(cast.carl).post(
        reverse("lanes:report_edit", args=[draft.pk]),
        draft_post(
            draft,
            to_change="One board left.",
            order=[ball.pk, move.pk, stay.pk],
            keep=[ball.pk, move.pk],
            **{"homework-0-text": "Corner pins", "homework-0-due_on": "2027-01-15"},
        ),
    )
    assert answer.url == reverse("lanes:report", args=[draft.pk])
    draft.refresh_from_db()
    assert draft.to_change == "One board left."
    assert [(s.kind, s.dropped) for s in draft.suggestions.all()] == [
        ("ball", False),
        ("move", False),
        ("stay", True),
    ]
    assert str(draft.homework.get().due_on) == "2027-01-15"


def test_saved_homework_survives_another_save_and_goes_when_removed(cast, draft, as_user):
    browser, address = as_user(cast.carl), reverse("lanes:report_edit", args=[draft.pk])
    browser.post(address, draft_post(draft, **{"homework-0-text": "Corner pins"}))
    draft.refresh_from_db()
    lines = {"homework-TOTAL_FORMS": "2", "homework-1-text": "", "homework-0-text": "Corner pins"}
    browser.post(address, draft_post(draft, **lines))
    assert [h.text for h in draft.homework.all()] == ["Corner pins"]
    draft.refresh_from_db()
    browser.post(address, draft_post(draft, **lines, **{"homework-0-DELETE": "on"}))
    assert not draft.homework.exists()


def test_a_mistake_in_the_form_saves_nothing_and_keeps_every_word(cast, draft, as_user):
    before = draft.headline
    answer = as_user(cast.carl).post(
        reverse("lanes:report_edit", args=[draft.pk]),
        draft_post(
            draft,
            headline="",
            coach_words="A long kind letter",
            **{"homework-0-text": "Corner pins", "homework-0-due_on": "someday"},
        ),
    )
    page = text_of(answer)
    assert answer.status_code == 400
    assert "A long kind letter" in page
    assert "Corner pins" in page
    assert "Enter a valid date" in page
    assert Report.objects.get().headline == before


def test_the_arrow_buttons_move_an_option_and_keep_what_was_typed(cast, draft, as_user):
    move, stay, ball = draft.suggestions.all()
    answer = as_user(cast.carl).post(
        reverse("lanes:report_edit", args=[draft.pk]),
        draft_post(
            draft,
            coach_words="Not saved yet",
            keep=[move.pk],
            move=f"up:{ball.pk}",
            **{"homework-0-text": "Corner pins"},
        ),
    )
    page = text_of(answer)
    assert answer.status_code == 200
    order = [page.index(f'name="order" value="{s.pk}"') for s in (move, ball, stay)]
    assert order == sorted(order)
    assert "Not saved yet" in page
    assert "Corner pins" in page
    assert page.count(" checked>") == 1
    assert Report.objects.get().coach_words == ""


@pytest.mark.parametrize("count", ["", "x", "1e9", "9" * 5000, "-3"])
def test_a_form_that_counts_its_lines_wrongly_is_shown_again(cast, draft, as_user, count):
    form = draft_post(draft, add_homework="1", **{"homework-TOTAL_FORMS": count})
    answer = as_user(cast.carl).post(f"/reports/{draft.pk}/edit/", form)
    assert answer.status_code == 200


def test_a_homework_line_is_added_without_saving(cast, draft, as_user):
    answer = as_user(cast.carl).post(
        reverse("lanes:report_edit", args=[draft.pk]),
        draft_post(draft, add_homework="1", **{"homework-0-text": "Corner pins"}),
    )
    page = text_of(answer)
    assert 'name="homework-TOTAL_FORMS" value="2"' in page
    assert 'value="Corner pins"' in page
    assert not draft.homework.exists()


def test_two_coaches_at_one_draft_do_not_overwrite_each_other(cast, draft, as_user):
    address = reverse("lanes:report_edit", args=[draft.pk])
    first, second = as_user(cast.carl), as_user(cast.olive)
    opened = draft_post(draft)
    first.post(address, {**opened, "coach_words": "Carl's"})
    answer = second.post(address, {**opened, "coach_words": "Olive's"})
    page = text_of(answer)
    assert answer.status_code == 409
    assert "Olive&#x27;s" in page
    assert Report.objects.get().coach_words == "Carl's"
    # Saving what is shown now is a decision, and works.
    again = {**opened, "coach_words": "Olive's", "opened_at": answer.context["forms"].opened_at}
    assert second.post(address, again).status_code == 302
    assert Report.objects.get().coach_words == "Olive's"


def test_a_second_tap_on_save_is_no_quarrel(cast, draft, as_user):
    browser, address = as_user(cast.carl), reverse("lanes:report_edit", args=[draft.pk])
    post = draft_post(draft, coach_words="Once", **{"homework-0-text": "Corner pins"})
    assert [browser.post(address, post).status_code for _ in "ab"] == [302, 302]
    assert draft.homework.count() == 1


def test_a_new_reading_while_the_form_is_open_keeps_words_and_new_options(cast, draft, as_user):
    opened = draft_post(draft, coach_words="Mine")
    reports.draft_from(make_reading(cast.session, seed=2))
    answer = as_user(cast.carl).post(reverse("lanes:report_edit", args=[draft.pk]), opened)
    page = text_of(answer)
    assert answer.status_code == 409
    assert "Mine" in page
    assert page.count('name="keep"') == page.count(" checked>") == 3


def test_a_form_without_its_time_is_not_taken_for_the_newest(cast, draft, as_user):
    answer = as_user(cast.carl).post(
        reverse("lanes:report_edit", args=[draft.pk]),
        draft_post(draft, coach_words="Mine", opened_at="yesterday"),
    )
    assert answer.status_code == 409
    assert Report.objects.get().coach_words == ""


def test_a_sent_report_has_no_form(cast, sent, as_user):
    browser, address = as_user(cast.carl), reverse("lanes:report_edit", args=[sent.pk])
    assert browser.get(address).status_code == 302
    browser.post(address, draft_post(sent, headline="Changed"))
    assert Report.objects.get().headline == sent.headline
