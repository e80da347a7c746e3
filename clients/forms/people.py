"""Clients and walk-ins."""

from __future__ import annotations

from typing import Any

from django import forms

from clients.forms.fields import MeasureField
from clients.models import Client, Role, User
from clients.records import RELEASE


class ClientForm(forms.ModelForm):
    class Meta:
        model = Client
        fields = ["name", "coach", "is_minor", "hand", "hook", "style", *RELEASE, "coach_notes"]
        field_classes = dict.fromkeys(RELEASE, MeasureField)

    def __init__(self, *args: Any, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        coaches = User.objects.filter(grants__role__in=[Role.COACH, Role.OWNER], is_active=True)
        if by.is_owner:
            self.fields["coach"].queryset = coaches.distinct().order_by("name")
        else:
            del self.fields["coach"]
            if not self.instance.pk:
                self.instance.coach = by


class WalkInForm(forms.ModelForm):
    class Meta:
        model = Client
        fields = ["name", "hand", "style"]
