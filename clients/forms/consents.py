"""Agreeing to one consent's words, or taking them back."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from clients.consents import WORDINGS
from clients.models import Consent


class ConsentForm(forms.Form):
    """One button of the consents page: which consent, and whether it is given or taken back."""

    kind = forms.ChoiceField(choices=Consent.Kind)
    action = forms.ChoiceField(choices=[("give", "give"), ("revoke", "revoke")])
    version = forms.CharField(required=False)
    agree = forms.BooleanField(required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("action") == "give" and "kind" in data:
            if not data["agree"]:
                raise ValidationError("Tick the box to say that you have read this and agree.")
            if data["version"] != WORDINGS[data["kind"]].version:
                raise ValidationError("The words have changed meanwhile. Please read them again.")
        return data
