"""What goes wrong is said in plain words, and tells nothing that it should not."""

from __future__ import annotations

import re

import pytest
from django.test import Client as Browser

from clients.views import people as people_views


@pytest.mark.parametrize("who", [None, "carl"])
def test_no_such_page(cast, as_user, who: str | None) -> None:
    browser = as_user(getattr(cast, who)) if who else Browser()
    response = browser.get("/no/such/page/")
    assert response.status_code == 404
    assert "There is no such page" in response.content.decode()


def test_what_is_not_yours_reads_like_what_does_not_exist(cast, as_user) -> None:
    carl = as_user(cast.carl)
    foreign = carl.get(f"/clients/{cast.tess_client.pk}/")
    missing = carl.get("/clients/987654/")
    assert foreign.status_code == missing.status_code == 404
    token = re.compile(rb'name="csrfmiddlewaretoken" value="\w+"')
    assert token.sub(b"", foreign.content) == token.sub(b"", missing.content)


def test_what_somebody_else_decides(cast, as_user) -> None:
    response = as_user(cast.carl).post(f"/people/{cast.sam.pk}/close/")
    assert response.status_code == 403
    assert "This is not yours to do" in response.content.decode()


def test_a_form_without_its_token(db) -> None:
    response = Browser(enforce_csrf_checks=True).post("/login/", {"username": "sam"})
    assert response.status_code == 403
    assert "Please send this once more" in response.content.decode()


def test_a_request_for_another_site(db) -> None:
    response = Browser().get("/login/", headers={"host": "elsewhere.example"})
    assert response.status_code == 400
    assert "That could not be read" in response.content.decode()


def test_our_own_mistake(cast, as_user, monkeypatch) -> None:
    def stumble(user: object) -> None:
        raise RuntimeError("the secret of the house")

    monkeypatch.setattr(people_views.invitations, "open_ones", stumble)
    browser = as_user(cast.carl)
    browser.raise_request_exception = False
    response = browser.get("/people/")
    assert response.status_code == 500
    page = response.content.decode()
    assert "This is our mistake, not yours" in page
    assert "secret of the house" not in page
