"""Logging in by e-mail or user name, staying out, being put out."""

from __future__ import annotations

import pytest
from django.test import Client as Browser

from clients.models import AuditEntry, User
from tests.conftest import PASSWORD


def log_in(name: str, password: str = PASSWORD, path: str = "/login/", browser=None):
    return (browser or Browser()).post(path, {"username": name, "password": password})


@pytest.fixture
def ward(db) -> User:
    return User.objects.create_user(name="Wil", username="wil.b", password=PASSWORD)


@pytest.mark.parametrize("name", ["sam@example.org", "SAM@Example.ORG", " sam@example.org "])
def test_log_in_by_email_whatever_its_case(cast, name: str) -> None:
    response = log_in(name)
    assert response.status_code == 302
    assert response["Location"] == "/"


@pytest.mark.parametrize("name", ["wil.b", "WIL.B"])
def test_log_in_by_user_name(ward, name: str) -> None:
    assert log_in(name).status_code == 302


def test_the_form_names_its_fields_and_keeps_no_password(cast) -> None:
    response = log_in("sam@example.org", "wrong")
    page = response.content.decode()
    assert "E-mail or user name" in page
    assert "do not fit together" in page
    assert 'value="sam@example.org"' in page
    assert "wrong" not in page


def test_a_wrong_name_and_a_wrong_password_read_the_same(cast) -> None:
    pages = [
        log_in(name, "wrong").content.decode() for name in ("sam@example.org", "no@example.org")
    ]
    assert all("do not fit together" in page for page in pages)


def test_a_closed_account_cannot_log_in_and_is_out_at_once(cast, as_user) -> None:
    browser = as_user(cast.sam)
    assert browser.get("/account/").status_code == 200
    User.objects.filter(pk=cast.sam.pk).update(is_active=False)
    assert browser.get("/account/").status_code == 302
    assert log_in("sam@example.org").status_code == 200


@pytest.mark.parametrize(
    ("wanted", "got"),
    [
        ("/account/", "/account/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/account/", "/"),
        ("javascript:alert(1)", "/"),
    ],
)
def test_the_log_in_sends_on_only_within_the_site(cast, wanted: str, got: str) -> None:
    browser = Browser()
    data = {"username": "sam@example.org", "password": PASSWORD, "next": wanted}
    assert browser.post("/login/", data)["Location"] == got


def test_logged_in_already(cast, as_user) -> None:
    browser = as_user(cast.sam)
    assert browser.get("/login/?next=/account/")["Location"] == "/account/"
    assert browser.get("/login/?next=/login/")["Location"] == "/"


def test_logging_out_takes_a_post_and_may_be_tapped_twice(cast, as_user) -> None:
    browser = as_user(cast.sam)
    assert browser.get("/logout/").status_code == 405
    for _ in range(2):
        assert browser.post("/logout/")["Location"] == "/login/"
    assert browser.get("/account/").status_code == 302


def test_ten_wrong_passwords_shut_the_name_for_this_address(cast, settings) -> None:
    """Ten tries, in any case of the letters; then the right password does not help either."""
    settings.AXES_ENABLED = True
    browser = Browser()
    for number in range(9):
        name = "sam@example.org" if number % 2 else "Sam@Example.org"
        assert log_in(name, "wrong", browser=browser).status_code == 200
    assert log_in("SAM@example.org", "wrong", browser=browser).status_code == 429
    shut = log_in("sam@example.org", browser=browser)
    assert shut.status_code == 429
    page = shut.content.decode()
    assert "Too many tries" in page
    assert "15 minutes" in page
    assert log_in("dora@example.org", browser=browser).status_code == 302, "others are not shut out"


def test_behind_the_proxy_one_guesser_does_not_shut_others_out(cast, settings) -> None:
    """The proxy writes the last address; what a guesser writes before it changes nothing."""
    settings.AXES_ENABLED = True
    settings.BEHIND_TLS = True
    data = {"username": "sam@example.org", "password": "wrong"}
    for number in range(10):
        guess = Browser(headers={"x-forwarded-for": f"10.0.0.{number}, 203.0.113.9"})
        response = guess.post("/login/", data)
    assert response.status_code == 429
    sam = Browser(headers={"x-forwarded-for": "198.51.100.7"})
    assert sam.post("/login/", data | {"password": PASSWORD}).status_code == 302


def test_the_right_password_forgets_the_wrong_ones(ward, settings) -> None:
    """Also for a ward, who has no e-mail."""
    settings.AXES_ENABLED = True
    for _ in range(2):
        for _ in range(9):
            assert log_in("wil.b", "wrong").status_code == 200
        assert log_in("wil.b").status_code == 302


def test_a_changed_password_puts_all_other_devices_out(cast, as_user) -> None:
    phone, desk = as_user(cast.sam), as_user(cast.sam)
    new = "a ball of 27 inches"
    response = phone.post(
        "/account/password/",
        {"old_password": PASSWORD, "new_password1": new, "new_password2": new},
    )
    assert response.status_code == 302
    assert phone.get("/account/").status_code == 200
    assert desk.get("/account/").status_code == 302
    assert log_in("sam@example.org").status_code == 200, "the old one"
    assert log_in("sam@example.org", new).status_code == 302
    assert AuditEntry.objects.filter(action="password.changed", actor=cast.sam).count() == 1


def test_a_weak_or_unequal_new_password_is_refused_at_the_field(cast, as_user) -> None:
    browser = as_user(cast.sam)
    for first, second, word in [
        ("12345678", "12345678", "entirely numeric"),
        ("a ball of 27 inches", "a ball of 28 inches", "match"),
        ("short", "short", "too short"),
    ]:
        data = {"old_password": PASSWORD, "new_password1": first, "new_password2": second}
        page = browser.post("/account/password/", data).content.decode()
        assert word in page
    cast.sam.refresh_from_db()
    assert cast.sam.check_password(PASSWORD)


def test_own_name_and_email(cast, as_user) -> None:
    browser = as_user(cast.sam)
    data = {"name": "Sam B", "email": "Sam.B@Example.org"}
    assert browser.post("/account/", data).status_code == 302
    cast.sam.refresh_from_db()
    assert (cast.sam.name, cast.sam.email) == ("Sam B", "sam.b@example.org")
    entry = AuditEntry.objects.get(action="account.changed")
    assert entry.data == {"fields": ["name", "email"]}


@pytest.mark.parametrize("email", ["DORA@example.org", "", "not an address"])
def test_an_email_that_is_taken_missing_or_wrong_is_refused(cast, as_user, email: str) -> None:
    browser = as_user(cast.sam)
    response = browser.post("/account/", {"name": "Sam", "email": email})
    assert response.status_code == 200
    assert b'aria-invalid="true"' in response.content
    cast.sam.refresh_from_db()
    assert cast.sam.email == "sam@example.org"


def test_a_ward_with_a_user_name_needs_no_email(ward, as_user) -> None:
    assert as_user(ward).post("/account/", {"name": "Wil", "email": ""}).status_code == 302


def test_a_guardian_keeps_an_email(ward, cast, as_user) -> None:
    cast.wendy_client.guardianships.create(guardian=ward)
    response = as_user(ward).post("/account/", {"name": "Wil", "email": ""})
    assert response.status_code == 200
    assert "This field is required" in response.content.decode()


@pytest.mark.parametrize(
    ("came_from", "goes_on_to"),
    [
        ("http://testserver/portal/1/", "/portal/1/"),
        ("http://elsewhere.example/portal/1/", "/"),
        ("", "/"),
    ],
)
def test_a_form_sent_after_the_log_in_ran_out_goes_on_to_its_page(
    db, came_from: str, goes_on_to: str
) -> None:
    """The address of the form itself takes no GET, and would show an empty page."""
    answer = Browser().post("/portal/1/read/", headers={"Referer": came_from})
    assert answer.status_code == 302
    assert answer.url == f"/login/?next={goes_on_to}"
