"""From an invitation to an account."""

from __future__ import annotations

from datetime import timedelta
from urllib.parse import urlsplit

import pytest
import time_machine
from axes.models import AccessAttempt
from django.contrib.auth import get_user
from django.test import Client as Browser
from django.utils import timezone

from clients import consents, invitations
from clients.models import AuditEntry, Client, Guardianship, Invitation, Mail, Role, User
from tests.conftest import PASSWORD

NEW = "the seventh arrow"


@pytest.fixture
def sue(cast) -> Client:
    """A grown-up client of Carl's without an account."""
    return Client.objects.create(name="Sue", coach=cast.carl)


@pytest.fixture
def max_(cast) -> Client:
    """A minor of Carl's without an account and without a guardian."""
    return Client.objects.create(name="Max", coach=cast.carl, is_minor=True)


def invite(by: User, role: str, client: Client | None = None, email: str = "", name: str = "Pat"):
    invitation, token = invitations.invite(by=by, name=name, role=role, email=email, client=client)
    return invitation, f"/join/{token}/"


def form(**data: str) -> dict[str, str]:
    return {"name": "Pat", "password1": NEW, "password2": NEW, **data}


def test_a_student_joins_by_user_name_and_is_logged_in(cast, sue) -> None:
    invitation, path = invite(cast.carl, Role.STUDENT, sue)
    browser = Browser()
    page = browser.get(path)
    assert page.status_code == 200
    assert page["Referrer-Policy"] == "strict-origin"
    assert "no-store" in page["Cache-Control"]
    assert browser.post(path, form(username="pat.s")).status_code == 302
    user = get_user(browser)
    assert user.username == "pat.s"
    assert user.email is None
    assert user.roles == {Role.STUDENT}
    sue.refresh_from_db()
    assert sue.user == user
    invitation.refresh_from_db()
    assert invitation.accepted_by == user
    actions = AuditEntry.objects.order_by("pk").values_list("action", flat=True)
    assert list(actions) == ["invitation.made", "invitation.accepted"]


def test_an_operator_joins_by_email(cast) -> None:
    _, path = invite(cast.olive, Role.OPERATOR, email="Pat@Example.org")
    browser = Browser()
    # The address of the invitation stands, whatever the browser sends.
    assert browser.post(path, form(email="other@example.org")).status_code == 302
    assert get_user(browser).email == "pat@example.org"
    assert get_user(browser).roles == {Role.OPERATOR}


def test_the_token_itself_is_nowhere_in_the_database(cast, sue) -> None:
    invitation, path = invite(cast.carl, Role.STUDENT, sue)
    token = path.split("/")[2]
    assert len(token) >= 43  # 256 bits
    assert token not in str(Invitation.objects.filter(pk=invitation.pk).values())
    assert token not in str(list(AuditEntry.objects.values()))
    assert not Mail.objects.exists()


def test_a_second_tap_does_no_harm(cast, sue) -> None:
    """The same form sent twice, the second time by a browser that never saw the first answer."""
    _, path = invite(cast.carl, Role.STUDENT, sue)
    data = form(email="pat@example.org")
    first, second = Browser(), Browser()
    assert first.post(path, data).status_code == 302
    assert second.post(path, data).status_code == 302
    assert get_user(second) == get_user(first)
    assert first.post(path, data).status_code == 302
    assert User.objects.filter(name="Pat").count() == 1


def test_a_used_link_lets_nobody_else_in(cast, sue) -> None:
    _, path = invite(cast.carl, Role.STUDENT, sue)
    Browser().post(path, form(email="pat@example.org"))
    thief = Browser()
    for response in (
        thief.get(path),
        thief.post(path, form(email="thief@example.org")),
        thief.post(path, form(email="pat@example.org", password1="a guess of mine")),
    ):
        assert response.status_code == 410
        page = response.content.decode()
        assert "has been used" in page
        assert "Pat" not in page
        assert "Sue" not in page
    assert not get_user(thief).is_authenticated


def test_an_expired_link(cast, sue) -> None:
    _, path = invite(cast.carl, Role.STUDENT, sue)
    with time_machine.travel(timezone.now() + timedelta(days=13, hours=23)):
        assert Browser().get(path).status_code == 200
    with time_machine.travel(timezone.now() + timedelta(days=14, minutes=1)):
        response = Browser().post(path, form(email="pat@example.org"))
    assert response.status_code == 410
    assert "too old" in response.content.decode()
    assert not User.objects.filter(name="Pat").exists()


def test_a_revoked_and_a_made_up_link(cast, sue) -> None:
    invitation, path = invite(cast.carl, Role.STUDENT, sue)
    invitations.revoke(invitation, by=cast.carl)
    assert Browser().get(path).status_code == 410
    assert Browser().post("/join/made-up/", form()).status_code == 404


def test_a_new_link_stops_the_old_one(cast, sue) -> None:
    invitation, old = invite(cast.carl, Role.STUDENT, sue)
    new = f"/join/{invitations.renew(invitation, by=cast.carl)}/"
    assert Browser().get(old).status_code == 404
    assert Browser().get(new).status_code == 200


def test_the_link_of_somebody_who_left_opens_nothing(cast, sue) -> None:
    _, path = invite(cast.carl, Role.STUDENT, sue)
    User.objects.filter(pk=cast.carl.pk).update(is_active=False)
    assert Browser().get(path).status_code == 410


@pytest.mark.parametrize(
    ("data", "word"),
    [
        ({"email": "SAM@example.org"}, "There is an account with this e-mail"),
        ({"email": ""}, "Choose a user name, or give an e-mail"),
        ({"username": "Has Spaces"}, "Use 3 to 40"),
        ({"email": "pat@example.org", "password2": "another"}, "match"),
        ({"email": "pat@example.org", "password1": "12345678", "password2": "12345678"}, "numeric"),
        ({"email": "pat@example.org", "name": ""}, "required"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_made(cast, sue, data, word: str) -> None:
    _, path = invite(cast.carl, Role.STUDENT, sue)
    before = User.objects.count()
    response = Browser().post(path, form(**data))
    assert response.status_code == 400
    assert word in response.content.decode()
    assert User.objects.count() == before
    assert Invitation.objects.get().accepted_at is None


def test_a_minor_waits_for_the_guardian(cast, max_) -> None:
    """No account, no guardianship, no row at all before the guardian's consent is recorded."""
    _, path = invite(cast.carl, Role.STUDENT, max_, name="Max")
    _, guardian_path = invite(cast.carl, Role.GUARDIAN, max_, name="Gus")
    child, guardian = Browser(), Browser()
    before = User.objects.count()
    assert "A guardian goes first" in child.get(path).content.decode()
    refused = child.post(path, form(username="max.b"))
    assert refused.status_code == 403
    assert User.objects.count() == before

    response = guardian.post(guardian_path, form(name="Gus", email="gus@example.org"))
    guardianship = Guardianship.objects.get(client=max_)
    assert response["Location"] == f"/wards/{guardianship.pk}/"
    assert child.post(path, form(username="max.b")).status_code == 403, "joined is not agreed"
    agree = {
        "kind": "account",
        "action": "give",
        "agree": "on",
        "version": consents.WORDINGS["account"].version,
    }
    assert guardian.post(response["Location"], agree).status_code == 302

    assert child.post(path, form(username="max.b")).status_code == 302
    max_.refresh_from_db()
    assert max_.user.username == "max.b"


def test_consent_to_clips_opens_no_account(cast, max_) -> None:
    _, path = invite(cast.carl, Role.STUDENT, max_)
    guardianship = Guardianship.objects.create(guardian=cast.gina, client=max_)
    consents.give(guardianship, "clips", by=cast.gina)
    assert Browser().post(path, form(username="max.b")).status_code == 403


def test_a_guardian_with_an_account_logs_in_and_takes_the_invitation(cast, max_) -> None:
    _, path = invite(cast.carl, Role.GUARDIAN, max_, email="gina@example.org", name="Gina")
    browser = Browser()
    page = browser.get(path).content.decode()
    assert f'href="/login/?next={path}"' in page
    log_in = {"username": "gina@example.org", "password": PASSWORD, "next": path}
    assert browser.post("/login/", log_in)["Location"] == path
    assert "Take it with this account" in browser.get(path).content.decode()
    for _ in range(2):
        response = browser.post(path)
        assert urlsplit(response["Location"]).path.startswith("/wards/")
    assert cast.gina.wards.count() == 2
    assert User.objects.filter(email="gina@example.org").count() == 1


def test_a_parent_who_bowls_here_becomes_a_guardian_too(cast, max_, as_user) -> None:
    _, path = invite(cast.carl, Role.GUARDIAN, max_)
    assert as_user(cast.sam).post(path).status_code == 302
    assert User.objects.get(pk=cast.sam.pk).roles == {Role.STUDENT, Role.GUARDIAN}


@pytest.mark.parametrize(
    ("who", "email"),
    [
        ("carl", ""),  # wrote the invitation, so consent would be his own
        ("wendy", ""),  # a minor
        ("sam", "gina@example.org"),  # meant for somebody else
    ],
)
def test_who_cannot_be_the_guardian(cast, max_, as_user, who: str, email: str) -> None:
    _, path = invite(cast.carl, Role.GUARDIAN, max_, email=email)
    response = as_user(getattr(cast, who)).post(path)
    assert response.status_code == 403
    assert not Guardianship.objects.filter(client=max_).exists()
    assert Invitation.objects.get().accepted_at is None


def test_a_guardian_needs_an_email(cast, max_, as_user) -> None:
    _, path = invite(cast.carl, Role.GUARDIAN, max_)
    ann = User.objects.create_user(name="Ann", username="ann", password=PASSWORD)
    response = as_user(ann).post(path)
    assert response.status_code == 403
    assert "Add an e-mail" in response.content.decode()


def test_the_guardians_account_does_not_become_the_minors(cast, max_, as_user) -> None:
    """A family with one e-mail between them: the minor joins by user name instead."""
    guardianship = Guardianship.objects.create(guardian=cast.gina, client=max_)
    consents.give(guardianship, "account", by=cast.gina)
    _, path = invite(cast.carl, Role.STUDENT, max_, email="gina@example.org", name="Max")
    response = as_user(cast.gina).post(path)
    assert response.status_code == 403
    assert "an account of their own" in response.content.decode()
    max_.refresh_from_db()
    assert max_.user is None


def test_a_guardian_of_a_grown_up_is_no_guardian(cast, max_) -> None:
    """Whoever has come of age meanwhile needs none; the link says only that it is closed."""
    _, path = invite(cast.carl, Role.GUARDIAN, max_)
    Client.objects.filter(pk=max_.pk).update(is_minor=False)
    assert Browser().get(path).status_code == 410


def test_two_student_links_for_one_client_open_one_account(cast, sue) -> None:
    _, first = invite(cast.carl, Role.STUDENT, sue, name="Sue")
    _, second = invite(cast.carl, Role.STUDENT, sue, name="Susan")
    assert Browser().post(first, form(email="sue@example.org")).status_code == 302
    assert Browser().post(second, form(email="susan@example.org")).status_code == 410
    assert not User.objects.filter(email="susan@example.org").exists()


def test_the_letter_goes_out_only_where_a_mail_server_is_named(cast, sue, settings) -> None:
    settings.EMAIL_HOST = "mail.example"
    invitation, path = invite(cast.carl, Role.STUDENT, sue, email="sue@example.org")
    letter = Mail.objects.get()
    assert letter.address == "sue@example.org"
    assert f"{settings.SITE_URL}{path}" in letter.body
    again = invitations.renew(invitation, by=cast.carl)
    letter = Mail.objects.get()  # the letter with the dead link is gone
    assert again in letter.body
    Mail.objects.update(sent_at=timezone.now())
    assert Browser().post(f"/join/{again}/", form()).status_code == 302
    letter.refresh_from_db()
    assert again not in letter.body, "once used, the link is forgotten here too"


def test_guesses_over_a_used_link_are_counted_and_no_password_is_kept(cast, sue, settings) -> None:
    """Whoever holds the link could else try passwords without end, each time under another name."""
    settings.AXES_ENABLED = True
    _, path = invite(cast.carl, Role.STUDENT, sue, name="Sue")
    assert Browser().post(path, form(email="sue@example.org")).status_code == 302
    for number in range(settings.AXES_FAILURE_LIMIT):
        guess = form(email="sue@example.org", username=f"other{number}", password1="a guess of it")
        assert Browser().post(path, guess).status_code in (410, 429)
    right = form(email="sue@example.org")
    assert Browser().post(path, right).status_code != 302, "shut for a while"
    assert AccessAttempt.objects.exists()
    assert not AccessAttempt.objects.filter(post_data__contains="a guess of it").exists()


def test_a_used_link_tries_no_other_accounts_password(cast, sue, settings) -> None:
    settings.AXES_ENABLED = True
    _, path = invite(cast.carl, Role.STUDENT, sue, name="Sue")
    assert Browser().post(path, form(email="sue@example.org")).status_code == 302
    assert Browser().post(path, form(email=cast.olive.email)).status_code == 410
    assert not AccessAttempt.objects.exists()
