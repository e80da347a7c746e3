"""The copy of everything that is kept of a client: one ZIP of JSON, CSV and pictures.

Who gets which copy is decided in `scope_for`. The owner and the client's coach get the whole. The
client and the guardians get their own: without the coach's and the shop's notes to themselves, what
was never sent to them, and letters to others. The shop operator gets the gear and nothing of
lessons or people. The page says so, and the copy does.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from pathlib import PurePosixPath
from typing import IO, Any
from uuid import UUID

from django.db import models
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.text import slugify

from clients import audit, records
from clients.models import AuditEntry, Client, Mail, TicketPhoto, User
from coachsite.kept import KEPT, Kept, Part
from lanes import shots
from lanes.models import ImportDraft, Session
from lanes.shotlog.write import write_csv


class Scope(StrEnum):
    WHOLE = "whole"
    OWN = "own"
    GEAR = "gear"


# What each copy leaves out, for the page and for the README in it.
LEFT_OUT = {
    Scope.WHOLE: (
        "Left out are only the secrets of links that open an account. It holds the notes that the "
        "client does not see: look through it before you hand it on."
    ),
    Scope.OWN: (
        "Left out are notes that coach and shop made for themselves, drafts of reports that were "
        "not sent, and letters to other people. Where the law where you live gives you a right to "
        "those too, ask the owner, who can make the whole copy and hand it over."
    ),
    Scope.GEAR: (
        "Left out is everything of lessons, release, letters and consents: the shop keeps the gear."
    ),
}
# Of the client's own row, what belongs to the gear.
_GEAR_FACTS = ("id", "name", "hand", "pap_over_in", "pap_up_in", "created_at")


def scope_for(user: User, client: Client) -> Scope | None:
    """Return which copy a user may have of a client; None for a stranger."""
    if Client.objects.editable_by(user).filter(pk=client.pk).exists():
        return Scope.WHOLE
    if Client.objects.own_or_wards(user).filter(pk=client.pk).exists():
        return Scope.OWN
    return Scope.GEAR if user.is_operator else None


def contents(client: Client, scope: Scope, user: User) -> list[tuple[str, int]]:
    """Return what the copy holds: the name of each table that it has rows of, and how many."""
    counted = ((kept.name, _rows(kept, client, scope, user).count()) for kept in KEPT)
    return [(name, count) for name, count in counted if count]


def write_copy(client: Client, scope: Scope, user: User, out: IO[bytes]) -> None:
    """Write the ZIP to `out`, and write down who made which copy."""
    tables = {kept.name: list(_table(kept, client, scope, user)) for kept in KEPT}
    told = {name: rows for name, rows in tables.items() if rows}
    about: dict[str, Any] = {
        "client": client.name,
        "copy": scope,
        "made_at": timezone.now(),
        "made_by": user.name,
        "left_out": LEFT_OUT[scope],
    }
    if scope != Scope.GEAR and client.user is not None:
        about["account"] = _account(client.user)
    if scope == Scope.WHOLE:
        about["changes"] = list(_changes(tables))
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("README.txt", _readme(client, scope, user))
        archive.writestr("everything.json", _json(about | {"kept": told}))
        if scope != Scope.GEAR:
            archive.writestr("client-file.json", _json(records.client_facts(client)))
            for name, text in _logs(client, scope):
                archive.writestr(f"shots/{name}", text.encode("utf-8-sig"))
        for kept in KEPT:
            for row in _rows(kept, client, scope, user):
                _write_file(archive, row)
    audit.record(user, "client.copied", client, copy=scope)


def _rows(kept: Kept, client: Client, scope: Scope, user: User) -> QuerySet:
    rows = kept.rows_of(client)
    if kept.model == "clients.Client":
        return rows
    if scope == Scope.GEAR:
        return rows if kept.part == Part.GEAR else rows.none()
    if scope == Scope.OWN:
        if kept.model == "clients.Mail":
            mine = {user.pk, client.user_id} if client.user_id else {user.pk}
            return rows.filter(to__in=mine)
        return kept.own_rows_of(client)
    return rows


def _table(kept: Kept, client: Client, scope: Scope, user: User) -> Iterator[dict[str, Any]]:
    leave_out = set(kept.secret)
    if scope == Scope.OWN:
        leave_out |= set(kept.private)
    fields = [
        field
        for field in kept.table._meta.concrete_fields
        if field.name not in leave_out and not isinstance(field, models.BinaryField)
    ]
    if scope == Scope.GEAR and kept.model == "clients.Client":
        fields = [field for field in fields if field.name in _GEAR_FACTS]
    people = [field.name for field in fields if field.related_model is User]
    for row in _rows(kept, client, scope, user).select_related(*people):
        told = {field.name: _value(row, field) for field in fields}
        if isinstance(row, Session):
            told["where"] = _where(row)
        if isinstance(row, Mail) and row.to_id is None:
            told["body"] = "Left out: its link opens an account."
        yield told


def _value(row: models.Model, field: models.Field) -> Any:
    if field.related_model is User:  # people by name, not by key
        person = getattr(row, field.name)
        return person.name if person else None
    if isinstance(field, models.FileField):
        return _picture_name(row) if isinstance(row, TicketPhoto) else str(getattr(row, field.name))
    return getattr(row, field.attname)


def _where(session: Session) -> dict[str, Any]:
    """Return the block of a session: it is shared, so it is told here and not a table."""
    block = session.block
    return {
        "centre": block.centre.name,
        "lanes": [lane.number for lane in block.lanes.all()],
        "pattern": block.pattern.name if block.pattern else None,
        "purpose": block.purpose,
        "starts_at": block.starts_at,
    }


def _account(user: User) -> dict[str, Any]:
    return {
        "name": user.name,
        "email": user.email,
        "username": user.username,
        "joined_at": user.joined_at,
        "is_open": user.is_active,
        "roles": sorted(user.roles),
    }


def _changes(tables: dict[str, list[dict[str, Any]]]) -> Iterator[dict[str, Any]]:
    """Return who changed what of these rows and when."""
    labels = {kept.name: kept.table._meta for kept in KEPT}
    subjects = [
        f"{labels[name].label} {row[labels[name].pk.name]}"
        for name, rows in tables.items()
        for row in rows
    ]
    for entry in about_subjects(subjects):
        yield {
            "at": entry.at,
            "by": entry.actor.name if entry.actor else None,
            "what": entry.action,
            "of": entry.subject,
            "data": entry.data,
        }


def about_subjects(subjects: Iterable[str]) -> Iterator[AuditEntry]:
    """Return the audit entries of these rows, as many rows at a time as a database takes."""
    subjects = list(subjects)
    for start in range(0, len(subjects), 500):
        yield from (
            AuditEntry.objects.filter(subject__in=subjects[start : start + 500])
            .select_related("actor")
            .order_by("at", "pk")
        )


def _logs(client: Client, scope: Scope) -> Iterator[tuple[str, str]]:
    """Return each session's log as a file that the import takes, and all shots in one table."""
    every = io.StringIO(newline="")
    writer = None
    sessions = client.sessions.filter(deleted_at=None).select_related("block__centre")
    for number, session in enumerate(sessions.order_by("block__starts_at", "pk"), start=1):
        rows = list(shots.live_shots(session))
        if not rows:
            continue
        logged = [shots.logged_shot(shot) for shot in rows]
        kept = {shot.number: shot.extra for shot in rows if shot.extra}
        if scope == Scope.OWN:
            kept = {}
        text = write_csv(logged, kept)
        if scope == Scope.OWN:
            text = _without_notes(text)
        day = timezone.localtime(session.block.starts_at).strftime("%Y-%m-%d")
        yield f"{number:03d}-{day}.csv", text
        for row in csv.DictReader(io.StringIO(text)):
            known = {name: row.get(name, "") for name in _COLUMNS}
            if writer is None:
                writer = csv.DictWriter(every, ["session", "day", *_COLUMNS])
                writer.writeheader()
            writer.writerow({"session": number, "day": day} | known)
    if writer is not None:
        yield "all-shots.csv", every.getvalue()


def _without_notes(text: str) -> str:
    rows = list(csv.reader(io.StringIO(text)))
    place = rows[0].index("note")
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerows(
        [cell for column, cell in enumerate(row) if column != place] for row in rows
    )
    return out.getvalue()


_COLUMNS = next(csv.reader(io.StringIO(write_csv([]))))


def _write_file(archive: zipfile.ZipFile, row: models.Model) -> None:
    if isinstance(row, TicketPhoto):
        try:
            with row.picture.open("rb") as picture:
                archive.writestr(_picture_name(row), picture.read())
        except FileNotFoundError:  # told in everything.json all the same
            archive.writestr(f"{_picture_name(row)}.missing.txt", "The file is not there any more.")
    elif isinstance(row, ImportDraft):
        name = PurePosixPath(row.filename.replace("\\", "/"))
        ending = slugify(name.suffix.lstrip(".")) or "bin"
        archive.writestr(f"imports/{row.pk}-{slugify(name.stem) or 'log'}.{ending}", row.data)


def _picture_name(photo: TicketPhoto) -> str:
    return f"pictures/ticket-{photo.ticket.number}-{photo.pk}.jpg"


def _readme(client: Client, scope: Scope, user: User) -> str:
    made = timezone.localtime().strftime("%d %b %Y, %H:%M")
    return "\n".join(
        [
            f"What is kept of {client.name}. Made on {made} by {user.name}.",
            "",
            LEFT_OUT[scope],
            "",
            "everything.json    every table with its rows, names of columns as they are kept;",
            "                   lengths in inches where a name ends in _in, boards from the",
            "                   bowler's strong side, times with their offset from UTC",
            "client-file.json   hand, release, fit and balls, as the commands here read it",
            "shots/             a file a session, which can be imported again, and all in one",
            "pictures/          pictures of shop work",
            "imports/           log files as they were uploaded (the whole copy only)",
            "",
        ]
    )


def _json(data: object) -> str:
    return json.dumps(data, indent=2, ensure_ascii=False, default=_plain) + "\n"


def _plain(value: object) -> str:
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, UUID | Decimal):
        return str(value)
    raise TypeError(f"{type(value).__name__} in the copy")
