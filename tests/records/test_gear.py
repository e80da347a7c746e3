"""Balls, surfaces and the arsenal list."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clients import gear, limits
from clients.models import Ball, Client, Surface
from clients.names import NameTaken

BALL = {"name": "B", "cover": "pearl"}


def page(browser, name: str, *args, **data) -> str:
    response = browser.get(reverse(name, args=args), data)
    assert response.status_code == 200
    return response.content.decode()


# The list.


def test_the_operator_sees_every_clients_gear_and_nothing_of_the_lessons(cast, as_user):
    html = page(as_user(cast.otto), "clients:gear")
    for text in ("Sam", "Tess", "2000 grit", "solid reactive"):
        assert text in html
    ball = page(as_user(cast.otto), "clients:ball", cast.ball.pk)
    for secret in ("Drops the shoulder", "17.5", "350", "Test Lanes", "/sessions/"):
        assert secret not in html.split('id="main"')[1]
        assert secret not in ball.split('id="main"')[1]


def test_a_coach_sees_the_gear_of_their_own_clients(cast, as_user):
    html = page(as_user(cast.carl), "clients:gear")
    assert f"/balls/{cast.ball.pk}/" in html
    assert f"/balls/{cast.tess_ball.pk}/" not in html


def test_the_oldest_surface_comes_first_and_the_unknown_before_it(cast, as_user):
    new = Ball.objects.create(client=cast.sam_client, name="new", cover="solid")
    Surface.objects.create(ball=new, grit=500, done_on=timezone.localdate() - timedelta(days=90))
    Surface.objects.create(ball=new, grit=4000, done_on=timezone.localdate())
    old = Ball.objects.create(client=cast.sam_client, name="old", cover="solid")
    Surface.objects.create(ball=old, grit=1000, done_on=timezone.localdate() - timedelta(days=60))
    Surface.objects.filter(ball=cast.ball).update(done_on=timezone.localdate() - timedelta(days=9))
    response = as_user(cast.otto).get(reverse("clients:gear"), {"order": "surface"})
    assert [ball.name for ball in response.context["balls"]] == ["T", "old", "A", "new"]


def test_retired_balls_ask_for_no_new_surface(cast, as_user):
    gear.retire(cast.ball, by=cast.carl)
    response = as_user(cast.otto).get(reverse("clients:gear"), {"order": "surface"})
    assert cast.ball not in response.context["balls"]


@pytest.mark.parametrize("order", ["client", "surface"])
def test_the_list_asks_the_same_number_of_queries_for_more_balls(
    cast, as_user, django_assert_max_num_queries, order
):
    for number in range(20):
        client = Client.objects.create(name=f"Client {number}")
        ball = Ball.objects.create(client=client, name="B", cover="pearl")
        Surface.objects.create(ball=ball, grit=500)
    browser = as_user(cast.otto)
    with django_assert_max_num_queries(8):
        page(browser, "clients:gear", order=order)


def test_the_search_finds_clients_by_name(cast, as_user):
    html = page(as_user(cast.otto), "clients:gear", q="tes", order="surface")
    assert f"/balls/{cast.tess_ball.pk}/" in html
    assert f"/balls/{cast.ball.pk}/" not in html


def test_an_empty_shop_is_told_how_to_begin(cast, as_user):
    cast.session.delete()
    cast.tess_session.delete()
    Client.objects.all().delete()
    assert "No gear yet" in page(as_user(cast.otto), "clients:gear")


def test_a_walk_in_has_no_coach_and_goes_on_to_the_first_ball(cast, as_user):
    response = as_user(cast.otto).post(
        reverse("clients:walkin_new"),
        {"name": "Walt", "hand": "left", "style": "one", "pap_over_in": "4,5"},
    )
    walt = Client.objects.get(name="Walt")
    assert walt.coach is None
    assert walt.pap_over_in == 4.5
    assert response["Location"] == reverse("clients:ball_new", args=[walt.pk])


# A ball.


def test_a_ball_is_written_down_with_its_numbers(cast, as_user):
    response = as_user(cast.otto).post(
        reverse("clients:ball_new", args=[cast.sam_client.pk]),
        BALL | {"rg_in": "2,48", "mass_lb": "15"},
    )
    ball = Ball.objects.get(client=cast.sam_client, name="B")
    assert ball.rg_in == 2.48
    assert response["Location"] == reverse("clients:surface_add", args=[ball.pk])


def test_two_balls_of_a_client_have_two_names(cast, as_user):
    url = reverse("clients:ball_new", args=[cast.sam_client.pk])
    response = as_user(cast.carl).post(url, BALL | {"name": "A"})
    assert "There is another ball called A." in response.content.decode()
    other = reverse("clients:ball_new", args=[cast.tess_client.pk])
    assert as_user(cast.dora).post(other, BALL | {"name": "A"}).status_code == 302


def test_a_name_taken_meanwhile_is_said_too(cast):
    with pytest.raises(NameTaken, match="another ball called A"):
        gear.save_ball(Ball(client=cast.sam_client, name="A", cover="pearl"), by=cast.carl)


def test_a_number_out_of_range_is_named_at_its_field(cast, as_user):
    url = reverse("clients:ball_new", args=[cast.sam_client.pk])
    response = as_user(cast.carl).post(url, BALL | {"differential_in": "0.45"})
    assert response.context["form"].errors["differential_in"] == ["Expected 0 to 0.08 in."]
    assert not Ball.objects.filter(name="B").exists()


def test_the_published_limits_are_told_and_do_not_refuse(cast, as_user):
    # USBC equipment specification, 13 lb and over: RG 2.460 to 2.800 in, differential up to
    # 0.060 in (shared facts, section 2).
    url = reverse("clients:ball_new", args=[cast.sam_client.pk])
    as_user(cast.carl).post(url, BALL | {"rg_in": "2.43", "differential_in": "0.08"})
    html = page(as_user(cast.carl), "clients:ball", Ball.objects.get(name="B").pk)
    assert "RG 2.43 in is outside 2.460 to 2.800 in." in html
    assert "Differential 0.08 in is over 0.060 in." in html
    assert "The current rule book" in html


@pytest.mark.parametrize(
    ("numbers", "count"),
    [
        ({"rg_in": 2.460, "differential_in": 0.060, "mass_lb": 16}, 0),
        ({"rg_in": 2.800, "mass_lb": 13}, 0),
        ({"rg_in": 2.459}, 1),
        ({"rg_in": 2.801}, 1),
        ({"differential_in": 0.061, "mass_lb": 13}, 1),
        ({"rg_in": 2.459, "differential_in": 0.061, "mass_lb": 12}, 0),  # own limits, not found
        ({"intermediate_in": 0.03, "differential_in": 0.02}, 1),  # it is part of the differential
        ({}, 0),
    ],
)
def test_limits_hold_from_13_lb_on(numbers, count):
    ball = Ball(name="B", cover="solid", **numbers)
    outside = [finding for finding in limits.of_ball(ball) if finding.is_outside]
    assert len(outside) + len(limits.mistyped(ball)) == count


# Its surface.


def test_a_new_surface_is_the_one_now_and_the_old_one_stays(cast, as_user):
    Surface.objects.update(done_on=date(2026, 1, 2))
    url = reverse("clients:surface_add", args=[cast.ball.pk])
    html = page(as_user(cast.otto), "clients:surface_add", cast.ball.pk)
    for caution in ("dust", "goggles", "breathing protection", "Local codes", "competition"):
        assert caution in html
    as_user(cast.otto).post(url, {"grit": "500", "polished": "on", "done_on": "2026-02-03"})
    assert str(cast.ball.surface) == "500 grit, polished"
    assert cast.ball.surface.done_by == cast.otto
    assert cast.ball.surfaces.count() == 2


def test_an_older_surface_written_down_late_is_not_the_one_now(cast, as_user):
    url = reverse("clients:surface_add", args=[cast.ball.pk])
    as_user(cast.carl).post(url, {"grit": "500", "done_on": "2020-02-03"})
    assert cast.ball.surface.grit == 2000


def test_a_second_tap_writes_no_second_surface(cast, as_user):
    url = reverse("clients:surface_add", args=[cast.ball.pk])
    data = {"grit": "500", "done_on": timezone.localdate().isoformat()}
    for _ in range(2):
        assert as_user(cast.carl).post(url, data).status_code == 302
    assert cast.ball.surfaces.count() == 2


@pytest.mark.parametrize(
    ("data", "field"),
    [
        ({"grit": "5"}, "grit"),
        ({"grit": "fine"}, "grit"),
        ({"grit": "500", "done_on": "2999-01-01"}, "done_on"),
        ({"grit": "500", "done_on": "yesterday"}, "done_on"),
    ],
)
def test_a_wrong_surface_is_named_at_its_field(cast, as_user, data, field):
    url = reverse("clients:surface_add", args=[cast.ball.pk])
    response = as_user(cast.carl).post(url, {"done_on": "2026-01-05"} | data)
    assert field in response.context["form"].errors
    assert cast.ball.surfaces.count() == 1


def test_a_ball_retires_and_comes_back(cast, as_user):
    browser = as_user(cast.carl)
    for _ in range(2):  # a second tap changes nothing
        browser.post(reverse("clients:ball_retire", args=[cast.ball.pk]))
        cast.ball.refresh_from_db()
        assert cast.ball.retired_at == timezone.localdate()
    assert "Retired on" in page(browser, "clients:ball", cast.ball.pk)
    browser.post(reverse("clients:ball_unretire", args=[cast.ball.pk]))
    cast.ball.refresh_from_db()
    assert cast.ball.retired_at is None


def test_a_student_sees_their_ball_and_changes_nothing(cast, as_user):
    html = page(as_user(cast.sam), "clients:ball", cast.ball.pk)
    assert "New surface" not in html
    url = reverse("clients:surface_add", args=[cast.ball.pk])
    assert as_user(cast.sam).post(url, {"grit": "500"}).status_code == 404
