"""Names that stand for one thing: a ball's among the client's, a centre's, a pattern sheet's."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import IntegrityError, transaction


class NameTaken(ValueError):
    """Another thing has the name already; the text says which, for the name's field."""


@contextmanager
def refused_if_taken(message: str) -> Iterator[None]:
    """Do what stands inside in a transaction; a name that the database refuses is NameTaken."""
    try:
        with transaction.atomic():
            yield
    except IntegrityError as error:
        raise NameTaken(message) from error
