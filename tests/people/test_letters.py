"""The page of letters: whom each went to and what became of it, never what it says."""

from __future__ import annotations

from django.core import mail
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


def test_one_bad_letter_holds_no_other_up(cast, settings, monkeypatch) -> None:
    settings.EMAIL_HOST = "mail.example.org"
    outbox.write(key="bad", to=cast.sam, subject="Bad", body="")
    outbox.write(key="good", to=cast.gina, subject="Good", body="")
    went = []

    def refuse_the_bad_one(letter) -> None:
        if letter.subject == "Bad":
            raise ValueError("no such letter")
        went.append(letter.subject)

    monkeypatch.setattr(outbox.EmailMessage, "send", refuse_the_bad_one)
    assert outbox.send_waiting() == 1
    assert went == ["Good"]
    assert "no such letter" in Mail.objects.get(subject="Bad").error


def test_a_line_break_in_a_name_makes_no_header(cast, settings) -> None:
    """A form field takes line breaks from whoever sends them by hand (RFC 5322 header folding)."""
    settings.EMAIL_HOST = "mail.example.org"
    outbox.write(key="a", to=cast.sam, subject="Sam\r\nBcc: all@example.org answered", body="")
    assert outbox.send_waiting() == 1
    assert mail.outbox[0].subject == "Sam Bcc: all@example.org answered"
    assert mail.outbox[0].recipients() == [cast.sam.email]


def test_two_workers_send_no_letter_twice(cast, settings, monkeypatch) -> None:
    settings.EMAIL_HOST = "mail.example.org"
    outbox.write(key="a", to=cast.sam, subject="Once", body="")
    meanwhile = []
    monkeypatch.setattr(
        outbox.EmailMessage, "send", lambda letter: meanwhile.append(outbox.send_waiting())
    )
    assert outbox.send_waiting() == 1
    assert meanwhile == [0]


def test_letters_that_failed_go_behind_those_not_tried_yet(cast, settings, monkeypatch) -> None:
    settings.EMAIL_HOST = "mail.example.org"
    for number in range(60):
        outbox.write(key=f"old{number}", to=cast.sam, subject="Old", body="")
    Mail.objects.update(error="refused")
    outbox.write(key="new", to=cast.sam, subject="New", body="")
    went = []
    monkeypatch.setattr(outbox.EmailMessage, "send", lambda letter: went.append(letter.subject))
    outbox.send_waiting()
    assert went[0] == "New"
