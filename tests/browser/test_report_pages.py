"""Today, report, form and the student's pages: accessible on phone and desk, light and dark."""

from __future__ import annotations

import uuid

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from lanes import reports
from lanes.models import Shot
from tests.conftest import make_session
from tests.reports.conftest import make_reading
from tests.reports.sample_reading import whole_reading


@pytest.fixture
def world(transactional_db, cast):
    """Sam with a sent report, answered, and its next version in draft; Wendy's session unread."""
    draft = reports.draft_from(make_reading(cast.session, **whole_reading()))
    draft = reports.save_draft(
        draft,
        by=cast.carl,
        opened_at=draft.edited_at,
        texts={field: getattr(draft, field) for field in reports.WORDS}
        | {"coach_words": "See you on Friday."},
        order=[s.pk for s in draft.suggestions.all()],
        dropped=[],
        homework=[reports.HomeworkLine("20 balls over the second arrow", "twice a week")],
    )
    cast.sent = reports.send(draft, by=cast.carl)
    reports.answer(cast.sent, by=cast.sam, key=uuid.uuid4(), text="It works better now.")
    cast.draft = reports.revise(cast.sent, by=cast.carl)
    waiting = make_session(cast.block, cast.wendy_client, cast.carl)
    Shot.objects.create(session=waiting, number=1, leave="10")
    return cast


def coach_pages(w) -> dict[str, str]:
    return {
        "today-full": reverse("today"),
        "report-sent": reverse("lanes:report", args=[w.sent.pk]),
        "report-draft": reverse("lanes:report", args=[w.draft.pk]),
        "report-form": reverse("lanes:report_edit", args=[w.draft.pk]),
        "report-send": reverse("lanes:report_send", args=[w.draft.pk]),
        "what-if": reverse("lanes:what_if", args=[w.draft.pk]),
    }


def student_pages(w) -> dict[str, str]:
    return {
        "portal-full": reverse("portal"),
        "lesson": reverse("portal_report", args=[w.sent.pk]),
    }


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("device", ["phone", "desk"])
def test_the_pages_are_accessible(world, device, scheme, request, log_in, axe, shoot):
    page = request.getfixturevalue(device)
    page.emulate_media(color_scheme=scheme)
    for user, addresses in ((world.carl, coach_pages(world)), (world.sam, student_pages(world))):
        log_in(page, user)
        for name, address in addresses.items():
            page.goto(address)
            if name.startswith("report-s") and "send" not in name:
                expect(page.locator(".chart .main-svg").first).to_be_visible()
            axe(page)
            shoot(page, f"{name}-{scheme}")


def test_a_chart_says_what_changed_to_who_cannot_see_it(world, phone, log_in):
    log_in(phone, world.carl)
    phone.goto(reverse("lanes:report", args=[world.sent.pk]))
    chart = phone.locator(".chart").nth(3)
    expect(chart).to_have_attribute(
        "aria-label",
        "Head pin by shot, in board. Marked: shot 9: throw, speed, 90 %; shot 15: mid-lane, 93 %; "
        "shot 20: ball B itself, over 99 %. The values stand in the tables.",
    )
    lines = chart.locator(".shapelayer path[style*='dasharray']")
    expect(lines).to_have_count(3)
    styles = {line.get_attribute("style") for line in lines.all()}
    assert len(styles) == 3  # each kind by a line of its own, of one colour
    frame = chart.bounding_box()
    for label in chart.locator(".annotation-text-g").all():
        box = label.bounding_box()
        assert box["x"] >= frame["x"]
        assert box["x"] + box["width"] <= frame["x"] + frame["width"]


def test_the_student_finds_the_numbers_behind_a_tap(world, phone, log_in):
    log_in(phone, world.sam)
    phone.goto(reverse("portal_report", args=[world.sent.pk]))
    part = phone.locator("section", has=phone.get_by_role("heading", name="What would have come"))
    expect(part).to_contain_text("about 5 of the next 10, and 9 of the next 20 balls")
    expect(part.get_by_text("10 first balls from shot 15 on")).to_be_hidden()
    part.get_by_text("In numbers").last.tap()
    expect(part.get_by_text("10 first balls from shot 15 on")).to_be_visible()


def test_the_charts_show_title_axes_and_legend(world, desk, log_in):
    """Without Plotly's style rules the title and the legend vanish, and it reports success."""
    log_in(desk, world.carl)
    desk.goto(reverse("lanes:report", args=[world.sent.pk]))
    chart = desk.locator(".chart").nth(3)
    for text, words in (
        (".gtitle", "Head pin"),
        (".xtitle", "shot"),
        (".ytitle", "board"),
        (".legendtext >> nth=0", "ball A, missed throw"),
    ):
        part = chart.locator(text)
        expect(part).to_have_text(words)
        expect(part).to_be_visible()
        box, frame = part.bounding_box(), chart.bounding_box()
        assert box["y"] >= frame["y"]
        assert box["y"] + box["height"] <= frame["y"] + frame["height"]
    # The plot's layers lie over each other; without the rules they stand one below the other.
    tops = {round(svg.bounding_box()["y"]) for svg in chart.locator(".main-svg").all()}
    assert len(tops) == 1


def test_the_report_reads_without_javascript(world, chromium, live_server, log_in):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = context.new_page()
    log_in(page, world.carl)
    page.goto(reverse("lanes:report", args=[world.sent.pk]))
    expect(page.get_by_role("img", name="The lane from above")).to_be_visible()
    expect(page.get_by_role("heading", name="The lane changed")).to_be_visible()
    expect(page.get_by_role("row", name="Head pin")).to_contain_text("+0.8")
    expect(page.locator("#charts")).to_be_hidden()
    context.close()


def test_words_typed_while_an_option_moves_stay(world, desk, log_in):
    """On a slow network the coach has gone on typing before the new order is back."""
    log_in(desk, world.carl)
    desk.goto(reverse("lanes:report_edit", args=[world.draft.pk]))
    first = desk.locator(".option-order strong").first.inner_text()

    def later(route) -> None:
        desk.get_by_label("Headline").fill("Typed meanwhile")
        route.continue_()

    desk.route("**/edit/", later)
    desk.get_by_role("button", name=f"Move down: {first}").click()
    expect(desk.locator(".option-order strong").nth(1)).to_have_text(first)
    expect(desk.get_by_label("Headline")).to_have_value("Typed meanwhile")
