"""Reports: the draft that a reading makes, the coach's words, sending, and what comes back.

A sent report is frozen; a change makes a new version. Letters and audit entries are written in the
transaction of what they tell.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import IntegrityError, transaction
from django.db.models import Exists, Max, OuterRef, QuerySet
from django.urls import reverse
from django.utils import timezone

from clients import audit, outbox
from clients.models import Client, User
from lanes import ledger, overrulings, words
from lanes.models import (
    Answer,
    Homework,
    Overruling,
    Reading,
    Receipt,
    Report,
    Session,
    Suggestion,
)
from lanes.models.reports import Frozen

WORDS = (*words.FIELDS, "coach_words")


class Overtaken(Exception):
    """Somebody else, or a new reading, changed the draft since it was opened."""


class NotSendable(Exception):
    """What is missing before the report can go out; its text is shown to the coach."""


# The draft


def draft_from(reading: Reading) -> Report:
    """Return the session's draft on this reading, made or renewed; safe to repeat.

    Words that the coach has not touched follow the reading, words of the coach stay. Where the
    newest version is sent and rests on this very reading, there is nothing new, and it is returned.
    """
    with transaction.atomic():
        Session.objects.select_for_update().get(pk=reading.session_id)
        # Locked too: the coach may be saving words or sending at this moment.
        of_session = reading.session.reports.select_for_update(of=["self"])
        newest = of_session.select_related("reading").order_by("-version").first()
        if newest is not None and newest.reading_id == reading.pk:
            return newest
        if newest is not None and not newest.is_sent:
            report, before = newest, _suggested(newest)
            report.reading = reading
        else:
            report = Report(session=reading.session, reading=reading)
            report.version = newest.version + 1 if newest else 1
            before = dict.fromkeys(words.FIELDS, "")
        untouched = [field for field, text in before.items() if getattr(report, field) == text]
        report.save()
        _write_suggestions(report, reading)
        suggested = _suggested(report)
        for field in untouched:
            setattr(report, field, suggested[field])
        report.save()
        return report


def _suggested(report: Report) -> dict[str, str]:
    """Return the words that the reading suggests, options and verdicts as the coach has them."""
    reading, kept = overrulings.reading_of(report), kept_options(report.suggestions.all())
    return words.suggested(reading, kept).as_dict()


def kept_options(suggestions: Iterable[Suggestion]) -> list[int]:
    """Return the numbers of the reading's options that are shown, in the coach's order."""
    return [s.detail["option"] for s in suggestions if not s.dropped]


def _write_suggestions(report: Report, reading: Reading) -> None:
    """Replace the options by the reading's; one that the coach dropped stays dropped."""
    dropped = set(report.suggestions.filter(dropped=True).values_list("title", flat=True))
    report.suggestions.all().delete()
    Suggestion.objects.bulk_create(
        Suggestion(
            report=report,
            position=position,
            dropped=option["title"][:160] in dropped,
            kind=option["kind"],
            title=option["title"][:160],
            why=option["why"],
            # Which of the reading's options this is: its path is drawn by that number.
            detail={
                **option["detail"],
                "option": position,
                "likeliest_leave": option.get("likeliest_leave"),
                "holds": (option.get("holds") or {}).get("words", ""),
                "watch": (option.get("watch") or {}).get("words", ""),
            },
            strike=option["strike"],
            strike_low=option["strike_interval"][0] if option["strike_interval"] else None,
            strike_high=option["strike_interval"][1] if option["strike_interval"] else None,
            pocket=option["pocket"],
            room_boards=option["room_boards"],
            tied=option["tied"],
            model_version=_model_version(reading),
        )
        for position, option in enumerate(reading.data["options"])
    )
    title = overrulings.first_option(report.session)
    if title:
        _put_first(report, title)


def _model_version(reading: Reading) -> str:
    """Return by what the options were reckoned: the reading's version and the table's of hits."""
    table = reading.data.get("table")
    return f"{reading.version}, table {table['version']}"[:20] if table else reading.version


def _put_first(report: Report, title: str) -> None:
    """Put the option of this title first and the others in the reading's order behind it."""
    rows = sorted(
        report.suggestions.all(), key=lambda one: (one.title != title, one.detail["option"])
    )
    for position, one in enumerate(rows):
        one.position = position
        one.dropped = one.dropped and one.title != title
        one.save(update_fields=["position", "dropped"])


def overrule(*, session: Session, by: User, **said: Any) -> Overruling:
    """Keep what the coach says against the reading; the draft's suggested words follow.

    Takes what `overrulings.write` takes, and raises what it raises.
    """
    with transaction.atomic():
        draft, before = _draft_with_words(session)
        row = overrulings.write(session=session, by=by, **said)
        if draft is not None:
            _follow(draft, before, row.kind, row.value)
    return row


def withdraw_overruling(row: Overruling, *, by: User) -> None:
    """Let the reading's own verdict hold again; the draft's suggested words follow."""
    with transaction.atomic():
        draft, before = _draft_with_words(row.session)
        overrulings.withdraw(row, by=by)
        if draft is not None:
            _follow(draft, before, row.kind, "")


def _draft_with_words(session: Session) -> tuple[Report | None, dict[str, str]]:
    drafts = session.reports.select_for_update(of=["self"]).filter(state=Report.State.DRAFT)
    draft = drafts.select_related("reading").first()
    return draft, _suggested(draft) if draft else {}


def _follow(draft: Report, before: dict[str, str], kind: str, value: str) -> None:
    """Renew the words that the coach left as they were suggested; own words stay."""
    if kind == Overruling.Kind.OPTION:
        _put_first(draft, value)
    for field, text in _suggested(draft).items():
        if getattr(draft, field) == before[field]:
            setattr(draft, field, text)
    draft.save()


@dataclass(frozen=True)
class HomeworkLine:
    text: str
    amount: str = ""
    due_on: date | None = None


def save_draft(
    report: Report,
    *,
    by: User,
    opened_at: datetime | None,
    texts: dict[str, str],
    order: Iterable[int],
    dropped: Iterable[int],
    homework: Iterable[HomeworkLine],
) -> Report:
    """Save the coach's words, the order and choice of options, and the homework, all or nothing.

    `opened_at` is the draft's `edited_at` as the coach opened it; `order` and `dropped` are keys of
    the report's suggestions. Suggested words that the coach left as they were follow the option
    that is now first. A second tap finds everything as it wants it and does nothing. Raises
    `Frozen` and `Overtaken`.
    """
    order, dropped, homework = list(order), set(dropped), list(homework)
    with transaction.atomic():
        report = Report.objects.select_for_update().get(pk=report.pk)
        if report.is_sent:
            raise Frozen
        before = _suggested(report)
        if report.edited_at != opened_at:
            if _is_saved(report, texts, order, dropped, homework):
                return report
            raise Overtaken
        for field in WORDS:
            setattr(report, field, texts[field])
        report.save()
        place = {key: position for position, key in enumerate(order)}
        for suggestion in report.suggestions.all():
            suggestion.position = place.get(suggestion.pk, len(place) + suggestion.position)
            suggestion.dropped = suggestion.pk in dropped
            suggestion.save(update_fields=["position", "dropped"])
        for field, text in _suggested(report).items():
            if texts[field] == before[field] != text:
                setattr(report, field, text)
                report.save()
        report.homework.all().delete()
        Homework.objects.bulk_create(
            Homework(
                report=report,
                position=position,
                text=line.text,
                amount=line.amount,
                due_on=line.due_on,
            )
            for position, line in enumerate(homework)
        )
        audit.record(by, "report.edited", report)
    return report


def _is_saved(
    report: Report,
    texts: dict[str, str],
    order: list[int],
    dropped: set[int],
    homework: list[HomeworkLine],
) -> bool:
    suggestions = list(report.suggestions.all())
    lines = [HomeworkLine(h.text, h.amount, h.due_on) for h in report.homework.all()]
    suggested, possible = _suggested(report), words.possible(overrulings.reading_of(report))

    def holds(field: str) -> bool:
        kept, text = getattr(report, field), texts[field]
        # Suggested words have followed the options since.
        followed = kept == suggested.get(field) and text in [one.get(field) for one in possible]
        return kept == text or followed

    return (
        all(holds(field) for field in WORDS)
        and [s.pk for s in suggestions] == order
        and {s.pk for s in suggestions if s.dropped} == dropped
        and lines == homework
    )


# Sending


@dataclass(frozen=True)
class Recipient:
    user: User
    relation: str  # "student" or "guardian"

    @property
    def gets_letter(self) -> bool:
        return bool(self.user.email)


def recipients(client: Client) -> list[Recipient]:
    """Return who will see the client's sent reports: the student, where they have an account, and
    every guardian."""
    return [
        Recipient(user, "student" if user.pk == client.user_id else "guardian")
        for user in outbox.people_around(client)
    ]


def send(report: Report, *, by: User) -> Report:
    """Send the draft: freeze it and write to the student and every guardian, in one transaction.

    A second tap finds it sent and does nothing. Raises `NotSendable`.
    """
    with transaction.atomic():
        report = (
            Report.objects.select_for_update(of=["self"])
            .select_related("session__client", "session__block__centre")
            .get(pk=report.pk)
        )
        if report.is_sent:
            return report
        missing = what_is_missing(report)
        if missing:
            raise NotSendable(missing)
        report.state = Report.State.SENT
        report.sent_at = timezone.now()
        report.sent_by = by
        report.save()
        ledger.note_sent(report, by=by)
        client = report.session.client
        told = recipients(client)
        for recipient in told:
            outbox.write(
                key=f"report-sent:{report.pk}",
                to=recipient.user,
                client=client,
                subject=f"Your lesson of {_day(report)}"
                if recipient.relation == "student"
                else f"{client.name}'s lesson of {_day(report)}",
                body=_letter(recipient.user, report, by),
            )
        audit.record(by, "report.sent", report, to=[recipient.user.pk for recipient in told])
    return report


def what_is_missing(report: Report) -> str:
    """Return what the report lacks to be sent, in one sentence; empty when it is ready."""
    client = report.session.client
    if client.is_minor and all(told.relation != "guardian" for told in recipients(client)):
        return f"{client.name} is a minor and no guardian is recorded. Invite a guardian first."
    if not (report.went_well.strip() and report.to_change.strip() and report.to_practise.strip()):
        return (
            "The student sees one thing well done, one to change and one to practise. "
            "Write a line for each."
        )
    return ""


def _letter(to: User, report: Report, by: User) -> str:
    address = settings.SITE_URL + reverse("portal_report", args=[report.pk])
    return (
        f"Hello {to.name},\n\n"
        f"{by.name} has written up {report.session.client.name}'s session of {_day(report)} at "
        f"{report.session.block.centre}:\n{address}\n\n"
        f"You can mark it as read and answer there.\n"
    )


def _day(report: Report) -> str:
    return f"{timezone.localtime(report.session.block.starts_at):%-d %B %Y}"


def revise(report: Report, *, by: User) -> Report:
    """Return the draft of the next version, copied from a sent report; one that exists is kept."""
    with transaction.atomic():
        Session.objects.select_for_update().get(pk=report.session_id)
        of_session = Report.objects.filter(session=report.session_id)
        draft = of_session.filter(state=Report.State.DRAFT).first()
        if draft is not None:
            return draft
        newest = of_session.aggregate(newest=Max("version"))["newest"]
        draft = Report.objects.create(
            session_id=report.session_id,
            reading_id=report.reading_id,
            version=newest + 1,
            **{field: getattr(report, field) for field in WORDS},
        )
        for model, rows in (
            (Suggestion, report.suggestions.all()),
            (Homework, report.homework.all()),
        ):
            copies = list(rows)
            for row in copies:
                row.pk = None
                row.report = draft
            model.objects.bulk_create(copies)
        audit.record(by, "report.revised", draft, of=report.version)
    return draft


def newest_versions(sent: QuerySet[Report]) -> QuerySet[Report]:
    """Return, of sent reports, those that no newer version has replaced."""
    newer = Report.objects.filter(
        session=OuterRef("session"), state=Report.State.SENT, version__gt=OuterRef("version")
    )
    return sent.filter(~Exists(newer))


def newer_version(report: Report) -> Report | None:
    """Return the newest sent version of the same session, where it is not this one."""
    return (
        Report.objects.filter(
            session=report.session_id, state=Report.State.SENT, version__gt=report.version
        )
        .order_by("-version")
        .first()
    )


# What comes back


def mark_read(report: Report, *, by: User) -> Receipt:
    """Note that a recipient has read the report; the first time counts."""
    receipt, _ = Receipt.objects.get_or_create(report=report, user=by)
    return receipt


def mark_answers_seen(report: Report, *, by: User) -> Receipt:
    """Note that a coach has seen the report's answers up to now."""
    receipt, _ = Receipt.objects.update_or_create(
        report=report, user=by, defaults={"read_at": timezone.now()}
    )
    return receipt


def answer(report: Report, *, by: User, key: uuid.UUID, text: str) -> tuple[Answer, bool]:
    """Keep an answer under the key that the browser made; return it, and whether it is new.

    A second tap, a reload and a late retry find the first one's row. Where the words were changed
    between two tries whose first got through unnoticed, they are kept beside the first ones. The
    coach and the guardians get a letter.
    """
    session = report.session
    taken = Answer.objects.filter(pk=key).first()
    if taken and (taken.author_id, taken.report_id, taken.text) != (by.pk, report.pk, text):
        # The new key follows from the content, so that a retry of this one adds nothing either.
        key = uuid.uuid5(key, f"{by.pk} {report.pk} {text}")
    try:
        with transaction.atomic():
            kept, new = Answer.objects.get_or_create(
                pk=key, defaults={"report": report, "author": by, "text": text}
            )
            if new:
                for reader in _hears_of_answers(report, by):
                    outbox.write(
                        key=f"answer:{kept.pk}",
                        to=reader,
                        client=session.client,
                        subject=f"{by.name} answered on the lesson of {_day(report)}",
                        body=f"Hello {reader.name},\n\n{by.name} wrote:\n\n{text}\n\n"
                        f"{_address_for(reader, report)}\n",
                    )
                audit.record(by, "report.answered", report, answer=str(kept.pk))
    except IntegrityError:  # the same answer came twice at the same moment
        kept, new = Answer.objects.get(pk=key), False
    return kept, new


def _hears_of_answers(report: Report, author: User) -> list[User]:
    client = report.session.client
    coach = client.coach or report.sent_by
    readers = [*([coach] if coach else []), *outbox.people_around(client)]
    return [user for user in dict.fromkeys(readers) if user.pk != author.pk and user.is_active]


def _address_for(reader: User, report: Report) -> str:
    """Return where this reader finds the report: a coach who is a guardian too may have both."""
    coaches = Report.objects.coached_by(reader).filter(pk=report.pk).exists()
    page = "lanes:report" if coaches else "portal_report"
    return settings.SITE_URL + reverse(page, args=[report.pk])


def set_homework_done(homework: Homework, *, done: bool) -> None:
    """Tick homework off, or take the tick back; the first tick's time stays."""
    if done:
        Homework.objects.filter(pk=homework.pk, done_at=None).update(done_at=timezone.now())
    else:
        Homework.objects.filter(pk=homework.pk).update(done_at=None)


def new_answers(user: User, report: Report | None = None) -> list[Answer]:
    """Return answers to the user's students' reports, or to one of them, since the user last saw
    them, newest first."""
    seen = dict(Receipt.objects.filter(user=user).values_list("report_id", "read_at"))
    answers = Answer.objects.filter(report__in=Report.objects.coached_by(user)).exclude(author=user)
    if report is not None:
        answers = answers.filter(report=report)
    answers = answers.select_related(
        "author", "report__session__client", "report__session__block__centre"
    ).order_by("-created_at")[:200]
    return [a for a in answers if a.report_id not in seen or a.created_at > seen[a.report_id]]


@dataclass(frozen=True)
class Reader:
    user: User
    relation: str
    read_at: datetime | None


def readers(report: Report) -> list[Reader]:
    """Return to whom a sent report went, and since when each has read it."""
    if not report.is_sent:
        return []
    read_at = dict(report.receipts.values_list("user_id", "read_at"))
    return [
        Reader(recipient.user, recipient.relation, read_at.get(recipient.user.pk))
        for recipient in recipients(report.session.client)
    ]
