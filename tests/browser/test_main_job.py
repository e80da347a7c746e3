"""The main job, from a shot log to the student's phone and back, with a real worker.

A coach imports a log for a client whose values and pattern are written down, the worker reads it,
the coach edits and sends the report, the student reads it on a phone, marks it as read and answers,
and the coach sees the answer.
"""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from clients.models import Job, Mail
from lanes import reports
from lanes.models import Answer, Receipt, Report
from lanes.motion import HOUSE
from lanes.patterns import import_pattern
from tests.browser.simulated_log import SHOTS, simulated_log
from tests.reports.conftest import make_reading
from tests.reports.real_worker import RealWorker, wait_until

# The worker's first reading on a fresh clone compiles the ball path.
PATIENCE_S = 180


@pytest.fixture
def worker(live_server):
    """A worker on the tests' own database; it stops before the database is emptied."""
    worker = RealWorker.on_test_database()
    worker.start(include="")
    yield worker
    worker.stop()


@pytest.fixture
def sent(transactional_db, cast):
    """Sam's report, sent."""
    return reports.send(reports.draft_from(make_reading(cast.session)), by=cast.carl)


@pytest.fixture
def lost_phone(chromium, live_server, cast, log_in):
    """Sam's phone where the network comes and goes; its complaints about that are none."""
    context = chromium.new_context(
        base_url=live_server.url, viewport={"width": 360, "height": 740}, has_touch=True
    )
    context.set_default_timeout(10_000)
    page = context.new_page()
    log_in(page, cast.sam)
    yield page
    context.close()


def test_from_the_log_to_the_phone_and_back(
    cast, worker, desk, phone, log_in, axe, shoot, tmp_path
):
    sheet, _ = import_pattern(HOUSE, by=cast.carl)
    log = tmp_path / "friday.csv"
    log.write_text(simulated_log(), encoding="utf-8")

    # The coach imports the log: a preview first, then the shots.
    log_in(desk, cast.carl)
    desk.goto("/")
    shoot(desk, "today-empty")
    desk.get_by_role("link", name="Import a log").click()
    desk.get_by_label("Client", exact=True).select_option(label="Sam")
    desk.get_by_label("Shot log").set_input_files(log)
    desk.get_by_label("Pattern").select_option(label=str(sheet))
    desk.get_by_role("button", name="Look at the file").click()
    desk.get_by_role("button", name=f"Import {SHOTS} shots").click()

    # The worker reads it; the page follows by itself.
    desk.get_by_role("button", name="Read the session").click()
    expect(desk.get_by_role("heading", name="Reading the session")).to_be_visible()
    expect(desk.get_by_role("heading", name="Transition report")).to_be_visible(
        timeout=PATIENCE_S * 1000
    )
    job = Job.objects.get()
    assert (job.state, job.attempts) == ("done", 1)
    expect(desk.get_by_role("heading", name=re.compile("The lane changed"))).to_be_visible()
    expect(desk.locator(".chart .main-svg .gtitle").first).to_have_text("Arrows")
    axe(desk)
    shoot(desk, "report")

    # Nothing has reached the student.
    log_in(phone, cast.sam)
    phone.goto("/portal/")
    expect(phone.get_by_text("Nothing here yet")).to_be_visible()

    # The coach edits with the keyboard, leaves an option out, sets homework and sends.
    desk.get_by_role("link", name="Edit").click()
    desk.get_by_label("One to change").fill("Two boards left with your feet when it comes in high.")
    first = desk.locator(".option-order strong").first.inner_text()
    down = desk.get_by_role("button", name=f"Move down: {first}")
    down.focus()
    desk.keyboard.press("Enter")
    expect(desk.locator(".option-order strong").nth(1)).to_have_text(first)
    expect(desk.get_by_label("One to change")).to_have_value(re.compile("^Two boards left"))
    expect(down).to_be_focused()
    desk.locator(".option-order input[type=checkbox]").last.uncheck()
    desk.get_by_label("What to do").fill("20 balls over the third arrow")
    axe(desk)
    shoot(desk, "report-edit")
    desk.get_by_role("button", name="Save and send…").click()
    expect(desk.get_by_text("As Sam will see it")).to_be_visible()
    axe(desk)
    desk.get_by_role("button", name="Send", exact=True).click()
    expect(desk.get_by_text("The report is frozen now")).to_be_visible()
    report = Report.objects.get()
    assert report.is_sent
    assert [s.dropped for s in report.suggestions.all()].count(True) == 1
    assert {mail.to for mail in Mail.objects.all()} == {cast.sam}

    # The student reads it on the phone, marks it, ticks the homework and answers.
    phone.reload()
    shoot(phone, "portal")
    phone.get_by_role("link", name=report.headline).click()
    expect(phone.get_by_text("Two boards left with your feet")).to_be_visible()
    expect(phone.get_by_role("img", name="The lane from above")).to_be_visible()
    expect(phone.get_by_text("Drops the shoulder")).to_have_count(0)
    axe(phone)
    shoot(phone, "student")
    phone.get_by_role("button", name="I have read it").click()
    expect(phone.get_by_text("You have read this.")).to_be_visible()
    phone.get_by_role("button", name=re.compile("20 balls over the third arrow")).click()
    expect(phone.get_by_role("button", pressed=True)).to_be_visible()
    phone.get_by_label("How did it go?").fill("Thank you, I try that on Friday.")
    phone.get_by_role("button", name="Send").click()
    expect(phone.locator("blockquote")).to_contain_text("Thank you, I try that on Friday.")
    expect(phone.get_by_label("How did it go?")).to_have_value("")
    shoot(phone, "student-answered")
    assert Receipt.objects.get().user == cast.sam
    assert Answer.objects.get().author == cast.sam

    # The coach sees it.
    desk.goto("/")
    expect(desk.get_by_text("Thank you, I try that on Friday.")).to_be_visible()
    axe(desk)
    shoot(desk, "today")
    desk.get_by_role("link", name="Sam", exact=True).click()
    expect(desk.get_by_text("1 new")).to_be_visible()
    desk.get_by_role("button", name="Mark as seen").click()
    expect(desk.locator("blockquote")).to_contain_text("Thank you")
    expect(desk.get_by_text("1 new")).to_have_count(0)


def test_an_answer_survives_a_dead_network_a_reload_and_a_second_tap(sent, lost_phone):
    phone = lost_phone
    phone.goto(f"/portal/{sent.pk}/")
    words = phone.get_by_label("How did it go?")
    words.fill("Written in the basement")
    phone.context.set_offline(True)
    phone.get_by_role("button", name="Send").click()
    expect(phone.get_by_text("No network.")).to_be_visible()
    phone.context.set_offline(False)
    wait_until(lambda: Answer.objects.exists(), 10, "the answer sent by itself")
    expect(phone.locator("blockquote")).to_contain_text("Written in the basement")
    expect(words).to_have_value("")

    # A draft that was never sent is there again after the phone restarted.
    words.fill("Second thoughts")
    phone.reload()
    expect(words).to_have_value("Second thoughts")
    expect(phone.get_by_text("they are not sent yet")).to_be_visible()
    phone.get_by_role("button", name="Send").dblclick()
    expect(phone.locator("blockquote")).to_have_count(2)
    assert Answer.objects.count() == 2


def test_an_answer_that_cannot_be_kept_comes_back_with_its_words(cast, sent, phone, log_in):
    log_in(phone, cast.sam)
    page = f"/portal/{sent.pk}/"
    phone.goto(page)
    words = phone.get_by_label("How did it go?")
    phone.get_by_role("button", name="Send").click()
    expect(words).to_be_focused()  # the browser itself asks for words
    words.fill("   ")
    phone.get_by_role("button", name="Send").click()
    expect(phone.get_by_role("alert")).to_have_text("Write a few words first.")
    expect(phone.get_by_role("alert")).to_be_in_viewport()
    words.fill("Now with words,\nand two  lines")
    phone.get_by_role("button", name="Send").click()
    expect(phone.locator("blockquote")).to_contain_text("Now with words")
    expect(phone.get_by_role("alert")).to_have_count(0)
    expect(words).to_have_value("")
    assert phone.url.split("#")[0].endswith(page), "a reload there sends no form again"
