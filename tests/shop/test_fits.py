"""Fit sheets and axis points: kept, changed, told."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest
from django.urls import reverse

from clients import axis_points
from clients.drilling import Place
from clients.drilling.repeats import measured
from clients.models import AuditEntry, AxisPoint, FitSheet

SHEET = {
    "grip": "fingertip",
    "bridge_in": "1/4",
    "made_on": "2026-01-05",
    "thumb-size_in": "1 1/32",
    "thumb-depth_in": "2 3/4",
    "thumb-forward_in": "1/8 reverse",
    "middle-size_in": "31/32",
    "middle-depth_in": "1,25",
    "middle-span_in": "4 3/8",
    "middle-lateral_in": "1/8 left",
    "ring-size_in": "15/16",
    "ring-depth_in": "1 1/4",
    "ring-span_in": "4.5",
    "ring-insert": "oval, black",
}
POINT = {"method": "ring", "measured_on": "2026-01-05", "over_1": "4 7/8", "up_1": "1/2 up"}


def post(browser, name, pk, data):
    return browser.post(reverse(name, args=[pk]), data)


def page(browser, name, *args) -> str:
    response = browser.get(reverse(name, args=args))
    assert response.status_code == 200
    return response.content.decode()


def test_a_sheet_is_written_down_in_fractions_and_shown_with_millimetres(cast, as_user):
    browser = as_user(cast.otto)
    response = post(browser, "clients:fit_new", cast.sam_client.pk, SHEET)
    assert response["Location"] == reverse("clients:fit", args=[cast.sam_client.pk])
    sheet = FitSheet.objects.get()
    thumb, middle, ring = sheet.holes.order_by("pk")
    assert (thumb.size_in, thumb.forward_in, thumb.span_in) == (1.03125, -0.125, None)
    assert (middle.span_in, middle.depth_in, middle.lateral_in) == (4.375, 1.25, -0.125)
    assert ring.insert == "oval, black"
    assert sheet.made_by == cast.otto
    html = page(browser, "clients:fit", cast.sam_client.pk)
    for text in ("4 3/8 in", "(111.1 mm)", "1/8 in reverse", "1/8 in left", "oval, black"):
        assert text in html
    assert AuditEntry.objects.filter(action="fit.added").count() == 1


def test_a_second_tap_makes_no_second_sheet(cast, as_user):
    for _ in range(2):
        assert (
            post(as_user(cast.otto), "clients:fit_new", cast.sam_client.pk, SHEET).status_code
            == 302
        )
    assert FitSheet.objects.count() == 1


def test_a_change_makes_a_new_sheet_and_says_what_changed(cast, as_user):
    browser = as_user(cast.otto)
    post(browser, "clients:fit_new", cast.sam_client.pk, SHEET)
    first = FitSheet.objects.get()
    form = browser.get(reverse("clients:fit_new", args=[cast.sam_client.pk])).content.decode()
    assert 'value="4 3/8"' in form  # it begins with the newest sheet
    assert 'value="1/8 reverse"' in form
    later = SHEET | {"made_on": "2026-02-01", "ring-span_in": "4 9/16", "thumb-forward_in": "0"}
    post(browser, "clients:fit_new", cast.sam_client.pk, later)
    html = page(browser, "clients:fit", cast.sam_client.pk)
    assert "Ring finger span: 4 1/2 in to 4 9/16 in" in html
    assert "Thumb forward pitch: 1/8 in reverse to 0 in" in html
    old = page(browser, "clients:fit_sheet", first.pk)
    assert "4 1/2 in" in old
    assert "A later sheet is" in old
    first.refresh_from_db()
    assert first.holes.get(finger="ring").span_in == 4.5


def test_a_two_hander_has_no_thumb_hole(cast, as_user):
    browser = as_user(cast.otto)
    cast.sam_client.style = "two"
    cast.sam_client.save()
    response = browser.get(reverse("clients:fit_new", args=[cast.sam_client.pk]))
    assert response.context["form"].sheet.initial["grip"] == "no_thumb"
    told = {k: v for k, v in SHEET.items() if not k.startswith("thumb")} | {"grip": "no_thumb"}
    post(browser, "clients:fit_new", cast.sam_client.pk, told)
    assert set(FitSheet.objects.get().holes.values_list("finger", flat=True)) == {"middle", "ring"}
    assert "mark at the palm" in page(browser, "clients:fit", cast.sam_client.pk)


@pytest.mark.parametrize(
    ("change", "form", "field", "message"),
    [
        ({"middle-span_in": "four"}, "middle", "span_in", "such as 4 3/8"),
        ({"middle-span_in": "44"}, "middle", "span_in", "Expected 1 to 6 in."),
        ({"thumb-forward_in": "1/8"}, "thumb", "forward_in", "forward or reverse"),
        ({"thumb-forward_in": "3 forward"}, "thumb", "forward_in", "Expected -1.5 to 1.5 in."),
        ({"ring-size_in": ""}, "ring", "size_in", "Expected the hole's size"),
        ({"grip": "no_thumb"}, "thumb", "size_in", "has no thumb hole"),
        ({"made_on": "2999-01-01"}, "sheet", "made_on", "still to come"),
    ],
)
def test_what_is_wrong_stands_at_its_field_and_nothing_is_lost(
    cast, as_user, change, form, field, message
):
    response = post(as_user(cast.otto), "clients:fit_new", cast.sam_client.pk, SHEET | change)
    forms = response.context["form"]
    at = {"sheet": forms.sheet} | {hole.finger: hole for hole in forms.holes}
    assert message in " ".join(at[form].errors[field])
    assert not FitSheet.objects.exists()
    assert 'value="1 1/32"' in response.content.decode()


def test_a_student_reads_their_fit_and_changes_nothing(cast, as_user):
    post(as_user(cast.otto), "clients:fit_new", cast.sam_client.pk, SHEET)
    html = page(as_user(cast.sam), "clients:fit", cast.sam_client.pk)
    assert "4 3/8 in" in html
    assert "New fit sheet" not in html
    assert post(as_user(cast.sam), "clients:fit_new", cast.sam_client.pk, SHEET).status_code == 404


def test_nothing_written_down_says_how_to_begin(cast, as_user):
    html = page(as_user(cast.otto), "clients:fit", cast.sam_client.pk)
    assert "No fit sheet yet" in html
    assert "Not measured yet" in html


# The axis point.


def test_an_axis_point_becomes_the_clients(cast, as_user):
    repeats = {"over_2": "5", "up_2": "1/4 up", "over_3": "4.75", "up_3": "3/4 up"}
    post(as_user(cast.otto), "clients:axis_point_new", cast.sam_client.pk, POINT | repeats)
    point = AxisPoint.objects.get()
    assert point.repeats == [[4.875, 0.5], [5.0, 0.25], [4.75, 0.75]]
    cast.sam_client.refresh_from_db()
    assert cast.sam_client.pap_over_in == pytest.approx(4.875, abs=0.01)
    assert cast.sam_client.pap_up_in == pytest.approx(0.5, abs=0.01)
    html = page(as_user(cast.otto), "clients:fit", cast.sam_client.pk)
    assert "mean of 3" in html
    # By hand, as on a flat sheet: 0.28 in off twice, sd = sqrt(2 x 0.0781 / 2) = 0.28.
    assert "scatter by 0.28 in" in html


def test_one_measurement_says_that_its_scatter_is_not_known(cast, as_user):
    post(as_user(cast.otto), "clients:axis_point_new", cast.sam_client.pk, POINT)
    html = page(as_user(cast.otto), "clients:fit", cast.sam_client.pk)
    assert "measured once: how well it repeats is not known" in html


def test_an_older_measurement_written_down_late_is_not_the_current_one(cast, as_user):
    browser = as_user(cast.otto)
    post(browser, "clients:axis_point_new", cast.sam_client.pk, POINT)
    early = POINT | {"measured_on": "2020-01-01", "over_1": "6"}
    post(browser, "clients:axis_point_new", cast.sam_client.pk, early)
    cast.sam_client.refresh_from_db()
    assert cast.sam_client.pap_over_in == 4.875
    assert AxisPoint.objects.count() == 2


def test_a_number_typed_into_the_clients_form_is_a_measurement_too(cast, as_user):
    url = reverse("clients:edit", args=[cast.sam_client.pk])
    data = {"name": "Sam", "hand": "right", "hook": "usual", "style": "one"}
    as_user(cast.carl).post(url, data | {"pap_over_in": "5.25", "pap_up_in": "0.25"})
    point = cast.sam_client.axis_points.get()
    assert point.repeats == [[5.25, 0.25]]
    assert point.method == "other"
    as_user(cast.carl).post(url, data | {"pap_over_in": "5.25", "pap_up_in": "0.25"})
    assert cast.sam_client.axis_points.count() == 1


@pytest.mark.parametrize(
    ("change", "field", "message"),
    [
        ({"over_1": ""}, "over_1", "required"),
        ({"over_1": "9"}, "over_1", "less than or equal to 8"),
        ({"up_1": "1/2"}, "up_1", "up or down"),
        ({"up_2": "1/2 up"}, "over_2", "Expected inches over"),
        ({"measured_on": "2999-01-01"}, "measured_on", "still to come"),
    ],
)
def test_a_wrong_axis_point_is_said_at_its_field(cast, as_user, change, field, message):
    response = post(
        as_user(cast.otto), "clients:axis_point_new", cast.sam_client.pk, POINT | change
    )
    assert message in " ".join(response.context["form"].errors[field])
    assert not AxisPoint.objects.exists()


def test_mean_and_scatter_are_those_of_numpy_on_a_small_patch():
    """Within half an inch the ball is flat to a thousandth: numpy's mean and variances."""
    rng = np.random.default_rng(4)
    repeats = rng.normal([3.0, 0.0], 0.1, (40, 2))
    told = measured([Place(*pair) for pair in repeats])
    assert told.mean.over_in == pytest.approx(repeats[:, 0].mean(), abs=1e-3)
    assert told.mean.up_in == pytest.approx(repeats[:, 1].mean(), abs=1e-3)
    both = math.sqrt(repeats.var(axis=0, ddof=1).sum())
    assert told.sd_in == pytest.approx(both, rel=2e-3)


def test_a_second_tap_adds_no_second_axis_point(cast):
    point = axis_points.add_axis_point(
        AxisPoint(
            client=cast.sam_client, repeats=[[5.0, 0.5], [5.2, 0.4]], measured_on=date(2026, 1, 5)
        ),
        by=cast.otto,
    )
    again = axis_points.add_axis_point(
        AxisPoint(
            client=cast.sam_client, repeats=[[5.0, 0.5], [5.2, 0.4]], measured_on=date(2026, 1, 5)
        ),
        by=cast.otto,
    )
    assert again == point  # a second tap
    assert axis_points.of_repeats(point.repeats).count == 2
