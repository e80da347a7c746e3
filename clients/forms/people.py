"""Clients as a coach, and walk-ins as the shop, write them down."""

from __future__ import annotations

from typing import Any

from django import forms

from clients.forms.fields import MeasureField
from clients.models import Client, Role, User
from clients.records import RELEASE

PAP = ("pap_over_in", "pap_up_in")


class ClientForm(forms.ModelForm):
    """A client. Only the owner chooses the coach; a coach's new client is their own."""

    class Meta:
        model = Client
        fields = ["name", "coach", "is_minor", "hand", "hook", "style", *RELEASE, "coach_notes"]
        field_classes = dict.fromkeys(RELEASE, MeasureField)
        # Not as a display shows it, which depends on where the centre measures.
        labels = {"speed_mph": "Speed at release, mph"}
        widgets = {"coach_notes": forms.Textarea(attrs={"rows": 4})}

    def __init__(self, *args: Any, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if by.is_owner:
            coaches = User.objects.filter(grants__role__in=[Role.COACH, Role.OWNER], is_active=True)
            if self.instance.coach_id:  # one who has left stays until somebody else is chosen
                coaches |= User.objects.filter(pk=self.instance.coach_id)
            self.fields["coach"].queryset = coaches.distinct().order_by("name")
            self.fields["coach"].empty_label = "nobody (the shop's client)"
            if self.instance.pk is None and Role.COACH in by.roles:
                self.fields["coach"].initial = by
        else:
            del self.fields["coach"]
            if self.instance.pk is None:
                self.instance.coach = by


class WalkInForm(forms.ModelForm):
    """What the shop needs to know of somebody who comes in for their gear."""

    class Meta:
        model = Client
        fields = ["name", "hand", "style", *PAP, "is_minor"]
        field_classes = dict.fromkeys(PAP, MeasureField)
