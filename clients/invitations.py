"""Invitations: a link that opens one account, once, within two weeks."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone

from clients import audit, outbox, people
from clients.models import Client, Guardianship, Invitation, Role, User

LIFETIME = timedelta(days=14)


class Closed(Exception):
    """The link opens nothing any more; the text says why, and names nobody."""


class AwaitsGuardian(Exception):
    """A minor's account cannot open before a guardian has agreed."""


def roles_open_to(user: User) -> list[Role]:
    """Return the roles that the user may invite for: the owner all, a coach those of the lesson."""
    if user.is_owner:
        return list(Role)
    return [Role.STUDENT, Role.GUARDIAN] if user.is_coach else []


def problem_with(role: str, client: Client | None) -> str:
    """Return why nobody can be invited as this, or an empty text."""
    if role not in (Role.STUDENT, Role.GUARDIAN):
        return ""
    if client is None:
        return "Say which client this is for."
    if role == Role.STUDENT and client.user_id:
        return f"{client} has an account already."
    if role == Role.GUARDIAN and not client.is_minor:
        return f"{client} is not marked as a minor, and only a minor has a guardian here."
    return ""


def invite(
    *, by: User, name: str, role: str, email: str = "", client: Client | None = None
) -> tuple[Invitation, str]:
    """Return an open invitation and its token, which is nowhere kept.

    Inviting the same person for the same thing again renews the open invitation: a second tap makes
    no second one, and only the newest link opens the account. The caller has checked that `by` may
    invite for this role and this client.
    """
    email = email.lower()
    with transaction.atomic():
        invitation = Invitation.objects.filter(
            name=name, email=email, role=role, client=client, accepted_at=None, revoked_at=None
        ).first()
        if invitation is None:
            invitation = Invitation(name=name, email=email, role=role, client=client, created_by=by)
            action = "invitation.made"
        else:
            action = "invitation.renewed"
        return invitation, _give_token(invitation, by, action)


def renew(invitation: Invitation, *, by: User) -> str:
    """Return a new token; the old link stops at once. Raises Closed once it is used."""
    with transaction.atomic():
        invitation.refresh_from_db()
        if invitation.accepted_at or invitation.revoked_at:
            raise Closed(why_closed(invitation))
        return _give_token(invitation, by, "invitation.renewed")


def _give_token(invitation: Invitation, by: User, action: str) -> str:
    token = Invitation.new_token()
    invitation.token_hash = Invitation.hash_of(token)
    invitation.expires_at = timezone.now() + LIFETIME
    invitation.save()
    audit.record(by, action, invitation, role=invitation.role, client=invitation.client_id)
    outbox.withdraw(_letter(invitation))
    # A letter that waits for a mail server to be named would outlive its link.
    if invitation.email and settings.EMAIL_HOST:
        outbox.write_to_address(
            key=f"{_letter(invitation)}{invitation.token_hash[:16]}",
            address=invitation.email,
            subject="Your invitation",
            body=_words(invitation, token),
            client=invitation.client,
        )
    return token


def _letter(invitation: Invitation) -> str:
    return f"invitation:{invitation.pk}:"


def _words(invitation: Invitation, token: str) -> str:
    for_whom = f" for {invitation.client}" if invitation.role == Role.GUARDIAN else ""
    return (
        f"Hello {invitation.name},\n\n"
        f"{invitation.created_by} invites you as {invitation.get_role_display()}{for_whom}.\n"
        f"Open this link and choose a password:\n\n{link(token)}\n\n"
        f"It works once, until {timezone.localtime(invitation.expires_at):%-d %B %Y}. "
        "If you did not expect this letter, you need not do anything.\n"
    )


def link(token: str) -> str:
    """Return the address to show, print or send, on the site's first address."""
    return settings.SITE_URL + reverse("clients:join", args=[token])


def revoke(invitation: Invitation, *, by: User) -> None:
    """Take the invitation back; one that is used or taken back already stays as it is."""
    with transaction.atomic():
        if Invitation.objects.filter(pk=invitation.pk, accepted_at=None, revoked_at=None).update(
            revoked_at=timezone.now()
        ):
            audit.record(by, "invitation.revoked", invitation)
            outbox.withdraw(_letter(invitation))


def find(token: str) -> Invitation | None:
    return (
        Invitation.objects.select_related("client", "created_by")
        .filter(token_hash=Invitation.hash_of(token))
        .first()
    )


def open_ones(user: User) -> list[Invitation]:
    """Return the invitations that wait for an answer, of those the user may see."""
    return list(
        Invitation.objects.visible_to(user)
        .filter(accepted_at=None, revoked_at=None, expires_at__gt=timezone.now())
        .select_related("client", "created_by")
    )


def why_closed(invitation: Invitation) -> str:
    """Return why the link opens nothing, or an empty text."""
    if invitation.accepted_at:
        return "This link has been used."
    if invitation.revoked_at:
        return "This link has been taken back."
    if invitation.expires_at <= timezone.now():
        return "This link is too old."
    if not invitation.created_by.is_active or problem_with(invitation.role, invitation.client):
        return "This link is no longer needed."
    return ""


def awaits_guardian(invitation: Invitation) -> bool:
    """Whether this is a minor's own invitation, and no guardian has agreed yet."""
    return invitation.role == Role.STUDENT and not invitation.client.may_have_account


def problem_with_account(invitation: Invitation, user: User) -> str:
    """Return why the invitation cannot be taken with this account, or an empty text."""
    if invitation.email and user.email != invitation.email:
        return f"The invitation went to another e-mail than that of {user}."
    if user == invitation.created_by:
        return "You wrote this invitation, so it is not for your own account."
    own = Client.objects.filter(user=user).first()
    if invitation.role == Role.STUDENT and own:
        return f"{user} is a student here already."
    if invitation.role == Role.STUDENT and invitation.client.is_minor and user.roles:
        return (
            "A minor needs an account of their own. Without an e-mail for it, ask the coach for an "
            "invitation without one, and choose a user name."
        )
    if invitation.role == Role.GUARDIAN and own and own.is_minor:
        return "A minor's account cannot be a guardian's."
    if invitation.role == Role.GUARDIAN and not user.email:
        return "A guardian gets every report by e-mail too. Add an e-mail to your account first."
    return ""


def accept_as_new(
    invitation: Invitation, *, name: str, password: str, email: str = "", username: str = ""
) -> User:
    """Make the account and give it what it was invited for.

    Raises Closed, AwaitsGuardian, or ValidationError by field for a log-in that is taken.
    """
    user = User(name=name, email=email or None, username=username or None)
    # The slow hash comes before the transaction, which holds the write lock.
    user.set_password(password)
    user.full_clean()
    try:
        with transaction.atomic():
            user.save()
            _take(invitation, user)
    except IntegrityError as error:  # somebody was faster between the look and the write
        raise ValidationError("This e-mail or user name has just been taken.") from error
    return user


def accept_as(invitation: Invitation, user: User) -> None:
    """Give an existing account what it was invited for. Raises Closed or AwaitsGuardian."""
    with transaction.atomic():
        _take(invitation, user)


def _take(invitation: Invitation, user: User) -> None:
    """Use the invitation up for this user, inside the caller's transaction."""
    now = timezone.now()
    if awaits_guardian(invitation):
        raise AwaitsGuardian
    still_open = Q(accepted_at=None, revoked_at=None, expires_at__gt=now)
    if not Invitation.objects.filter(still_open, pk=invitation.pk).update(
        accepted_at=now, accepted_by=user
    ):
        invitation.refresh_from_db()
        raise Closed(why_closed(invitation))
    people.grant(user, invitation.role)
    if invitation.role == Role.STUDENT:
        free = Client.objects.filter(pk=invitation.client_id, user=None)
        if not free.update(user=user):
            raise Closed("This link is no longer needed.")
    if invitation.role == Role.GUARDIAN:
        Guardianship.objects.get_or_create(guardian=user, client=invitation.client)
    outbox.withdraw(_letter(invitation))
    audit.record(
        user, "invitation.accepted", invitation, role=invitation.role, client=invitation.client_id
    )
