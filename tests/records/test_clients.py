"""Clients: list, page, form, and the client file."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from clients import people
from clients.models import Ball, Client, Consent, Surface
from lanes.models import Reading, Report, Shot
from lanes.overview import with_lessons

FORM = {"name": "Uma", "hand": "right", "hook": "usual", "style": "one"}


def page(browser, name: str, *args, **data) -> str:
    response = browser.get(reverse(name, args=args), data)
    assert response.status_code == 200
    return response.content.decode()


# The list.


def test_a_coach_lists_their_own_clients_and_the_owner_all(cast, as_user):
    carls, all_of_them = (
        page(as_user(cast.carl), "clients:list"),
        page(as_user(cast.olive), "clients:list"),
    )
    assert "Sam" in carls
    assert "Tess" not in carls
    assert "Tess" in all_of_them


def test_the_search_finds_a_part_of_the_name(cast, as_user):
    html = page(as_user(cast.carl), "clients:list", q="wEn")
    assert "Wendy" in html
    assert f"/clients/{cast.sam_client.pk}/" not in html
    assert "Nobody called" in page(as_user(cast.carl), "clients:list", q="zzz")


def test_a_new_coach_is_told_how_to_begin(cast, as_user):
    Client.objects.filter(coach=cast.dora).delete()
    assert "No clients yet" in page(as_user(cast.dora), "clients:list")


def test_a_session_with_shots_waits_until_its_report_is_sent(cast):
    def waiting() -> int:
        return with_lessons(Client.objects.filter(pk=cast.sam_client.pk)).get().waiting

    assert waiting() == 0  # no shot yet, nothing to report on
    shot = Shot.objects.create(session=cast.session, number=1)
    assert waiting() == 1
    reading = Reading.objects.create(session=cast.session, version="1", input_hash="x", data={})
    report = Report.objects.create(session=cast.session, reading=reading, headline="Good")
    assert waiting() == 1
    report.state = "sent"
    report.save()
    assert waiting() == 0
    report.delete()
    shot.deleted_at = timezone.now()
    shot.save()
    assert waiting() == 0


def test_the_list_shows_the_last_session_that_counts(cast):
    later = timezone.now() + timedelta(days=3)
    cast.session.block.starts_at = later
    cast.session.block.save()
    clients = with_lessons(Client.objects.filter(pk=cast.sam_client.pk))
    assert clients.get().last_session == later
    cast.session.deleted_at = timezone.now()
    cast.session.save()
    assert clients.get().last_session is None


def test_the_list_asks_the_same_number_of_queries_for_more_clients(
    cast, as_user, django_assert_max_num_queries
):
    for number in range(30):
        Client.objects.create(name=f"Client {number}", coach=cast.carl)
    browser = as_user(cast.carl)
    with django_assert_max_num_queries(6):
        page(browser, "clients:list")


# The form.


def test_a_coachs_new_client_is_their_own(cast, as_user):
    response = as_user(cast.carl).post(
        reverse("clients:new"), FORM | {"speed_mph": "16,5", "coach": cast.dora.pk}
    )
    client = Client.objects.get(name="Uma")
    assert response["Location"] == reverse("clients:detail", args=[client.pk])
    assert client.coach == cast.carl
    assert client.speed_mph == 16.5
    assert client.rev_rpm is None


def test_the_owner_assigns_the_coach(cast, as_user):
    url = reverse("clients:edit", args=[cast.sam_client.pk])
    as_user(cast.olive).post(url, FORM | {"coach": cast.dora.pk})
    cast.sam_client.refresh_from_db()
    assert cast.sam_client.coach == cast.dora


def test_an_owner_who_coaches_is_offered_as_the_coach(cast, as_user):
    initial = as_user(cast.olive).get("/clients/new/").context["form"].fields["coach"].initial
    assert initial is None
    people.grant(cast.olive, "coach")
    initial = as_user(cast.olive).get("/clients/new/").context["form"].fields["coach"].initial
    assert initial == cast.olive


def test_a_coach_cannot_give_a_client_away(cast, as_user):
    url = reverse("clients:edit", args=[cast.sam_client.pk])
    as_user(cast.carl).post(url, FORM | {"coach": cast.dora.pk})
    cast.sam_client.refresh_from_db()
    assert cast.sam_client.coach == cast.carl


def test_nobody_but_a_coach_can_be_assigned(cast, as_user):
    url = reverse("clients:edit", args=[cast.sam_client.pk])
    response = as_user(cast.olive).post(url, FORM | {"coach": cast.nick.pk})
    assert response.status_code == 200
    cast.sam_client.refresh_from_db()
    assert cast.sam_client.coach == cast.carl


def test_a_second_tap_makes_no_second_client(cast, as_user):
    browser = as_user(cast.carl)
    first, second = (browser.post(reverse("clients:new"), FORM) for _ in range(2))
    assert first["Location"] == second["Location"]
    assert Client.objects.filter(name="Uma").count() == 1


@pytest.mark.parametrize(
    ("field", "value", "message"),
    [
        ("speed_mph", "fast", "Expected a number"),
        ("speed_mph", "120", "Expected 8 to 30 mph."),
        ("rev_rpm", "-1", "Expected 0 to 800 rpm."),
        ("pap_up_in", "nan", "Expected"),
        ("name", "", "required"),
        ("hand", "both", "not one of the available choices"),
    ],
)
def test_a_wrong_value_is_named_at_its_field_and_nothing_is_saved(
    cast, as_user, field, value, message
):
    response = as_user(cast.carl).post(reverse("clients:new"), FORM | {field: value})
    assert message in " ".join(response.context["form"].errors[field])
    assert not Client.objects.filter(name="Uma").exists()


def test_ticking_minor_says_that_the_account_is_closed(cast, as_user):
    url = reverse("clients:edit", args=[cast.sam_client.pk])
    html = as_user(cast.carl).post(url, FORM | {"is_minor": "on"}, follow=True).content.decode()
    assert "stays closed until a guardian has agreed" in html
    Consent.objects.all().delete()


# The page.


def test_the_page_shows_the_facts_with_units(cast, as_user):
    html = page(as_user(cast.carl), "clients:detail", cast.sam_client.pk)
    for text in ("17.5 mph", "350 rpm", "55 deg", "Drops the shoulder.", "2000 grit", "Test Lanes"):
        assert text in html
    assert "unknown" in html  # no PAP yet


def test_the_page_asks_the_same_number_of_queries_for_more_of_everything(
    cast, as_user, django_assert_max_num_queries
):
    for number in range(20):
        ball = Ball.objects.create(client=cast.sam_client, name=f"B{number}", cover="pearl")
        Surface.objects.create(ball=ball, grit=500)
        Shot.objects.create(session=cast.session, number=number)
    browser = as_user(cast.carl)
    with django_assert_max_num_queries(18):
        page(browser, "clients:detail", cast.sam_client.pk)


def test_the_page_says_who_of_the_readers_has_read(cast, as_user):
    reading = Reading.objects.create(session=cast.session, version="1", input_hash="x", data={})
    report = Report.objects.create(
        session=cast.session,
        reading=reading,
        headline="Earlier hook",
        state="sent",
        sent_at=timezone.now(),
    )
    report.receipts.create(user=cast.carl)  # the coach looked at the answers
    html = page(as_user(cast.carl), "clients:detail", cast.sam_client.pk)
    assert "read by Carl" not in html
    report.receipts.create(user=cast.sam)
    report.answers.create(author=cast.sam, text="Felt it in the tenth.")
    html = page(as_user(cast.carl), "clients:detail", cast.sam_client.pk)
    assert "read by Sam" in html
    assert "Felt it in the tenth." in html


# The client file.


def test_the_client_file_holds_what_the_design_says_and_leaves_the_unknown_out(cast, as_user):
    Ball.objects.create(
        client=cast.sam_client, name="old", cover="pearl", retired_at=timezone.localdate()
    )
    response = as_user(cast.carl).get(reverse("clients:facts", args=[cast.sam_client.pk]))
    assert json.loads(response.content) == {
        "hand": "right",
        "speed_mph": 17.5,
        "rev_rpm": 350.0,
        "rotation_deg": 55.0,
        "tilt_deg": 12.0,
        "balls": [
            {
                "name": "A",
                "cover": "solid",
                "grit": 2000,
                "polished": False,
                "rg_in": 2.52,
                "differential_in": 0.045,
                "mass_lb": 15.0,
            }
        ],
    }
    assert "Drops" not in response.content.decode()


def test_a_coach_who_left_stays_until_another_is_chosen(cast, as_user):
    cast.carl.grants.all().delete()
    cast.carl.is_active = False
    cast.carl.save()
    url = reverse("clients:edit", args=[cast.sam_client.pk])
    response = as_user(cast.olive).post(url, FORM | {"coach": cast.carl.pk})
    assert response.status_code == 302
