"""What a guardian agrees to, and what follows when it is taken back."""

from __future__ import annotations

import pytest
from django.template.loader import render_to_string
from django.test import Client as Browser
from django.test import RequestFactory

from clients import consents, outbox
from clients.auth import may_log_in
from clients.models import AuditEntry, Client, Consent, Guardianship, User
from tests.conftest import PASSWORD

VERSION = {kind.value: wording.version for kind, wording in consents.WORDINGS.items()}


def give(kind: str, **data: str) -> dict[str, str]:
    return {"kind": kind, "action": "give", "version": VERSION[kind], "agree": "on", **data}


def revoke(kind: str) -> dict[str, str]:
    return {"kind": kind, "action": "revoke"}


@pytest.fixture
def page(cast) -> str:
    return f"/wards/{cast.guardianship.pk}/"


def test_the_exact_words_their_version_who_and_when_are_kept(cast, page, as_user) -> None:
    assert as_user(cast.gina).post(page, give("clips")).status_code == 302
    consent = Consent.objects.get(kind="clips")
    assert consent.guardianship.guardian == cast.gina
    assert consent.given_at is not None
    assert consent.wording.startswith("I am a parent or legal guardian of Wendy.")
    assert f"Wording {VERSION['clips']}." in consent.wording
    entry = AuditEntry.objects.get(action="consent.given")
    assert entry.actor == cast.gina
    assert entry.data == {"kind": "clips", "wording": VERSION["clips"]}


def test_what_was_agreed_to_is_shown_as_it_was(cast, page, as_user) -> None:
    """The cast's consent has words of its own; today's words do not take their place."""
    text = as_user(cast.gina).get(page).content.decode()
    assert "<p>I agree.</p>" in text


def test_agreeing_and_taking_back_twice_is_once(cast, page, as_user) -> None:
    browser = as_user(cast.gina)
    for _ in range(2):
        assert browser.post(page, give("clips")).status_code == 302
    for _ in range(2):
        assert browser.post(page, revoke("clips")).status_code == 302
    assert Consent.objects.filter(kind="clips").count() == 1
    assert Consent.objects.get(kind="clips").revoked_at is not None
    actions = AuditEntry.objects.filter(action__startswith="consent").order_by("pk")
    assert [entry.action for entry in actions] == ["consent.given", "consent.revoked"]


def test_the_two_consents_stand_apart(cast, page, as_user) -> None:
    browser = as_user(cast.gina)
    browser.post(page, give("clips"))
    browser.post(page, revoke("clips"))
    assert cast.wendy_client.has_account_consent
    assert may_log_in(cast.wendy)


def test_taking_the_account_back_closes_it_at_once_and_agreeing_opens_it(
    cast, page, as_user
) -> None:
    gina, wendy = as_user(cast.gina), as_user(cast.wendy)
    assert wendy.get("/account/").status_code == 200
    gina.post(page, revoke("account"))
    assert wendy.get("/account/").status_code == 302
    log_in = {"username": "wendy@example.org", "password": PASSWORD}
    refused = Browser().post("/login/", log_in)
    assert refused.status_code == 200
    assert "while no guardian agrees" in refused.content.decode()
    gina.post(page, give("account"))
    assert Browser().post("/login/", log_in).status_code == 302
    assert Consent.objects.filter(kind="account").count() == 2, "the old one stays as a record"


def test_one_of_two_guardians_is_enough(cast, page, as_user) -> None:
    second = Guardianship.objects.create(guardian=cast.nick, client=cast.wendy_client)
    consents.give(second, "account", by=cast.nick)
    as_user(cast.gina).post(page, revoke("account"))
    assert may_log_in(cast.wendy)
    consents.revoke(second, "account", by=cast.nick)
    assert not may_log_in(cast.wendy)


@pytest.mark.parametrize(
    ("data", "word"),
    [
        ({"agree": ""}, "Tick the box"),
        ({"version": "account 0"}, "words have changed"),
        ({"kind": "everything"}, "look at the marked fields"),
        ({"action": "maybe"}, "look at the marked fields"),
    ],
)
def test_nothing_is_agreed_to_by_half(cast, page, as_user, data, word: str) -> None:
    response = as_user(cast.gina).post(page, give("clips") | data)
    assert response.status_code == 400
    assert word in response.content.decode()
    assert not Consent.objects.filter(kind="clips").exists()


def test_the_coach_reads_and_cannot_agree(cast, page, as_user) -> None:
    carl = as_user(cast.carl)
    text = carl.get(page).content.decode()
    assert "Only Gina gives them" in text
    assert "Agree<" not in text
    assert "Take this back" not in text
    assert carl.post(page, give("clips")).status_code == 403
    assert as_user(cast.dora).get(page).status_code == 404
    with pytest.raises(consents.NotTheGuardian):
        consents.give(cast.guardianship, "clips", by=cast.carl)


def test_reports_and_answers_go_to_the_guardians_too(cast) -> None:
    Guardianship.objects.create(guardian=cast.nick, client=cast.wendy_client)
    names = {user.name for user in outbox.people_around(cast.wendy_client)}
    assert names == {"Wendy", "Gina", "Nick"}
    assert [user.name for user in outbox.people_around(cast.sam_client)] == ["Sam"]
    User.objects.filter(pk=cast.nick.pk).update(is_active=False)
    assert {user.name for user in outbox.people_around(cast.wendy_client)} == {"Wendy", "Gina"}


def test_wards_and_account_list_the_wards_of_the_guardian_alone(cast, as_user) -> None:
    for path in ("/wards/", "/account/"):
        assert "Wendy" in as_user(cast.gina).get(path).content.decode()
        assert "Wendy" not in as_user(cast.sam).get(path).content.decode()
    assert "minors whose guardian you are" in as_user(cast.sam).get("/wards/").content.decode()


def part(client: Client, user: User) -> str:
    request = RequestFactory().get("/")
    request.user = user
    return render_to_string("clients/parts/guardians.html", {"client": client}, request).strip()


def test_the_clients_page_shows_the_state_to_the_coach_alone(cast) -> None:
    text = part(cast.wendy_client, cast.carl)
    assert "account: agreed" in text
    assert "clips: not agreed" in text
    assert "wendy@example.org" in text
    consents.revoke(cast.guardianship, "account", by=cast.gina)
    assert "so it is closed" in part(cast.wendy_client, cast.carl)
    for stranger in (cast.dora, cast.otto, cast.gina):
        assert part(cast.wendy_client, stranger) == ""


def test_the_clients_page_offers_what_is_missing(cast) -> None:
    text = part(cast.tess_client, cast.dora)
    assert "Tess has no account yet" in text
    assert f"?client={cast.tess_client.pk}&amp;role=student" in text
    assert "Invite a guardian" not in text
    Client.objects.filter(pk=cast.tess_client.pk).update(is_minor=True)
    cast.tess_client.refresh_from_db()
    text = part(cast.tess_client, cast.dora)
    assert "so none can open" in text
    assert "Invite a guardian" in text
