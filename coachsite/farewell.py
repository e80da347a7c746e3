"""Deleting a client with everything that is kept of them; what is deleted cannot be had back.

It takes along every row of `coachsite.kept`, the files of pictures, jobs that read the client's
sessions, blocks in which nobody else bowled, and the accounts that exist for this client alone.
Audit entries stay as who did what when, without their data. Other people's sessions keep a ball's
numbers as they were on the day. Copies in backups go when those do.
"""

from __future__ import annotations

from uuid import UUID

from django.db import transaction
from django.db.models import Q

from clients import audit
from clients.models import AuditEntry, Client, Job, Ticket, User
from coachsite.client_copy import about_subjects
from coachsite.kept import KEPT, accounts_of
from lanes.models import Block, Report

# Kinds of jobs whose subject is a client; those of a session are known by the session's key.
JOBS_OF_A_CLIENT = ("new_ball_plan",)


def takes_along(client: Client) -> list[tuple[str, int]]:
    """Return what goes with the client: the name of each table, and how many rows of it."""
    counted = [
        (kept.name, kept.rows_of(client).count())
        for kept in KEPT
        if kept.model != "clients.Client" and not kept.stays
    ]
    accounts = ("accounts to log in with", len(accounts_of(client)))
    return [(name, count) for name, count in [*counted, accounts] if count]


def open_tickets(client: Client) -> list[Ticket]:
    """Return work that is not handed over: whose ball is it then?"""
    done = (Ticket.Status.HANDED_OVER, Ticket.Status.DROPPED)
    return list(client.tickets.exclude(status__in=done).order_by("number"))


@transaction.atomic
def delete_client(client: Client, *, by: User) -> None:
    """Delete a client and all that is kept of them. A second tap finds nobody and does nothing."""
    found = Client.objects.select_for_update().filter(pk=client.pk).first()
    if found is None:
        return
    took = dict(takes_along(found))
    _forget_what_was_changed(found)
    sessions = [str(pk) for pk in found.sessions.values_list("pk", flat=True)]
    blocks = list(Block.objects.filter(sessions__client=found).values_list("pk", flat=True))
    accounts = [user.pk for user in accounts_of(found)]
    jobs = Q(subject__in=sessions) | Q(pk__in=_jobs_behind(found))
    jobs |= Q(kind__in=JOBS_OF_A_CLIENT, subject=str(found.pk))
    Job.objects.filter(jobs).delete()
    # A reading is kept from deletion while its report stands, so reports go first.
    Report.objects.filter(session__client=found).delete()
    key = found.pk
    found.delete()
    Block.objects.filter(pk__in=blocks, sessions=None).delete()
    User.objects.filter(pk__in=accounts).delete()
    client.pk = key
    audit.record(by, "client.deleted", client, took=took)


def _jobs_behind(client: Client) -> list[UUID]:
    """Return the jobs that made something of what is kept."""
    return [
        pk
        for kept in KEPT
        for field in kept.table._meta.concrete_fields
        if field.related_model is Job
        for pk in kept.rows_of(client).values_list(field.attname, flat=True)
        if pk
    ]


def _forget_what_was_changed(client: Client) -> None:
    subjects = [
        f"{kept.table._meta.label} {pk}"
        for kept in KEPT
        for pk in kept.rows_of(client).values_list("pk", flat=True)
    ]
    entries = [entry.pk for entry in about_subjects(subjects)]
    for start in range(0, len(entries), 500):
        AuditEntry.objects.filter(pk__in=entries[start : start + 500]).update(data={})
