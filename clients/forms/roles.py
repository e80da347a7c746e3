"""Roles of those who work here."""

from __future__ import annotations

from django import forms

from clients.people import STAFF_ROLES


class RolesForm(forms.Form):
    roles = forms.MultipleChoiceField(
        label="Works here as",
        choices=[(role.value, role.label) for role in STAFF_ROLES],
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
