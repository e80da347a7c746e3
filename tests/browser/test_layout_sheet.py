"""Fit, axis point, layout and limits on a phone and at a desk; the sheet on one page of paper."""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from clients import drilling
from clients.models import AxisPoint, FitHole, FitSheet, Layout

pytestmark = pytest.mark.browser


@pytest.fixture
def bench(transactional_db, cast):
    """Sam with fit, axis point and a layout of an asymmetric ball; Wendy, left-handed, with one."""
    cast.sheets = []
    for client in (cast.sam_client, cast.wendy_client):
        for day, span in (("2026-01-05", 4.375), ("2026-02-05", 4.4375)):
            fit = FitSheet.objects.create(client=client, bridge_in=0.3125, made_on=day)
            holes = (
                ("thumb", 1.03125, 2.75, None, 0.0),
                ("middle", 0.96875, 1.25, span, -0.375),
                ("ring", 0.9375, 1.25, 4.5, 0.375),
            )
            for finger, size, depth, reach, lateral in holes:
                FitHole.objects.create(
                    sheet=fit, finger=finger, size_in=size, depth_in=depth, span_in=reach,
                    lateral_in=lateral, insert="oval, black",
                )  # fmt: skip
        ball = cast.ball
        if client == cast.wendy_client:
            ball = client.balls.create(name="Left one", cover="pearl", mass_lb=12)
        else:
            ball.intermediate_in = 0.015
            ball.save()
        told = drilling.Layout.from_angles(drilling.Place(4.875, 0.5), 4.0, 55, 50)
        layout = Layout.objects.create(
            ball=ball, fit=fit, pap_over_in=4.875, pap_up_in=0.5,
            pin_over_in=told.pin.over_in, pin_up_in=told.pin.up_in,
            mb_over_in=told.mass_bias.over_in, mb_up_in=told.mass_bias.up_in,
            cg_over_in=1.0, cg_up_in=0.5, top_weight_oz=3.0,
        )  # fmt: skip
        cast.sheets.append(layout)
    AxisPoint.objects.create(
        client=cast.sam_client, repeats=[[4.875, 0.5], [5.0, 0.25], [4.75, 0.75]]
    )
    return cast


def pages(w) -> dict[str, str]:
    return {
        "fit": reverse("clients:fit", args=[w.sam_client.pk]),
        "fit_old": reverse("clients:fit_sheet", args=[FitSheet.objects.last().pk]),
        "fit_form": reverse("clients:fit_new", args=[w.sam_client.pk]),
        "axis_form": reverse("clients:axis_point_new", args=[w.sam_client.pk]),
        "layout": reverse("lanes:layout", args=[w.sheets[0].pk]),
        "layout_left": reverse("lanes:layout", args=[w.sheets[1].pk]),
        "layout_form": reverse("clients:layout_new", args=[w.ball.pk]),
        "rules": reverse("clients:rules"),
        "ball_with_layout": reverse("clients:ball", args=[w.ball.pk]),
    }


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_the_pages_are_accessible(bench, request, device, log_in, axe, shoot):
    page = request.getfixturevalue(device)
    log_in(page, bench.otto)
    for name, address in pages(bench).items():
        page.goto(address)
        axe(page)
        shoot(page, f"shop_{name}")


def test_a_layout_from_a_thumb_to_a_drilled_ball(bench, phone, log_in):
    log_in(phone, bench.otto)
    phone.goto(reverse("clients:layout_new", args=[bench.ball.pk]))
    phone.get_by_label("PAP over, in").fill("5")
    phone.get_by_label("PAP up or down, in").fill("1/2 up")
    phone.get_by_label("Pin to PAP, in").fill("4 1/2")
    phone.get_by_label("Angle at the pin, deg").fill("60")
    phone.get_by_role("button", name="Draw the sheet").click()
    expect(phone.get_by_text("Expected where a layout is told by angles.")).to_be_visible()
    assert phone.get_by_label("Pin to PAP, in").input_value() == "4 1/2"
    phone.get_by_label("Angle at the PAP, deg").fill("35")
    phone.get_by_role("button", name="Draw the sheet").click()
    expect(phone.get_by_role("heading", name="Layout sheet: A planned")).to_be_visible()
    expect(phone.get_by_role("img", name="Grip side")).to_be_visible()
    phone.get_by_role("button", name="It is drilled already").click()
    expect(phone.get_by_text("A has this layout now.")).to_be_visible()
    bench.ball.refresh_from_db()
    assert bench.ball.pin_to_pap_in == pytest.approx(4.5, abs=1e-4)
    assert bench.ball.angle_at_pap_deg == pytest.approx(35, abs=1e-4)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_sheet_is_one_sheet_of_paper_with_the_cuts_on_its_back(
    bench, desk, log_in, paper, tmp_path
):
    log_in(desk, bench.otto)
    for layout in bench.sheets:
        desk.goto(reverse("lanes:layout", args=[layout.pk]))
        file = tmp_path / "sheet.pdf"
        if os.environ.get("SCREENSHOTS"):
            desk.emulate_media(media="print")
            desk.set_viewport_size({"width": 726, "height": 1055})  # A4 less its margins
            desk.screenshot(
                path=Path(os.environ["SCREENSHOTS"]) / f"print-{layout.pk}-{paper}.png",
                full_page=True,
            )

        desk.pdf(path=file, format=paper, prefer_css_page_size=False)
        assert sides(file) == 2
        if os.environ.get("SCREENSHOTS"):
            shutil.copy(file, Path(os.environ["SCREENSHOTS"]) / f"sheet-{layout.pk}-{paper}.pdf")
        # Less the cuts, one side holds it all: they are what is on the back.
        expect(desk.get_by_role("img", name="Cross-section: middle and ring")).to_be_visible()
        desk.evaluate("document.querySelector('.cuts').remove()")
        desk.pdf(path=file, format=paper, prefer_css_page_size=False)
        assert sides(file) == 1


def sides(file: Path) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", file.read_bytes()))
