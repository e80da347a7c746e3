"""What holds for every answer of the site, and for every line of its logs."""

from __future__ import annotations

import logging

import pytest
from django.test import Client as Browser

from coachsite.logs import WithoutKeys


@pytest.mark.parametrize("path", ["/", "/people/", "/clients/", "/sessions/", "/account/"])
def test_no_cache_keeps_a_page_about_people(cast, as_user, path: str) -> None:
    assert "no-store" in as_user(cast.carl).get(path)["Cache-Control"]


def test_the_student_side_is_kept_by_no_cache_either(cast, as_user) -> None:
    assert "no-store" in as_user(cast.sam).get("/portal/")["Cache-Control"]


def test_the_shot_log_is_kept_by_the_phone_alone(cast, as_user) -> None:
    kept = as_user(cast.carl).get(f"/sessions/{cast.session.pk}/log/")["Cache-Control"]
    assert "private" in kept
    assert "no-store" not in kept


@pytest.mark.parametrize("path", ["/clients/?q=%00", "/gear/?q=a%00b", "/join/a%00b/"])
def test_a_nul_in_an_address_is_a_bad_request(cast, as_user, path: str) -> None:
    assert as_user(cast.carl).get(path).status_code == 400


@pytest.mark.parametrize("path", ["/no/such/page/", "/clients/?q=%00", "/login/", "/healthz"])
def test_the_content_policy_stands_on_errors_too(db, path: str) -> None:
    assert "script-src 'self'" in Browser().get(path)["Content-Security-Policy"]


@pytest.mark.parametrize(
    ("line", "kept"),
    [
        ("Bad Request: /join/aB3-_x9/", "Bad Request: /join/…"),
        ("<WSGIRequest: POST '/password/MQ/c1-22aa/'>", "<WSGIRequest: POST '/password/…'>"),
        ("Not Found: /sessions/1/", "Not Found: /sessions/1/"),
    ],
)
def test_no_key_that_opens_an_account_gets_into_a_log(line: str, kept: str) -> None:
    verb, _, path = line.rpartition(" ")
    record = logging.LogRecord("django.request", 30, "", 1, verb + " %s", (path,), None)
    assert WithoutKeys().filter(record)
    assert record.getMessage() == kept


def test_the_console_leaves_keys_out(settings) -> None:
    assert settings.LOGGING["handlers"]["console"]["filters"] == ["without_keys"]
