"""A ball's life: a line written down by hand, a meter's reading, another owner."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from clients.forms.fields import day_input
from clients.life import BY_HAND
from clients.models import Ball, BallEvent, Client, SurfaceReading, User


def _not_to_come(day: date) -> date:
    if day > timezone.localdate():
        raise ValidationError("This day is still to come.")
    return day


class EventForm(forms.ModelForm):
    class Meta:
        model = BallEvent
        fields = ["kind", "on", "games", "note"]
        widgets = {
            "kind": forms.RadioSelect,
            "on": day_input(),
            "games": forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
        }
        labels = {"kind": "What happened", "on": "On", "games": "How many games"}
        help_texts = {
            "games": "Only those outside the sessions logged here, which are counted by themselves."
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].choices = [(kind.value, kind.label) for kind in BY_HAND]

    def clean_on(self) -> date:
        return _not_to_come(self.cleaned_data["on"])

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        is_games = values.get("kind") == BallEvent.Kind.GAMES
        if is_games and values.get("games") is None and "games" not in self.errors:
            self.add_error("games", "How many games?")
        return values


class ReadingForm(forms.ModelForm):
    class Meta:
        model = SurfaceReading
        fields = ["number", "read_on", "note"]
        widgets = {
            "number": forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            "read_on": day_input(),
        }
        labels = {"read_on": "Read on"}

    def clean_read_on(self) -> date:
        return _not_to_come(self.cleaned_data["read_on"])


class PassOnForm(forms.Form):
    """To whom: those whose gear the user may change."""

    to = forms.ModelChoiceField(Client.objects.none(), label="To", empty_label="choose a client")
    on = forms.DateField(widget=day_input(), label="On")
    note = forms.CharField(
        max_length=BallEvent._meta.get_field("note").max_length,
        required=False,
        help_text="The new owner sees it.",
    )

    def __init__(self, *args: Any, ball: Ball, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # The owner is among them, so that a second tap finds the ball where the first one put it.
        self.fields["to"].queryset = Client.objects.with_gear_editable_by(user).order_by("name")
        self.fields["on"].initial = timezone.localdate

    def clean_on(self) -> date:
        return _not_to_come(self.cleaned_data["on"])
