"""The first account of a new house; everybody else comes by invitation."""

from __future__ import annotations

import argparse
import sys
from getpass import getpass
from typing import Any

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from clients.models import Role, User


class Command(BaseCommand):
    help = "Make an account for an owner. Asks for what is not given; the password is never shown."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--name")
        parser.add_argument("--email")
        parser.add_argument(
            "--password-from-stdin", action="store_true", help="read one line instead of asking"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["name"] or input("Name: ")
        email = options["email"] or input("E-mail: ")
        if options["password_from_stdin"]:
            password = sys.stdin.readline().rstrip("\n")
        else:
            password = getpass("Password: ")
            if getpass("The same again: ") != password:
                raise CommandError("password: the two were not the same", returncode=2)
        make_owner(name.strip(), email.strip(), password)
        self.stdout.write(f"{name} can log in as {email} now.")


def make_owner(name: str, email: str, password: str) -> User:
    """Make the account, or raise CommandError with one line that names the field."""
    try:
        validate_password(password, User(name=name, email=email))
    except ValidationError as error:
        raise CommandError(f"password: {' '.join(error.messages)}", returncode=2) from None
    try:
        with transaction.atomic():
            return User.objects.create_user(
                name=name, email=email, password=password, roles=[Role.OWNER]
            )
    except ValidationError as error:
        field, messages = next(iter(error.message_dict.items()))
        raise CommandError(f"{field}: {' '.join(messages)}", returncode=2) from None
