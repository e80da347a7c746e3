"""Shots of a session: logging, changing and deleting one, and handing them to the reading.

A shot is written the way the shot-log file writes it, column by column, so that the phone, the
table at the desk, the API and an import share one set of names, limits and messages
(``lanes.shotlog``). A key made by the browser makes every write safe to repeat.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import F, Max, Prefetch
from django.utils import timezone

from clients import audit
from clients.models import User
from lanes.models import Session, SessionBall, Shot
from lanes.reading.shots import LoggedShot
from lanes.shotlog import BY_NAME, NAMES, CellError, parse_cell

# The columns that are fields of the model under the same name.
PLAIN = tuple(name for name in NAMES if name not in ("shot", "ball"))
_TRIES = 5
# The database tells of a number that is taken; the session and the ball were looked up.
_TYPED_ALREADY: dict[str, Any] = {
    "exclude": ["session", "ball"],
    "validate_unique": False,
    "validate_constraints": False,
}


class StaleShot(Exception):
    """Somebody else has changed the shot in the meantime; ``shot`` is the row as it is now."""

    def __init__(self, shot: Shot) -> None:
        super().__init__(f"{shot} was changed elsewhere")
        self.shot = shot


def log_shot(
    *, session: Session, by: User, values: Mapping[str, Any], key: uuid.UUID | None = None
) -> tuple[Shot, bool]:
    """Log one shot and return it, and whether it is new; a key that was sent before is not.

    ``values`` has shot-log columns, all optional. A number that another shot has already, or none,
    becomes the next free one: two phones may log at the same time. Raises ``ValidationError`` with
    a message per column.
    """
    known = _shot_with_key(session, key)
    if known is not None:
        return known, False
    cleaned = clean(values, balls=labelled_balls(session))
    wanted = cleaned.pop("number", None)
    shot = Shot(id=key or uuid.uuid4(), session=session, **cleaned)
    _refuse_early_spare(shot, values)
    for attempt in range(_TRIES):
        try:
            with transaction.atomic():
                # One phone after the other, or several that hurry would never agree on numbers.
                Session.objects.select_for_update().get(pk=session.pk)
                shot.number = _free_number(session, wanted)
                shot.full_clean(**_TYPED_ALREADY)
                shot.save(force_insert=True)
                audit.record(by, "shot.logged", shot, number=shot.number)
        except IntegrityError:  # another phone took the number, or sent this very shot
            known = _shot_with_key(session, key)
            if known is not None:
                return known, False
            if attempt == _TRIES - 1:
                raise
        else:
            return shot, True
    raise AssertionError("unreachable")


def change_shot(*, shot: Shot, by: User, version: int, values: Mapping[str, Any]) -> Shot:
    """Change some columns of a shot that still has this version; return it with the next one.

    Raises ``StaleShot`` where it was changed or deleted since, ``ValidationError`` with a message
    per column where a value cannot be.
    """
    cleaned = clean(values, balls=labelled_balls(shot.session))
    number = cleaned.get("number", shot.number)
    if number is None:
        raise ValidationError({"shot": f"expected {BY_NAME['shot'].expected}"})
    for name, value in cleaned.items():
        setattr(shot, name, value)
    _refuse_early_spare(shot, values)
    shot.full_clean(**_TYPED_ALREADY)
    try:
        with transaction.atomic():
            claim(shot, version)
            shot.save(update_fields=[*cleaned])
            audit.record(by, "shot.changed", shot, columns=sorted(values))
    except IntegrityError:
        raise ValidationError({"shot": f"there is a shot {number} already"}) from None
    return shot


def delete_shot(*, shot: Shot, by: User, version: int) -> None:
    """Delete a shot, so that it can be seen again by nobody; once more does no harm."""
    if shot.deleted_at is not None:
        return
    with transaction.atomic():
        claim(shot, version)
        shot.deleted_at = timezone.now()
        shot.save(update_fields=["deleted_at"])
        audit.record(by, "shot.deleted", shot, number=shot.number)


def clean(values: Mapping[str, Any], *, balls: Mapping[str, SessionBall]) -> dict[str, Any]:
    """Return model fields for shot-log columns as somebody typed them.

    Raises ``ValidationError`` with one message per column, in the words of the import.
    """
    fields: dict[str, Any] = {}
    problems: dict[str, str] = {}
    for name, raw in values.items():
        column = BY_NAME.get(name)
        if column is None:
            problems[name] = f"there is no such column; expected some of {', '.join(NAMES)}"
            continue
        if not isinstance(raw, str | int | float | bool | None):
            problems[name] = f"expected {column.expected}"
            continue
        try:
            value = parse_cell(column, raw)
        except CellError as error:
            problems[name] = str(error)
            continue
        if name == "ball":
            if value and value not in balls:
                problems[name] = f'"{value}" is not among the balls at hand; {_at_hand(balls)}'
            else:
                fields["ball"] = balls.get(str(value))
        elif name == "shot":
            fields["number"] = value
        elif name == "delivery":
            fields["delivery"] = value or 1
        else:
            fields[name] = value
    if problems:
        raise ValidationError(problems)
    return fields


def labelled_balls(session: Session) -> dict[str, SessionBall]:
    """Return the session's balls at hand by the label that the shot log writes."""
    return {ball.label: ball for ball in session.balls.all()}


def live_shots(session: Session) -> list[Shot]:
    """Return the session's shots in the order thrown, without the deleted ones."""
    return list(session.shots.live().select_related("ball").order_by("number"))


def live_shots_of_sessions() -> Prefetch:
    """Return the prefetch that gives each of several sessions its ``live_shots``, in order."""
    rows = Shot.objects.live().select_related("ball").order_by("number")
    return Prefetch("shots", queryset=rows, to_attr="live_shots")


def logged_shot(shot: Shot) -> LoggedShot:
    """Return a shot as the reading and the shot-log files know it."""
    columns = {name: getattr(shot, name) for name in PLAIN}
    return LoggedShot(shot=shot.number, ball=shot.ball.label if shot.ball else "", **columns)


def logged_shots(session: Session) -> list[LoggedShot]:
    """Return all of a session's shots as the reading and the shot-log files know them."""
    return [logged_shot(shot) for shot in live_shots(session)]


def as_row(shot: Shot) -> dict[str, Any]:
    """Return a shot as the API answers it: its key and version, and the shot-log columns."""
    logged = logged_shot(shot)
    return {
        "id": str(shot.pk),
        "version": shot.version,
        "deleted": shot.deleted_at is not None,
        **{name: getattr(logged, name) for name in NAMES},
    }


def claim(shot: Shot, version: int) -> None:
    """Take the next version of a live shot, or say that it has moved on."""
    claimed = (
        Shot.objects.live().filter(pk=shot.pk, version=version).update(version=F("version") + 1)
    )
    if not claimed:
        raise StaleShot(Shot.objects.select_related("ball").get(pk=shot.pk))
    shot.version = version + 1


def _refuse_early_spare(shot: Shot, values: Mapping[str, Any]) -> None:
    if {"leave", "delivery"} & values.keys() and shot.leave == "/" and shot.delivery == 1:
        raise ValidationError({"leave": "/ is a spare; all ten down on the first ball is X"})


def _at_hand(balls: Mapping[str, SessionBall]) -> str:
    return f"expected {', '.join(balls)}" if balls else "no ball is written down for the session"


def _shot_with_key(session: Session, key: uuid.UUID | None) -> Shot | None:
    """Return the shot that was sent with this key before; a key of another session is refused."""
    if key is None:
        return None
    shot = Shot.objects.select_related("ball").filter(pk=key).first()
    if shot is not None and shot.session_id != session.pk:
        raise ValidationError({"id": "this key belongs to another session; make a new one"})
    return shot


def _free_number(session: Session, wanted: int | None) -> int:
    live = session.shots.live()
    if wanted is not None and not live.filter(number=wanted).exists():
        return wanted
    return (live.aggregate(last=Max("number"))["last"] or 0) + 1
