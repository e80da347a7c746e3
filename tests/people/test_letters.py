"""The page of letters: whom each went to and what became of it, never what it says."""

from __future__ import annotations

from django.utils import timezone

from clients import invitations, outbox
from clients.models import Mail


def test_a_minors_report_is_seen_to_have_gone_to_the_guardian_too(world, as_user) -> None:
    page = as_user(world.carl).get("/people/letters/").content.decode()
    assert f"to Wendy, {world.wendy.email} · about Wendy" in page
    assert f"to Gina, {world.gina.email} · about Wendy" in page
    assert "No mail server is named" in page


def test_a_coach_sees_letters_about_own_clients_only(world, as_user) -> None:
    page = as_user(world.dora).get("/people/letters/").content.decode()
    assert "No letter yet" in page
    assert "Wendy" not in page


def test_waiting_sent_and_failed_are_told_apart(cast, as_user, settings) -> None:
    settings.EMAIL_HOST = "mail.example.org"
    outbox.write(key="a", to=cast.sam, subject="First", body="")
    outbox.write(key="b", to=cast.sam, subject="Second", body="")
    outbox.write(key="c", to=cast.sam, subject="Third", body="")
    Mail.objects.filter(subject="First").update(sent_at=timezone.now())
    Mail.objects.filter(subject="Second").update(error="refused")
    page = as_user(cast.olive).get("/people/letters/").content.decode()
    first, second, third = (page.index(name) for name in ("First", "Second", "Third"))
    assert third < second < first, "newest first"
    assert "waits" in page[third:second]
    assert "failed" in page[second:first]
    assert "sent" in page[first:]
    assert "No mail server" not in page


def test_no_link_that_opens_anything_is_on_the_page(cast, as_user, settings) -> None:
    settings.EMAIL_HOST = "mail.example.org"
    _, token = invitations.invite(
        by=cast.olive, name="Pat", role="operator", email="pat@example.org"
    )
    assert token in Mail.objects.get().body
    page = as_user(cast.olive).get("/people/letters/").content.decode()
    assert "pat@example.org" in page
    assert token not in page
    assert "/join/" not in page
