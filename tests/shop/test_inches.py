"""Inches as a shop writes them, against Python's fractions and an exact inch of 25.4 mm."""

from __future__ import annotations

from fractions import Fraction

import pytest
from django.core.exceptions import ValidationError
from hypothesis import given
from hypothesis import strategies as st

from clients import inches
from clients.forms.fields import InchField, PitchField


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("4 3/8", 4.375),
        ("4-3/8", 4.375),
        (" 4 3 / 8 in", 4.375),
        ('4 3/8"', 4.375),
        ("1/16", 0.0625),
        ("4.375", 4.375),
        ("4,375", 4.375),
        (",5", 0.5),
        ("-1/8", -0.125),
        ("−1/8", -0.125),
        ("31/32", 0.96875),
        ("0", 0.0),
    ],
)
def test_inches_are_read_as_they_are_written(text, value):
    assert inches.parse(text) == pytest.approx(value, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "x", "4 3", "3/0", "4 3/8 1", "1/2/3", "nan", "inf", "1e3", "4.3/8", "--1", "1.2.3"],
)
def test_anything_else_is_refused_with_what_was_expected(text):
    with pytest.raises(ValueError, match="Expected inches, such as"):
        inches.parse(text)


@given(st.integers(-640, 640))
def test_a_sixty_fourth_is_shown_and_read_back(sixty_fourths):
    value = sixty_fourths / 64
    shown = inches.fraction(value)
    assert inches.parse(shown) == value
    if "/" in shown:  # in lowest terms
        _, under = shown.split()[-1].lstrip("-").split("/")
        assert int(under) == Fraction(sixty_fourths, 64).denominator


def test_what_no_rule_shows_is_told_in_decimals():
    assert inches.fraction(4.38) == "4.380"
    assert inches.fraction(4.375) == "4 3/8"
    assert inches.fraction(0.0) == "0"
    assert inches.mm(4.375) == "111.1"  # 4.375 x 25.4 = 111.125


def test_a_pitch_needs_its_way():
    field = PitchField(plus="forward", minus="reverse")
    assert field.clean("1/8 reverse") == -0.125
    assert field.clean("1/8 r") == -0.125
    assert field.clean("3/8 Forward") == 0.375
    assert field.clean("") == 0.0
    assert field.clean("0") == 0.0
    for wrong in ("1/8", "1/8 left", "-1/8 forward"):
        with pytest.raises(ValidationError, match="forward or reverse"):
            field.clean(wrong)
    assert field.prepare_value(-0.125) == "1/8 reverse"


def test_the_field_says_what_it_expects():
    with pytest.raises(ValidationError, match="such as 4 3/8"):
        InchField().clean("four")
