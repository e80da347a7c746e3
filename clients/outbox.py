"""Letters. They are written in the transaction of what they tell, and sent later by the worker."""

from __future__ import annotations

import logging
import time

from django.conf import settings
from django.core.mail import EmailMessage
from django.utils import timezone

from clients import jobs
from clients.models import Client, Mail, User

logger = logging.getLogger(__name__)
SENDING_LEASE = "letters"
SENDING_S = 120  # many times what one letter can take (EMAIL_TIMEOUT)


def people_around(client: Client) -> list[User]:
    """Return who hears of this client's reports and answers: the client and every guardian."""
    guardians = User.objects.filter(wards__client=client, is_active=True)
    own = [client.user] if client.user_id and client.user.is_active else []
    return [*own, *guardians.distinct()]


def write(
    *, key: str, to: User, subject: str, body: str, client: Client | None = None
) -> Mail | None:
    """Put a letter into the outbox, once per key; None for a user without an e-mail."""
    if not to.email:
        return None
    mail, _ = Mail.objects.get_or_create(
        key=f"{key}:{to.pk}",
        defaults={
            "to": to,
            "client": client,
            "address": to.email,
            "subject": _one_line(subject),
            "body": body,
        },
    )
    return mail


def _one_line(subject: str) -> str:
    """Return a subject that mail can carry: a name in it may have been sent with a line break."""
    return " ".join(subject.split())


def write_to_address(
    *, key: str, address: str, subject: str, body: str, client: Client | None = None
) -> Mail:
    """Put a letter to somebody who has no account yet into the outbox, once per key."""
    mail, _ = Mail.objects.get_or_create(
        key=key, defaults={"client": client, "address": address, "subject": subject, "body": body}
    )
    return mail


def withdraw(key_prefix: str) -> None:
    """Take back letters whose link opens nothing any more; of those gone out, forget the words."""
    letters = Mail.objects.filter(key__startswith=key_prefix)
    letters.filter(sent_at=None).delete()
    letters.update(body="The link in this letter opens nothing any more.")


def recall(key_prefix: str) -> None:
    """Take letters that have not gone out yet back out of the outbox: what they tell is not so."""
    Mail.objects.filter(key__startswith=f"{key_prefix}:", sent_at=None).delete()


def send_waiting() -> int:
    """Send what waits, if a mail server is named; return how many went out.

    A letter that fails stays in the outbox with the reason and is tried again on the next round,
    after those that were not tried yet. One worker sends at a time, so that none goes out twice.
    """
    if not settings.EMAIL_HOST or not jobs.take_lease(SENDING_LEASE, SENDING_S):
        return 0
    try:
        return _send_waiting(until=time.monotonic() + SENDING_S / 2)
    finally:
        jobs.give_back_lease(SENDING_LEASE)


def _send_waiting(until: float) -> int:
    sent = 0
    # An address under .invalid can never be reached (RFC 2606): the demo's people.
    waiting = Mail.objects.filter(sent_at=None).exclude(address__endswith=".invalid")
    for mail in waiting.order_by("error", "created_at")[:50]:
        if time.monotonic() > until:
            break  # the rest with the next round, before anybody else may take the lease
        try:
            EmailMessage(mail.subject, mail.body, to=[mail.address]).send()
        except Exception as error:  # whatever is wrong with one letter, the others go out
            logger.warning("letter %s: %s", mail.pk, error)
            Mail.objects.filter(pk=mail.pk).update(error=str(error)[:300])
        else:
            Mail.objects.filter(pk=mail.pk).update(sent_at=timezone.now(), error="")
            sent += 1
    return sent
