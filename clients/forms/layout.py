"""A layout as a shop tells it: by a distance and two angles, or by the places of the marks."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from clients import drilling, fits
from clients.forms.fields import InchField, MeasureField, PitchField
from clients.models import Ball, FitSheet, Layout

BY = {"angles": "a distance and two angles", "places": "places, as they were measured"}
_ANGLES = ("pin_to_pap_in", "angle_at_pin_deg", "angle_at_pap_deg")
_PLACES = ("pin_over_in", "pin_up_in", "mb_over_in", "mb_up_in")


def _up(label: str, **kwargs: Any) -> PitchField:
    kwargs = {"min_value": -6.75, "max_value": 6.75, "help_text": ""} | kwargs
    return _UpField(plus="up", minus="down", label=label, **kwargs)


def _over(label: str, **kwargs: Any) -> InchField:
    limits = {"min_value": -13.5, "max_value": 13.5, "required": False}
    return InchField(label=label, **limits | kwargs)


class _UpField(PitchField):
    """Up or down in inches; empty is not told, and that is not the midline."""

    def to_python(self, value: Any) -> float | None:
        return None if value in self.empty_values else super().to_python(value)

    def prepare_value(self, value: Any) -> Any:
        return "0" if value == 0.0 else super().prepare_value(value)


class LayoutForm(forms.ModelForm):
    """Places are kept; told by angles, they are worked out. Empty is not told."""

    by = forms.ChoiceField(label="Told by", choices=list(BY.items()), initial="angles")
    pap_over_in = _over("PAP over, in", required=True, min_value=0, max_value=10)
    pap_up_in = _up("PAP up or down, in", required=True, help_text="Such as 1/2 up, or 0.")
    pin_to_pap_in = InchField(label="Pin to PAP, in", required=False, min_value=0, max_value=13.5)
    angle_at_pin_deg = MeasureField(
        label="Angle at the pin, deg",
        required=False,
        min_value=-180,
        max_value=180,
        help_text="Between the arcs to the PAP and to the mass bias; empty for a symmetric ball.",
    )
    angle_at_pap_deg = MeasureField(
        label="Angle at the PAP, deg",
        required=False,
        min_value=-180,
        max_value=180,
        help_text="Between the arc to the pin and the VAL.",
    )
    pin_over_in = _over("Pin over, in", help_text="Away from the axis side is negative.")
    pin_up_in = _up("Pin up or down, in")
    mb_over_in = _over("Mass bias over, in", help_text="Empty for a symmetric ball.")
    mb_up_in = _up("Mass bias up or down, in")
    cg_over_in = _over("CG over, in")
    cg_up_in = _up("CG up or down, in")

    class Meta:
        model = Layout
        fields = [
            "fit", "pap_over_in", "pap_up_in", *_PLACES, "cg_over_in", "cg_up_in",
            "top_weight_oz", "density_g_cm3", "note",
        ]  # fmt: skip
        field_classes = {"top_weight_oz": MeasureField, "density_g_cm3": MeasureField}
        widgets = {"note": forms.Textarea(attrs={"rows": 3})}
        labels = {"fit": "Fit sheet"}

    def __init__(self, *args: Any, ball: Ball, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["fit"].queryset = FitSheet.objects.filter(client=ball.client_id)
        self.fields["fit"].empty_label = "none: no holes are drawn"
        self.order_fields(["by", *_ANGLES])
        if self.instance.pk:
            self.initial["by"] = "places"
        else:
            self.initial["pap_over_in"] = ball.client.pap_over_in
            self.initial["pap_up_in"] = ball.client.pap_up_in
            self.initial["fit"] = fits.current_fit(ball.client)

    def clean(self) -> dict[str, Any]:
        told = super().clean()
        if told.get("by") == "angles":
            self._by_angles(told)
        else:
            self._by_places(told)
        if (told.get("cg_over_in") is None) != (told.get("cg_up_in") is None):
            empty = "cg_over_in" if told.get("cg_over_in") is None else "cg_up_in"
            self._expected(empty, "Expected beside the other one; 0 is on the line.")
        return told

    def _by_angles(self, told: dict[str, Any]) -> None:
        for name in ("pin_to_pap_in", "angle_at_pap_deg"):
            if told.get(name) is None:
                self._expected(name, "Expected where a layout is told by angles.")
        if self.errors:
            return
        pap = drilling.Place(told["pap_over_in"], told["pap_up_in"])
        try:
            layout = drilling.Layout.from_angles(pap, *(told[name] for name in _ANGLES))
        except drilling.LayoutError as error:
            self.add_error("pap_over_in" if error.field == "pap" else error.field, f"{error}.")
            return
        told["pin_over_in"], told["pin_up_in"] = layout.pin.over_in, layout.pin.up_in
        bias = layout.mass_bias
        told["mb_over_in"], told["mb_up_in"] = (bias.over_in, bias.up_in) if bias else (None, None)

    def _by_places(self, told: dict[str, Any]) -> None:
        for name in ("pin_over_in", "pin_up_in"):
            if told.get(name) is None:
                self._expected(name, "Expected where a layout is told by places.")
        if (told.get("mb_over_in") is None) != (told.get("mb_up_in") is None):
            empty = "mb_over_in" if told.get("mb_over_in") is None else "mb_up_in"
            self._expected(empty, "Expected beside the other one; 0 is on the line.")
        if self.errors or told.get("mb_over_in") is None:
            return
        pin = drilling.Place(told["pin_over_in"], told["pin_up_in"]).vector()
        bias = drilling.Place(told["mb_over_in"], told["mb_up_in"]).vector()
        # Half a right angle off is no measuring error: a mark is taken for another one.
        if abs(float(pin @ bias)) > 0.7:
            self.add_error("mb_over_in", "A mass bias lies about 6 3/4 in from the pin.")

    def _expected(self, name: str, message: str) -> None:
        if name not in self.errors:
            self.add_error(name, ValidationError(message))
