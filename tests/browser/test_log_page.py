"""The shot log on a phone with touch: seconds a shot, the rules of the game, no network."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from lanes import shots
from lanes.models import SessionBall, Shot

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def on_phone(chromium, live_server, log_in, cast):
    """A phone at Sam's shot log that may lose its network; its complaints about that are none."""
    SessionBall.objects.create(
        session=cast.session, label="S", cover="plastic", is_spare_ball=True, position=1
    )
    context = chromium.new_context(
        base_url=live_server.url,
        viewport={"width": 360, "height": 740},
        device_scale_factor=2,
        has_touch=True,
        is_mobile=True,
    )
    context.set_default_timeout(8000)
    page = context.new_page()
    log_in(page, cast.carl)
    page.goto(f"/sessions/{cast.session.pk}/log/")
    yield page
    context.close()


def tap(page: Page, name: str, exact: bool = True) -> None:
    page.get_by_role("button", name=name, exact=exact).tap()


def pins(page: Page, *standing: int) -> None:
    for pin in standing:
        tap(page, f"Pin {pin} stands")


def save(page: Page) -> None:
    page.locator("#save").tap()
    page.wait_for_timeout(750)  # a second tap within 0.7 s is taken for a double tap


def saved(page: Page, number: int) -> None:
    expect(page.locator("#status")).to_contain_text(f"Shot {number} saved")


def place(page: Page) -> str:
    return page.locator("#place-words").inner_text()


def logged(cast) -> list[shots.LoggedShot]:
    return shots.logged_shots(cast.session)


def test_a_shot_is_logged_with_a_thumb(on_phone, cast, axe, shoot):
    page = on_phone
    tap(page, "Arrows: not seen. Type a value")
    axe(page)
    for key in ("1", "2", "and a half"):
        tap(page, key)
    shoot(page, "log-pad")
    tap(page, "OK")
    tap(page, "Head pin: not seen. Type a value")
    for key in ("1", "7"):
        tap(page, key)
    tap(page, "OK")
    pins(page, 10)
    tap(page, "flat into gutter")
    tap(page, "good")
    shoot(page, "log-filled")
    axe(page)
    save(page)
    saved(page, 1)
    (shot,) = logged(cast)
    assert (shot.arrows, shot.head_pin, shot.leave) == (12.5, 17, "10")
    assert (shot.neighbour_pin, shot.throw, shot.ball, shot.lane) == ("flat", "good", "A", 7)


def test_the_last_values_stand_ready_and_count_only_when_tapped(on_phone, cast):
    page = on_phone
    shots.log_shot(session=cast.session, by=cast.carl, values={"arrows": 12, "head_pin": 17})
    page.reload()
    tap(page, "Arrows: half a board more")
    tap(page, "Strike")
    save(page)
    saved(page, 2)
    tap(page, "Arrows: same as last")
    tap(page, "Head pin: same as last")
    tap(page, "Head pin: not seen")
    save(page)
    saved(page, 3)
    _, second, third = logged(cast)
    assert (second.arrows, second.head_pin, second.leave) == (12.5, None, "X")
    assert (third.arrows, third.head_pin, third.leave) == (12.5, None, "")


def test_a_value_that_cannot_be_is_told_on_the_pad(on_phone):
    page = on_phone
    tap(page, "Arrows: not seen. Type a value")
    for key in ("5", "5"):
        tap(page, key)
    tap(page, "OK")
    expect(page.locator("#pad-error")).to_have_text("Expected a board from 0 to 40, such as 17.5.")


def test_every_target_is_big_enough_for_a_thumb(on_phone):
    """At least 44 px both ways (WCAG 2.2, success criterion 2.5.5)."""
    sizes = on_phone.evaluate(
        """[...document.querySelectorAll('#shot button')].filter((b) => b.offsetParent)
           .map((b) => [b.textContent, b.offsetWidth, b.offsetHeight])"""
    )
    assert len(sizes) > 20
    assert [size for size in sizes if min(size[1:]) < 44] == []


def test_no_name_touches_the_button_beside_it(on_phone):
    on_phone.locator("#more summary").tap()
    gaps = on_phone.evaluate(
        """[...document.querySelectorAll('.stepper')].map((row) => {
             const words = document.createRange();
             words.selectNodeContents(row.querySelector('.stepper-name'));
             const button = row.querySelector('.step').getBoundingClientRect();
             return [row.dataset.field, button.left - words.getBoundingClientRect().right];
           })"""
    )
    assert "breakpoint" in dict(gaps)
    assert [row for row in gaps if row[1] < 4] == []
    assert on_phone.evaluate(
        """[...document.querySelectorAll('.stepper')]
           .every((row) => row.scrollWidth <= row.clientWidth)"""
    )


def test_a_game_runs_through_spares_fouls_and_the_tenth_by_itself(on_phone, cast, axe, shoot):
    page = on_phone
    page.locator("#place summary").tap()
    tap(page, "score games")
    page.locator("#place summary").tap()
    assert place(page) == "game 1, frame 1, lane 7"

    tap(page, "Strike")
    save(page)
    assert place(page) == "game 1, frame 2, lane 8"  # the pair alternates

    pins(page, 3, 6, 10)
    save(page)
    assert place(page) == "game 1, frame 2, ball 2, lane 8"
    expect(page.get_by_role("button", name="Pin 7, down before")).to_be_disabled()
    expect(page.get_by_role("button", name="S", exact=True)).to_have_attribute(
        "aria-pressed", "true"
    )
    axe(page)
    tap(page, "Spare")
    shoot(page, "log-spare")
    save(page)

    tap(page, "foul")  # frame 3: after a foul the second ball stands before a full rack
    tap(page, "Strike")
    save(page)
    assert place(page) == "game 1, frame 3, ball 2, lane 7"
    expect(page.get_by_role("button", name="Pin 1 stands")).to_be_enabled()
    pins(page, 10)
    save(page)

    for _ in range(6):  # frames 4 to 9
        tap(page, "Strike")
        save(page)
    assert place(page).startswith("game 1, frame 10")
    tap(page, "Strike")
    save(page)
    assert place(page).startswith("game 1, frame 10, ball 2")
    pins(page, 7)
    save(page)
    assert place(page).startswith("game 1, frame 10, ball 3")
    expect(page.get_by_role("button", name="Pin 1, down before")).to_be_disabled()
    tap(page, "Spare")
    save(page)
    saved(page, 14)
    assert place(page).startswith("game 2, frame 1")

    # By the published rules, frame by frame: X, 7 /, F 9, six strikes, X 9 /.
    frames = [(s.frame, s.delivery, s.leave, s.foul) for s in logged(cast)]
    assert frames[:5] == [
        (1, 1, "X", False),
        (2, 1, "3-6-10", False),
        (2, 2, "/", False),
        (3, 1, "X", True),
        (3, 2, "10", False),
    ]
    page.goto(f"/sessions/{cast.session.pk}/")
    # 20 + 10 + 9 + 4 x 30 + 30 (frame 8) + 29 (frame 9) + 20
    expect(page.get_by_role("heading", name="Game 1")).to_have_text("Game 1: 238")


def test_a_double_tap_logs_one_shot(on_phone, cast):
    page = on_phone
    tap(page, "Strike")
    page.locator("#save").dblclick()
    page.locator("#save").tap()
    saved(page, 1)
    page.wait_for_timeout(300)
    assert len(logged(cast)) == 1


def test_shots_wait_for_the_network_and_nothing_is_lost(on_phone, cast, shoot):
    page = on_phone
    page.context.set_offline(True)
    for _ in range(2):
        tap(page, "Strike")
        save(page)
    expect(page.locator("#queue")).to_have_text("2 shots wait for the network.")
    shoot(page, "log-offline")
    assert logged(cast) == []
    pins(page, 4)  # a half-logged shot
    page.context.set_offline(False)
    page.reload()
    expect(page.locator("#leave-words")).to_have_text("4")
    expect(page.locator("#save")).to_have_text("Save shot 3")
    expect(page.locator("#queue")).to_be_hidden()
    save(page)
    saved(page, 3)
    assert [(s.shot, s.leave) for s in logged(cast)] == [(1, "X"), (2, "X"), (3, "4")]


def test_back_online_they_are_sent_by_themselves(on_phone, cast):
    page = on_phone
    page.context.set_offline(True)
    tap(page, "Strike")
    save(page)
    page.context.set_offline(False)
    expect(page.locator("#queue")).to_be_hidden()
    saved(page, 1)
    assert len(logged(cast)) == 1


def test_an_answer_that_was_lost_doubles_nothing(on_phone, cast):
    page = on_phone
    # The server takes the shot, but its answer never arrives.
    address = re.compile(r"/api/sessions/.*/shots")
    page.route(address, lambda route: (route.fetch(), route.abort()))
    tap(page, "Strike")
    save(page)
    expect(page.locator("#queue")).to_have_text("1 shot waits for the network.")
    assert len(logged(cast)) == 1
    page.unroute(address)
    expect(page.locator("#queue")).to_be_hidden(timeout=8000)
    assert len(logged(cast)) == 1


def test_waiting_shots_are_sent_from_the_sessions_page_too(on_phone, cast):
    page = on_phone
    page.context.set_offline(True)
    tap(page, "Strike")
    save(page)
    page.context.set_offline(False)
    page.goto("/sessions/")
    expect(page.locator("#waiting")).to_be_hidden()
    assert len(logged(cast)) == 1


def test_the_last_shot_is_taken_back_and_put_right(on_phone, cast):
    page = on_phone
    pins(page, 10)
    save(page)
    saved(page, 1)
    tap(page, "Undo")
    expect(page.locator("#leave-words")).to_have_text("10")
    pins(page, 6)
    save(page)
    saved(page, 1)
    assert [s.leave for s in logged(cast)] == ["6-10"]
    assert Shot.objects.count() == 2  # the deleted one stays for a later merge


def test_an_earlier_shot_is_changed_while_one_is_half_logged(on_phone, cast):
    page = on_phone
    tap(page, "Strike")
    save(page)
    saved(page, 1)
    pins(page, 4)
    tap(page, "Change shot 1")
    expect(page.locator("#changing")).to_be_visible()
    tap(page, "missed")
    tap(page, "in")
    page.locator("#save").tap()
    expect(page.locator("#status")).to_have_text("Shot 1 saved.")
    expect(page.locator("#leave-words")).to_have_text("4")
    expect(page.get_by_text("missed in")).to_be_visible()
    (shot,) = logged(cast)
    assert (shot.leave, shot.throw, shot.miss) == ("X", "off", "in")


def test_a_change_made_elsewhere_is_not_overwritten(on_phone, cast):
    page = on_phone
    tap(page, "Strike")
    save(page)
    saved(page, 1)
    shot = Shot.objects.get()
    shots.change_shot(shot=shot, by=cast.carl, version=1, values={"arrows": 14})
    tap(page, "Change shot 1")
    tap(page, "good")
    page.locator("#save").tap()
    expect(page.locator("#status")).to_contain_text("changed somewhere else")
    shot.refresh_from_db()
    assert (shot.arrows, shot.throw) == (14, "")


def test_a_change_whose_answer_was_lost_is_no_conflict(on_phone, cast):
    page = on_phone
    tap(page, "Strike")
    save(page)
    saved(page, 1)
    address = re.compile(r"/api/shots/")
    page.route(address, lambda route: (route.fetch(), route.abort()))
    tap(page, "Change shot 1")
    tap(page, "good")
    page.locator("#save").tap()
    expect(page.locator("#queue")).to_be_visible()
    page.unroute(address)
    expect(page.locator("#queue")).to_be_hidden(timeout=8000)
    expect(page.locator("#status")).to_have_text("Shot 1 saved.")
    shot = Shot.objects.get()
    assert (shot.version, shot.throw) == (2, "good")


def test_without_randomuuid_a_key_is_made_all_the_same(on_phone, cast):
    """Over plain http a browser has no crypto.randomUUID."""
    page = on_phone
    page.evaluate("delete Crypto.prototype.randomUUID")
    assert page.evaluate("crypto.randomUUID") is None
    tap(page, "Strike")
    save(page)
    saved(page, 1)
    assert Shot.objects.get().pk.version == 4


def test_left_handed_the_seven_is_asked_about_first(on_phone, cast):
    page = on_phone
    cast.session.hand = "left"
    cast.session.save()
    page.reload()
    pins(page, 7)
    expect(page.locator("#neighbour-words")).to_have_text("The 7 stands: how did the 4 go?")
