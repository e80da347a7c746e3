"""The pages of report, portal and Today, as each person sees them."""

from __future__ import annotations

import html
import re
import uuid
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clients import jobs
from clients.models import Job
from lanes import reports
from lanes.models import Answer, Receipt, Report, Session, Shot
from lanes.report_page import charts
from tests.reports.conftest import make_reading
from tests.reports.sample_reading import sample_reading

PRIVATE = ["Drops the shoulder.", "Seemed tired after work.", "typed by mistake"]


@pytest.fixture(autouse=True)
def no_broker(monkeypatch):
    monkeypatch.setattr(jobs, "nudge", lambda job: None)


def text_of(response) -> str:
    return response.content.decode()


def draft_post(report, **changes):
    suggestions = list(report.suggestions.all())
    data = {
        "opened_at": report.edited_at.isoformat(),
        **{field: getattr(report, field) for field in reports.WORDS},
        "order": [s.pk for s in suggestions],
        "keep": [s.pk for s in suggestions],
        "homework-TOTAL_FORMS": "1",
        "homework-INITIAL_FORMS": "0",
        "homework-0-text": "",
        "homework-0-amount": "",
        "homework-0-due_on": "",
    }
    return {**data, **changes}


# Reading


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


# The coach's report


def test_the_report_leads_with_the_decision_and_says_its_limits(cast, draft, as_user):
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[draft.pk])))
    order = [
        "The lane changed: it hooks earlier from shot 15",
        "Feet 2 left, eyes 1 left",
        "The lane from above",
        "Stay with ball A on the same line",
        "Trends on good throws",
        "What this rests on",
    ]
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    for words in (
        "46 to 68 %",
        "provisional",
        "an ordinary house pattern is assumed",
        "rev rate",
        "Deck exit on more shots",
        "reading version 1",
        "7 ×",
        "5.1 <span",
        "as good as the best",
        "(93 % sure)",
        "0.90 to 1.20 times",
    ):
        assert words in page, words


def test_the_picture_has_paths_and_marks_and_says_them_in_words(draft):
    from lanes.report_page import lane_picture

    picture = lane_picture(sample_reading(), list(draft.suggestions.all()))
    assert [line.label for line in picture.lines] == [
        "first shots",
        "last shots",
        "suggested: Feet 2 left, eyes 1 left",
    ]
    assert len({line.dash for line in picture.lines}) == 3  # told apart without colour
    assert len(picture.marks) == 21 * 5  # good throws at five check-points
    assert "first shots: from board 24.0 at the foul line" in picture.description
    without = lane_picture(sample_reading(), [])
    assert [line.label for line in without.lines] == ["first shots", "last shots"]


def test_the_trend_line_is_the_readings_slope_through_the_good_throws():
    from lanes.report_page import charts

    by_name = {chart["name"]: chart for chart in charts(sample_reading())}
    assert list(by_name) == [
        "arrows",
        "breakpoint",
        "breakpoint_ft",
        "head_pin",
        "entry_angle",
        "deck_exit",
    ]
    head_pin = by_name["head_pin"]
    (x0, x1), (y0, y1) = head_pin["trend"]["x"], head_pin["trend"]["y"]
    assert (y1 - y0) / (x1 - x0) * 10 == pytest.approx(0.8, abs=0.01)
    assert head_pin["trend"]["low"][2] < y1 < head_pin["trend"]["high"][2]
    assert [one["label"] for one in head_pin["series"]] == ["ball A", "ball A, missed throw"]
    assert head_pin["zone"] == [16.5, 18.5]
    assert head_pin["changes"][0]["shot"] == 15


def test_a_reading_that_could_not_tell_still_makes_a_page(cast, as_user):
    bare = {
        **sample_reading(),
        "paths": [],
        "options": [],
        "leaves": [],
        "transition": {
            "changes": [],
            "throw_changes": [],
            "drift": {},
            "by": [],
            "words": "Too few shots to tell.",
        },
        "verdict": {"kind": "unknown", "headline": "The data cannot tell yet", "why": "Few shots."},
        "counts": {**sample_reading()["counts"], "pocket": None, "spares_tried": 0},
    }
    for shot in bare["shots"]:
        shot["seen"] = dict.fromkeys(shot["seen"])
        shot |= {"entry_angle_deg": None, "deflection_boards": None, "hit": None, "cause": None}
    reading = make_reading(cast.session, **bare)
    report = reports.draft_from(reading)
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[report.pk])))
    assert "The data cannot tell yet" in page
    assert "Too few boards were seen" in page
    assert "No option could be weighed" in page
    assert "charts-data" not in page


def test_each_change_of_the_lane_is_told_once_and_never_as_certain(cast, as_user):
    sample = sample_reading()
    change = sample["transition"]["changes"][0] | {"p": 0.999}
    transition = sample["transition"] | {"changes": [change], "words": change["words"]}
    reading = make_reading(cast.session, **{**sample, "transition": transition})
    report = reports.draft_from(reading)
    page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[report.pk])))
    assert page.count(change["words"]) == 1
    assert "(over 99 % sure)" in page
    label = f"shot {change['shot']}: mid-lane, over 99 %"
    assert [one["words"] for one in charts(reading.data)[0]["changes"]] == [label]


def test_the_lane_stands_in_the_rows_only_where_it_was_noted(cast, as_user):
    column = '<th scope="col">Lane</th>'
    for lane, shown in ((None, 0), (7, 1)):
        sample = sample_reading()
        sample["shots"] = [shot | {"lane": lane} for shot in sample["shots"]]
        report = reports.draft_from(make_reading(cast.session, **sample))
        page = text_of(as_user(cast.carl).get(reverse("lanes:report", args=[report.pk])))
        assert page.count(column) == shown
        assert page.count("one by one") == 1


def test_surface_work_comes_with_its_cautions(cast, draft, as_user):
    address = reverse("lanes:report", args=[draft.pk])
    assert "eye and breathing protection" not in text_of(as_user(cast.carl).get(address))
    draft.suggestions.filter(kind="ball").update(kind="surface")
    assert "eye and breathing protection" in text_of(as_user(cast.carl).get(address))


def test_the_report_costs_the_same_queries_for_any_number_of_shots(
    cast, sent, as_user, django_assert_max_num_queries
):
    browser = as_user(cast.carl)
    for _ in range(5):
        reports.answer(sent, by=cast.sam, key=uuid.uuid4(), text="Hello")
    # session, user, grants x2, report, suggestions, versions, homework, answers, receipts x2,
    # people around x2
    with django_assert_max_num_queries(16):
        browser.get(reverse("lanes:report", args=[sent.pk]))


# Editing


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


def test_an_answer_with_a_nul_is_kept_without_it(cast, sent, as_user):
    """PostgreSQL keeps no NUL in a text."""
    as_user(cast.sam).post(f"/portal/{sent.pk}/answer/", {"text": "Will\0 do."})
    assert Answer.objects.get().text == "Will do."


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


# Sending


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


# The portal


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
    for words in ("2 boards in at the arrows", "charts-data", "verdict", "provisional"):
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
    from tests.conftest import _session

    for _ in range(6):
        session = _session(cast.block, cast.sam_client, cast.carl)
        reports.send(reports.draft_from(make_reading(session)), by=cast.carl)
    browser = as_user(cast.sam)
    # session, user, grants x2, reports, receipts, homework, wards
    with django_assert_max_num_queries(9):
        browser.get(reverse("portal"))


# Today


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
    from tests.conftest import _session

    for n in range(6):
        session = _session(cast.block, cast.sam_client, cast.carl)
        report = reports.send(reports.draft_from(make_reading(session)), by=cast.carl)
        reports.answer(report, by=cast.sam, key=uuid.uuid4(), text=f"Answer {n}")
        reports.revise(report, by=cast.carl)
        waiting = _session(cast.block, cast.sam_client, cast.carl)
        Shot.objects.create(session=waiting, number=1)
        read = _session(cast.block, cast.sam_client, cast.carl)
        jobs.enqueue("read_session", read.pk, by=cast.carl)
    cast.block.starts_at = timezone.now() - timedelta(days=1)
    cast.block.save()
    browser = as_user(cast.olive)
    # session, user, grants x2, receipts, answers, drafts, jobs, their sessions, sessions without a
    # report, worker, balls
    with django_assert_max_num_queries(14):
        browser.get(reverse("today"))
