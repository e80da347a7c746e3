"""The world of the access walk: the cast, and things of every kind that hang on it."""

from __future__ import annotations

from types import SimpleNamespace

import pytest
from django.urls import resolve

from clients import invitations, people
from clients.models import User
from lanes.motion import HOUSE
from lanes.patterns import import_pattern


@pytest.fixture
def world(cast) -> SimpleNamespace:
    """Return the cast with an open and a used-up invitation and a link for a new password."""
    w = cast
    w.invitation, w.token = invitations.invite(
        by=w.carl, name="Pat", role="guardian", client=w.wendy_client
    )
    old, w.old_token = invitations.invite(
        by=w.carl, name="Pia", role="guardian", client=w.wendy_client
    )
    invitations.revoke(old, by=w.carl)
    # For somebody who does not log in meanwhile: that would use the link up.
    forgetful = User.objects.create_user(name="Fay", email="fay@example.org", password="forgotten")
    w.pattern, _ = import_pattern(HOUSE, by=w.carl)
    w.password_link = resolve(people.password_link(forgetful, by=w.olive)).kwargs
    return w
