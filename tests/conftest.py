"""The fixed cast, in every test by name.

Olive owns the place. Carl and Dora coach; Carl coaches Sam and the minor Wendy, Dora coaches Tess.
Otto works in the shop. Sam and Wendy are students, Gina is Wendy's guardian. Nick is a stranger: he
logs in, and nothing here is his.
"""

from __future__ import annotations

from types import SimpleNamespace

import hypothesis
import pytest
from django.test import Client as Browser

from clients.models import Ball, Client, Consent, Guardianship, Role, Surface, User
from lanes import warm
from lanes.models import Block, Centre, Lane, Session, SessionBall

PASSWORD = "a lane of 39 boards"

# The same examples in every run: a check that fails here fails for everybody.
hypothesis.settings.register_profile("house", derandomize=True, deadline=None)
hypothesis.settings.load_profile("house")

# A kernel kept from before an edit would be tested in place of the one that stands there.
warm.drop_stale()


def _user(name: str, *roles: str) -> User:
    return User.objects.create_user(
        name=name, email=f"{name.lower()}@example.org", password=PASSWORD, roles=roles
    )


@pytest.fixture
def cast(db) -> SimpleNamespace:
    """Return the people of the cast, with clients, a ball each, and Sam's and Tess's sessions."""
    c = SimpleNamespace(
        olive=_user("Olive", Role.OWNER),
        carl=_user("Carl", Role.COACH),
        dora=_user("Dora", Role.COACH),
        otto=_user("Otto", Role.OPERATOR),
        sam=_user("Sam", Role.STUDENT),
        wendy=_user("Wendy", Role.STUDENT),
        gina=_user("Gina", Role.GUARDIAN),
        nick=_user("Nick"),
    )
    release = {"speed_mph": 17.5, "rev_rpm": 350, "rotation_deg": 55, "tilt_deg": 12}
    c.sam_client = Client.objects.create(
        name="Sam", coach=c.carl, user=c.sam, coach_notes="Drops the shoulder.", **release
    )
    c.wendy_client = Client.objects.create(
        name="Wendy", coach=c.carl, user=c.wendy, is_minor=True, hand="left"
    )
    c.tess_client = Client.objects.create(name="Tess", coach=c.dora)
    c.guardianship = Guardianship.objects.create(guardian=c.gina, client=c.wendy_client)
    Consent.objects.create(guardianship=c.guardianship, kind="account", wording="I agree.")
    c.ball = Ball.objects.create(
        client=c.sam_client, name="A", cover="solid", rg_in=2.52, differential_in=0.045, mass_lb=15
    )
    Surface.objects.create(ball=c.ball, grit=2000)
    c.tess_ball = Ball.objects.create(client=c.tess_client, name="T", cover="pearl")
    c.centre = Centre.objects.create(name="Test Lanes")
    c.lanes = [Lane.objects.create(centre=c.centre, number=n) for n in (7, 8)]
    c.block = Block.objects.create(centre=c.centre, created_by=c.carl)
    c.block.lanes.set(c.lanes)
    c.session = make_session(c.block, c.sam_client, c.carl)
    c.session_ball = SessionBall.objects.create(
        session=c.session, label="A", ball=c.ball, cover="solid", grit=2000, polished=False
    )
    c.tess_session = make_session(c.block, c.tess_client, c.dora)
    return c


def make_session(block: Block, client: Client, coach: User) -> Session:
    return Session.objects.create(
        block=block,
        client=client,
        coach=coach,
        hand=client.hand,
        hook=client.hook,
        style=client.style,
        speed_mph=client.speed_mph,
        rev_rpm=client.rev_rpm,
        rotation_deg=client.rotation_deg,
        tilt_deg=client.tilt_deg,
    )


@pytest.fixture
def as_user():
    """Return a function that gives a logged-in test browser for a user."""

    def log_in(user: User) -> Browser:
        browser = Browser()
        browser.force_login(user, backend="clients.auth.EmailOrNameBackend")
        return browser

    return log_in
