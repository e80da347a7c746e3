"""The page "Try a shot": what an address may hold, what is wrong, whose balls, how many queries."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from clients.models import Ball, Client, Surface
from lanes import patterns
from lanes.motion import HOUSE, Layer, PatternSheet


@pytest.fixture
def get(cast, as_user):
    """Return a function that opens the page as Carl, or as somebody else."""

    def get(user=None, htmx: bool = False, follow: bool = False, **asked):
        headers = {"HX-Request": "true"} if htmx else {}
        address = f"{reverse('lanes:try_shot')}?{urlencode(asked)}"
        return as_user(user or cast.carl).get(address, headers=headers, follow=follow)

    return get


def names(response) -> list[str]:
    return [one.name for one in response.context["answer"].rolled]


def value(response, field: str) -> str:
    return response.context["form"][field].value()


def balls(**facts: str) -> dict[str, str]:
    """Return the address of one described ball in the first slot."""
    return {"b1-ball": "new"} | {f"b1-{name.strip('_')}": fact for name, fact in facts.items()}


# What stands in the form.


def test_the_bare_page_shows_two_described_balls(get):
    response = get()
    assert names(response) == ["Solid", "Pearl"]
    html = response.content.decode()
    assert "ordinary house pattern, 40 ft" in html
    assert "nobody measured it on this lane" in html  # what the model cannot tell


def test_a_client_fills_in_release_hand_and_balls(get, cast):
    Client.objects.filter(pk=cast.sam_client.pk).update(hand="left", speed_mph=15.5, hook="backup")
    Ball.objects.create(client=cast.sam_client, name="Spare", cover="plastic", is_spare_ball=True)
    response = get(client=cast.sam_client.pk)
    assert value(response, "speed_mph") == "15.5"
    assert value(response, "rotation_deg") == "-55"  # a back-up ball turns the other way
    assert value(response, "hand") == "left"
    assert names(response) == ["A"]
    assert response.context["form"].assumed == []


def test_what_is_not_written_down_of_a_client_is_said(get, cast):
    response = get(client=cast.wendy_client.pk)
    assert response.context["form"].assumed == ["Speed", "Rev rate", "Axis rotation", "Axis tilt"]
    assert value(response, "hand") == "left"


def test_choosing_a_client_starts_anew_on_the_same_lane(get, cast):
    response = get(fill=1, client=cast.sam_client.pk, own=20, speed_mph=12, oil="", **balls())
    assert response.status_code == 302
    assert response["Location"] == f"/try/?client={cast.sam_client.pk}&own=20"


def test_a_ball_of_the_locker_has_its_own_surface_until_another_is_typed(get, cast):
    key = cast.ball.pk
    response = get(**{"b1-ball": key, "b2-ball": key, "b2-grit": "500"})
    one, other = (rolled.ball for rolled in response.context["answer"].rolled)
    assert names(response) == ["A", "A at 500 grit"]
    assert (one.grit, one.rg_in, other.grit, other.rg_in) == (2000, 2.52, 500, 2.52)


def test_a_ball_twice_is_told_apart(get, cast):
    assert names(get(**{"b1-ball": cast.ball.pk, "b3-ball": cast.ball.pk})) == ["A", "A (2)"]


def test_a_pattern_on_file_is_rolled_on(get, cast):
    short = PatternSheet("Short one", (Layer("1", "forward", 0.0, 30.0, 2, 38, 15.0),))
    pattern, _ = patterns.import_pattern(short, by=cast.carl)
    response = get(oil=pattern.pk)
    assert "Short one, 30 ft, 15.0 mL, fresh" in response.content.decode()


# What is wrong.


@pytest.mark.parametrize(
    ("asked", "field", "message"),
    [
        ({"speed_mph": "70"}, "id_speed_mph", "Expected 5 to 35 mph."),
        ({"speed_mph": ""}, "id_speed_mph", "Expected 5 to 35 mph."),
        ({"rev_rpm": "fast"}, "id_rev_rpm", "Expected a number, such as 17.5."),
        ({"tilt_deg": "nan"}, "id_tilt_deg", "Expected a number, such as 17.5."),
        ({"laydown": "39", "target": "1"}, "id_target", "expected at most 10 deg either way"),
        ({"hand": "both"}, "id_hand", "both is not one of the available choices"),
        ({"own": "1.5"}, "id_own", "Expected a whole number."),
        ({"own": "100000"}, "id_own", "Expected 0 to 100 balls."),
        (balls(grit="5"), "id_b1-grit", "Expected 100 to 10000 grit."),
        (balls(cover="wood"), "id_b1-cover", "wood is not one of the available choices"),
        (
            balls(differential_in="0.02", intermediate_in="0.03"),
            "id_b1-intermediate_in",
            "is more than the differential; expected at most 0.02 in",
        ),
        ({"b1-ball": ""}, "id_b1-ball", "Choose a ball, or describe one."),
    ],
)
def test_what_is_wrong_is_told_at_its_field_and_nothing_is_lost(get, asked, field, message):
    response = get(**({"note": "x", "rotation_deg": "33"} | asked))
    assert response.status_code == 200
    assert response.context["answer"] is None
    [wrong] = response.context["form"].wrong
    assert message in wrong.message
    assert wrong.place == field
    html = response.content.decode()
    assert html.count(message.replace("'", "&#x27;")) >= 2  # in the list, and at the field
    assert value(response, "rotation_deg") == "33"
    for name, text in asked.items():
        assert text in html, name


def test_a_decimal_comma_is_read(get):
    assert (
        get(speed_mph="16,5").context["answer"].release_words.startswith("Right-handed, 16.5 mph")
    )


def test_a_script_is_answered_with_the_answer_alone_and_keeps_it_where_something_is_wrong(get):
    good, bad = get(htmx=True), get(htmx=True, speed_mph="70")
    assert "<html" not in good.content.decode()
    assert "HX-Reswap" not in good
    assert bad["HX-Reswap"] == "none"
    html = bad.content.decode()
    assert "still the answer to the values before" in html
    assert 'data-field="id_speed_mph"' in html
    assert "lane-picture" not in html


def test_a_slot_without_a_ball_keeps_what_was_typed_and_does_not_complain(get):
    response = get(**balls(), **{"b2-ball": "", "b2-grit": "rough"})
    assert names(response) == ["Hybrid"]
    assert 'value="rough"' in response.content.decode()


# Whose.


@pytest.mark.parametrize("field", ["client", "b1-ball", "b4-ball"])
def test_what_is_somebody_elses_does_not_exist(get, cast, field):
    theirs = cast.tess_client.pk if field == "client" else cast.tess_ball.pk
    assert get(**{field: theirs}).status_code == 404
    assert get(cast.dora, **{field: theirs}).status_code == 200
    assert get(**{field: "99999"}).status_code == 404
    assert get(**{field: "x"}).status_code == 404


def test_an_unknown_pattern_does_not_exist(get):
    assert get(oil="99999").status_code == 404


def test_the_shop_rolls_a_locker_and_sees_no_release(get, cast):
    response = get(cast.otto, client=cast.sam_client.pk)
    assert names(response) == ["A"]
    assert value(response, "tilt_deg") == "12"
    Client.objects.update(tilt_deg=31, hand="left")
    response = get(cast.otto, client=cast.sam_client.pk)
    assert (value(response, "tilt_deg"), value(response, "hand")) == ("12", "right")
    assert value(get(client=cast.sam_client.pk), "tilt_deg") == "31"


def test_the_clients_offered_are_the_users_own(get, cast):
    offered = [name for _, name in get().context["form"].fields["client"].choices]
    assert offered == ["nobody in particular", "Sam", "Wendy"]


def test_a_clients_page_and_a_balls_page_lead_here(cast, as_user, get):
    browser = as_user(cast.carl)
    client_page = browser.get(reverse("clients:detail", args=[cast.sam_client.pk]))
    ball_page = browser.get(reverse("clients:ball", args=[cast.ball.pk]))
    for page, query in (
        (client_page, f"/try/?client={cast.sam_client.pk}"),
        (ball_page, f"/try/?client={cast.sam_client.pk}&amp;b1-ball={cast.ball.pk}"),
    ):
        assert f'href="{query}"' in page.content.decode()
    assert "/try/" not in as_user(cast.sam).get(ball_page.wsgi_request.path).content.decode()


def test_the_page_asks_the_same_number_of_queries_for_more_of_everything(get, cast):
    def count() -> int:
        with CaptureQueriesContext(connection) as queries:
            keys = Ball.objects.filter(client=cast.sam_client).values_list("pk", flat=True)[:4]
            asked = {f"b{number}-ball": key for number, key in enumerate(keys, start=1)}
            assert get(client=cast.sam_client.pk, **asked).status_code == 200
        return len(queries)

    few = count()
    for number in range(6):
        ball = Ball.objects.create(client=cast.sam_client, name=f"B{number}", cover="pearl")
        Surface.objects.create(ball=ball, grit=1000)
        Client.objects.create(name=f"C{number}", coach=cast.carl)
        sheet = PatternSheet(f"P{number}", HOUSE.layers[number:])
        patterns.import_pattern(sheet, by=cast.carl)
    assert count() == few


def test_everything_typed_is_escaped(get):
    html = get(speed_mph="<script>alert(1)</script>").content.decode()
    assert "<script>alert" not in html
