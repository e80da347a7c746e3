"""Sessions at a desk and on a phone: the table by keyboard, the import's preview, every page."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from lanes import shots
from lanes.models import Shot

pytestmark = pytest.mark.django_db(transaction=True)

LOG = """shot,game,frame,delivery,ball,arrows,head_pin,leave,neighbour_pin,throw,weather
1,1,1,1,A,12.5,17.5,X,,good,dry
2,1,2,1,A,13,16,10,flat,good,
3,1,2,2,A,,,/,,,
4,1,3,1,B,12,55,3-6-10,,off,
5,1,3,1,B,twelve,18,11,,,
6,1,4,1,A,12,17,/,,,
"""


def log_game(cast) -> None:
    """Three frames and a bit: a strike, a flat ten and its spare, a split left open."""
    for frame, delivery, leave, more in (
        (1, 1, "X", {"arrows": 12.5, "head_pin": 17.5, "throw": "good"}),
        (2, 1, "10", {"arrows": 12, "head_pin": 16, "neighbour_pin": "flat", "throw": "good"}),
        (2, 2, "/", {}),
        (3, 1, "4-6-7-10", {"arrows": 13.5, "head_pin": 19.5, "throw": "off", "miss": "in"}),
        (3, 2, "4-7", {"note": "went for two"}),
        (4, 1, "X", {"arrows": 12.5, "head_pin": 17}),
    ):
        values = {"game": 1, "frame": frame, "delivery": delivery, "leave": leave, "ball": "A"}
        shots.log_shot(session=cast.session, by=cast.carl, values={**values, **more})


@pytest.fixture(params=["phone", "desk"])
def page(request) -> Page:
    return request.getfixturevalue(request.param)


def test_the_pages_read_well_on_phone_and_desk(page, log_in, cast, axe, shoot):
    log_in(page, cast.carl)
    log_game(cast)
    session = f"/sessions/{cast.session.pk}/"
    client = cast.sam_client.pk
    for name, address in (
        ("sessions", "/sessions/"),
        ("sessions-empty", f"/sessions/?client={cast.wendy_client.pk}"),
        ("start-client", "/sessions/start/"),
        ("start-block", f"/sessions/start/?client={client}"),
        ("start-balls", f"/sessions/start/?client={client}&block=new"),
        ("start-new-block", f"/sessions/start/?client={client}&block=new&fresh=1"),
        ("session", session),
        ("session-edit", f"{session}edit/"),
        ("session-table", f"{session}table/"),
        ("session-log", f"{session}log/"),
        ("import", f"{session}import/"),
        ("import-new", f"/sessions/import/?client={client}"),
    ):
        page.goto(address)
        axe(page)
        shoot(page, name)
        page.emulate_media(color_scheme="dark")
        axe(page)
        shoot(page, f"{name}-dark")
        page.emulate_media(color_scheme="light")


def test_a_log_file_is_looked_at_and_its_good_rows_taken(page, log_in, cast, axe, shoot):
    log_in(page, cast.carl)
    shots.log_shot(session=cast.session, by=cast.carl, values={"shot": 1, "arrows": 14})
    page.goto(f"/sessions/{cast.session.pk}/import/")
    page.set_input_files(
        "#id_file", {"name": "night.csv", "mimeType": "text/csv", "buffer": LOG.encode()}
    )
    page.get_by_role("button", name="Look at the file").click()
    expect(page.get_by_role("heading", name="Look at the file before it counts")).to_be_visible()
    axe(page)
    shoot(page, "import-preview")
    page.get_by_role("button", name="Import the 4 good rows").click()
    expect(page.get_by_role("status")).to_contain_text("3 shots imported")
    assert [shot.shot for shot in shots.logged_shots(cast.session)] == [1, 2, 3, 6]


def test_a_session_is_started_in_three_taps(phone, log_in, cast):
    log_in(phone, cast.carl)
    phone.goto("/sessions/start/")
    phone.get_by_role("link", name="Sam").tap()
    phone.get_by_role("link", name="As last time").tap()
    phone.get_by_role("button", name="Start").tap()
    phone.wait_for_url("**/log/")
    assert cast.sam_client.sessions.count() == 2


def cell(page: Page, name: str):
    return page.get_by_role("textbox", name=name, exact=True)


def test_the_table_is_filled_and_mended_by_keyboard(desk, log_in, cast, axe, shoot):
    page = desk
    log_in(page, cast.carl)
    shots.log_shot(session=cast.session, by=cast.carl, values={"arrows": 12, "leave": "X"})
    page.goto(f"/sessions/{cast.session.pk}/table/")
    expect(cell(page, "New shot, Arrows")).to_be_focused()  # the cursor waits for the next shot
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ControlOrMeta+a")
    page.keyboard.type("12,5")
    page.keyboard.press("ArrowDown")  # leaves the row, so it is saved
    expect(page.locator("#status")).to_have_text("Shot 1 saved.")
    expect(cell(page, "Shot 1, Arrows")).to_have_value("12.5")
    expect(cell(page, "New shot, Arrows")).to_be_focused()

    page.keyboard.type("13")
    page.keyboard.press("Tab")
    page.keyboard.type("16")
    page.keyboard.press("Tab")
    page.keyboard.type("6-10")
    page.keyboard.press("Enter")
    expect(page.locator("#status")).to_have_text("Shot 2 saved.")
    # Enter ends the row and comes back to where Tab set out.
    expect(cell(page, "New shot, Arrows")).to_be_focused()
    axe(page)
    second = Shot.objects.get(number=2)
    assert (second.arrows, second.head_pin, second.leave) == (13, 16, "6-10")
    assert second.ball.label == "A"  # stood ready in the row, as on the phone

    # The row at the end waits for what comes next.
    expect(cell(page, "New shot, Shot")).to_have_attribute("placeholder", "3")

    cell(page, "Shot 2, Throw").focus()
    page.keyboard.type("g")  # the first letter is enough
    page.keyboard.press("ArrowUp")
    expect(cell(page, "Shot 1, Throw")).to_be_focused()
    expect(cell(page, "Shot 2, Throw")).to_have_value("good")
    page.keyboard.press("ArrowLeft")
    expect(page.locator(":focus")).to_have_accessible_name("Shot 1, Pin beside the corner")


def test_frames_go_on_by_themselves_at_the_desk(desk, log_in, cast):
    page = desk
    log_in(page, cast.carl)
    log_game(cast)
    page.goto(f"/sessions/{cast.session.pk}/table/")
    for leave in ("6", "/", "x"):
        cell(page, "New shot, Leave").focus()
        page.keyboard.type(leave)
        page.keyboard.press("ArrowDown")
    expect(page.locator("#status")).to_have_text("Shot 9 saved.")
    places = [(s.frame, s.delivery, s.leave) for s in shots.logged_shots(cast.session)[6:]]
    assert places == [(5, 1, "6"), (5, 2, "/"), (6, 1, "X")]
    expect(cell(page, "New shot, Frame")).to_have_value("7")


@pytest.fixture
def lenient(chromium, live_server, log_in, cast) -> Page:
    """A desk whose page may see refusals of the API without failing for them."""
    context = chromium.new_context(
        base_url=live_server.url, viewport={"width": 1280, "height": 900}
    )
    context.set_default_timeout(8000)
    page = context.new_page()
    log_in(page, cast.carl)
    yield page
    context.close()


def test_what_cannot_be_is_told_at_its_cell_and_mended_there(lenient, cast, axe, shoot):
    page = lenient
    page.goto(f"/sessions/{cast.session.pk}/table/")
    cell(page, "New shot, Arrows").first.focus()
    page.keyboard.type("55")
    page.keyboard.press("ArrowDown")
    wrong = cell(page, "Shot 1, Arrows")
    expect(wrong).to_have_attribute("aria-invalid", "true")
    expect(wrong).to_have_accessible_description(
        "board 55 is out of range; expected a board from 0 to 40, such as 17.5"
    )
    axe(page)
    shoot(page, "table-wrong")
    assert not Shot.objects.exists()
    wrong.fill("15,5")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#status")).to_have_text("Shot 1 saved.")
    expect(wrong).not_to_have_attribute("aria-invalid", "true")
    assert Shot.objects.get().arrows == 15.5


def test_a_row_is_deleted_and_a_stale_one_refreshed(lenient, cast):
    page = lenient
    for _ in range(2):
        shots.log_shot(session=cast.session, by=cast.carl, values={"arrows": 12})
    page.goto(f"/sessions/{cast.session.pk}/table/")
    page.get_by_role("button", name="Delete shot 1").click()
    expect(page.locator("#status")).to_contain_text("Shot 1 is deleted.")
    second = Shot.objects.get(number=2)
    shots.change_shot(shot=second, by=cast.carl, version=1, values={"arrows": 14})
    cell(page, "Shot 2, Arrows").fill("13")
    page.keyboard.press("ArrowDown")
    expect(page.locator("#status")).to_contain_text("changed somewhere else")
    expect(cell(page, "Shot 2, Arrows")).to_have_value("14")
    assert [shot.shot for shot in shots.logged_shots(cast.session)] == [2]
