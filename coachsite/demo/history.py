"""What happened before today: a few reports that were sent, read and answered."""

from __future__ import annotations

import uuid
from datetime import timedelta

from clients.models import User
from lanes import readings, reports
from lanes.models import Report, Session

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
        0,
        (("Move feet two, eyes one, and write down where it crosses", "15 balls"),),
        (),
    ),
)


def write() -> None:
    """Read, send and answer those reports; each is read as the worker would read it."""
    for client, back, homework, answers in _SENT:
        session = Session.objects.filter(client__name=client).order_by("-block__starts_at")[back]
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
        report = reports.send(draft, by=session.coach)
        # Sent on the evening after the session, as the page should tell; the model refuses changes
        # of a sent report, so the day is set below it.
        sent_at = session.block.starts_at + timedelta(hours=3)
        Report.objects.filter(pk=report.pk).update(sent_at=sent_at)
        for author, text in answers:
            user = User.objects.get(name=author)
            reports.mark_read(report, by=user)
            reports.answer(report, by=user, key=uuid.uuid5(session.pk, text), text=text)
