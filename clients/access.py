"""Who may see and change what, for people and things.

Every view starts from one of these querysets.

owner       everything
coach       their own clients, and those clients' gear; the stock list to read
operator    every client's gear, walk-ins without a coach, the stock list, no lessons
student     their own things
guardian    their wards' things

`visible_to` is for reading, `editable_by` for changing; both return nothing for a stranger, so that
`get_object_or_404` on them answers 404 and never tells that the thing exists.

The models import this module, so it imports them inside the functions that need them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q

if TYPE_CHECKING:
    from clients.models import User


def _own_or_ward(user: User, client: str = "") -> Q:
    """Return the condition: this user is the client at path `client`, or a guardian of theirs."""
    prefix = f"{client}__" if client else ""
    return Q(**{f"{prefix}user": user}) | Q(**{f"{prefix}guardianships__guardian": user})


class UserQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """The owner sees all users, a coach the users around their clients, everyone themselves."""
        if user.is_owner:
            return self
        seen = Q(pk=user.pk)
        if user.is_coach:
            seen |= Q(client__coach=user) | Q(wards__client__coach=user)
        return self.filter(seen).distinct()


class ClientQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Whose lessons the user may know of: the owner all, a coach their own, and so on."""
        if user.is_owner:
            return self
        seen = _own_or_ward(user)
        if user.is_coach:
            seen |= Q(coach=user)
        return self.filter(seen).distinct()

    def own_or_wards(self, user: User) -> Self:
        """The user as a client, and their wards, whatever else the user may see: for the portal."""
        return self.filter(_own_or_ward(user)).distinct()

    def editable_by(self, user: User) -> Self:
        """Whom the user coaches."""
        if user.is_owner:
            return self
        if user.is_coach:
            return self.filter(coach=user)
        return self.none()

    def with_gear_for(self, user: User) -> Self:
        """Whose gear the user may see: the shop operator sees everybody's gear summary."""
        if user.is_owner or user.is_operator:
            return self
        return self.visible_to(user)

    def with_gear_editable_by(self, user: User) -> Self:
        """Whose gear the user may change."""
        if user.is_owner or user.is_operator:
            return self
        return self.editable_by(user)


class OfGearClientQuerySet(models.QuerySet):
    """What the shop keeps of a client: whoever may see or change their gear."""

    def visible_to(self, user: User) -> Self:
        from clients.models import Client

        return self.filter(client__in=Client.objects.with_gear_for(user))

    def editable_by(self, user: User) -> Self:
        from clients.models import Client

        return self.filter(client__in=Client.objects.with_gear_editable_by(user))


class TicketQuerySet(OfGearClientQuerySet):
    """Tickets are seen and changed as the rest of a client's gear."""

    def of_person(self, user: User) -> Self:
        """The user's own and their wards', whatever else the user may see: for the portal."""
        return self.filter(_own_or_ward(user, "client")).distinct()


class BallQuerySet(OfGearClientQuerySet):
    """Balls are seen and changed as the rest of a client's gear."""


class OfBallQuerySet(models.QuerySet):
    """What belongs to a ball: whoever may see or change the ball."""

    def visible_to(self, user: User) -> Self:
        from clients.models import Ball

        return self.filter(ball__in=Ball.objects.visible_to(user))

    def editable_by(self, user: User) -> Self:
        from clients.models import Ball

        return self.filter(ball__in=Ball.objects.editable_by(user))


class SaleQuerySet(OfBallQuerySet):
    """A sale is seen with its ball, and is the shop's to take back."""

    def editable_by(self, user: User) -> Self:
        return self if user.is_owner or user.is_operator else self.none()


class StockQuerySet(models.QuerySet):
    """What the shop has to sell hangs on no client: staff see it, the shop changes it."""

    def visible_to(self, user: User) -> Self:
        return self if user.is_staff_member else self.none()

    def editable_by(self, user: User) -> Self:
        return self if user.is_owner or user.is_operator else self.none()


class InvitationQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """The owner sees all invitations, a coach those they wrote and those for their clients."""
        if user.is_owner:
            return self
        if user.is_coach:
            return self.filter(Q(created_by=user) | Q(client__coach=user))
        return self.none()


class GuardianshipQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """Guardians see their own, coaches and the owner those of the clients they coach."""
        from clients.models import Client

        return self.filter(Q(guardian=user) | Q(client__in=Client.objects.editable_by(user)))


class MailQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """The outbox is the owner's; a coach sees the letters about their own clients."""
        if user.is_owner:
            return self
        if user.is_coach:
            return self.filter(client__coach=user)
        return self.none()
