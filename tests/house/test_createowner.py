"""The first account is made on the command line, with one clear line where it cannot be."""

from __future__ import annotations

import io

import pytest
from django.contrib.auth import authenticate
from django.core.management import CommandError, call_command

from clients.models import User

PASSWORD = "a lane of 39 boards"


def createowner(monkeypatch, password: str, **options: str) -> str:
    said = io.StringIO()
    monkeypatch.setattr("sys.stdin", io.StringIO(f"{password}\n"))
    call_command("createowner", password_from_stdin=True, stdout=said, **options)
    return said.getvalue()


def test_owner_can_log_in(db, monkeypatch):
    said = createowner(monkeypatch, PASSWORD, name="Olive", email="Olive@example.org")
    assert said == "Olive can log in as Olive@example.org now.\n"
    olive = authenticate(None, username="olive@example.org", password=PASSWORD)
    assert olive.is_owner


@pytest.mark.parametrize(
    ("password", "email", "line"),
    [
        ("12345678", "olive@example.org", "password: This password is too common."),
        (PASSWORD, "not an address", "email: Enter a valid email address."),
        (PASSWORD, "taken@example.org", "email: User with this E-mail already exists."),
    ],
)
def test_what_does_not_fit_is_named_and_nobody_is_made(db, monkeypatch, password, email, line):
    User.objects.create_user(name="Nick", email="taken@example.org", password=PASSWORD)
    with pytest.raises(CommandError) as refused:
        createowner(monkeypatch, password, name="Olive", email=email)
    assert str(refused.value).startswith(line)
    assert refused.value.returncode == 2
    assert User.objects.count() == 1
