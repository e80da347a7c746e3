"""What happened before today: a few reports that were sent, read and answered."""

from __future__ import annotations

import contextlib
import uuid
from datetime import timedelta

from clients import jobs
from clients.models import AuditEntry, User
from lanes import ledger, readings, reports
from lanes.models import Advice, Report, Session

# The keys of the demo's sessions follow from the seed and are small, other keys are random.
KEYS_BELOW = uuid.UUID(int=1 << 96)

_Lines = tuple[tuple[str, str], ...]

# Client, how many sessions back, homework, who answers what.
_SENT = (
    (
        "Juno Abelard",
        2,
        (
            (
                "Ten balls at the second arrow, eyes there until the ball is past",
                "10 balls",
            ),
        ),
        (("Juno Abelard", "Did it twice this week. The third arrow feels easier now."),),
    ),
    (
        "Juno Abelard",
        1,
        (
            ("Same speed from the first ball to the last: count your steps aloud", "20 balls"),
            ("Two games for spares only, write down each corner pin", "2 games"),
        ),
        (),
    ),
    (
        "Lotte Birdsong",
        0,
        (("Five slow walks to the line without a ball, then ten with it", "10 balls"),),
        (("Klara Birdsong", "Lotte read it with me. We bowl on Saturday."),),
    ),
    (
        "Noor Ashgrove",
        1,
        (("Twenty balls at the new boards, count how many cross the one you look at", "20 balls"),),
        (),
    ),
    (
        "Noor Ashgrove",
        0,
        (("Move feet two, eyes one, and write down where it crosses", "15 balls"),),
        (),
    ),
)


_WRITTEN = "demo.history_written"


def is_written() -> bool:
    return AuditEntry.objects.filter(action=_WRITTEN).exists()


def write() -> None:
    """Read, send and answer those reports; each is read as the worker would read it.

    Cut off halfway it can be called again: what is sent and answered by then stays as it is, and
    what somebody has played with meanwhile is left to them.
    """
    for client, back, homework, answers in _SENT:
        bowled = Session.objects.filter(client__name=client, pk__lt=KEYS_BELOW)
        for session in bowled.order_by("-block__starts_at")[back : back + 1]:
            with contextlib.suppress(jobs.JobProblem, reports.NotSendable):
                _write(session, homework, answers)
    for session in Session.objects.filter(pk__lt=KEYS_BELOW, deleted_at=None).order_by(
        "block__starts_at"
    ):
        _mark_advice(session)
    AuditEntry.objects.create(action=_WRITTEN, subject="demo")


def _mark_advice(session: Session) -> None:
    """Mark what the session's shots did of the advice before it, as the coach would.

    What the log shows is taken; where it shows nothing, the student stayed as they were from the
    first shot on, and nothing else was taken.
    """
    if session.coach is None or session.advice_taken.exists():
        return
    for before in ledger.offers_for(session):
        if not before.is_earlier or len(before.shots) < 2:
            continue
        shown = [one for one in before.offers if one.is_open and one.proposed]
        stays = [
            one for one in before.offers if one.is_open and one.advice.suggestion.kind == "stay"
        ]
        for one in shown[:1] or stays[:1]:
            from_shot = one.proposed or before.shots[0]
            ledger.take(one.advice, session=session, from_shot=from_shot, by=session.coach)
            for other in before.offers:
                if other is not one:
                    ledger.set_not_taken(other.advice, not_taken=True, by=session.coach)


def _write(session: Session, homework: _Lines, answers: _Lines) -> None:
    if session.deleted_at:
        return
    report = session.reports.filter(state=Report.State.SENT).order_by("version").first()
    report = report or _send(session, homework)
    # Sent on the evening after the session, as the page should tell; the model refuses changes of a
    # sent report, so the day is set below it.
    sent_at = session.block.starts_at + timedelta(hours=3)
    Report.objects.filter(pk=report.pk).update(sent_at=sent_at)
    Advice.objects.filter(suggestion__report=report).update(given_at=sent_at)
    for author, text in answers:
        for user in User.objects.filter(name=author):
            reports.mark_read(report, by=user)
            reports.answer(report, by=user, key=uuid.uuid5(session.pk, text), text=text)


def _send(session: Session, homework: _Lines) -> Report:
    draft = reports.draft_from(readings.read(session, lambda fraction, message="": None))
    reports.save_draft(
        draft,
        by=session.coach,
        opened_at=draft.edited_at,
        texts={field: getattr(draft, field) for field in reports.WORDS},
        order=draft.suggestions.values_list("pk", flat=True),
        dropped=[],
        homework=[reports.HomeworkLine(text, amount) for text, amount in homework],
    )
    return reports.send(draft, by=session.coach)
