"""Tape readings on file: imported where sheets are, shown, written out, and read upon."""

from __future__ import annotations

import numpy as np
import pytest
from django.urls import reverse

from lanes import patterns, readings, shots
from lanes.models import Pattern
from lanes.motion import parse_oil, parse_tape
from lanes.motion.oil import HOUSE

BOARDS = (2, 5, 10, 15, 20, 25, 30, 35, 38)
# Units of oil on those boards, at each distance; the right outside was found dry.
FOUND = {
    8: (12, 20, 38, 46, 48, 46, 38, 20, 0),
    25: (6, 12, 24, 30, 32, 30, 24, 12, 0),
    40: (0, 0, 5, 7, 8, 7, 5, 0, 0),
}
TAPE = "ft,board,units\n" + "".join(
    f"{ft},{board},{units}\n"
    for ft, row in FOUND.items()
    for board, units in zip(BOARDS, row, strict=True)
)


@pytest.fixture
def post(cast, as_user):
    """Return a function that posts to the import as Carl."""
    browser = as_user(cast.carl)
    return lambda **data: browser.post(reverse("lanes:pattern_import"), data)


def test_pasted_readings_are_previewed_and_nothing_is_kept_yet(post):
    html = post(text=TAPE, name="Lane 7", step="read").content.decode()
    for text in ("Are these the readings?", "27 tape readings at 8, 25 and 40 ft", "8 ft</th>"):
        assert text in html
    assert "forward" not in html.split("<form")[0].split("tape readings at")[0]
    assert not Pattern.objects.exists()


def test_kept_readings_give_the_film_that_was_read(post):
    post(text=TAPE, name="Lane 7", step="save")
    pattern = Pattern.objects.get()
    assert pattern.kind == Pattern.Kind.TAPE
    assert pattern.layers == []
    film = patterns.sheet_of(pattern).film_from_left()
    # The film at the distances and on the boards that were read is what was read there: a foot's
    # cell is read at its middle, half a foot on or back, where it runs straight.
    for board, units in zip(BOARDS, FOUND[25], strict=True):
        beside = film.units[board - 1, [24, 25]]
        assert np.interp(25.0, [24.5, 25.5], beside) == pytest.approx(units, abs=0.4)
    assert pattern.volume_ml == pytest.approx(film.volume_ml, abs=0.001)
    assert pattern.length_ft == film.length_ft > 40


def test_the_same_readings_are_kept_once_and_are_no_sheet(post, cast):
    post(text=TAPE, name="Lane 7", step="save")
    patterns.import_pattern(HOUSE, by=cast.carl)
    post(text=TAPE, name="Lane 7 again", step="save")
    assert sorted(Pattern.objects.values_list("kind", flat=True)) == ["pattern", "tape"]


def test_micrometres_are_turned_into_units_and_come_out_the_same(post, cast, as_user):
    um = "ft;board;um\n" + "".join(
        f"{ft};{board};{units * 0.18:.3f}\n".replace(".", ",")
        for ft, row in FOUND.items()
        for board, units in zip(BOARDS, row, strict=True)
    )
    post(text=um, name="Thin", step="save")
    [pattern] = Pattern.objects.all()
    # 0.18 um is a unit, to a thousandth (0.0167 cm3 on a square foot; governing body, from memory).
    units = [reading.units for reading in patterns.sheet_of(pattern).readings]
    assert units == pytest.approx([u for row in FOUND.values() for u in row], rel=2e-3)
    url = reverse("lanes:pattern_csv", args=[pattern.pk])
    text = as_user(cast.otto).get(url).content.decode()
    assert text.splitlines()[0] == "ft,board,units"
    assert [r.units for r in parse_tape(text, "Thin").readings] == pytest.approx(units, rel=1e-12)


def test_what_cannot_be_read_is_told_by_row_and_nothing_is_kept(post):
    response = post(text=TAPE.replace("8,20,48", "8,20,lots"), name="x", step="read")
    assert [(p.row, p.field) for p in response.context["problems"]] == [(6, "units")]
    assert "lots" in response.content.decode()
    assert not Pattern.objects.exists()


def test_a_tape_at_one_distance_alone_is_too_little(post):
    one = "\n".join(TAPE.splitlines()[:10])
    response = post(text=one, name="x", step="read")
    assert "two distances or more" in response.content.decode()


def test_the_pages_show_readings_as_such(post, cast, as_user):
    post(text=TAPE, name="Lane 7", step="save")
    browser = as_user(cast.otto)
    [pattern] = Pattern.objects.all()
    html = browser.get(reverse("lanes:pattern", args=[pattern.pk])).content.decode()
    for text in (
        "Tape readings, imported",
        "Readings as CSV",
        "Units of oil by board",
        "of the film",
    ):
        assert text in html
    assert "Layers" not in html
    assert "tape readings" in browser.get(reverse("lanes:patterns")).content.decode()


def test_a_shot_is_tried_and_a_session_read_on_the_readings(post, cast, as_user):
    post(text=TAPE, name="Lane 7", step="save")
    [pattern] = Pattern.objects.all()
    response = as_user(cast.carl).get(reverse("lanes:try_shot"), {"oil": pattern.pk})
    assert "Lane 7," in response.content.decode()
    cast.block.pattern = pattern
    cast.block.save()
    for number in range(1, 4):
        shots.log_shot(session=cast.session, by=cast.carl, values={"shot": number, "arrows": 12})
    inputs = readings.gather(cast.session)
    assert inputs.pattern == parse_oil(TAPE, "Lane 7")
    assert (inputs.pattern.film("right").um == parse_oil(TAPE, "").film("right").um).all()
    assert inputs.digest
