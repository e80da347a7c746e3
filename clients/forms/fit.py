"""A fit sheet and an axis point as a shop writes them down, in inches and fractions."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from clients.forms.fields import InchField, PitchField, day_input
from clients.models import AxisPoint, Client, FitHole, FitSheet

REPEATS = 5
_FIELDS = ("size_in", "depth_in", "span_in", "forward_in", "lateral_in", "bevel_in", "insert")


def past_day(day: date) -> date:
    if day > timezone.localdate():
        raise ValidationError("This day is still to come.")
    return day


class SheetForm(forms.ModelForm):
    class Meta:
        model = FitSheet
        fields = ["grip", "bridge_in", "made_on", "note"]
        field_classes = {"bridge_in": InchField}
        widgets = {"made_on": day_input(), "note": forms.Textarea(attrs={"rows": 3})}
        labels = {"made_on": "Measured on"}
        help_texts = {"bridge_in": "Along the cover between the edges of the finger holes."}

    def clean_made_on(self) -> date:
        return past_day(self.cleaned_data["made_on"])


class HoleForm(forms.ModelForm):
    """One hole; left empty, the sheet has no such hole."""

    forward_in = PitchField(plus="forward", minus="reverse", label="Forward or reverse pitch")
    lateral_in = PitchField(plus="right", minus="left", label="Lateral pitch")

    class Meta:
        model = FitHole
        fields = list(_FIELDS)
        field_classes = dict.fromkeys(("size_in", "depth_in", "span_in", "bevel_in"), InchField)
        labels = {
            "size_in": "Hole size",
            "depth_in": "Depth",
            "span_in": "Span",
            "bevel_in": "Bevel",
            "insert": "Insert or slug",
        }

    def __init__(self, *args: Any, finger: str, **kwargs: Any) -> None:
        super().__init__(*args, prefix=finger, **kwargs)
        self.instance.finger = finger
        self.finger = finger
        self.fields["size_in"].required = False
        self.fields["span_in"].help_text = (
            "Along the cover, from the edge of the thumb hole; without a thumb hole from the "
            "mark at the palm's centre."
        )
        if finger == FitHole.Finger.THUMB:
            del self.fields["span_in"]

    @property
    def title(self) -> str:
        return self.instance.get_finger_display()

    @property
    def is_empty(self) -> bool:
        return not any(self.cleaned_data.get(name) for name in self.fields)

    def clean(self) -> dict[str, Any]:
        told = super().clean()
        if not self.errors and told.get("size_in") is None and any(told.values()):
            self.add_error("size_in", "Expected the hole's size.")
        return told


class FitForm:
    """The sheet and its three holes as one form; what is wrong stands at its field."""

    def __init__(self, data: Any = None, *, client: Client, newest: FitSheet | None = None) -> None:
        initial: dict[str, Any] = {}
        holes: dict[str, FitHole] = {}
        if newest:
            initial = {"grip": newest.grip, "bridge_in": newest.bridge_in, "note": newest.note}
            holes = {hole.finger: hole for hole in newest.holes.all()}
        elif client.style == Client.Style.TWO:
            initial = {"grip": FitSheet.Grip.NO_THUMB}
        self.sheet = SheetForm(data, initial=initial, instance=FitSheet(client=client))
        self.holes = [
            HoleForm(
                data,
                finger=finger,
                initial={n: getattr(holes[finger], n) for n in _FIELDS} if finger in holes else {},
            )
            for finger in FitHole.Finger.values
        ]

    def is_valid(self) -> bool:
        good = all([self.sheet.is_valid(), *[hole.is_valid() for hole in self.holes]])
        if not good:
            return False
        thumb, *fingers = self.holes
        if self.sheet.cleaned_data["grip"] == FitSheet.Grip.NO_THUMB and not thumb.is_empty:
            thumb.add_error("size_in", "This grip has no thumb hole: empty these, or change it.")
        elif self.sheet.cleaned_data["grip"] != FitSheet.Grip.NO_THUMB and thumb.is_empty:
            thumb.add_error("size_in", "Expected the thumb hole's size with this grip.")
        if all(finger.is_empty for finger in fingers):
            fingers[0].add_error("size_in", "Expected one finger hole at least.")
        return not any(form.errors for form in (self.sheet, *self.holes))

    @property
    def has_errors(self) -> bool:
        return any(form.is_bound and form.errors for form in (self.sheet, *self.holes))

    def told(self) -> tuple[FitSheet, list[FitHole]]:
        """Return the sheet and the holes that have anything in them, not saved."""
        return self.sheet.save(commit=False), [
            hole.save(commit=False) for hole in self.holes if not hole.is_empty
        ]


class AxisPointForm(forms.ModelForm):
    """An axis point measured once or more; each repeat has its row."""

    class Meta:
        model = AxisPoint
        fields = ["method", "measured_on", "note"]
        widgets = {"measured_on": day_input()}
        labels = {"measured_on": "Measured on", "method": "How"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number in range(1, REPEATS + 1):
            self.fields[f"over_{number}"] = InchField(
                label=f"Over, {number}", min_value=0, max_value=8, required=number == 1
            )
            self.fields[f"up_{number}"] = PitchField(
                plus="up", minus="down", label=f"Up or down, {number}", min_value=-4, max_value=4,
                help_text="",
            )  # fmt: skip

    @property
    def rows(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"over_{n}"], self[f"up_{n}"]) for n in range(1, REPEATS + 1)]

    def clean_measured_on(self) -> date:
        return past_day(self.cleaned_data["measured_on"])

    def clean(self) -> dict[str, Any]:
        told = super().clean()
        repeats = []
        for number in range(1, REPEATS + 1):
            over, up = told.get(f"over_{number}"), told.get(f"up_{number}")
            if over is None:
                if up and f"over_{number}" not in self.errors:
                    self.add_error(f"over_{number}", "Expected inches over beside these.")
                continue
            repeats.append([over, up or 0.0])
        self.instance.repeats = repeats
        return told
