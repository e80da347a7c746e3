"""One hit at a full rack, asked for by an address."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms

from clients.forms.fields import MeasureField
from clients.models import Client
from clients.models.people import between
from lanes.motion.balls import LIMITS as BALL_LIMITS
from lanes.motion.path import LIMITS as RELEASE_LIMITS
from lanes.pins.carry import DEFAULT_MASS_LB, DEFAULT_SLIP_MPS, DEFAULT_SPEED_MPH
from lanes.pins.rack import Hit
from lanes.rack_film import MOST_RACKS

# A hit that a look at the pins begins with: the pocket's middle (common practice, no source).
USUAL = {
    "board": 17.5,
    "angle": 5.0,
    "speed": DEFAULT_SPEED_MPH,
    "slip": DEFAULT_SLIP_MPS,
    "mass": DEFAULT_MASS_LB,
    "hand": "right",
    "rack": 1,
}


def _number(label: str, low: float, high: float, unit: str) -> MeasureField:
    return MeasureField(
        label=f"{label}, {unit}",
        validators=between(low, high, unit),
        error_messages={"required": f"Expected {low:g} to {high:g} {unit}."},
    )


class RackForm(forms.Form):
    """What an address leaves out is the usual hit's; what it holds is kept as typed."""

    hand = forms.ChoiceField(
        label="Hand", choices=Client.Hand, widget=forms.RadioSelect(attrs={"class": "hand"})
    )
    board = _number("Board at the head pin", 1.0, 39.0, "board")
    angle = _number("Entry angle", -15.0, 15.0, "deg")
    speed = _number("Speed at the pins", RELEASE_LIMITS["speed_mph"][0], 35.0, "mph")
    slip = _number("Slip at the pins", 0.0, 10.0, "m/s")
    mass = _number("Weight of the ball", *BALL_LIMITS["mass_lb"], "lb")
    rack = forms.IntegerField(
        label="Rack number",
        min_value=1,
        max_value=MOST_RACKS,
        error_messages=dict.fromkeys(
            ("required", "invalid", "min_value", "max_value"),
            f"Expected a whole number from 1 to {MOST_RACKS}.",
        ),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )

    def __init__(self, asked: Mapping[str, str]) -> None:
        super().__init__(USUAL | dict(asked))

    @property
    def numbers(self) -> list[forms.BoundField]:
        return [field for field in self if field.name != "hand"]

    @property
    def hit(self) -> Hit:
        """The hit, once the form is valid."""
        data: dict[str, Any] = self.cleaned_data
        return Hit(data["board"], data["angle"], data["speed"], data["slip"], data["mass"])
