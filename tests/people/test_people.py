"""The people page: roles, closing accounts, inviting, links for a new password."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client as Browser
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clients import invitations, people
from clients.models import AuditEntry, Client, Invitation, Role, RoleGrant, User


def roles_of(user: User) -> set[str]:
    return set(User.objects.get(pk=user.pk).roles)


def test_the_owner_gives_and_takes_roles(cast, as_user) -> None:
    browser = as_user(cast.olive)
    path = f"/people/{cast.otto.pk}/roles/"
    assert browser.post(path, {"roles": ["coach", "operator"]}).status_code == 302
    assert roles_of(cast.otto) == {Role.COACH, Role.OPERATOR}
    assert browser.post(path, {"roles": ["coach"]}).status_code == 302
    assert roles_of(cast.otto) == {Role.COACH}
    entries = AuditEntry.objects.filter(action="roles.changed").order_by("pk")
    assert [entry.data for entry in entries] == [
        {"was": ["operator"], "now": ["coach", "operator"]},
        {"was": ["coach", "operator"], "now": ["coach"]},
    ]
    assert {entry.actor for entry in entries} == {cast.olive}


def test_roles_of_the_lesson_are_not_touched(cast) -> None:
    people.set_staff_roles(cast.sam, [Role.OPERATOR], by=cast.olive)
    assert roles_of(cast.sam) == {Role.STUDENT, Role.OPERATOR}
    people.set_staff_roles(cast.sam, [], by=cast.olive)
    assert roles_of(cast.sam) == {Role.STUDENT}


def test_the_same_roles_again_change_nothing(cast) -> None:
    people.set_staff_roles(cast.otto, [Role.OPERATOR], by=cast.olive)
    assert not AuditEntry.objects.exists()


def test_the_last_owner_stays(cast, as_user) -> None:
    browser = as_user(cast.olive)
    refused = browser.post(f"/people/{cast.olive.pk}/roles/", {"roles": ["coach"]})
    assert refused.status_code == 400
    assert "only owner" in refused.content.decode()
    browser.post(f"/people/{cast.olive.pk}/close/")
    cast.olive.refresh_from_db()
    assert cast.olive.is_active
    assert roles_of(cast.olive) == {Role.OWNER}


def test_an_owner_with_a_closed_account_does_not_count(cast) -> None:
    people.set_staff_roles(cast.dora, [Role.OWNER, Role.COACH], by=cast.olive)
    people.close_account(cast.dora, by=cast.olive)
    with pytest.raises(people.LastOwner):
        people.set_staff_roles(cast.olive, [], by=cast.olive)
    people.open_account(cast.dora, by=cast.olive)
    people.set_staff_roles(cast.olive, [], by=cast.olive)
    assert list(RoleGrant.objects.filter(role=Role.OWNER).values_list("user", flat=True)) == [
        cast.dora.pk
    ]


def test_a_closed_account_is_out_at_once(cast, as_user) -> None:
    sam = as_user(cast.sam)
    owner = as_user(cast.olive)
    for _ in range(2):
        assert owner.post(f"/people/{cast.sam.pk}/close/").status_code == 302
    assert sam.get("/account/").status_code == 302
    assert owner.post(f"/people/{cast.sam.pk}/open/").status_code == 302
    assert sam.get("/account/").status_code == 200
    actions = AuditEntry.objects.order_by("pk").values_list("action", flat=True)
    assert list(actions) == ["account.closed", "account.opened"]


def test_who_sees_whom(cast, as_user) -> None:
    def seen(user: User) -> set[str]:
        page = as_user(user).get("/people/")
        return {person.name for person in page.context["users"]}

    everybody = {"Olive", "Carl", "Dora", "Otto", "Sam", "Wendy", "Gina", "Nick"}
    assert seen(cast.olive) == everybody
    assert seen(cast.carl) == {"Carl", "Sam", "Wendy", "Gina"}
    assert seen(cast.dora) == {"Dora"}


def test_a_coach_sees_own_invitations(cast, as_user) -> None:
    mine, _ = invitations.invite(
        by=cast.carl, name="Mia", role=Role.GUARDIAN, client=cast.wendy_client
    )
    invitations.invite(by=cast.dora, name="Theo", role=Role.STUDENT, client=cast.tess_client)
    page = as_user(cast.carl).get("/people/").content.decode()
    assert "Mia" in page
    assert "Theo" not in page
    invitations.revoke(mine, by=cast.carl)
    assert "Mia" not in as_user(cast.carl).get("/people/").content.decode()
    assert "Theo" in as_user(cast.olive).get("/people/").content.decode()


def test_the_people_page_asks_the_same_few_questions_for_two_and_for_forty(cast, as_user) -> None:
    browser = as_user(cast.olive)

    def questions() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert browser.get("/people/").status_code == 200
        return len(queries)

    few = questions()
    for number in range(40):
        user = User.objects.create_user(
            name=f"P{number}", email=f"p{number}@example.org", roles=[Role.STUDENT, Role.GUARDIAN]
        )
        client = Client.objects.create(name=f"C{number}", coach=cast.carl, is_minor=True)
        client.guardianships.create(guardian=user)
        Client.objects.create(name=f"D{number}", coach=cast.carl, user=user)
        invitations.invite(by=cast.carl, name=f"I{number}", role=Role.GUARDIAN, client=client)
    assert questions() == few
    # Session, user, their client (may the account log in), their roles; users with clients, their
    # grants, wards, wards' clients; open invitations.
    assert few <= 9


# Inviting


def invite(browser: Browser, **data: object):
    return browser.post("/people/invite/", {"name": "Pat", "email": "", **data})


@pytest.mark.parametrize("role", list(Role))
def test_the_owner_invites_for_every_role(cast, as_user, role: str) -> None:
    client = {Role.STUDENT: cast.tess_client, Role.GUARDIAN: cast.wendy_client}.get(role)
    response = invite(as_user(cast.olive), role=role, client=client.pk if client else "")
    invitation = Invitation.objects.get()
    assert response["Location"] == f"/people/invite/{invitation.pk}/"
    assert (invitation.role, invitation.client) == (role, client)


@pytest.mark.parametrize("role", [Role.OWNER, Role.COACH, Role.OPERATOR])
def test_a_coach_invites_nobody_to_work_here(cast, as_user, role: str) -> None:
    response = invite(as_user(cast.carl), role=role, client=cast.sam_client.pk)
    assert response.status_code == 400
    assert not Invitation.objects.exists()


@pytest.mark.parametrize(
    ("who", "role", "client", "word"),
    [
        ("carl", "student", "tess_client", "not one of the available choices"),
        ("carl", "student", "sam_client", "has an account already"),
        ("carl", "guardian", "sam_client", "only a minor has a guardian"),
        ("carl", "student", None, "required"),
        ("olive", "student", None, "Say which client"),
    ],
)
def test_whom_nobody_can_invite(cast, as_user, who, role, client, word: str) -> None:
    pk = getattr(cast, client).pk if client else ""
    response = invite(as_user(getattr(cast, who)), role=role, client=pk)
    assert response.status_code == 400
    assert word in response.content.decode()
    assert not Invitation.objects.exists()


def test_a_second_tap_makes_no_second_invitation(cast, as_user) -> None:
    browser = as_user(cast.dora)
    for _ in range(2):
        invite(browser, role="student", client=cast.tess_client.pk)
    assert Invitation.objects.count() == 1


def test_from_a_clients_page_the_client_is_chosen(cast, as_user) -> None:
    page = as_user(cast.dora).get(f"/people/invite/?client={cast.tess_client.pk}")
    assert page.context["form"].initial == {
        "client": cast.tess_client,
        "role": "student",
        "name": "Tess",
    }
    foreign = as_user(cast.carl).get(f"/people/invite/?client={cast.tess_client.pk}")
    assert foreign.context["client"] is None
    assert "Tess" not in foreign.content.decode()


def test_the_link_and_its_picture_are_shown_to_whoever_made_them(cast, as_user, settings) -> None:
    carl, olive = as_user(cast.carl), as_user(cast.olive)
    page = invite(carl, role="guardian", client=cast.wendy_client.pk)["Location"]
    text = carl.get(page).content.decode()
    assert f'value="{settings.SITE_URL}/join/' in text
    assert "<svg" in text
    assert "/join/" not in olive.get(page).content.decode()
    assert carl.get(page)["Cache-Control"].count("no-store")
    assert as_user(cast.dora).get(page).status_code == 404
    # A new link is another one, and is shown to whoever asked for it.
    olive.post(f"{page}renew/")
    assert f'value="{settings.SITE_URL}/join/' in olive.get(page).content.decode()
    old = carl.get(page).context["link"].removeprefix(settings.SITE_URL)
    new = olive.get(page).context["link"].removeprefix(settings.SITE_URL)
    assert Browser().get(old).status_code == 404
    assert Browser().get(new).status_code == 200


def test_a_used_invitation_is_not_renewed(cast, as_user) -> None:
    invitation, _ = invitations.invite(by=cast.olive, name="Pat", role=Role.OPERATOR)
    invitations.accept_as_new(
        invitation, name="Pat", email="pat@example.org", password="seven arrows"
    )
    path = reverse("clients:invitation_renew", args=[invitation.pk])
    page = as_user(cast.olive).post(path, follow=True).content.decode()
    assert "This link has been used." in page
    assert "/join/" not in page


# A link for a new password


def password_link(browser: Browser, user: User, settings) -> str:
    page = browser.post(f"/people/{user.pk}/password/", follow=True)
    return page.context["link"].removeprefix(settings.SITE_URL)


def test_a_link_for_a_new_password_works_once(cast, as_user, settings) -> None:
    path = password_link(as_user(cast.carl), cast.sam, settings)
    new = {"new_password1": "the seventh arrow", "new_password2": "the seventh arrow"}
    browser = Browser()
    assert "sam@example.org" in browser.get(path).content.decode()
    assert browser.post(path, new).status_code == 302
    assert browser.get("/account/").status_code == 200
    assert Browser().post(path, new).status_code == 410
    cast.sam.refresh_from_db()
    assert cast.sam.check_password("the seventh arrow")
    actions = AuditEntry.objects.order_by("pk").values_list("actor__name", "action")
    assert list(actions) == [("Carl", "password.link_made"), ("Sam", "password.changed")]


def test_the_link_opens_no_closed_account(cast, as_user, settings) -> None:
    """A minor whose guardian has taken the consent back sets a password and stays out."""
    path = password_link(as_user(cast.carl), cast.wendy, settings)
    cast.guardianship.consents.all().delete()
    new = {"new_password1": "the seventh arrow", "new_password2": "the seventh arrow"}
    browser = Browser()
    browser.post(path, new)
    assert browser.get("/account/").status_code == 302


@pytest.mark.parametrize("whose", ["gina", "olive", "dora", "otto"])
def test_a_coach_makes_no_link_for_a_guardian_or_for_those_who_work_here(
    cast, as_user, whose: str
) -> None:
    user = getattr(cast, whose)
    assert as_user(cast.carl).post(f"/people/{user.pk}/password/").status_code in (403, 404)
    assert not AuditEntry.objects.exists()


def test_a_coach_makes_no_link_for_a_student_who_is_a_guardian_too(cast, as_user) -> None:
    cast.wendy_client.guardianships.create(guardian=cast.sam)
    assert as_user(cast.carl).post(f"/people/{cast.sam.pk}/password/").status_code == 403
    assert "new password" not in as_user(cast.carl).get(f"/people/{cast.sam.pk}/").content.decode()
