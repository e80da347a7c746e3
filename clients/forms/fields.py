"""Form fields that this site needs beyond Django's."""

from __future__ import annotations

from typing import Any

from django import forms


class MeasureField(forms.FloatField):
    """A measured number: decimal point or comma, empty where nobody knows it."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    default_error_messages = {"invalid": "Expected a number, such as 17.5."}

    def to_python(self, value: Any) -> float | None:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)

    def prepare_value(self, value: Any) -> Any:
        return f"{value:g}" if isinstance(value, float) else value


def day_input() -> forms.DateInput:
    """Return the browser's own date picker, in the one format that it understands."""
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
