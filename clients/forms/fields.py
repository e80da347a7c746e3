"""Form fields that this site needs beyond Django's."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from clients import inches


class MeasureField(forms.FloatField):
    """A measured number: decimal point or comma, empty where nobody knows it."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    default_error_messages = {"invalid": "Expected a number, such as 17.5."}

    def to_python(self, value: Any) -> float | None:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)

    def prepare_value(self, value: Any) -> Any:
        return f"{value:g}" if isinstance(value, float) else value


class InchField(MeasureField):
    """Inches as a shop writes them: 4 3/8, 1/16, 4.375 or 4,375."""

    def to_python(self, value: Any) -> float | None:
        if value in self.empty_values or not isinstance(value, str):
            return forms.FloatField.to_python(self, value)
        try:
            return inches.parse(value)
        except ValueError as error:
            raise ValidationError(str(error), code="invalid") from error

    def prepare_value(self, value: Any) -> Any:
        return inches.fraction(value) if isinstance(value, float) else value


class PitchField(InchField):
    """A pitch with its way: "1/8 reverse". Nothing is no pitch; a bare number has no way."""

    # On a phone, letters are needed too.
    widget = forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"})

    def __init__(self, *, plus: str, minus: str, **kwargs: Any) -> None:
        self.plus, self.minus = plus, minus
        kwargs.setdefault("required", False)
        kwargs.setdefault("help_text", f"Such as 1/8 {plus} or 1/4 {minus}; empty for none.")
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> float:
        if value in self.empty_values or not isinstance(value, str):
            return super().to_python(value) or 0.0
        told = value.strip().rstrip(".")
        size = told.rstrip("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ").strip()
        way = told[len(size) :].strip().lower()
        number = super().to_python(size) or 0.0
        if number == 0.0 and not way:
            return 0.0
        for word, sign in ((self.plus, 1.0), (self.minus, -1.0)):
            if way and word.startswith(way) and number >= 0.0:
                return sign * number
        raise ValidationError(f"Say which way: {self.plus} or {self.minus}.", code="way")

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, float):
            return value
        if value == 0.0:
            return ""
        return f"{inches.fraction(abs(value))} {self.plus if value > 0 else self.minus}"


def day_input() -> forms.DateInput:
    """Return the browser's own date picker, in the one format that it understands."""
    return forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"})
