"""Balls and surfaces."""

from __future__ import annotations

from datetime import date

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from clients.forms.fields import MeasureField, day_input
from clients.models import Ball, Surface
from clients.records import BALL_NUMBERS


class BallForm(forms.ModelForm):
    class Meta:
        model = Ball
        fields = ["name", "cover", "mass_lb", *[n for n in BALL_NUMBERS if n != "mass_lb"]]
        fields += ["is_spare_ball"]
        field_classes = dict.fromkeys(BALL_NUMBERS, MeasureField)
        help_texts = {
            "name": "As the shot log writes it.",
            "pin_to_pap_in": "Along the cover, from the pin to the positive axis point.",
        }


class SurfaceForm(forms.ModelForm):
    class Meta:
        model = Surface
        fields = ["grit", "polished", "done_on", "note"]
        widgets = {"done_on": day_input(), "grit": forms.TextInput(attrs={"inputmode": "numeric"})}
        labels = {"grit": "Last grit on the cover", "done_on": "Done on"}
        help_texts = {"grit": "The number of the last abrasive, 80 to 10000."}

    def clean_done_on(self) -> date:
        day = self.cleaned_data["done_on"]
        if day > timezone.localdate():
            raise ValidationError("This day is still to come.")
        return day
