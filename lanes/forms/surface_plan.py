"""Where a coach wants a ball's hook, and a piece of the week's work as a ticket."""

from __future__ import annotations

from django import forms

from clients.forms.fields import MeasureField
from clients.models import Surface, Ticket


class HookForm(forms.Form):
    hook = MeasureField(
        label="Hook seen from, ft",
        min_value=5,
        max_value=59,
        error_messages={
            "min_value": "Expected 5 to 59 ft.",
            "max_value": "Expected 5 to 59 ft.",
        },
        help_text="On the reference lane, where two boards off its straight line can be seen.",
    )


class WorkForm(forms.Form):
    """One line of the list as its button sends it; the key makes a second tap harmless."""

    key = forms.UUIDField()
    kind = forms.ChoiceField(
        choices=[
            (kind.value, kind.label)
            for kind in (
                Ticket.Kind.RESURFACE,
                Ticket.Kind.POLISH,
                Ticket.Kind.CLEAN,
                Ticket.Kind.OIL_OUT,
            )
        ]
    )
    grit = forms.IntegerField(required=False, validators=Surface._meta.get_field("grit").validators)
    polished = forms.BooleanField(required=False)
