"""Tickets as the shop takes them in, and pictures of the work."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.db.models import Q, QuerySet
from django.utils import timezone

from clients.day_board import workers
from clients.forms.fields import day_input
from clients.models import Ball, Client, Layout, Ticket
from clients.photos import MAX_BYTES
from clients.tickets import OF_THE_WORK, SURFACE_KINDS

Kind = Ticket.Kind
A_WEEK = timedelta(days=7)  # how long work takes unless somebody says otherwise: an assumption


class PriceField(forms.DecimalField):
    """An amount of money: decimal point or comma."""

    widget = forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"})
    default_error_messages = {"invalid": "Expected an amount, such as 45.00."}

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)


class TicketForm(forms.ModelForm):
    """A ticket of one client. A new one can name a ball that is not on file yet.

    The key is made with the form, so that a second tap on the button finds the first one's ticket.
    """

    key = forms.UUIDField(widget=forms.HiddenInput, required=False)
    new_ball = forms.CharField(
        label="Name of the new ball", max_length=Ball._meta.get_field("name").max_length,
        required=False,
    )  # fmt: skip
    new_cover = forms.ChoiceField(
        label="Its cover", choices=[("", "choose"), *Ball.Cover.choices], required=False
    )

    class Meta:
        model = Ticket
        fields = ["kind", "ball", "layout", "grit", "polished", "due_on", "price", "assigned_to"]
        fields += ["note"]
        field_classes = {"price": PriceField}
        widgets = {
            "kind": forms.RadioSelect,
            "due_on": day_input(),
            "grit": forms.TextInput(attrs={"inputmode": "numeric"}),
            "note": forms.Textarea(attrs={"rows": 3}),
        }
        labels = {
            "kind": "Work",
            "grit": "Last grit",
            "polished": "Polished on top",
            "due_on": "Due on",
            "assigned_to": "Who does it",
            "note": "Note for the shop",
        }
        help_texts = {
            "grit": "The number of the last abrasive, 80 to 10000.",
            "layout": "It is the ball's layout from the sign-off on.",
            "note": "The client does not see this.",
        }

    def __init__(self, *args: Any, client: Client, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields = self.fields
        is_new = self.instance._state.adding
        fields["kind"].choices = Kind.choices
        own = _balls_of(client, self.instance)
        fields["ball"].queryset = own
        fields["ball"].empty_label = "another ball" if is_new else "no ball named"
        undrilled = Layout.objects.filter(ball__in=own, drilled_on=None, replaced_on=None)
        fields["layout"].queryset = undrilled.select_related("ball")
        fields["layout"].empty_label = "the ball's newest, if there is one" if is_new else "none"
        fields["price"].label = f"Price, {settings.CURRENCY}".rstrip(", ")
        fields["assigned_to"].queryset = workers()
        fields["assigned_to"].empty_label = "whoever begins"
        if is_new:
            fields["key"].initial = uuid.uuid4
            if len(own) == 1 and not self.initial.get("ball") and not self.initial.get("new_ball"):
                self.initial["ball"] = own[0]
            fields["due_on"].initial = timezone.localdate() + A_WEEK
        else:
            for name in ("key", "new_ball", "new_cover"):
                del fields[name]
            if not self.instance.is_in_hand:
                for name in OF_THE_WORK:
                    del fields[name]
        if "ball" in fields and not own:
            fields["ball"].widget = fields["ball"].hidden_widget()

    @property
    def has_layouts(self) -> bool:
        """Whether there is a layout to choose, or one to take away again."""
        return "layout" in self.fields and (
            bool(self.instance.layout_id) or self.fields["layout"].queryset.exists()
        )

    @property
    def has_balls(self) -> bool:
        return "ball" in self.fields and not self.fields["ball"].widget.is_hidden

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        kind, ball, layout = (values.get(name) for name in ("kind", "ball", "layout"))
        if values.get("new_ball") and ball is None and not values.get("new_cover"):
            self.add_error("new_cover", "Choose the cover of the new ball.")
        if "kind" not in self.fields:
            return values
        if kind == Kind.RESURFACE and values.get("grit") is None and "grit" not in self.errors:
            self.add_error("grit", "Which grit shall be the last?")
        if kind not in SURFACE_KINDS:
            values["grit"] = None
        values["polished"] = kind == Kind.POLISH or (
            kind == Kind.RESURFACE and bool(values.get("polished"))
        )
        if kind != Kind.DRILL:
            values["layout"] = None
        elif layout and layout.ball != ball:
            self.add_error("layout", f"This is a layout of {layout.ball}.")
        return values

    def ball_for_ticket(self) -> Ball | None:
        """Return the ball that was chosen, or a new one that is not saved yet."""
        values = self.cleaned_data
        if values["ball"] or not values["new_ball"]:
            return values["ball"]
        return Ball(name=values["new_ball"], cover=values["new_cover"])


def _balls_of(client: Client, ticket: Ticket) -> QuerySet[Ball]:
    """Return the client's balls in use, and the ticket's own though it may be retired."""
    if client.pk is None:
        return Ball.objects.none()
    return client.balls.filter(Q(retired_at=None) | Q(pk=ticket.ball_id)).order_by("name")


class WalkInTicketForm(TicketForm):
    """A ticket for somebody who is not on file: what the shop needs to know of them comes first."""

    client_name = forms.CharField(
        label="Name", max_length=Client._meta.get_field("name").max_length
    )
    hand = forms.ChoiceField(choices=Client.Hand.choices, initial=Client.Hand.RIGHT)
    is_minor = forms.BooleanField(label="Minor", required=False)

    def client_for_ticket(self) -> Client:
        values = self.cleaned_data
        return Client(name=values["client_name"], hand=values["hand"], is_minor=values["is_minor"])


class PhotoForm(forms.Form):
    # No HEIC: asked for these three, a phone that keeps HEIC hands over a JPEG.
    picture = forms.FileField(
        label="Picture",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        error_messages={"empty": "This file is empty."},
    )

    def clean_picture(self) -> UploadedFile:
        picture = self.cleaned_data["picture"]
        if picture.size > MAX_BYTES:
            raise ValidationError(f"This file is larger than {MAX_BYTES // 1024 // 1024} MB.")
        return picture
