"""Which option, and from which shot on."""

from __future__ import annotations

from typing import Any

from django import forms

from lanes.models import Report


class WhatIfForm(forms.Form):
    """The options of the report's reading and its first balls."""

    option = forms.TypedChoiceField(label="With", coerce=int)
    shot = forms.TypedChoiceField(label="From shot", coerce=int)

    def __init__(self, *args: Any, report: Report, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        reading = report.reading.data
        self.fields["option"].choices = [
            (place, option["title"]) for place, option in enumerate(reading["options"])
        ]
        first = [shot["shot"] for shot in reading["shots"] if shot.get("first_ball", True)]
        self.fields["shot"].choices = [(number, number) for number in first]
