"""The cross-sections of a layout sheet: to scale, dimensioned, told in words, mirrored by hand."""

from __future__ import annotations

import re

import numpy as np
import pytest
from django.urls import reverse

from clients.drilling_sheet import THIN_WALL_IN
from clients.models import Client, FitHole, FitSheet, Layout
from lanes.layout_sheet import layout_sheet


@pytest.fixture
def plan(cast) -> Layout:
    sheet = FitSheet.objects.create(client=cast.sam_client, bridge_in=0.3125)
    for finger, size, depth, span, forward, lateral in (
        ("thumb", 1.0, 2.75, None, -0.125, 0.0),
        ("middle", 0.97, 1.25, 4.375, 0.0, -0.375),
        ("ring", 0.94, 1.25, 4.5, 0.0, 0.375),
    ):
        FitHole.objects.create(
            sheet=sheet, finger=finger, size_in=size, depth_in=depth, span_in=span,
            forward_in=forward, lateral_in=lateral,
        )  # fmt: skip
    return Layout.objects.create(
        ball=cast.ball, fit=sheet, pap_over_in=5.0, pap_up_in=0.5, pin_over_in=0.2, pin_up_in=3.0
    )


def points(d: str) -> np.ndarray:
    return np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+)", d), dtype=float)


def cuts(plan: Layout) -> dict:
    return {cut.title: cut for cut in layout_sheet(plan).sections}


def stroke(cut, kind: str) -> np.ndarray:
    return next(points(one.d) for one in cut.strokes if one.kind.split()[0] == kind)


def test_every_pair_is_cut_to_scale(plan):
    sheet = layout_sheet(plan)
    assert list(cuts(plan)) == ["middle and ring", "thumb and middle", "thumb and ring"]
    for cut, wall in zip(sheet.sections, [sheet.drilling.walls[2], *sheet.drilling.walls[:2]],
                         strict=True):  # fmt: skip
        bar = stroke(cut, "bar")
        assert bar[1, 0] - bar[0, 0] == pytest.approx(cut.scale, abs=0.11)  # it says 1 in
        drawn = stroke(cut, "wall")
        length = np.linalg.norm(drawn[1] - drawn[0])
        assert length / cut.scale == pytest.approx(wall.thinnest_in, abs=0.2 / cut.scale)
        assert any(f"{wall.thinnest_in:.2f} in" in label.text for label in cut.labels)
        for axis, depth in zip(
            [points(one.d) for one in cut.strokes if one.kind == "axis"],
            [1.25, 1.25] if cut.title == "middle and ring" else [2.75, 1.25],
            strict=True,
        ):
            # A quarter inch beyond either end; a plane along both axes shortens neither by a tenth.
            long = np.linalg.norm(axis[1] - axis[0]) / cut.scale
            assert (depth + 0.5) * 0.9 <= long <= depth + 0.5 + 0.01
        everything = np.concatenate([points(cut.body), *map(points, cut.holes)])
        assert everything[:, 0].min() > -60
        assert everything[:, 0].max() < cut.width + 60
        assert all(0 < label.y < cut.height for label in cut.labels)


def test_what_is_recorded_stands_beside_it_and_in_the_words(plan, cast, as_user):
    cut = cuts(plan)["thumb and ring"]
    said = [label.text for label in cut.labels]
    for text in ("thumb: 2 3/4 in deep", "reverse 1/8 in", "right 3/8 in", "span 4 1/2 in", "1 in"):
        assert text in said, text
    assert "pitch reverse 1/8 in and right 0" in cut.description
    html = as_user(cast.otto).get(reverse("lanes:layout", args=[plan.pk])).content.decode()
    assert "Cross-section: middle and ring" in html
    assert "bridge 5/16 in" in html
    FitSheet.objects.update(bridge_in=None)
    plan.refresh_from_db()
    assert "bridge 1/4 in, assumed" in [one.text for one in cuts(plan)["middle and ring"].labels]


def test_the_pin_is_in_the_picture_where_it_lies_near_the_cut(plan):
    fingers = cuts(plan)["middle and ring"]
    assert "pin" in [one.kind for one in fingers.strokes]
    assert "On the cover: pin" in fingers.description
    Layout.objects.update(pin_over_in=6.0)
    plan.refresh_from_db()
    assert not [cut for cut in cuts(plan).values() if "pin" in [one.kind for one in cut.strokes]]


def test_a_thin_wall_is_marked_and_one_that_is_none(plan):
    FitHole.objects.filter(finger__in=("middle", "ring")).update(lateral_in=0.0)
    plan.refresh_from_db()
    cut = cuts(plan)["middle and ring"]
    assert cut.is_thin
    assert "They run into each other." in cut.description
    FitSheet.objects.update(bridge_in=0.25)
    FitHole.objects.filter(finger="middle").update(lateral_in=-0.33)
    FitHole.objects.filter(finger="ring").update(lateral_in=0.33)
    plan.refresh_from_db()
    sheet = layout_sheet(plan)
    [wall] = sheet.drilling.thin_walls
    assert 0.0 < wall.thinnest_in < THIN_WALL_IN
    thin = [cut.title for cut in sheet.sections if cut.is_thin]
    assert thin == ["middle and ring"]
    assert "a thin one" in cuts(plan)["middle and ring"].description


def test_a_left_handers_fingers_are_drawn_mirrored_and_the_thumb_stays_left(plan):
    def x_of(cut, name: str) -> float:
        return next(one.x for one in cut.labels if one.text == name)

    right = cuts(plan)
    Client.objects.update(hand="left")
    plan = Layout.objects.get()
    left = cuts(plan)
    for drawn, sign in ((right["middle and ring"], 1), (left["middle and ring"], -1)):
        assert sign * (x_of(drawn, "ring") - x_of(drawn, "middle")) > 0
    for drawn in (right, left):
        assert x_of(drawn["thumb and ring"], "thumb") < x_of(drawn["thumb and ring"], "ring")


def test_a_hole_without_a_depth_has_no_cut(plan):
    FitHole.objects.filter(finger="thumb").update(depth_in=None)
    plan.refresh_from_db()
    assert list(cuts(plan)) == ["middle and ring"]
