"""What is kept of a client: every table with a row that hangs on one, named once.

Copy (`coachsite.client_copy`) and deletion (`coachsite.farewell`) both go by this list. A test
walks all models and fails for one that hangs on a client and is not named here, so that a new
table cannot be forgotten by either.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from django.apps import apps
from django.db import models
from django.db.models import Q, QuerySet

from clients.models import Client, User


class Part(StrEnum):
    """What a table belongs to: lessons are the coach's, gear is the shop's too."""

    PERSON = "person"
    GEAR = "gear"
    LESSONS = "lessons"


@dataclass(frozen=True)
class Kept:
    """One table.

    `client` is the way from its rows to the client, `private` the columns that are the staff's own
    words, `secret` those that nobody gets. `own` says which rows the person's own copy has: all by
    default, none where it is `None`. A row that `stays` loses no more than its tie to the client.
    """

    model: str
    client: str
    part: Part
    private: tuple[str, ...] = ()
    secret: tuple[str, ...] = ()
    own: Q | None = Q()  # noqa: RUF009 - never changed
    stays: bool = False

    @property
    def table(self) -> type[models.Model]:
        return apps.get_model(self.model)

    @property
    def name(self) -> str:
        """What the table is called in the copy: "fit sheets", "ball events"."""
        return str(self.table._meta.verbose_name_plural)

    def own_rows_of(self, client: Client) -> QuerySet:
        """Return the rows of the person's own copy."""
        rows = self.rows_of(client)
        if self.own is None:
            return rows.none()
        return rows.filter(pk__in=self.table._default_manager.filter(self.own).values("pk"))

    def rows_of(self, client: Client) -> QuerySet:
        found = self.table._default_manager.filter(**{self.client: client.pk})
        return found.order_by("pk")


_SENT = Q(report__state="sent")

KEPT: tuple[Kept, ...] = (
    Kept("clients.Client", "pk", Part.PERSON, private=("coach_notes",)),
    Kept("clients.Guardianship", "client", Part.PERSON),
    Kept("clients.Consent", "guardianship__client", Part.PERSON),
    Kept("clients.Invitation", "client", Part.PERSON, secret=("token_hash",), own=None),
    # In one's own copy only the letters that went to oneself: client_copy sees to it.
    Kept("clients.Mail", "client", Part.PERSON),
    Kept("clients.FitSheet", "client", Part.GEAR),
    Kept("clients.FitHole", "sheet__client", Part.GEAR),
    Kept("clients.AxisPoint", "client", Part.GEAR),
    Kept("lanes.NewBallPlan", "client", Part.GEAR),
    Kept("clients.Ball", "client", Part.GEAR),
    Kept("clients.Surface", "ball__client", Part.GEAR),
    Kept("clients.SurfaceReading", "ball__client", Part.GEAR),
    Kept("clients.BallEvent", "ball__client", Part.GEAR),
    Kept("clients.StockSale", "ball__client", Part.GEAR),
    Kept("clients.Layout", "ball__client", Part.GEAR),
    Kept("clients.Ticket", "client", Part.GEAR, private=("note",)),
    Kept("clients.TicketPhoto", "ticket__client", Part.GEAR),
    Kept("lanes.Session", "client", Part.LESSONS, private=("note",)),
    Kept("lanes.SessionBall", "session__client", Part.LESSONS),
    Kept("lanes.Shot", "session__client", Part.LESSONS, private=("note", "extra")),
    Kept("lanes.Rereading", "session__client", Part.LESSONS),
    Kept("lanes.RereadShot", "rereading__session__client", Part.LESSONS),
    # The coach's raw files, notes and all; the shots of them are in the copy.
    Kept("lanes.ImportDraft", "session__client", Part.LESSONS, own=None),
    Kept("lanes.Reading", "session__client", Part.LESSONS, own=Q(reports__state="sent")),
    Kept("lanes.Report", "session__client", Part.LESSONS, own=Q(state="sent")),
    Kept("lanes.Suggestion", "report__session__client", Part.LESSONS, own=_SENT & Q(dropped=False)),
    # The coach's score of the advice; the advice itself is in the report.
    Kept("lanes.Advice", "suggestion__report__session__client", Part.LESSONS, own=None),
    Kept("lanes.TakenAdvice", "session__client", Part.LESSONS, own=None),
    Kept("lanes.Overruling", "session__client", Part.LESSONS, own=None),
    Kept("lanes.Homework", "report__session__client", Part.LESSONS, own=_SENT),
    Kept("lanes.Receipt", "report__session__client", Part.LESSONS, own=_SENT),
    Kept("lanes.Answer", "report__session__client", Part.LESSONS, own=_SENT),
)


def hanging_on(root: type[models.Model] = Client) -> set[str]:
    """Return the labels of all models with a way to a client by their own keys, however long."""
    found = {root}
    while True:
        more = {
            model
            for model in apps.get_models()
            for field in model._meta.concrete_fields
            if field.is_relation and field.related_model in found and model not in found
        }
        if not more:
            return {model._meta.label for model in found}
        found |= more


def accounts_of(client: Client) -> list[User]:
    """Return the accounts that exist for this client alone: the client's own and the guardians'.

    One with another role, or with another ward, is somebody's for more than this.
    """
    own = [client.user] if client.user_id else []
    guardians = list(User.objects.filter(wards__client=client).distinct())
    return [
        user
        for user in dict.fromkeys([*own, *guardians])
        if user.roles <= {"student", "guardian"}
        and not user.wards.exclude(client=client).exists()
        and getattr(user, "client", client) == client
    ]
