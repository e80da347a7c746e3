"""Log-in, people, invitation with QR code, joining, consents: on a phone and at a desk."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from clients import invitations
from clients.models import Client, Consent, Role, User
from tests.conftest import PASSWORD


@pytest.fixture
def page(request: pytest.FixtureRequest) -> Page:
    """Return the page that the test's `size` names."""
    return request.getfixturevalue(request.getfixturevalue("size"))


both_sizes = pytest.mark.parametrize("size", ["phone", "desk"])


@both_sizes
def test_log_in_by_keyboard(page, size, cast, axe, shoot) -> None:
    page.goto("/account/")
    axe(page)
    shoot(page, "login")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    field = page.get_by_label("E-mail or user name")
    while not field.evaluate("field => field === document.activeElement"):
        page.keyboard.press("Tab")
    page.keyboard.type("sam@example.org")
    page.keyboard.press("Tab")
    page.keyboard.type("wrong")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("do not fit together")
    axe(page)
    shoot(page, "login-wrong")
    page.get_by_label("Password").fill(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Your account")).to_be_visible()
    axe(page)
    shoot(page, "account")
    page.get_by_role("link", name="Change the password").click()
    expect(page.get_by_role("heading", name="Change the password")).to_be_visible()
    axe(page)
    shoot(page, "change-password")


@both_sizes
def test_from_invitation_to_account_and_consent(page, size, cast, log_in, axe, shoot) -> None:
    """A coach invites a guardian and shows the code; the guardian joins and agrees."""
    ward = Client.objects.create(name="Max Bergmann", coach=cast.carl, is_minor=True)
    _, minors_token = invitations.invite(
        by=cast.carl, name="Max Bergmann", role=Role.STUDENT, client=ward
    )
    log_in(page, cast.carl)
    page.goto("/people/")
    axe(page)
    shoot(page, "people")
    page.goto(f"/people/invite/?client={ward.pk}&role=guardian")
    expect(page.get_by_role("radio", name="guardian")).to_be_checked()
    page.get_by_label("Name").fill("Gus Bergmann")
    axe(page)
    shoot(page, "invite")
    page.get_by_role("button", name="Make the link").click()
    expect(page.get_by_role("img", name="QR code")).to_be_visible()
    link = page.get_by_role("textbox", name="Link").input_value()
    page.get_by_role("button", name="Copy the link").click()
    expect(page.get_by_role("status").last).not_to_be_empty()
    axe(page)
    shoot(page, "invitation")
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Copy the link")).to_be_hidden()
    expect(page.get_by_role("img", name="QR code")).to_be_visible()
    shoot(page, "invitation-printed")
    page.emulate_media(media="screen")

    page.context.clear_cookies()
    page.goto(f"/join/{minors_token}/")
    expect(page.get_by_role("heading", name="A guardian goes first")).to_be_visible()
    axe(page)
    shoot(page, "join-waiting")

    path = "/join/" + link.split("/join/")[1]
    page.goto(path)
    axe(page)
    shoot(page, "join-guardian")
    page.get_by_label("E-mail").fill("gus@example.org")
    page.get_by_label("Choose a password").fill("the seventh arrow")
    page.get_by_label("The same password again").fill("the seventh arrow")
    page.get_by_role("button", name="Open the account").click()
    expect(page.get_by_role("heading", name="Consents for Max Bergmann")).to_be_visible()
    axe(page)
    shoot(page, "consents")
    page.get_by_label("I have read this and agree.").first.check()
    page.get_by_role("button", name="Agree").first.click()
    expect(page.get_by_text("Recorded.")).to_be_visible()
    axe(page)
    shoot(page, "consents-agreed")
    assert Consent.objects.filter(guardianship__client=ward, kind="account").count() == 1

    page.goto(path)
    expect(page.get_by_role("heading", name="Consents for Max Bergmann")).to_be_visible()

    page.context.clear_cookies()
    page.goto(f"/join/{minors_token}/")
    shoot(page, "join-student")
    page.get_by_label("User name").fill("max.b")
    page.get_by_label("Choose a password").fill("the seventh arrow")
    page.get_by_label("The same password again").fill("12345")
    page.get_by_role("button", name="Open the account").click()
    expect(page.get_by_role("alert").first).to_contain_text("Nothing is saved yet")
    axe(page)
    shoot(page, "join-student-wrong")
    assert not User.objects.filter(username="max.b").exists()
    page.goto(path)
    expect(page.get_by_role("heading", name="This link is closed")).to_be_visible()
    axe(page)
    shoot(page, "link-closed")


@both_sizes
def test_one_person_for_the_owner(page, size, cast, log_in, axe, shoot) -> None:
    log_in(page, cast.olive)
    page.goto("/people/")
    axe(page)
    shoot(page, "people-owner")
    page.get_by_role("link", name="Wendy", exact=True).click()
    expect(page.get_by_role("heading", name="Wendy")).to_be_visible()
    axe(page)
    page.get_by_role("button", name="Make a link for a new password").click()
    expect(page.get_by_role("img", name="QR code")).to_be_visible()
    axe(page)
    shoot(page, "person")
    page.goto("/no/such/page/")
    expect(page.get_by_role("heading", name="There is no such page")).to_be_visible()
    axe(page)
    shoot(page, "404")
    page.goto(f"/wards/{cast.guardianship.pk}/")
    axe(page)
    shoot(page, "consents-coach")
    page.goto(f"/clients/{cast.wendy_client.pk}/")
    expect(page.get_by_role("heading", name="Account and guardians")).to_be_visible()
    axe(page)
    shoot(page, "client-account")


def test_the_dark_theme_is_readable(desk, cast, log_in, axe, shoot) -> None:
    desk.emulate_media(color_scheme="dark")
    log_in(desk, cast.olive)
    invitation, _ = invitations.invite(by=cast.olive, name="Pat", role=Role.OPERATOR)
    for path in ("/people/", f"/people/{cast.otto.pk}/", f"/people/invite/{invitation.pk}/"):
        desk.goto(path)
        axe(desk)
    desk.get_by_role("button", name="Make a new link").click()
    expect(desk.get_by_role("img", name="QR code")).to_be_visible()
    axe(desk)
    shoot(desk, "invitation-dark")
