"""A rolled ball at the pins: what the table says of its hit, and one rack of it as recorded."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
import pytest
from django.urls import reverse
from scipy.stats import binomtest

from lanes.motion.geometry import BALL_RADIUS_IN, MPH_MPS
from lanes.pin_hits import pin_hit
from lanes.pins.carry import carry
from lanes.pins.rack import Hit
from lanes.pins.room import DECK_END
from lanes.rack_film import EVERY_S, RackFilm, Still, film_rack, shapes

FLUSH, LIGHT, HIGH = Hit(17.5, 5.0), Hit(16.2, 5.0), Hit(18.6, 3.0)


def points(d: str) -> np.ndarray:
    """Return the corners (n, 2) of an outline."""
    return np.array([[float(x) for x in pair.split(",")] for pair in d[1:-1].split("L")])


# What is drawn.


def test_a_pin_is_drawn_in_the_size_of_its_specification():
    # 4.766 in at the belly and 15 in high (pin specification); outlines are in whole millimetres.
    stands, lies = points(shapes()[0]), points(shapes()[-1])
    assert np.ptp(stands, axis=0) == pytest.approx([4.766 * 25.4] * 2, abs=2.5)
    assert np.ptp(lies, axis=0) == pytest.approx([15.0 * 25.4, 4.766 * 25.4], abs=2.5)
    # The head's end is the slimmer one: 2.547 in (pin specification) against the belly.
    head = lies[lies[:, 0] > lies[:, 0].max() - 50.0]
    assert np.ptp(head[:, 1]) == pytest.approx(2.547 * 25.4, abs=3.0)


def test_ball_and_rack_are_to_scale():
    film = film_rack(FLUSH, "right", 1)
    assert film.ball_radius == pytest.approx(BALL_RADIUS_IN * 25.4, abs=0.5)
    spots = np.array(film.spots, float)
    # An equilateral triangle of 36 in (lane specification).
    for a, b in ((0, 6), (6, 9), (9, 0)):
        assert np.hypot(*(spots[a] - spots[b])) == pytest.approx(36 * 25.4, abs=1.5)
    boards = {board: x for x, board in film.boards}
    assert boards[20] == pytest.approx(0.0, abs=0.1)
    assert boards[15] > 0  # a right-hander counts from the right


def test_the_ball_comes_at_its_speed_and_angle():
    film = film_rack(FLUSH, "right", 1)
    (x0, y0), (x1, y1) = (film.states[k, 0, :2] for k in (0, 2))
    assert math.hypot(x1 - x0, y1 - y0) / (2 * EVERY_S) == pytest.approx(
        FLUSH.speed_mph * MPH_MPS, rel=0.01
    )
    assert math.degrees(math.atan2(x0 - x1, y1 - y0)) == pytest.approx(5.0, abs=0.05)


def test_a_left_handers_rack_is_the_same_in_a_mirror():
    right, left = film_rack(LIGHT, "right", 3), film_rack(LIGHT, "left", 3)
    assert left.fall.exit_board == right.fall.exit_board
    assert left.states[:, 0, 0] == pytest.approx(-right.states[:, 0, 0], nan_ok=True)
    assert left.states[:, 7] == pytest.approx(
        right.states[:, 10] * [-1, 1, 1, -1, 1, 1], nan_ok=True
    )
    mirror = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}
    told = [(at, {mirror[pin] for pin in pins}) for at, pins in right.order]
    assert [(at, set(pins)) for at, pins in left.order] == told
    assert {board: -x for x, board in left.boards} == {board: x for x, board in right.boards}


def test_what_is_played_is_what_was_recorded():
    film = film_rack(HIGH, "right", 2)
    played = film.played

    def at(body: int, frame: int):
        track = played["tracks"][body]
        place = max(frame - track["start"], 0)
        if place < len(track["states"]):
            return track["states"][place]
        return None if track["gone"] else track["states"][-1]

    for frame in range(0, played["frames"], 7):
        still: Still = film.still(frame)
        ball = at(0, frame)
        assert still.ball == (tuple(ball[:2]) if ball else None)
        drawn = {pin.number: pin for pin in still.pins}
        for number in range(1, 11):
            state = at(number, frame)
            pin = drawn.get(number)
            assert (pin is None) == (state is None)
            if pin:
                x, y, turned, outline, down = state
                assert (pin.x, pin.y, pin.turned, pin.is_down) == (x, y, turned, bool(down))
                assert pin.d == played["shapes"][outline]


# What is told.


@pytest.mark.parametrize("hit", [FLUSH, LIGHT, HIGH, Hit(8.0, 3.0)])
def test_words_say_what_the_last_state_shows(hit):
    for number in range(1, 5):
        film = film_rack(hit, "right", number)
        shown = {pin.number for pin in film.last_still.pins if not pin.is_down}
        assert set(film.standing) == shown
        fell = [pin for _, pins in film.order for pin in pins]
        assert sorted(fell) == sorted(set(range(1, 11)) - shown)
        first = film.words[0]
        assert first.startswith(f"Rack {number} ")
        assert ("is a strike" in first) == (not shown)
        if len(shown) > 1:
            assert "-".join(map(str, sorted(shown))) in first


def test_the_board_of_leaving_is_where_the_ball_is_drawn_at_the_pit():
    film = film_rack(LIGHT, "right", 1)
    ball = film.states[:, 0]
    past = int(np.flatnonzero(ball[:, 1] >= DECK_END)[0])
    x = np.interp(DECK_END, ball[past - 1 : past + 1, 1], ball[past - 1 : past + 1, 0])
    told = float(re.search(r"on board ([\d.]+)\.", " ".join(film.words)).group(1))
    # Board b is centred b - 0.5 boards of 41.5 / 39 in from the edge (convention).
    assert told == pytest.approx(20.0 - x / (41.5 / 39 * 0.0254), abs=0.1)


def test_a_number_is_a_rack():
    one, again, other = (film_rack(LIGHT, "right", number) for number in (1, 1, 2))
    assert np.array_equal(one.states, again.states, equal_nan=True)
    assert not np.array_equal(one.states[0], other.states[0])
    assert one.next_number == 2
    assert film_rack(LIGHT, "right", 9999).next_number == 1


@pytest.mark.parametrize("hit", [FLUSH, LIGHT])
def test_the_films_are_racks_as_the_table_counts_them(hit):
    # 60 racks in order against the table's chance: the exact binomial test of scipy.
    struck = sum(not film_rack(hit, "right", number).standing for number in range(1, 61))
    told = carry(hit.board, hit.angle_deg, hit.speed_mph, hit.slip_mps, "right", hit.mass_lb)
    assert binomtest(struck, 60, told.strike).pvalue > 0.001


# What the table says.


def test_shares_add_up_and_the_likeliest_come_first():
    at = pin_hit(LIGHT, "right")
    assert at.carry
    shares = [leave.percent for leave in at.leaves]
    assert sum(shares) + 100.0 * at.carry.strike == pytest.approx(100.0, abs=0.5)
    named = shares[:-1] if at.leaves[-1].name == "any other" else shares
    assert named == sorted(named, reverse=True)


def test_a_left_hander_leaves_the_seven_where_a_right_hander_leaves_the_ten():
    right, left = pin_hit(LIGHT, "right"), pin_hit(LIGHT, "left")
    assert right.leaves[0].name == "10 pin"
    assert left.leaves[0].name == "7 pin"
    assert (right.neighbour, left.neighbour) == (6, 4)
    assert left.corner_falls == right.corner_falls


def test_a_hit_beyond_the_table_has_no_chance_and_says_so():
    at = pin_hit(Hit(21.5, 5.0), "right")
    assert at.carry is None
    assert "boards 14 to 21" in at.limits[0]
    slow = pin_hit(replace(FLUSH, speed_mph=11.0), "right")
    assert "speed goes from 13 to 19 mph" in slow.limits[0]
    assert pin_hit(FLUSH, "right").limits == []


@pytest.mark.parametrize(
    ("strike", "shown"),
    [(0.999, "over 99 %"), (0.66, "66 %"), (0.004, "under 1 %"), (0.0, "under 1 %")],
)
def test_a_chance_is_never_told_as_certain(strike, shown):
    at = pin_hit(FLUSH, "right")
    assert replace(at, carry=replace(at.carry, strike=strike)).strike == shown


# The pages.


def test_each_ball_has_its_chance_and_a_way_to_its_rack(cast, as_user):
    asked = {"b1-ball": "new", "b2-ball": "new", "b2-cover": "plastic", "target": 2, "laydown": 10}
    response = as_user(cast.carl).get(reverse("lanes:try_shot"), asked)
    solid, plastic = response.context["answer"].rolled
    html = response.content.decode()
    assert plastic.path.gutter_at_ft
    assert not solid.path.gutter_at_ft
    assert "In the gutter: nothing falls." in html
    assert html.count("Watch one rack") == 1
    assert solid.at_pins.query.replace("&", "&amp;") in html


def test_the_address_of_a_rack_is_the_hit_and_shows_its_rack(cast, as_user):
    at = pin_hit(LIGHT, "left")
    browser = as_user(cast.otto)
    page = browser.get(f"{reverse('lanes:rack')}?{at.query}&rack=3")
    film: RackFilm = page.context["film"]
    assert (film.hit, film.hand, film.number) == (LIGHT, "left", 3)
    html = page.content.decode()
    assert film.words[0] in html
    assert at.query.replace("&", "&amp;") + "&amp;rack=4" in html
    assert "Table " in html
    part = browser.get(f"{reverse('lanes:rack')}?{at.query}", headers={"HX-Request": "true"})
    assert "<html" not in part.content.decode()
    assert "another may fall otherwise" in part.content.decode()


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"board": "0"}, "board"),
        ({"angle": "nan"}, "angle"),
        ({"speed": "99"}, "speed"),
        ({"slip": "-1"}, "slip"),
        ({"mass": "30"}, "mass"),
        ({"hand": "both"}, "hand"),
        ({"rack": "0"}, "rack"),
        ({"rack": "1.5"}, "rack"),
        ({"board": ""}, "board"),
    ],
)
def test_a_hit_that_is_none_is_told_at_its_field(cast, as_user, asked, field):
    response = as_user(cast.carl).get(reverse("lanes:rack"), asked)
    assert response.status_code == 200
    assert list(response.context["form"].errors) == [field]
    assert "film" not in response.context
    part = as_user(cast.carl).get(reverse("lanes:rack"), asked, headers={"HX-Request": "true"})
    assert 'role="alert"' in part.content.decode()
