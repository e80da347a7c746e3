"""The layout sheet: told both ways, drawn for either hand, drilled into the ball."""

from __future__ import annotations

import json
import math
import re
from datetime import date

import numpy as np
import pytest
from django.urls import reverse

from clients import layouts, tickets
from clients.drilling import Place
from clients.drilling_sheet import drilling_sheet
from clients.models import AxisPoint, Ball, BallEvent, FitHole, FitSheet, Layout
from lanes import readings, sessions
from lanes.ball_picture import RADIUS
from lanes.layout_sheet import HoleClearance, layout_sheet
from lanes.reading.client import ClientFacts, parse_client
from lanes.sessions import BlockFacts

ANGLES = {
    "by": "angles",
    "pap_over_in": "5",
    "pap_up_in": "1/2 up",
    "pin_to_pap_in": "3 3/8",
    "angle_at_pin_deg": "45",
    "angle_at_pap_deg": "45",
}


def url(name, pk) -> str:
    return reverse(name, args=[pk])


@pytest.fixture
def fit(cast) -> FitSheet:
    sheet = FitSheet.objects.create(client=cast.sam_client, bridge_in=0.3125)
    for finger, size, depth, span, lateral in (
        ("thumb", 1.0, 2.75, None, 0.0),
        ("middle", 0.97, 1.25, 4.375, -0.375),
        ("ring", 0.94, 1.25, 4.5, 0.375),
    ):
        FitHole.objects.create(
            sheet=sheet, finger=finger, size_in=size, depth_in=depth, span_in=span,
            lateral_in=lateral,
        )  # fmt: skip
    return sheet


@pytest.fixture
def plan(cast, fit) -> Layout:
    return Layout.objects.create(
        ball=cast.ball, fit=fit, pap_over_in=5.0, pap_up_in=0.5, pin_over_in=1.5, pin_up_in=2.5,
        cg_over_in=1.0, cg_up_in=0.25, top_weight_oz=3.0,
    )  # fmt: skip


# Told both ways.


@pytest.mark.parametrize(
    ("pin_to_pap", "at_pin", "at_pap", "pin_to_val", "bias_to_pap"),
    [
        # Shared facts, section 6: spherical triangles on a 27-in ball.
        ("3.375", "45", "45", 2.2500, 4.5000),
        ("3.375", "60", "45", 2.2500, 5.1971),
        ("5", "90", "40", 2.7129, 6.7500),
        ("4.5", "40", "30", 1.9244, 3.6329),
        ("4", "30", "70", 3.6687, 3.4500),
    ],
)
def test_the_page_tells_published_distances(
    cast, as_user, pin_to_pap, at_pin, at_pap, pin_to_val, bias_to_pap
):
    data = ANGLES | {
        "pin_to_pap_in": pin_to_pap, "angle_at_pin_deg": at_pin, "angle_at_pap_deg": at_pap
    }  # fmt: skip
    html = (
        as_user(cast.otto)
        .post(url("clients:layout_new", cast.ball.pk), data, follow=True)
        .content.decode()
    )
    rows = dict(re.findall(r'<tr><th scope="row">([^<]+)</th><td class="num">([\d.]+) in', html))
    assert float(rows["Pin to VAL"]) == pytest.approx(pin_to_val, abs=0.006)  # two decimals
    assert float(rows["Mass bias to PAP"]) == pytest.approx(bias_to_pap, abs=0.006)
    told = layouts.geometry(Layout.objects.get())
    assert told.pin_to_val_in == pytest.approx(pin_to_val, abs=5e-5)
    assert told.mass_bias_to_pap_in == pytest.approx(bias_to_pap, abs=5e-5)


def test_places_come_back_as_the_angles_that_made_them(cast, as_user):
    browser = as_user(cast.otto)
    browser.post(url("clients:layout_new", cast.ball.pk), ANGLES)
    layout = Layout.objects.get()
    told = layouts.geometry(layout)
    assert told.pin_to_pap_in == pytest.approx(3.375, abs=1e-9)
    assert told.angle_at_pin_deg == pytest.approx(45, abs=1e-9)
    assert told.angle_at_pap_deg == pytest.approx(45, abs=1e-9)
    # And the form shows the places, to be told that way again, within its 64ths and thousandths.
    form = browser.get(url("clients:layout_edit", layout.pk)).context["form"]
    again = {
        name: form[name].value() for name in ("pap_over_in", "pap_up_in", "pin_over_in",
        "pin_up_in", "mb_over_in", "mb_up_in")
    }  # fmt: skip
    shown = {name: form.fields[name].prepare_value(value) for name, value in again.items()}
    browser.post(url("clients:layout_edit", layout.pk), shown | {"by": "places"})
    layout.refresh_from_db()
    assert layouts.geometry(layout).pin_to_pap_in == pytest.approx(3.375, abs=0.002)
    assert layouts.geometry(layout).angle_at_pin_deg == pytest.approx(45, abs=0.05)


def test_a_symmetric_ball_needs_no_angle_at_the_pin(cast, as_user):
    data = ANGLES | {"angle_at_pin_deg": ""}
    as_user(cast.otto).post(url("clients:layout_new", cast.ball.pk), data)
    layout = Layout.objects.get()
    assert layout.mb_over_in is None
    assert layouts.geometry(layout).angle_at_pap_deg == pytest.approx(45, abs=1e-9)


def test_the_form_begins_with_the_clients_axis_point_and_fit(cast, as_user, fit):
    cast.sam_client.pap_over_in, cast.sam_client.pap_up_in = 4.875, 0.5
    cast.sam_client.save()
    html = as_user(cast.otto).get(url("clients:layout_new", cast.ball.pk)).content.decode()
    assert 'value="4 7/8"' in html
    assert 'value="1/2 up"' in html
    assert f'value="{fit.pk}" selected' in html


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"pin_to_pap_in": ""}, "pin_to_pap_in", "Expected where a layout is told by angles"),
        ({"pin_to_pap_in": "14"}, "pin_to_pap_in", "less than or equal to 13.5"),
        ({"angle_at_pap_deg": "200"}, "angle_at_pap_deg", "less than or equal to 180"),
        ({"pap_over_in": "five"}, "pap_over_in", "such as 4 3/8"),
        ({"pap_up_in": "1/2"}, "pap_up_in", "up or down"),
        ({"by": "places"}, "pin_over_in", "Expected where a layout is told by places"),
        (
            {"by": "places", "pin_over_in": "2", "pin_up_in": "2 up", "mb_over_in": "3"},
            "mb_up_in",
            "beside the other one",
        ),
        (
            {"by": "places", "pin_over_in": "2", "pin_up_in": "2 up", "mb_over_in": "2",
             "mb_up_in": "1 up"},
            "mb_over_in",
            "about 6 3/4 in from the pin",
        ),
        ({"cg_over_in": "1"}, "cg_up_in", "beside the other one"),
        ({"top_weight_oz": "9"}, "top_weight_oz", "Expected 0 to 6 oz."),
        ({"density_g_cm3": "5"}, "density_g_cm3", "Expected 0.5 to 3.8"),
    ],
)  # fmt: skip
def test_what_is_wrong_stands_at_its_field(cast, as_user, change, field, message):
    response = as_user(cast.otto).post(url("clients:layout_new", cast.ball.pk), ANGLES | change)
    assert message in " ".join(response.context["form"].errors[field])
    assert not Layout.objects.exists()


def test_a_fit_of_another_client_is_refused(cast, as_user):
    other = FitSheet.objects.create(client=cast.tess_client)
    data = ANGLES | {"fit": other.pk}
    response = as_user(cast.otto).post(url("clients:layout_new", cast.ball.pk), data)
    assert "fit" in response.context["form"].errors


def test_a_second_tap_makes_no_second_layout(cast, as_user):
    for _ in range(2):
        response = as_user(cast.otto).post(url("clients:layout_new", cast.ball.pk), ANGLES)
        assert response.status_code == 302
    assert Layout.objects.count() == 1


# Holes, walls, weights.


def test_the_sheet_tells_static_weights_and_walls(cast, as_user, plan):
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    for text in ("Static weights", "Walls in the cross-section", "middle and ring", "span"):
        assert text in html
    sheet = drilling_sheet(plan)
    # Before: 3 oz at the CG, (cos up sin over, sin up, cos up cos over) on a 27-in ball.
    turn = 2 * math.pi / 27
    assert sheet.before.side_oz == pytest.approx(
        3 * math.cos(0.25 * turn) * math.sin(turn), abs=1e-9
    )
    # Three holes of about 4 in3 take about 2 oz of top weight and lift finger weight off.
    assert 1.0 < sheet.before.top_oz - sheet.after.top_oz < 3.0
    assert sheet.density_g_cm3 == pytest.approx(1.249, abs=0.002)  # 15 lb over 5447 cm3
    assert {f.quantity for f in sheet.findings} >= {"top weight", "side weight", "gripping holes"}


def test_a_weight_over_the_limit_is_told(cast, as_user, plan):
    Layout.objects.update(cg_over_in=6.5, top_weight_oz=5.0)
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    assert re.search(r"Side weight 4\.\d+ oz is over 3 oz\.", html)
    assert "The current rule book" in html


def test_what_is_missing_is_said_and_not_guessed(cast, as_user, plan):
    Layout.objects.update(top_weight_oz=None)
    FitHole.objects.filter(finger="ring").update(depth_in=None)
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    assert "Static weights need the CG" in html
    Layout.objects.update(fit=None)
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    assert "need a fit sheet" in html


def test_a_grip_without_the_thumb_shows_the_palm_mark(cast, as_user, plan, fit):
    fit.grip = "no_thumb"
    fit.save()
    fit.holes.get(finger="thumb").delete()
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    assert "palm mark" in html
    assert "grip centre</text>" not in html


def test_holes_that_meet_are_warned_of(cast, as_user, plan):
    FitHole.objects.exclude(finger="thumb").update(lateral_in=0.0, depth_in=2.0)
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    assert "The holes of middle and ring run into each other" in html


def test_a_hole_through_the_pin_is_warned_of(cast, as_user, plan):
    ring = next(hole for hole in drilling_sheet(plan).holes if hole.name == "ring")
    at = ring.place
    for off, warned in ((0.9 * ring.edge_in, True), (1.1 * ring.edge_in, False)):
        Layout.objects.update(pin_over_in=at.over_in, pin_up_in=at.up_in + off)
        html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
        assert ("The ring hole goes through the pin." in html) is warned


def test_the_client_file_takes_the_shops_book_along(cast, as_user, plan):
    AxisPoint.objects.create(client=cast.sam_client, repeats=[[5.0, 0.5]])
    data = as_user(cast.carl).get(url("clients:facts", cast.sam_client.pk)).content
    facts = json.loads(data)
    assert [hole["finger"] for hole in facts["fit_sheets"][0]["holes"]] == [
        "thumb", "middle", "ring"
    ]  # fmt: skip
    assert facts["axis_points"][0]["repeats_in"] == [[5.0, 0.5]]
    assert facts["balls"][0]["layouts"][0]["pin_up_in"] == 2.5
    # And a reading of a session takes the file as before.
    client, [ball] = parse_client(data)
    assert (client.hand, ball.name) == ("right", "A")


def test_deleting_a_client_takes_the_shops_book_along(cast, plan, fit):
    AxisPoint.objects.create(client=cast.sam_client, repeats=[[5.0, 0.5]])
    cast.session.delete()
    cast.sam_client.delete()
    for model in (Layout, FitSheet, FitHole, AxisPoint):
        assert not model.objects.exists()


# The drawing.


def test_a_left_handers_ball_is_drawn_mirrored(plan):
    right = layout_sheet(plan).views
    plan.ball.client.hand = "left"
    left = layout_sheet(plan).views
    for one, other in zip(right, left, strict=True):
        for kind in ("pin", "pap", "grip"):
            a, b = (_middle(view, kind) for view in (one, other))
            assert a[0] + b[0] == pytest.approx(2 * one.middle, abs=0.11)
            assert a[1] == pytest.approx(b[1], abs=0.11)
    # By hand: the axis lies to a right-hander's right of the grip.
    assert _middle(right[0], "pap")[0] > right[0].middle > _middle(left[0], "pap")[0]
    assert "left-hander" in left[0].description


def test_places_are_drawn_where_they_are(plan):
    """Orthographic: x = R cos(up) sin(over), y = R sin(up) from the middle of the grip view."""
    view = layout_sheet(plan).views[0]
    turn = 2 * math.pi / 27
    x, y = _middle(view, "pin")
    assert x - view.middle == pytest.approx(
        RADIUS * math.cos(2.5 * turn) * math.sin(1.5 * turn), abs=0.06
    )
    assert view.middle - y == pytest.approx(RADIUS * math.sin(2.5 * turn), abs=0.06)


def test_what_lies_behind_is_dashed(plan):
    grip, axis = layout_sheet(plan).views
    assert not next(spot for spot in grip.spots if spot.kind == "pin").hidden
    rings = [curve for curve in grip.curves if curve.kind.startswith("ring")]
    assert {curve.hidden for curve in rings} == {True, False}
    # The PAP is the middle of its own view.
    assert _middle(axis, "pap") == pytest.approx((axis.middle, axis.middle), abs=0.06)


def _middle(view, kind) -> tuple[float, float]:
    d = next(spot.d for spot in view.spots if spot.kind == kind)
    x, y = (float(part) for part in re.match(r"M([\d.]+) ([\d.]+)", d).groups())
    offset = {"pin": (5, 0), "pap": (7, 0), "grip": (4, 4)}[kind]
    return x + offset[0], y + offset[1]


# The track.


def test_clearance_is_from_the_nearest_ring_to_the_edge(plan):
    """Each point of each ring against each hole's middle, in dense steps."""
    sheet = layout_sheet(plan)
    rings = sheet.path.rings.until(sheet.path.roll_start_ft)
    for hole, told in zip(sheet.drilling.holes, sheet.clearances, strict=True):
        nearest = math.inf
        for pole, radius in zip(rings.poles, rings.radius_deg, strict=True):
            side = np.cross(pole, [0.3, 0.5, 0.8])
            side /= np.linalg.norm(side)
            turn = np.linspace(0, 2 * math.pi, 20_000)[:, None]
            rim = np.cos(turn) * side + np.sin(turn) * np.cross(pole, side)
            ring = math.cos(math.radians(radius)) * pole + math.sin(math.radians(radius)) * rim
            apart = np.degrees(np.arccos(np.clip(ring @ hole.mouth, -1, 1)).min()) * 27 / 360
            nearest = min(nearest, apart)
        assert told.clearance_in == pytest.approx(nearest - hole.edge_in, abs=1e-3)


@pytest.mark.parametrize(
    ("gap", "verdict"),
    [(-0.2, "over the hole"), (0.12, "over the hole"), (0.3, "close"), (0.6, "clear")],
)
def test_the_track_is_a_strip(gap, verdict):
    assert HoleClearance("thumb", gap).verdict == verdict


def test_the_layouts_of_the_client_are_compared_on_one_ball(cast, as_user, plan):
    other = Ball.objects.create(client=cast.sam_client, name="Grey", cover="pearl")
    drilled = Layout.objects.create(
        ball=other, pap_over_in=5.0, pap_up_in=0.5, pin_over_in=3.0, pin_up_in=1.0,
        drilled_on=date(2026, 1, 5),
    )  # fmt: skip
    sheet = layout_sheet(plan)
    assert [one.label for one in sheet.effects] == ["this layout", "laid out as Grey"]
    # The first row is the ball itself, thrown by the client's own release.
    assert sheet.effects[0].flare_in == sheet.path.flare_in
    assert "350 rpm" in sheet.release_words
    assert sheet.surfaces_spread > sheet.layouts_spread
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    assert "Surface matters more." in html
    assert drilled.ball.name in html


def test_the_flare_is_that_of_the_layout_told_as_a_ball(plan):
    """The same ball told by distance and angles, in the motion core's own frame."""
    from lanes.locker import spec_of
    from lanes.motion.reference import MIDDLE, on_reference_lane

    Layout.objects.update(mb_over_in=None)
    told = layouts.geometry(plan)
    ball = plan.ball
    ball.pin_to_pap_in, ball.angle_at_pap_deg = told.pin_to_pap_in, told.angle_at_pap_deg
    path = on_reference_lane(spec_of(ball), MIDDLE)  # Sam's release is the middle one
    assert layout_sheet(plan).path.flare_in == pytest.approx(path.flare_in, abs=0.1)


# In the ball.


def test_a_drilled_layout_is_the_balls_and_stays(cast, as_user, plan):
    browser = as_user(cast.otto)
    for _ in range(2):  # a second tap changes nothing
        browser.post(url("clients:layout_drilled", plan.pk))
    cast.ball.refresh_from_db()
    told = layouts.geometry(plan)
    assert cast.ball.pin_to_pap_in == pytest.approx(told.pin_to_pap_in, abs=1e-4)
    assert BallEvent.objects.filter(ball=cast.ball, kind="drilled").count() == 1
    assert browser.get(url("clients:layout_edit", plan.pk)).status_code == 302
    browser.post(url("clients:layout_remove", plan.pk))
    assert Layout.objects.filter(pk=plan.pk).exists()
    later = Layout.objects.create(
        ball=cast.ball, pap_over_in=5.0, pap_up_in=0.5, pin_over_in=3.0, pin_up_in=1.0
    )
    browser.post(url("clients:layout_drilled", later.pk))
    plan.refresh_from_db()
    assert plan.replaced_on is not None
    html = browser.get(url("lanes:layout", plan.pk)).content.decode()
    assert "not in the ball any more" in html


def test_a_plan_can_be_thrown_away(cast, as_user, plan):
    as_user(cast.otto).post(url("clients:layout_remove", plan.pk))
    assert not Layout.objects.exists()


def test_the_operators_sheet_has_no_word_of_the_lessons(cast, as_user, plan):
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    main = html.split('id="main"')[1]
    for secret in ("Drops the shoulder", "Test Lanes", "/sessions/", "/reports/"):
        assert secret not in main


def test_the_sheet_has_boxes_cautions_and_room_to_sign(cast, as_user, plan):
    html = as_user(cast.otto).get(url("lanes:layout", plan.pk)).content.decode()
    for text in ("At the press", "right hand", "spectacles", "Local codes", "Drilled by"):
        assert text in html


def test_a_place_behind_the_grip_is_hidden():
    from lanes.ball_picture import grip_side

    view = grip_side(left_handed=False)
    view.add_mark(Place(13.0, 0.0), "bias", "mass bias")
    assert view.spots[0].hidden


def test_a_session_keeps_the_angles_of_the_layout_that_was_drilled(cast, plan):
    Layout.objects.filter(pk=plan.pk).update(mb_over_in=4.0, mb_up_in=-3.0)
    plan.refresh_from_db()
    layouts.mark_drilled(plan, on=date(2026, 1, 5), by=cast.otto)
    cast.ball.refresh_from_db()
    told = layouts.geometry(plan)
    session, _ = sessions.start_session(
        by=cast.carl, client=cast.sam_client, block=BlockFacts(cast.centre), balls=[cast.ball]
    )
    [spec] = readings.ball_specs(session)
    assert spec.angle_at_pin_deg == pytest.approx(told.angle_at_pin_deg, abs=1e-4)
    assert spec.angle_at_pap_deg == pytest.approx(told.angle_at_pap_deg, abs=1e-4)
    # Plugged later, the session still has the ball as it was on its day; the file says the same.
    Ball.objects.update(angle_at_pin_deg=None, angle_at_pap_deg=None)
    assert readings.ball_specs(session) == [spec]
    _, [of_file] = parse_client(
        json.dumps({"hand": "right", "balls": [{"name": "A", "angle_at_pin_deg": 45.0}]}).encode()
    )
    session, _ = sessions.start_session(
        by=cast.carl,
        client=cast.sam_client,
        block=BlockFacts(cast.centre),
        told=(ClientFacts("right"), [of_file]),
    )
    assert session.balls.get().angle_at_pin_deg == 45.0


def test_a_new_layout_goes_on_the_drill_ticket_that_waits_for_one(cast, as_user, fit):
    drill = tickets.take_in(client=cast.sam_client, ball=cast.ball, kind="drill", by=cast.otto)
    plug = tickets.take_in(client=cast.sam_client, ball=cast.ball, kind="plug", by=cast.otto)
    dropped = tickets.take_in(client=cast.sam_client, ball=cast.ball, kind="drill", by=cast.otto)
    tickets.drop(dropped, by=cast.otto)
    browser, address = as_user(cast.otto), url("clients:layout_new", cast.ball.pk)
    for _ in range(2):  # a second tap changes nothing
        browser.post(address, ANGLES)
    first = Layout.objects.get()
    browser.post(address, ANGLES | {"pin_to_pap_in": "5"})  # the ticket keeps the one that it has
    for ticket, layout in ((drill, first), (plug, None), (dropped, None)):
        ticket.refresh_from_db()
        assert ticket.layout == layout, ticket
    html = browser.get(url("lanes:layout", first.pk)).content.decode()
    assert f">Ticket {drill.number}</a>" in html
    assert "Ticket to drill it" not in html
