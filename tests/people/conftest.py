"""The world of the access walk: the cast, and things of every kind that hang on it."""

from __future__ import annotations

import io
import uuid
from types import SimpleNamespace

import pytest
from django.urls import resolve
from django.utils import timezone
from PIL import Image

from clients import invitations, life, people, photos, tickets
from clients.models import Client, FitSheet, Job, Layout, StockBall, StockDraft, StockSale, User
from lanes import imports, overrulings, reports, rereadings, shots
from lanes.models import Advice, Homework, Report, Session, TakenAdvice
from lanes.motion import HOUSE
from lanes.patterns import import_pattern
from tests.reports.conftest import make_reading


@pytest.fixture
def world(cast) -> SimpleNamespace:
    """Return the cast with invitations, a log, tickets, a draft, sent reports and a job."""
    w = cast
    _invitations(w)
    _log(w)
    _reports(w)
    _shop(w)
    w.fit = FitSheet.objects.create(client=w.sam_client)
    w.layout = Layout.objects.create(
        ball=w.ball, pap_over_in=5.0, pap_up_in=0.5, pin_over_in=2.0, pin_up_in=2.5
    )
    w.pattern, _ = import_pattern(HOUSE, by=w.carl)
    w.sheet = "direction,from_ft,to_ft,first_board,last_board,ml\nforward,0,30,2,38,6.5\n"
    return w


def _invitations(w: SimpleNamespace) -> None:
    w.invitation, w.token = invitations.invite(
        by=w.carl, name="Pat", role="guardian", client=w.wendy_client
    )
    old, w.old_token = invitations.invite(
        by=w.carl, name="Pia", role="guardian", client=w.wendy_client
    )
    invitations.revoke(old, by=w.carl)
    # For somebody who does not log in meanwhile: that would use the link up.
    forgetful = User.objects.create_user(name="Fay", email="fay@example.org", password="forgotten")
    w.password_link = resolve(people.password_link(forgetful, by=w.olive)).kwargs


def _log(w: SimpleNamespace) -> None:
    """Sam's session with one shot, a file that waits for a yes, and a job that reads it."""
    w.shot, _ = shots.log_shot(session=w.session, by=w.carl, values={"shot": 1}, key=None)
    values = {"shot": 2, "arrows": 11}
    w.read_shot, _ = shots.log_shot(session=w.session, by=w.carl, values=values, key=None)
    w.sitting, _ = rereadings.keep(
        session=w.session,
        by=w.carl,
        how="clip",
        readings={w.read_shot: {"arrows": 11.5}},
        key=uuid.uuid4(),
    )
    w.import_draft = imports.keep_upload(
        session=w.session, filename="log.csv", data=b"shot,arrows\n5,11.5\n", by=w.carl
    )
    w.job = Job.objects.create(
        kind="read_session", subject=str(w.session.pk), key="read", created_by=w.carl
    )


def _shop(w: SimpleNamespace) -> None:
    """Sam's and the minor Wendy's ball are at the shop, Sam's with a picture."""
    w.ticket = tickets.take_in(client=w.sam_client, ball=w.ball, kind="clean", by=w.otto)
    w.wendys_ticket = tickets.take_in(client=w.wendy_client, kind="clean", by=w.otto)
    picture = io.BytesIO()
    Image.new("RGB", (8, 8), "red").save(picture, "PNG")
    picture.seek(0)
    w.photo = photos.add(w.ticket, picture, by=w.otto)
    w.stock = StockBall.objects.create(name="Fog Bell", cover="pearl", quantity=2)
    w.sale = StockSale.objects.create(stock=w.stock, ball=w.ball, sold_by=w.otto)
    w.stock_draft = StockDraft.objects.create(
        filename="list.csv", data=b"name,cover\nSalt Lamp,solid\n", created_by=w.otto
    )
    day = timezone.localdate()
    w.event = life.write_down(ball=w.ball, kind="games", by=w.otto, on=day, games=4)
    w.cover_reading = life.add_reading(ball=w.ball, number=1700, by=w.otto, on=day)


def _reports(w: SimpleNamespace) -> None:
    """Sam has a draft and a sent report, the minor Wendy a sent one; each with homework."""
    w.draft = reports.draft_from(make_reading(w.session))
    w.draft_homework = Homework.objects.create(report=w.draft, text="20 balls")
    w.sent = _sent(w, w.sam_client)
    w.wendys = _sent(w, w.wendy_client)
    w.homework = w.wendys.homework.get()
    w.advice = Advice.objects.filter(suggestion__report=w.sent).first()
    w.taken = TakenAdvice.objects.create(advice=w.advice, session=w.sent.session, from_shot=25)
    w.overruling = overrulings.write(session=w.session, by=w.carl, kind="lane", value="no")


def _sent(w: SimpleNamespace, client: Client) -> Report:
    session = Session.objects.create(
        block=w.block, client=client, coach=w.carl, hand=client.hand, hook="usual", style="one"
    )
    draft = reports.draft_from(make_reading(session))
    Homework.objects.create(report=draft, text="10 balls over the second arrow")
    return reports.send(draft, by=w.carl)
