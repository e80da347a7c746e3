"""Forms around a session: where it is, what is at hand, what is watched, and its log file."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from clients.models import Ball, Client, User
from clients.models.people import between
from lanes import sessions
from lanes.forms.centres import LanesField
from lanes.models import Block, Centre, Pattern
from lanes.motion import BallSpec
from lanes.reading.client import ClientError, ClientFacts, parse_client
from lanes.shotlog import LogFileError, check_size

_MOST_LANES = 8  # a lesson takes one or two, a match a few pairs
_MOST_BYTES = 1_000_000  # a client file is a few dozen numbers


MOST_OTHERS = 60  # a tournament squad on a pair of lanes has fewer


def _others(hand: str) -> forms.IntegerField:
    return forms.IntegerField(
        label=f"Other {hand}-handers on these lanes",
        required=False,
        validators=between(0, MOST_OTHERS, "bowlers"),
        error_messages={"invalid": "Expected a whole number, such as 3."},
        help_text="Other students too. Empty: nobody knows, and none is reckoned with.",
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )


class BlockForm(forms.Form):
    """Where, on which lanes and oil, for what: the facts of a new block."""

    centre = forms.ModelChoiceField(
        Centre.objects.none(), required=False, empty_label="choose a centre"
    )
    new_centre = forms.CharField(
        label="Or a centre that is not in the list yet", max_length=80, required=False
    )
    lanes = LanesField(
        required=False,
        help_text="A pair as 7-8.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "placeholder": "7-8"}),
    )
    purpose = forms.ChoiceField(choices=Block.Purpose, widget=forms.RadioSelect)
    pattern = forms.ModelChoiceField(
        Pattern.objects.none(),
        required=False,
        empty_label="ordinary house (assumed)",
        help_text="The oil that was put down. The report says where it is assumed.",
    )
    others = forms.CharField(
        label="Who else plays",
        max_length=200,
        required=False,
        help_text="Others wear the lane too.",
    )
    others_right = _others("right")
    others_left = _others("left")

    def __init__(self, *args: Any, user: User, facts: sessions.BlockFacts, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {})
        kwargs["initial"] = {
            "centre": facts.centre,
            "lanes": ", ".join(str(number) for number in facts.lanes),
            "purpose": facts.purpose,
            "pattern": facts.pattern,
            "others": facts.others,
            "others_right": facts.others_right,
            "others_left": facts.others_left,
            **kwargs["initial"],
        }
        super().__init__(*args, **kwargs)
        self.fields["centre"].queryset = Centre.objects.visible_to(user)
        self.fields["pattern"].queryset = Pattern.objects.visible_to(user)

    def clean_lanes(self) -> list[int]:
        lanes = self.cleaned_data["lanes"]
        if len(lanes) > _MOST_LANES:
            raise ValidationError(f"Expected at most {_MOST_LANES} lanes; got {len(lanes)}.")
        return lanes

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if not data.get("centre") and not data.get("new_centre") and "centre" not in self.errors:
            self.add_error("centre", "Choose a centre, or write down a new one.")
        return data

    def facts(self) -> sessions.BlockFacts:
        """Return the facts of the new block, once the form is valid."""
        data = self.cleaned_data
        return sessions.BlockFacts(
            centre=data["centre"],
            new_centre=data["new_centre"],
            lanes=tuple(data["lanes"]),
            purpose=data["purpose"],
            pattern=data["pattern"],
            others=data["others"],
            others_right=data["others_right"],
            others_left=data["others_left"],
            starts_at=data.get("starts_at") or timezone.now(),
        )


def _watch() -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        choices=list(sessions.WATCHABLE.items()),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one thing to watch."},
    )


class AtHandForm(forms.Form):
    """Which of the client's balls are at hand, and what is watched."""

    id = forms.UUIDField(widget=forms.HiddenInput)
    balls = forms.ModelMultipleChoiceField(
        Ball.objects.none(), required=False, widget=forms.CheckboxSelectMultiple
    )
    watch = _watch()

    def __init__(self, *args: Any, client: Client, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["balls"].queryset = client.balls.filter(retired_at=None).prefetch_related(
            "surfaces"
        )


class SessionForm(forms.Form):
    """What may be changed about a session that is under way."""

    watch = _watch()
    others_right = _others("right")
    others_left = _others("left")
    note = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="The student does not see this.",
    )


class LogFileForm(forms.Form):
    """A shot log to upload."""

    file = forms.FileField(
        label="Shot log",
        help_text="CSV or XLSX with a header row; only the column “shot” is required. "
        "You see everything before it counts.",
        widget=forms.FileInput(attrs={"accept": ".csv,.xlsx,.txt"}),
        error_messages={
            "required": "Choose a file.",
            "empty": "The file is empty. Expected a header row and at least one shot.",
        },
    )

    def clean_file(self) -> Any:
        upload = self.cleaned_data["file"]
        try:
            check_size(upload.size)
        except LogFileError as error:
            raise ValidationError(str(error)) from None
        return upload


class ImportNewForm(BlockForm, LogFileForm):
    """A log of a session that is not in the books yet: whose, where, when, and the file."""

    id = forms.UUIDField(widget=forms.HiddenInput)
    client = forms.ModelChoiceField(Client.objects.none(), label="Client")
    starts_at = forms.DateTimeField(
        label="When",
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        input_formats=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"],
    )

    values = forms.FileField(
        label="Client file",
        required=False,
        help_text="Optional: hand, release and balls of that day as JSON. Without it, the session "
        "takes them from the client’s page.",
        widget=forms.FileInput(attrs={"accept": ".json"}),
    )

    field_order = ["client", "file", "starts_at", "centre", "new_centre", "lanes", "pattern"]

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, user=user, **kwargs)
        self.fields["client"].queryset = Client.objects.editable_by(user)

    def clean_starts_at(self) -> datetime:
        """Refuse a slip of the keyboard; the first and last days of the calendar fit no zone."""
        starts_at = self.cleaned_data["starts_at"]
        if not 1950 <= starts_at.year <= timezone.now().year + 1:
            raise ValidationError("Expected the day of the session, from 1950 to next year.")
        return starts_at

    def clean_values(self) -> tuple[ClientFacts, list[BallSpec]] | None:
        upload = self.cleaned_data["values"]
        if upload is None:
            return None
        if upload.size > _MOST_BYTES:
            raise ValidationError("The file is too large; a client file may have 1 MB.")
        try:
            return parse_client(upload.read())
        except ClientError as error:
            raise ValidationError(f"{upload.name}: {error}.") from None
