"""The ledger of advice: what was offered, when it was taken, and the shots that score it.

Offered is what a report showed on the day it was sent. That advice was taken is said by the coach;
where the log shows it, it is proposed, never assumed. Scores are `lanes.reading.ledger`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from clients import audit
from clients.models import User
from lanes.models import Advice, Report, Session, Shot, Suggestion, TakenAdvice
from lanes.reading.ledger import (
    FEWEST_EACH,
    Advised,
    Piece,
    balls_before,
    outcome,
    scoring_balls,
    taken_at,
)
from lanes.reading.shots import LoggedShot
from lanes.shots import live_shots_of_sessions, logged_shot, logged_shots

# What reading a taken piece of advice with its shots needs, but not the readings themselves.
OF_TAKEN = (
    "advice__coach",
    "advice__suggestion__report__session__client",
    "advice__suggestion__report__session__block__pattern",
    "session__block__pattern",
)


# What was offered


def note_sent(report: Report, *, by: User) -> None:
    """Write down the options of a report that is being sent; safe to repeat."""
    rows = list(report.suggestions.filter(dropped=False).order_by("position", "pk"))
    options = report.reading.data["options"]
    stays = [option for option in options if option["kind"] == Suggestion.Kind.STAY]
    stay: dict[str, Any] = stays[0] if stays else {}
    seen = [shot["shot"] for shot in report.reading.data["shots"]]
    Advice.objects.bulk_create(
        [
            Advice(
                suggestion=row,
                coach=by,
                is_recommended=place == 0,
                stay_strike=stay.get("strike"),
                stay_pocket=stay.get("pocket"),
                head_pin=_head_pin(options, row),
                after_shot=max(seen, default=0),
                given_at=report.sent_at or timezone.now(),
            )
            for place, row in enumerate(rows)
        ],
        ignore_conflicts=True,
    )


def _head_pin(options: list[dict[str, Any]], row: Suggestion) -> float | None:
    place = row.detail.get("option")
    known = isinstance(place, int) and place < len(options)
    return options[place].get("head_pin") if known else None


# What was taken


def take(advice: Advice, *, session: Session, from_shot: int, by: User) -> TakenAdvice:
    """Mark that from this shot of this session on the student did it.

    The same tap again changes nothing, another shot moves the mark. Raises ``ValidationError``.
    """
    problem = why_not(advice, session, from_shot)
    if problem:
        raise ValidationError(problem)
    with transaction.atomic():
        Session.objects.select_for_update().get(pk=session.pk)
        other = session.advice_taken.filter(from_shot=from_shot).exclude(advice=advice).first()
        if other is not None:
            raise ValidationError(
                f"From shot {from_shot} on, “{other.advice}” is marked already. Undo that first."
            )
        row, new = TakenAdvice.objects.get_or_create(
            advice=advice, session=session, defaults={"from_shot": from_shot, "by": by}
        )
        if not new and row.from_shot == from_shot:
            return row
        row.from_shot, row.by, row.marked_at = from_shot, by, timezone.now()
        row.save()
        Advice.objects.filter(pk=advice.pk).update(not_taken_at=None)
        audit.record(by, "advice.taken", advice, session=str(session.pk), from_shot=from_shot)
    return row


def why_not(advice: Advice, session: Session, from_shot: int) -> str:
    """Return why advice cannot have been taken from this shot on; empty where it can."""
    given_in = advice.suggestion.report.session
    if given_in.client_id != session.client_id:
        return "This advice was another student's."
    if session.pk == given_in.pk:
        if from_shot <= advice.after_shot:
            return (
                f"The advice was given after shot {advice.after_shot}; expected a later one, since "
                "the shots before it made the prediction."
            )
    elif session.block.starts_at < given_in.block.starts_at:
        return "This session was before the advice."
    last = session.shots.live().aggregate(last=Max("number"))["last"] or 0
    if not 1 <= from_shot <= last + 1:
        return f"There is no shot {from_shot}; expected 1 to {last + 1}, the next one."
    return ""


def undo(taken: TakenAdvice, *, by: User) -> None:
    """Take the mark out again; once more does nothing."""
    with transaction.atomic():
        gone, _ = TakenAdvice.objects.filter(pk=taken.pk).delete()
        if gone:
            audit.record(
                by,
                "advice.undone",
                taken.advice,
                session=str(taken.session_id),
                from_shot=taken.from_shot,
            )


def set_not_taken(advice: Advice, *, not_taken: bool, by: User) -> None:
    """Write down that the student did not do it, or take that back; once more does nothing."""
    with transaction.atomic():
        rows = Advice.objects.filter(pk=advice.pk, not_taken_at__isnull=not_taken)
        if not_taken:
            rows = rows.filter(taken=None)
        if rows.update(not_taken_at=timezone.now() if not_taken else None):
            audit.record(by, "advice.not_taken" if not_taken else "advice.open_again", advice)


# What a session's page shows


@dataclass(frozen=True)
class Offer:
    """A piece of advice that a session's shots may follow, with what is known of it."""

    advice: Advice
    taken: TakenAdvice | None
    proposed: int | None  # the shot from which on the log shows it

    @property
    def is_open(self) -> bool:
        return self.taken is None and self.advice.not_taken_at is None


@dataclass(frozen=True)
class Offers:
    """The advice of one report, for the page of a session that may follow it."""

    report: Report
    is_earlier: bool
    is_other_oil: bool
    shots: list[int]  # numbers from which on it may have been taken, the next one last
    offers: list[Offer]

    @property
    def next_shot(self) -> int:
        return self.shots[-1]


def offers_for(session: Session) -> list[Offers]:
    """Return the advice that was sent for this session, and for the last one before it."""
    sent = (
        Report.objects.filter(
            session__client=session.client_id, session__deleted_at=None, state=Report.State.SENT
        )
        .filter(suggestions__advice__isnull=False, session__block__starts_at__lte=_start(session))
        .select_related("session__block__pattern")
        .order_by("-session__block__starts_at", "-session__created_at", "-version")
        .distinct()
    )
    own = sent.filter(session=session).first()
    before = sent.exclude(session=session).first()
    log = logged_shots(session)
    return [_offers(session, log, report) for report in (own, before) if report is not None]


def _start(session: Session) -> Any:
    return session.block.starts_at


def _offers(session: Session, log: list[LoggedShot], report: Report) -> Offers:
    rows = Advice.objects.filter(suggestion__report=report).select_related("suggestion")
    advice = list(rows.order_by("suggestion__position"))
    marks = session.advice_taken.filter(advice__in=advice).select_related("session")
    taken = {mark.advice_id: mark for mark in marks}
    is_earlier = report.session_id != session.pk
    after = 0 if is_earlier else max((one.after_shot for one in advice), default=0)
    before = balls_before(
        logged_shots(report.session) if is_earlier else log, None if is_earlier else after + 1
    )
    last = max((shot.shot for shot in log), default=0)
    offers = [
        Offer(
            one,
            taken.get(one.pk),
            None if one.pk in taken else taken_at(log, _advised(one.suggestion), before, after),
        )
        for one in advice
    ]
    shots = [*(s.shot for s in log if s.shot > after), last + 1]
    return Offers(report, is_earlier, not _same_oil(session, report.session), shots, offers)


def _advised(suggestion: Suggestion) -> Advised:
    detail = suggestion.detail
    return Advised(
        suggestion.kind,
        str(detail.get("ball") or ""),
        float(detail.get("feet") or 0.0),
        float(detail.get("eyes") or 0.0),
    )


def _same_oil(one: Session, other: Session) -> bool:
    """Say whether two sessions' lanes were oiled alike, as far as anybody wrote it down."""
    if one.block.pattern_id or other.block.pattern_id:
        return one.block.pattern_id == other.block.pattern_id
    return one.block.centre_id == other.block.centre_id  # an ordinary house pattern each


# What came of it


@dataclass(frozen=True)
class Entry:
    """A piece of advice that was taken, with the shots before and after it."""

    taken: TakenAdvice
    piece: Piece

    @property
    def advice(self) -> Advice:
        return self.taken.advice

    @property
    def suggestion(self) -> Suggestion:
        return self.taken.advice.suggestion


def entries(rows: Iterable[TakenAdvice]) -> list[Entry]:
    """Return what came of advice that was taken, the latest session first.

    ``rows`` come with what ``OF_TAKEN`` names. All their logs are fetched at once.
    """
    rows = list(rows)
    if not rows:
        return []
    needed = {row.session_id for row in rows}
    needed |= {row.advice.suggestion.report.session_id for row in rows}
    sessions = Session.objects.filter(pk__in=needed).prefetch_related(
        live_shots_of_sessions(), "advice_taken"
    )
    logs: dict[Any, list[LoggedShot]] = {}
    marks: dict[Any, list[int]] = {}
    for session in sessions:
        shots: list[Shot] = session.live_shots  # type: ignore[attr-defined]
        logs[session.pk] = [logged_shot(shot) for shot in shots]
        marks[session.pk] = sorted(mark.from_shot for mark in session.advice_taken.all())
    found = [Entry(row, _piece(row, logs, marks)) for row in rows]
    found.sort(key=lambda one: (one.taken.session.block.starts_at, one.taken.from_shot))
    return found[::-1]


def _piece(
    row: TakenAdvice, logs: dict[Any, list[LoggedShot]], marks: dict[Any, list[int]]
) -> Piece:
    suggestion = row.advice.suggestion
    given_in = suggestion.report.session
    log = logs[row.session_id]
    stop = next((at for at in marks[row.session_id] if at > row.from_shot), None)
    before = balls_before(log, row.from_shot)
    if len(before) < FEWEST_EACH and given_in.pk != row.session_id:
        before = balls_before(logs[given_in.pk], row.advice.after_shot + 1)
    return Piece(
        kind=suggestion.kind,
        strike=suggestion.strike,
        pocket=suggestion.pocket,
        before=outcome(before),
        after=outcome(scoring_balls(log, row.from_shot, stop)),
        scores=_same_oil(row.session, given_in),
    )
