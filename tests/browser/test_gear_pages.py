"""A ball's life, the arsenal map and the surface plan on a phone and at a desk."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clients import life
from clients.models import Ball, Surface, Ticket


def day(ago: int):
    return timezone.localdate() - timedelta(days=ago)


@pytest.fixture
def shelf(transactional_db, cast):
    """Sam with four balls that have a life, two of them alike."""
    cast.sam_client.pap_over_in = 5
    Surface.objects.filter(ball=cast.ball).update(grit=500, done_on=day(120))
    shelf = [
        ("Second of that kind", "solid", 500, False, 60),
        ("Fine one", "hybrid", 4000, False, 90),
        ("Polished", "pearl", 4000, True, 200),
    ]
    for name, cover, grit, polished, ago in shelf:
        ball = Ball.objects.create(
            client=cast.sam_client, name=name, cover=cover, rg_in=2.52, differential_in=0.045
        )
        Surface.objects.create(ball=ball, grit=grit, polished=polished, done_on=day(ago))
        life.write_down(ball=ball, kind="games", by=cast.otto, on=day(20), games=34)
    Ball.objects.create(client=cast.sam_client, name="S", cover="plastic", is_spare_ball=True)
    for kind, ago in (("bought", 200), ("drilled", 190), ("oil_out", 80), ("cleaned", 30)):
        life.write_down(ball=cast.ball, kind=kind, by=cast.otto, on=day(ago), note="At the shop")
    life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=day(60), games=28)
    life.add_reading(ball=cast.ball, number=1650, by=cast.otto, on=day(119))
    return cast


def addresses(w) -> dict[str, str]:
    return {
        "ball_life": reverse("clients:ball", args=[w.ball.pk]),
        "ball_event": reverse("clients:event_add", args=[w.ball.pk]),
        "ball_reading": reverse("clients:reading_add", args=[w.ball.pk]),
        "ball_pass_on": reverse("clients:pass_on", args=[w.ball.pk]),
        "arsenal_map": reverse("lanes:arsenal", args=[w.sam_client.pk]),
        "arsenal_empty": reverse("lanes:arsenal", args=[w.wendy_client.pk]),
        "surface_plan": reverse("lanes:surface_plan"),
        "surface_plan_nobody": reverse("lanes:surface_plan") + "?q=zzz",
        "ball_plan": reverse("lanes:ball_plan", args=[w.ball.pk]) + "?hook=30",
        "ball_plan_wrong": reverse("lanes:ball_plan", args=[w.ball.pk]) + "?hook=x",
    }


@pytest.mark.parametrize("where", ["phone", "desk"])
def test_every_page_is_accessible(where, request, shelf, log_in, axe, shoot):
    page = request.getfixturevalue(where)
    log_in(page, shelf.otto)
    for name, address in addresses(shelf).items():
        page.goto(address)
        axe(page)
        shoot(page, name)


def test_the_student_sees_the_map_on_a_phone(shelf, phone, log_in, axe, shoot):
    log_in(phone, shelf.sam)
    phone.goto(reverse("portal"))
    phone.get_by_role("link", name="Arsenal map").click()
    assert phone.get_by_role("heading", name="Arsenal map").is_visible()
    axe(phone)
    shoot(phone, "arsenal_student")
    phone.get_by_role("link", name="Polished", exact=True).first.click()
    axe(phone)
    shoot(phone, "ball_student")
    assert phone.get_by_text("34 games bowled").is_visible()
    assert not phone.get_by_role("button", name="Take out").count()


def test_from_the_weeks_list_to_a_ticket_by_thumb(shelf, phone, log_in):
    log_in(phone, shelf.otto)
    phone.goto(reverse("lanes:surface_plan"))
    phone.get_by_role("button", name="resurface A of Sam").click()
    phone.wait_for_url("**/shop/**")
    ticket = Ticket.objects.get()
    assert (ticket.ball, ticket.kind, ticket.grit) == (shelf.ball, "resurface", 500)


def test_games_are_entered_and_taken_out_by_thumb(shelf, phone, log_in):
    log_in(phone, shelf.otto)
    phone.goto(reverse("clients:ball", args=[shelf.ball.pk]))
    phone.get_by_role("link", name="Games, cleaning and more").click()
    phone.get_by_label("How many games").fill("6")
    phone.get_by_role("button", name="Write it down").click()
    assert phone.get_by_text("34 games so far").is_visible()
    phone.get_by_role("button", name="Take out 6 games bowled").click()
    assert phone.get_by_text("28 games so far").is_visible()


def test_the_list_prints_without_what_is_for_the_screen(shelf, desk, log_in, shoot):
    log_in(desk, shelf.otto)
    desk.goto(reverse("lanes:surface_plan"))
    desk.emulate_media(media="print")
    assert not desk.get_by_role("heading", name="Every ball").is_visible()
    assert desk.get_by_text("Resurface to 500").first.is_visible()
    assert not desk.get_by_role("button", name="resurface A of Sam").is_visible()
    shoot(desk, "surface_plan_print")
