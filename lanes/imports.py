"""A log file on its way into a session: kept as a draft, looked at, then taken or not at all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from clients import audit
from clients.models import User
from lanes import sessions
from lanes.models import ImportDraft, Session, SessionBall, Shot
from lanes.reading.shots import LoggedShot
from lanes.shotlog import (
    BY_NAME,
    NAMES,
    LogFileError,
    ParsedLog,
    Table,
    parse_rows,
    read_table,
)
from lanes.shots import PLAIN, StaleShot, claim, labelled_balls, live_shots, logged_shot


@dataclass(frozen=True)
class Difference:
    """One column of a shot that the file has otherwise than the session."""

    column: str
    label: str
    before: Any
    after: Any


@dataclass(frozen=True)
class ChangedShot:
    shot: Shot
    logged: LoggedShot
    differences: tuple[Difference, ...]


@dataclass(frozen=True)
class Preview:
    """What taking a draft would do, set against the session as it is now."""

    parsed: ParsedLog
    new: list[LoggedShot] = field(default_factory=list)
    same: list[LoggedShot] = field(default_factory=list)
    changed: list[ChangedShot] = field(default_factory=list)
    strange_balls: tuple[str, ...] = ()

    @property
    def bad_rows(self) -> int:
        """How many rows cannot be taken; one row may have several bad cells."""
        return sum(1 for row in self.parsed.rows if row.shot is None)

    @property
    def good_rows(self) -> int:
        return len(self.parsed.shots)


@dataclass(frozen=True)
class Taken:
    """What an import did."""

    new: int
    changed: int


def read_upload(data: bytes, filename: str) -> Table:
    """Return an uploaded log as a table; raises ``LogFileError`` where there is none to import."""
    table = read_table(data, filename)
    if not table.rows:
        raise LogFileError("The file has a header row and no shot below it.")
    return table


def keep_upload(*, session: Session, filename: str, data: bytes, by: User) -> ImportDraft:
    """Keep an uploaded log for its preview; nothing of it counts yet.

    Raises ``lanes.shotlog.LogFileError`` where the file cannot be a shot log.
    """
    read_upload(data, filename)
    return ImportDraft.objects.create(
        session=session, filename=filename[-200:], data=data, created_by=by
    )


def preview(draft: ImportDraft, balls: Mapping[str, str] | None = None) -> Preview:
    """Return what the draft would do. ``balls`` maps the file's labels to the session's."""
    parsed = parse_rows(read_table(bytes(draft.data), draft.filename))
    session = draft.session
    known = {shot.number: shot for shot in live_shots(session)}
    at_hand = labelled_balls(session)
    columns = [name for name in parsed.columns if name in BY_NAME and name != "shot"]
    found = Preview(
        parsed,
        strange_balls=tuple(
            sorted({s.ball for s in parsed.shots if s.ball and s.ball not in at_hand})
        ),
    )
    for logged in parsed.shots:
        shot = known.get(logged.shot)
        if shot is None:
            found.new.append(logged)
            continue
        differences = _differences(
            shot, logged, columns, parsed.kept.get(logged.shot, {}), balls or {}
        )
        if differences:
            found.changed.append(ChangedShot(shot, logged, differences))
        else:
            found.same.append(logged)
    return found


def take(
    *,
    draft: ImportDraft,
    by: User,
    update_changed: bool = False,
    balls: Mapping[str, str] | None = None,
) -> Taken:
    """Bring the draft's good rows into the session, all or none of them, and once only.

    ``balls`` says for each label that is not at hand which one is meant, ``""`` for none; a label
    that it leaves out is put at hand, with the facts of the client's ball of that name if there is
    one. Shots that are in the session already stay as they are, unless ``update_changed``.
    """
    if draft.applied_at is not None:
        return Taken(0, 0)
    mapping = dict(balls or {})
    for last in (False, True):
        found = preview(draft, mapping)
        try:
            with transaction.atomic():
                return _take(draft, by, found, update_changed, mapping)
        except (IntegrityError, StaleShot):  # somebody was faster: look again, once
            if last:
                raise
    raise AssertionError("unreachable")


def discard(*, draft: ImportDraft, by: User, with_session: bool = False) -> None:
    """Throw the draft away; with the session too where it was made for it and is still empty."""
    session = draft.session
    draft.delete()
    if with_session and not session.shots.exists():
        sessions.delete_session(session=session, by=by)


def _take(
    draft: ImportDraft, by: User, found: Preview, update_changed: bool, mapping: dict[str, str]
) -> Taken:
    # The file has done its work; what it said is in the shots.
    claimed = ImportDraft.objects.filter(pk=draft.pk, applied_at=None).update(
        applied_at=timezone.now(), data=b""
    )
    if not claimed:
        return Taken(0, 0)
    session = draft.session
    at_hand = labelled_balls(session)
    for label in found.strange_balls:
        if label not in mapping:
            at_hand[label] = _put_at_hand(session, label, by)
    by_label = {label: at_hand.get(mapping.get(label, label)) for label in [*mapping, *at_hand]}
    Shot.objects.bulk_create(
        Shot(
            session=session,
            number=logged.shot,
            ball=by_label.get(logged.ball),
            extra=found.parsed.kept.get(logged.shot, {}),
            **{name: getattr(logged, name) for name in PLAIN},
        )
        for logged in found.new
    )
    changed = found.changed if update_changed else []
    for each in changed:
        _update(each, by_label, found.parsed.kept.get(each.logged.shot, {}))
    audit.record(
        by,
        "log.imported",
        session,
        file=draft.filename,
        new=len(found.new),
        changed=len(changed),
        bad=found.bad_rows,
    )
    return Taken(len(found.new), len(changed))


def _differences(
    shot: Shot,
    logged: LoggedShot,
    columns: list[str],
    extra: Mapping[str, str],
    balls: Mapping[str, str],
) -> tuple[Difference, ...]:
    """Return where the file says otherwise; a column that the file lacks says nothing."""
    before = logged_shot(shot)
    found = []
    for name in columns:
        was, now = getattr(before, name), getattr(logged, name)
        if name == "ball":
            now = balls.get(now, now)
        if was != now:
            found.append(Difference(name, BY_NAME[name].label, was, now))
    for name, text in extra.items():
        if shot.extra.get(name, "") != text:
            found.append(Difference(name, name, shot.extra.get(name, ""), text))
    return tuple(found)


def _update(each: ChangedShot, by_label: Mapping[str, SessionBall | None], extra: dict) -> None:
    shot = each.shot
    claim(shot, shot.version)
    for difference in each.differences:
        if difference.column == "ball":
            shot.ball = by_label.get(each.logged.ball)
        elif difference.column in NAMES:
            setattr(shot, difference.column, difference.after)
    shot.extra = {**shot.extra, **extra}
    shot.save()


def _put_at_hand(session: Session, label: str, by: User) -> SessionBall:
    ball = session.client.balls.filter(name=label).prefetch_related("surfaces").first()
    if ball is not None:
        return sessions.add_ball(session=session, ball=ball, by=by)
    return SessionBall.objects.create(session=session, label=label, position=session.balls.count())
