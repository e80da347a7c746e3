"""What the coach says against a reading: kept, shown beside it, used by words and next reading.

Nothing computed is changed. A report that was sent keeps what held on the day it was sent.
"""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from clients import audit
from clients.models import User
from lanes.models import Overruling, Report, Session, Shot
from lanes.reading.overruled import (
    CAUSES,
    HOOKS,
    NO_CHANGE,
    PLACES,
    THE_BALL,
    THROWS,
    Ruling,
    overruled,
)

Kind = Overruling.Kind
_OF_A_SHOT: dict[str, dict[str, str]] = {Kind.THROW: THROWS, Kind.CAUSE: CAUSES}


def as_ruling(row: Overruling) -> Ruling:
    """Return a row as the reading's words know it."""
    number = row.shot.number if row.shot else None
    return Ruling(row.kind, row.value, number, row.from_shot, row.hooks)


def rows_of(report: Report) -> list[Overruling]:
    """Return what is said against a draft's reading now, and against a sent one's on that day."""
    if not report.is_sent or report.sent_at is None:
        return live_rows(report.session_id)
    held = Q(withdrawn_at=None) | Q(withdrawn_at__gt=report.sent_at)
    rows = Overruling.objects.filter(held, session=report.session_id, made_at__lte=report.sent_at)
    return _of_live_shots(rows)


def live_rows(session_id: UUID) -> list[Overruling]:
    """Return what is said against a session's reading now."""
    return _of_live_shots(Overruling.objects.live().filter(session=session_id))


def _of_live_shots(rows: QuerySet[Overruling]) -> list[Overruling]:
    found = rows.select_related("shot", "by")
    return [row for row in found if row.shot is None or row.shot.deleted_at is None]


def reading_of(report: Report) -> dict[str, Any]:
    """Return the report's reading with the coach's verdicts in it, for the words."""
    return overruled(report.reading.data, map(as_ruling, rows_of(report)))


def first_option(session: Session) -> str:
    """Return the title of the option that the coach put first; empty for none."""
    row = Overruling.objects.live().filter(session=session, kind=Kind.OPTION).first()
    return row.value if row else ""


def of_shots(session: Session) -> tuple[Ruling, ...]:
    """Return what the coach says of a session's single shots now, for a reading."""
    rows = Overruling.objects.live().filter(session=session, kind__in=_OF_A_SHOT)
    found = rows.filter(shot__deleted_at=None).select_related("shot")
    return tuple(as_ruling(row) for row in found.order_by("shot__number", "kind"))


def write(
    *,
    session: Session,
    by: User,
    kind: str,
    value: str,
    shot: Shot | None = None,
    from_shot: int | None = None,
    hooks: str = "",
    reason: str = "",
) -> Overruling:
    """Keep what the coach says; an earlier word on the same thing, or one that this denies, is kept
    as withdrawn.

    The same once more changes nothing. Raises ``ValidationError`` where it says nothing.
    """
    _check(kind, value, shot, hooks)
    said: dict[str, Any] = {
        "value": value.strip()[:160],
        "from_shot": from_shot if kind == Kind.LANE and value != NO_CHANGE else None,
        "hooks": hooks if kind == Kind.LANE and value != NO_CHANGE else "",
        "reason": reason.strip()[:300],
    }
    with transaction.atomic():
        Session.objects.select_for_update().get(pk=session.pk)
        live = Overruling.objects.live().filter(session=session, kind=kind, shot=shot)
        before = live.first()
        if before is not None and all(getattr(before, name) == x for name, x in said.items()):
            return before
        now = timezone.now()
        live.update(withdrawn_at=now)
        _denied(session, kind, value, shot).update(withdrawn_at=now)
        row = Overruling.objects.create(
            session=session, kind=kind, shot=shot, by=by, made_at=now, **said
        )
        audit.record(by, "verdict.overruled", row, kind=kind, value=row.value)
    return row


def _denied(session: Session, kind: str, value: str, shot: Shot | None) -> QuerySet[Overruling]:
    """Return the word on the same shot that cannot hold beside this one.

    A good throw was not behind a miss.
    """
    pair = [(Kind.THROW, "good"), (Kind.CAUSE, "throw")]
    of_shot = Overruling.objects.live().filter(session=session, shot=shot)
    if (kind, value) not in pair:
        return of_shot.none()
    other = pair[1 - pair.index((Kind(kind), value))]
    return of_shot.filter(kind=other[0], value=other[1])


def withdraw(row: Overruling, *, by: User) -> None:
    """Let the reading's own verdict hold again; once more does nothing."""
    with transaction.atomic():
        live = Overruling.objects.live().filter(pk=row.pk)
        if live.update(withdrawn_at=timezone.now()):
            audit.record(by, "verdict.restored", row, kind=row.kind, value=row.value)


def _check(kind: str, value: str, shot: Shot | None, hooks: str) -> None:
    if kind not in Kind.values:
        raise ValidationError(f"expected one of {', '.join(Kind.values)}")
    if kind in _OF_A_SHOT:
        if shot is None:
            raise ValidationError("Choose the shot that you overrule.")
        if value not in _OF_A_SHOT[kind]:
            raise ValidationError(f"Choose one of: {', '.join(_OF_A_SHOT[kind].values())}.")
    elif kind == Kind.LANE:
        if value not in (NO_CHANGE, THE_BALL, *PLACES):
            raise ValidationError("Choose whether and where the lane changed, or the ball.")
        if hooks and hooks not in HOOKS:
            raise ValidationError(f"Choose one of: {', '.join(HOOKS)}.")
    elif not value.strip():
        raise ValidationError("Choose the option that comes first.")
