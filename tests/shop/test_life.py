"""A ball's life: lines by hand, passing on, the time line, who may do it, what goes along."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clients import gear, layouts, life, tickets
from clients.models import AuditEntry, Ball, BallEvent, FitSheet, Layout, Surface
from clients.names import NameTaken
from lanes import overview
from lanes.models import Shot

TODAY = timezone.localdate


def page(browser, pk: int) -> str:
    response = browser.get(reverse("clients:ball", args=[pk]))
    assert response.status_code == 200
    return response.content.decode()


@pytest.fixture
def layout(cast) -> Layout:
    fit = FitSheet.objects.create(client=cast.sam_client)
    layout = Layout.objects.create(
        ball=cast.ball, fit=fit, pap_over_in=5, pap_up_in=0.5, pin_over_in=1, pin_up_in=2
    )
    layouts.mark_drilled(layout, on=date(2026, 1, 5), by=cast.otto)
    return layout


# Lines by hand.


@pytest.mark.parametrize("kind", life.BY_HAND)
def test_every_kind_is_written_by_the_short_form_once_however_often_one_taps(cast, as_user, kind):
    browser = as_user(cast.otto)
    data = {"kind": kind, "on": "2026-01-05", "games": 3, "note": "As told."}
    for _ in range(2):
        response = browser.post(reverse("clients:event_add", args=[cast.ball.pk]), data)
        assert response["Location"] == reverse("clients:ball", args=[cast.ball.pk])
    event = cast.ball.events.get()
    assert (event.kind, event.on, event.by) == (kind, date(2026, 1, 5), cast.otto)
    assert event.games == (3 if kind == "games" else None)
    assert AuditEntry.objects.filter(action=f"ball.{kind}", actor=cast.otto).count() == 1


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"kind": "games"}, "games"),
        ({"kind": "games", "games": "many"}, "games"),
        ({"kind": "games", "games": "0"}, "games"),
        ({"kind": "games", "games": "501"}, "games"),
        ({"kind": "polished"}, "kind"),
        ({"kind": "passed_on"}, "kind"),
        ({"kind": "cleaned", "on": "2999-01-01"}, "on"),
        ({"kind": "cleaned", "on": "soon"}, "on"),
    ],
)
def test_a_wrong_line_is_named_at_its_field_and_nothing_is_written(cast, as_user, data, field):
    url = reverse("clients:event_add", args=[cast.ball.pk])
    response = as_user(cast.otto).post(url, {"on": "2026-01-05"} | data)
    assert field in response.context["form"].errors
    assert not cast.ball.events.exists()


def test_the_same_games_of_another_hour_are_other_games(cast):
    first = life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=TODAY(), games=3)
    BallEvent.objects.filter(pk=first.pk).update(created_at=timezone.now() - timedelta(hours=1))
    second = life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=TODAY(), games=3)
    assert first.pk != second.pk


def test_a_mistake_is_taken_out_again_and_once_more_does_no_harm(cast, as_user):
    event = life.write_down(ball=cast.ball, kind="cleaned", by=cast.otto, on=TODAY())
    url = reverse("clients:event_remove", args=[cast.ball.pk, event.pk])
    for _ in range(2):
        assert as_user(cast.carl).post(url).status_code == 302
    assert not cast.ball.events.exists()
    assert AuditEntry.objects.filter(action="ball.event_taken_back").count() == 1


def test_what_a_ticket_wrote_is_not_taken_out_by_hand(cast, as_user):
    ticket = tickets.take_in(client=cast.sam_client, ball=cast.ball, kind="clean", by=cast.otto)
    event = gear.write_event(ball=cast.ball, kind="cleaned", by=cast.otto, ticket=ticket)
    url = reverse("clients:event_remove", args=[cast.ball.pk, event.pk])
    assert as_user(cast.otto).post(url).status_code == 404
    assert cast.ball.events.count() == 1


def test_another_balls_line_is_not_reached_through_ones_own(cast, as_user):
    event = life.write_down(ball=cast.tess_ball, kind="cleaned", by=cast.otto, on=TODAY())
    as_user(cast.carl).post(reverse("clients:event_remove", args=[cast.ball.pk, event.pk]))
    assert cast.tess_ball.events.count() == 1


def test_a_plugged_ball_has_no_layout_until_it_was_a_mistake(cast, layout):
    event = life.write_down(ball=cast.ball, kind="plugged", by=cast.otto, on=TODAY())
    layout.refresh_from_db()
    assert layout.replaced_on == TODAY()
    life.take_out(event, by=cast.otto)
    layout.refresh_from_db()
    assert layout.replaced_on is None


def test_a_reading_is_written_once_and_taken_out(cast, as_user):
    browser = as_user(cast.otto)
    url = reverse("clients:reading_add", args=[cast.ball.pk])
    for _ in range(2):
        browser.post(url, {"number": "1650", "read_on": "2026-01-05"})
    reading = cast.ball.readings.get()
    assert reading.number == 1650
    remove = reverse("clients:reading_remove", args=[cast.ball.pk, reading.pk])
    for _ in range(2):
        assert browser.post(remove).status_code == 302
    assert not cast.ball.readings.exists()
    response = browser.post(url, {"number": "20", "read_on": "2026-01-05"})
    assert response.context["form"].errors["number"] == ["Expected 80 to 10000 grit."]


# The time line.


def test_the_time_line_holds_everything_newest_first(cast, as_user):
    Surface.objects.filter(ball=cast.ball).update(done_on=date(2026, 2, 1))
    for kind, day in (("bought", 2), ("drilled", 9)):
        life.write_down(ball=cast.ball, kind=kind, by=cast.otto, on=date(2026, 1, day))
    life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=date(2026, 2, 3), games=6)
    life.add_reading(ball=cast.ball, number=1800, by=cast.otto, on=date(2026, 2, 5))
    gear.retire(cast.ball, by=cast.otto, on=date(2026, 3, 1))
    cast.ball.refresh_from_db()
    titles = [entry.title for entry in life.time_line(cast.ball, user=cast.otto)]
    assert titles == [
        "Retired",
        "Cover read 1800",
        "6 games bowled",
        "Surface: 2000 grit",
        "Drilled",
        "Bought",
    ]
    html = page(as_user(cast.otto), cast.ball.pk)
    assert "6 games on it, entered" in html


def test_games_of_sessions_are_told_as_one_sum_without_their_days(cast, as_user):
    Surface.objects.filter(ball=cast.ball).update(done_on=TODAY() - timedelta(days=30))
    Shot.objects.bulk_create(
        Shot(session=cast.session, number=n, game=1 + n // 10, ball=cast.session_ball)
        for n in range(30)
    )
    for who in (cast.otto, cast.sam, cast.carl):
        html = page(as_user(who), cast.ball.pk)
        assert "3 games on it, from logged sessions" in html.lower()
        assert "Test Lanes" not in html


def test_the_page_asks_the_same_number_of_queries_for_a_longer_life(
    cast, as_user, django_assert_num_queries
):
    def live_through(days: range) -> None:
        for day in days:
            on = date(2026, 1, day)
            life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=on, games=3)
            life.add_reading(ball=cast.ball, number=1000 + day, by=cast.otto, on=on)
            Surface.objects.create(ball=cast.ball, grit=500 + day, done_on=on, done_by=cast.otto)

    browser = as_user(cast.otto)
    live_through(range(1, 3))
    page(browser, cast.ball.pk)  # what a first visit asks for once
    with CaptureQueriesContext(connection) as short:
        page(browser, cast.ball.pk)
    assert len(short) < 25
    live_through(range(3, 25))
    with django_assert_num_queries(len(short)):
        page(browser, cast.ball.pk)


# Passing on.


def test_a_ball_is_passed_on_with_its_history_and_without_the_sessions(cast, as_user, layout):
    life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=TODAY(), games=9)
    url = reverse("clients:pass_on", args=[cast.ball.pk])
    for _ in range(2):  # a second tap finds it passed on
        response = as_user(cast.otto).post(
            url, {"to": cast.wendy_client.pk, "on": TODAY().isoformat(), "note": "Outgrown"}
        )
        assert response.status_code == 302
    cast.ball.refresh_from_db()
    assert cast.ball.client == cast.wendy_client
    assert cast.ball.events.filter(kind="passed_on").count() == 1
    entry = AuditEntry.objects.get(action="ball.changed_hands")
    assert entry.data["from_client"] == cast.sam_client.pk
    # The new owner sees the ball's life, the old one no longer, and no lesson of the old one's.
    html = page(as_user(cast.wendy), cast.ball.pk)
    for text in ("2000 grit", "9 games bowled", "Passed on", "Outgrown"):
        assert text in html
    for secret in ("Sam", "Test Lanes", "/sessions/"):
        assert secret not in html
    assert as_user(cast.sam).get(reverse("clients:ball", args=[cast.ball.pk])).status_code == 404
    # The lesson stays with the one who bowled it.
    assert cast.session in overview.sessions_seen_by(cast.carl, cast.sam_client)
    assert cast.session.balls.get().label == "A"
    assert not overview.sessions_seen_by(cast.carl, cast.wendy_client)
    # What was told from the old hand's axis point, and the old hand's fit, do not go along.
    layout.refresh_from_db()
    assert layout.fit is None
    assert cast.ball.pin_to_pap_in is None
    assert FitSheet.objects.filter(client=cast.sam_client).exists()


def test_only_to_a_client_whose_gear_the_user_may_change(cast, as_user):
    url = reverse("clients:pass_on", args=[cast.ball.pk])
    html = as_user(cast.carl).get(url).content.decode()
    assert "Wendy" in html
    assert "Tess" not in html
    response = as_user(cast.carl).post(url, {"to": cast.tess_client.pk, "on": "2026-01-05"})
    assert "to" in response.context["form"].errors
    cast.ball.refresh_from_db()
    assert cast.ball.client == cast.sam_client


def test_a_taken_name_and_open_work_hold_the_ball_back(cast, as_user):
    Ball.objects.create(client=cast.wendy_client, name="A", cover="pearl")
    with pytest.raises(NameTaken, match="Wendy has a ball called A already"):
        life.pass_on(ball=cast.ball, to=cast.wendy_client, by=cast.otto, on=TODAY())
    ticket = tickets.take_in(client=cast.sam_client, ball=cast.ball, kind="clean", by=cast.otto)
    url = reverse("clients:pass_on", args=[cast.ball.pk])
    response = as_user(cast.otto).post(url, {"to": cast.tess_client.pk, "on": "2026-01-05"})
    assert f"ticket {ticket.number} is still open" in response.content.decode()
    cast.ball.refresh_from_db()
    assert cast.ball.client == cast.sam_client
    assert not cast.ball.events.exists()


# What goes along with a client.


def test_the_export_holds_the_life_and_deleting_the_client_takes_it(cast):
    life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=date(2026, 1, 5), games=9)
    life.add_reading(ball=cast.ball, number=1700, by=cast.otto, on=date(2026, 1, 6))
    (facts,) = life.facts_of(cast.sam_client)
    assert facts["ball"] == "A"
    assert facts["events"] == [{"kind": "games", "on": "2026-01-05", "games": 9, "note": ""}]
    assert facts["readings"] == [{"number": 1700, "read_on": "2026-01-06", "note": ""}]
    assert [one["grit"] for one in facts["surfaces"]] == [2000]
    cast.sam_client.delete()
    assert not BallEvent.objects.exists()
    assert not life.SurfaceReading.objects.exists()
