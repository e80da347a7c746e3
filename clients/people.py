"""Who works here and who has an open account: roles given and taken, accounts closed and opened."""

from __future__ import annotations

from collections.abc import Iterable

from django.contrib.auth.tokens import default_token_generator
from django.db import transaction
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode

from clients import audit
from clients.models import Client, Role, RoleGrant, User

# The other two roles follow from what somebody is: a client's own account, a guardianship.
STAFF_ROLES = (Role.OWNER, Role.COACH, Role.OPERATOR)


class LastOwner(Exception):
    """Without an owner nobody could let anybody in again."""

    def __str__(self) -> str:
        return "This is the only owner with an open account. Make somebody else an owner first."


def set_staff_roles(user: User, roles: Iterable[str], *, by: User) -> None:
    """Give the user exactly these of the staff roles; raise LastOwner if no owner would be left."""
    wanted = {role for role in STAFF_ROLES if role in set(roles)}
    with transaction.atomic():
        others = _other_owners(user)
        had = set(user.grants.filter(role__in=STAFF_ROLES).values_list("role", flat=True))
        if Role.OWNER in had - wanted and user.is_active and not others:
            raise LastOwner
        if had == wanted:
            return
        user.grants.filter(role__in=had - wanted).delete()
        for role in wanted - had:
            RoleGrant.objects.get_or_create(user=user, role=role)
        audit.record(by, "roles.changed", user, was=sorted(had), now=sorted(wanted))
    forget_roles(user)


def grant(user: User, role: str) -> None:
    """Give the user one role more; a role they have is no mistake."""
    RoleGrant.objects.get_or_create(user=user, role=role)
    forget_roles(user)


def forget_roles(user: User) -> None:
    """Let the user's roles be read again, for they are kept with the object."""
    user.__dict__.pop("roles", None)


def close_account(user: User, *, by: User) -> None:
    """Close the account; whoever is logged in with it is out at once. Raises LastOwner."""
    with transaction.atomic():
        others = _other_owners(user)
        if user.grants.filter(role=Role.OWNER).exists() and not others:
            raise LastOwner
        if User.objects.filter(pk=user.pk, is_active=True).update(is_active=False):
            audit.record(by, "account.closed", user)
    user.is_active = False


def open_account(user: User, *, by: User) -> None:
    with transaction.atomic():
        if User.objects.filter(pk=user.pk, is_active=False).update(is_active=True):
            audit.record(by, "account.opened", user)
    user.is_active = True


def _other_owners(user: User) -> list[RoleGrant]:
    """Return the other owners with open accounts, all owners locked until the transaction ends."""
    owners = RoleGrant.objects.select_for_update().filter(role=Role.OWNER).select_related("user")
    return [grant for grant in owners if grant.user_id != user.pk and grant.user.is_active]


def change_account(user: User, *, fields: list[str]) -> None:
    """Save what somebody changed of their own account, and write down which fields."""
    with transaction.atomic():
        user.save(update_fields=fields)
        audit.record(user, "account.changed", user, fields=fields)


def keep_password(user: User, **how: str) -> None:
    """Save the password that was set; hashing it, which is slow, came before the write lock."""
    with transaction.atomic():
        user.save(update_fields=["password"])
        audit.record(user, "password.changed", user, **how)


def may_make_password_link(by: User, user: User) -> bool:
    """The owner for everybody, a coach for own students who are nothing else.

    With a guardian's account a coach could give a consent.
    """
    if by.is_owner:
        return True
    only_student = user.roles <= {Role.STUDENT} and not user.wards.exists()
    return only_student and Client.objects.editable_by(by).filter(user=user).exists()


def password_link(user: User, *, by: User | None) -> str:
    """Return the path by which the user sets a new password, once, within PASSWORD_RESET_TIMEOUT.

    Nothing of it is stored: the token stops fitting as soon as the password changes.
    """
    audit.record(by, "password.link_made", user)
    return reverse(
        "set_password",
        args=[
            urlsafe_base64_encode(force_bytes(user.pk)),
            default_token_generator.make_token(user),
        ],
    )


def user_of_password_link(uid: str, token: str) -> User | None:
    """Return whose link this is, None for one that is used up, too old or made up."""
    try:
        user = User.objects.filter(pk=int(urlsafe_base64_decode(uid)), is_active=True).first()
    except ValueError:
        return None
    return user if user and default_token_generator.check_token(user, token) else None
