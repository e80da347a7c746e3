"""The drawing of the lane: where boards, pins and film land on it."""

from __future__ import annotations

import numpy as np
import pytest
from django.template.loader import render_to_string

from lanes.motion import HOUSE
from lanes.pictures import FILM_STEPS_UM, PER_BOARD, PER_FOOT, SHAPES, LanePicture


def picture(hand: str = "right") -> LanePicture:
    return LanePicture("A lane", "A lane from above.", hand=hand)


def test_board_one_is_on_the_strong_side():
    right, left = picture("right"), picture("left")
    assert right.x(1) > right.x(39)
    assert left.x(1) < left.x(39)
    assert right.x(20) == left.x(20) == right.lane["middle"]


def test_the_ten_pin_stands_right_and_the_seven_left_for_both_hands():
    # Pin numbers never mirror: the ten pin is the right-hand corner of the deck.
    for hand in ("right", "left"):
        spots = {pin.number: pin.x for pin in picture(hand).pins}
        assert spots[10] > spots[1] > spots[7]


def test_corner_pins_keep_their_published_distance_from_the_edge():
    # 7 and 10 pin centres 2-1/2 to 3 in from the lane's edge (lane specification, FACTS 1).
    drawing = picture()
    spots = {pin.number: pin.x for pin in drawing.pins}
    inches = (drawing.lane["right"] - spots[10]) / PER_BOARD * 41.5 / 39
    assert 2.5 <= inches <= 3.0


def test_the_foul_line_is_at_the_bottom():
    drawing = picture()
    assert drawing.y(0) > drawing.y(15) > drawing.y(59.5)
    assert drawing.y(0) - drawing.y(60) == pytest.approx(60 * PER_FOOT)


def test_film_rectangles_cover_every_oiled_cell_once_with_its_shade():
    film = HOUSE.film_from_left()
    drawing = picture("left")
    drawing.add_film(film)
    painted = np.zeros((39, 60), dtype=int)
    for cell in drawing.cells:
        board = round((cell.x - drawing.lane["left"]) / PER_BOARD)
        end = round((drawing.y(0) - cell.y) / PER_FOOT)
        boards, feet = round(cell.width / PER_BOARD), round(cell.height / PER_FOOT)
        part = painted[board : board + boards, end - feet : end]
        assert not part.any()
        part[:] = cell.level
    assert (painted == np.searchsorted(FILM_STEPS_UM, film.um, side="right")).all()


def test_a_right_handers_drawing_shows_the_same_lane_as_the_left_count():
    sheet_count, own_count = picture("left"), picture("right")
    sheet_count.add_film(HOUSE.film_from_left())
    own_count.add_film(HOUSE.film("right"))
    assert set(sheet_count.cells) == set(own_count.cells)


def test_every_layer_is_drawn_and_named_without_inline_style():
    drawing = picture()
    drawing.add_path([(0, 20), (59.5, 17.5)], "first shots", dash="dash")
    drawing.add_band([(0, 19, 21), (59.5, 16, 19)], "likely range")
    for shape in SHAPES:
        drawing.add_mark(10, 15, f"a {shape}", shape=shape)
    html = render_to_string("lanes/parts/lane.html", {"picture": drawing})
    assert 'role="img"' in html
    assert "style=" not in html
    for label in ["first shots", "likely range", *(f"a {shape}" for shape in SHAPES)]:
        assert label in html


def test_labels_are_escaped():
    drawing = picture()
    drawing.add_path([(0, 20), (59.5, 17.5)], "<script>", name_at_end=True)
    assert "<script>" not in render_to_string("lanes/parts/lane.html", {"picture": drawing})
