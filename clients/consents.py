"""What a guardian agrees to, in which words. Each consent stands alone and can be taken back."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from clients import audit
from clients.models import Client, Consent, Guardianship, User


@dataclass(frozen=True)
class Wording:
    """The words of one consent. Changed words get a new version; what was agreed to stays."""

    kind: str
    version: str
    title: str
    text: str

    def for_ward(self, client: Client) -> str:
        """Return the words as the guardian reads and agrees to them, and as they are kept."""
        return f"{self.text.format(name=client.name)}\n\nWording {self.version}."


WORDINGS = {
    Consent.Kind.ACCOUNT: Wording(
        kind=Consent.Kind.ACCOUNT,
        version="account 1, November 2026",
        title="An account of the student's own",
        text=(
            "I am a parent or legal guardian of {name}. I agree that {name} has an account here, "
            "to read the coach's reports and homework and to answer them.\n\n"
            "Kept about {name}: name and log-in, what {name} writes, what the coach writes down at "
            "lessons (hand, ball speed, shots, balls), and the reports made from that. {name}, the "
            "coach, the owner of this site and I can see it. The pro shop sees the balls and no "
            "lessons.\n\n"
            "Every report that is sent to {name}, and every answer, comes to me too.\n\n"
            "I can take this back here at any time. The account then closes at once."
        ),
    ),
    Consent.Kind.CLIPS: Wording(
        kind=Consent.Kind.CLIPS,
        version="clips 1, November 2026",
        title="Video clips",
        text=(
            "I am a parent or legal guardian of {name}. I agree that the coach makes video clips "
            "of {name}'s throws and keeps them here for coaching. {name}, the coach, the owner of "
            "this site and I can see them; they are shown to nobody else.\n\n"
            "The account works without this. I can take it back here at any time; from then on no "
            "clip may be made, and the coach removes those that are kept."
        ),
    ),
}


class NotTheGuardian(Exception):
    """Only the guardian agrees, and only the guardian takes it back."""


@dataclass(frozen=True)
class ConsentState:
    """One kind of consent as a page shows it: today's words, and what is in force if anything."""

    kind: str
    version: str
    title: str
    words: str
    given: Consent | None


def state_of(guardianship: Guardianship) -> list[ConsentState]:
    """Return every kind of consent for this ward, given or not."""
    given = {
        consent.kind: consent for consent in guardianship.consents.all() if not consent.revoked_at
    }
    return [
        ConsentState(
            kind=kind,
            version=wording.version,
            title=wording.title,
            words=wording.text.format(name=guardianship.client.name),
            given=given.get(kind),
        )
        for kind, wording in WORDINGS.items()
    ]


def wards_of(user: User) -> list[tuple[Guardianship, list[ConsentState]]]:
    """Return whom the user is a guardian of, each with the state of its consents."""
    own = user.wards.select_related("client").prefetch_related("consents").order_by("client__name")
    return [(guardianship, state_of(guardianship)) for guardianship in own]


def guardians_of(client: Client) -> list[tuple[Guardianship, list[ConsentState]]]:
    """Return the client's guardians, each with the state of their consents."""
    guardianships = client.guardianships.select_related("guardian", "client")
    found = guardianships.prefetch_related("consents").order_by("guardian__name")
    return [(guardianship, state_of(guardianship)) for guardianship in found]


def in_force(guardianship: Guardianship, kind: str) -> Consent | None:
    return guardianship.consents.filter(kind=kind, revoked_at=None).first()


def give(guardianship: Guardianship, kind: str, *, by: User) -> Consent:
    """Record that the guardian agrees to the words of today; agreeing twice is once."""
    _check(guardianship, by)
    wording = WORDINGS[Consent.Kind(kind)]
    with transaction.atomic():
        consent, made = Consent.objects.get_or_create(
            guardianship=guardianship,
            kind=kind,
            revoked_at=None,
            defaults={"wording": wording.for_ward(guardianship.client)},
        )
        if made:
            audit.record(by, "consent.given", consent, kind=kind, wording=wording.version)
    return consent


def revoke(guardianship: Guardianship, kind: str, *, by: User) -> None:
    """Take the consent back. A minor's account closes with the last guardian's account consent."""
    _check(guardianship, by)
    with transaction.atomic():
        consent = in_force(guardianship, kind)
        if consent is None:
            return
        consent.revoked_at = timezone.now()
        consent.save(update_fields=["revoked_at"])
        audit.record(by, "consent.revoked", consent, kind=kind)


def _check(guardianship: Guardianship, by: User) -> None:
    if guardianship.guardian_id != by.pk:
        raise NotTheGuardian
