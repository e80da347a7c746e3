"""Who may see and change what, for lanes and shots. The roles stand in `clients.access`.

Lessons are the coach's and the owner's. A student sees a report once it is sent, and nothing of the
session it was made from; a guardian sees what the ward sees. The shop operator sees no lessons.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Self

from django.db import models
from django.db.models import Q

from clients.models import Client

if TYPE_CHECKING:
    from clients.models import User


class StaffSeesQuerySet(models.QuerySet):
    """Centres and pattern sheets: nobody's in particular, for everyone who works here."""

    def visible_to(self, user: User) -> Self:
        return self if user.is_staff_member else self.none()

    def editable_by(self, user: User) -> Self:
        return self if user.is_coach else self.none()


class BlockQuerySet(models.QuerySet):
    """A block says who bowled when on which lanes; it is for those who coach."""

    def visible_to(self, user: User) -> Self:
        return self if user.is_coach else self.none()


class OfCoachedClientQuerySet(models.QuerySet):
    """What hangs on a session: for whoever coaches the session's client, and nobody else."""

    client_path = "session__client"

    def visible_to(self, user: User) -> Self:
        return self.filter(**{f"{self.client_path}__in": Client.objects.editable_by(user)})

    def editable_by(self, user: User) -> Self:
        return self.visible_to(user)


class SessionQuerySet(OfCoachedClientQuerySet):
    client_path = "client"

    def visible_to(self, user: User) -> Self:
        return super().visible_to(user).filter(deleted_at=None)


class ShotQuerySet(OfCoachedClientQuerySet):
    def live(self) -> Self:
        """Without the deleted ones, which stay so that offline work can be merged."""
        return self.filter(deleted_at=None)


class OfRereadingQuerySet(OfCoachedClientQuerySet):
    client_path = "rereading__session__client"


class AdviceQuerySet(OfCoachedClientQuerySet):
    """The coach's and the owner's score: no student and no guardian sees it."""

    client_path = "suggestion__report__session__client"

    def visible_to(self, user: User) -> Self:
        return super().visible_to(user).filter(suggestion__report__session__deleted_at=None)


class OverrulingQuerySet(OfCoachedClientQuerySet):
    def live(self) -> Self:
        """Without those that were withdrawn or replaced."""
        return self.filter(withdrawn_at=None)


class ReportQuerySet(models.QuerySet):
    def visible_to(self, user: User) -> Self:
        """The coach sees drafts and sent ones, the student and the guardians only sent ones."""
        coached = Q(session__client__in=Client.objects.editable_by(user))
        addressed = Q(state="sent") & (
            Q(session__client__user=user) | Q(session__client__guardianships__guardian=user)
        )
        return self.filter(coached | addressed).filter(session__deleted_at=None).distinct()

    def editable_by(self, user: User) -> Self:
        """Drafts of those the user coaches; a sent report is frozen."""
        return self.coached_by(user).filter(state="draft")

    def coached_by(self, user: User) -> Self:
        return self.filter(
            session__client__in=Client.objects.editable_by(user), session__deleted_at=None
        )

    def sent_to(self, user: User) -> Self:
        """What the portal shows: sent reports of the user or of their wards, the newest version."""
        return (
            self.filter(state="sent", session__deleted_at=None)
            .filter(
                Q(session__client__user=user) | Q(session__client__guardianships__guardian=user)
            )
            .distinct()
        )


class OfReportQuerySet(models.QuerySet):
    """Suggestions, homework, answers: seen by whoever sees the report."""

    def visible_to(self, user: User) -> Self:
        from lanes.models import Report  # which imports this module

        return self.filter(report__in=Report.objects.visible_to(user))


class NewBallPlanQuerySet(models.QuerySet):
    """Gear numbers, nothing of a lesson: for the coach and for the shop, who both keep the gear."""

    def visible_to(self, user: User) -> Self:
        return self.filter(client__in=Client.objects.with_gear_editable_by(user))
