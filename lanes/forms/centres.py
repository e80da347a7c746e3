"""Centres and their lanes."""

from __future__ import annotations

from django import forms
from django.core.exceptions import ValidationError

from lanes.centres import parse_lanes
from lanes.models import Centre


class LanesField(forms.CharField):
    """Lane numbers as people write them: "7-8", "7 and 8", "1-24, 31"."""

    widget = forms.TextInput(attrs={"autocomplete": "off"})

    def to_python(self, value: str) -> list[int]:
        text = super().to_python(value)
        if not text:
            return []
        try:
            return parse_lanes(text)
        except ValueError as error:
            raise ValidationError(str(error)) from error


class CentreForm(forms.ModelForm):
    class Meta:
        model = Centre
        fields = ["name", "town", "speed_reading", "note"]
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        labels = {"speed_reading": "Where its display measures the ball's speed"}
        help_texts = {
            "speed_reading": "A ball slows down on its way, so the same throw shows another number "
            "near the pins than near the foul line."
        }


class LanesForm(forms.Form):
    lanes = LanesField(
        label="Lanes",
        help_text="Such as 1-24, or 7, 8.",
    )
