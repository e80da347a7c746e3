"""Centres and their lanes."""

from __future__ import annotations

import pytest
from django.urls import reverse

from lanes.centres import parse_lanes
from lanes.models import Centre, Lane


def test_lanes_are_read_as_people_write_them():
    assert parse_lanes("1-3, 7,12 to 13") == [1, 2, 3, 7, 12, 13]
    assert parse_lanes("2,1,2") == [1, 2]
    assert parse_lanes("7 and 8") == parse_lanes("7/8") == parse_lanes("7 8") == [7, 8]


@pytest.mark.parametrize("text", ["x", "3-1", "0-4", "1-999", "1--4", ",", "1-4;6", "-3"])
def test_other_lanes_are_refused_with_what_was_expected(text):
    with pytest.raises(ValueError, match=r"[Ee]xpected"):
        parse_lanes(text)


def test_a_long_house_is_written_down_in_one_go(cast, as_user):
    url = reverse("lanes:centre_lanes", args=[cast.centre.pk])
    as_user(cast.carl).post(url, {"lanes": "1-120", "do": "add"})
    assert cast.centre.lanes.count() == 120


def test_a_centre_is_made_with_its_lanes(cast, as_user):
    browser = as_user(cast.carl)
    browser.post(reverse("lanes:centre_new"), {"name": "New Lanes", "speed_reading": "pins"})
    centre = Centre.objects.get(name="New Lanes")
    url = reverse("lanes:centre_lanes", args=[centre.pk])
    for _ in range(2):  # again adds nothing twice
        browser.post(url, {"lanes": "1-24", "do": "add"})
    assert list(centre.lanes.values_list("number", flat=True)) == list(range(1, 25))
    html = browser.get(reverse("lanes:centre", args=[centre.pk])).content.decode()
    assert "Near the pins" in html


def test_lanes_that_somebody_bowled_on_stay(cast, as_user):
    url = reverse("lanes:centre_lanes", args=[cast.centre.pk])
    as_user(cast.carl).post(url, {"lanes": "1-6", "do": "add"})
    response = as_user(cast.carl).post(url, {"lanes": "1-8", "do": "remove"}, follow=True)
    assert set(Lane.objects.values_list("number", flat=True)) == {7, 8}
    assert "Kept for their sessions: 7, 8." in response.content.decode()


def test_a_wrong_range_is_said_at_the_field(cast, as_user):
    url = reverse("lanes:centre_lanes", args=[cast.centre.pk])
    response = as_user(cast.carl).post(url, {"lanes": "all", "do": "add"})
    assert "expected lanes such as 1-24" in response.context["form"].errors["lanes"][0]
    assert cast.centre.lanes.count() == 2


def test_two_centres_have_two_names(cast, as_user):
    data = {"name": "Test Lanes", "speed_reading": "unknown"}
    response = as_user(cast.carl).post(reverse("lanes:centre_new"), data)
    assert "name" in response.context["form"].errors


def test_the_operator_looks_and_changes_nothing(cast, as_user):
    browser = as_user(cast.otto)
    html = browser.get(reverse("lanes:centre", args=[cast.centre.pk])).content.decode()
    assert "Change" not in html
    url = reverse("lanes:centre_lanes", args=[cast.centre.pk])
    assert browser.post(url, {"lanes": "1", "do": "add"}).status_code == 404
    assert browser.post(reverse("lanes:centre_new"), {"name": "X"}).status_code == 404


def test_an_empty_list_says_how_to_begin(cast, as_user):
    cast.session.delete()
    cast.tess_session.delete()
    cast.block.delete()
    Centre.objects.all().delete()
    html = as_user(cast.carl).get(reverse("lanes:centres")).content.decode()
    assert "No centres yet" in html


def test_the_list_asks_the_same_number_of_queries_for_more_centres(
    cast, as_user, django_assert_max_num_queries
):
    for number in range(20):
        centre = Centre.objects.create(name=f"Centre {number}")
        Lane.objects.create(centre=centre, number=1)
    browser = as_user(cast.otto)
    with django_assert_max_num_queries(5):
        browser.get(reverse("lanes:centres"))
