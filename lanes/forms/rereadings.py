"""Reading some of a session's shots again: empty fields beside the log, which is not shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

from lanes.models import Rereading, Session, Shot
from lanes.rereadings import CHECKPOINTS, first_reading, shots_to_read
from lanes.shotlog import BY_NAME, CellError, parse_cell
from lanes.shots import live_shots


@dataclass(frozen=True)
class ShotFields:
    """One shot of the form and its fields, those that the log has something for."""

    shot: Shot
    fields: list[forms.BoundField]


class AgainForm(forms.Form):
    """The sitting's key, how the shots were read, and a field a shot and check-point."""

    id = forms.UUIDField(widget=forms.HiddenInput)
    how = forms.ChoiceField(
        label="How they were read again",
        choices=Rereading.How,
        initial=Rereading.How.CLIP,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, session: Session, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # A form that comes back names its shots: meanwhile others may have been logged.
        self.shots = self._asked(session) if self.is_bound else shots_to_read(session)
        for shot in self.shots:
            for name in first_reading(shot):
                self.fields[_name(shot, name)] = _field(name)

    def _asked(self, session: Session) -> list[Shot]:
        asked = set(self.data.getlist("shot"))
        return [s for s in live_shots(session) if str(s.pk) in asked and first_reading(s)]

    @property
    def rows(self) -> Sequence[ShotFields]:
        return [
            ShotFields(shot, [self[_name(shot, name)] for name in first_reading(shot)])
            for shot in self.shots
        ]

    def clean(self) -> dict[str, Any]:
        if not self.errors and not self.readings:
            raise forms.ValidationError("Nothing was typed. Read at least one board again.")
        return self.cleaned_data

    @property
    def readings(self) -> dict[Shot, dict[str, float]]:
        """What was typed, by shot and check-point."""
        read = {
            shot: {
                name: value
                for name in CHECKPOINTS
                if (value := self.cleaned_data.get(_name(shot, name))) is not None
            }
            for shot in self.shots
        }
        return {shot: boards for shot, boards in read.items() if boards}


class _CellField(forms.CharField):
    """A cell of the shot log, with that log's limits and words."""

    def __init__(self, name: str, **kwargs: Any) -> None:
        super().__init__(required=False, max_length=20, **kwargs)
        self.column = BY_NAME[name]

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        try:
            found = parse_cell(self.column, text)
        except CellError as error:
            raise forms.ValidationError(str(error)) from None
        return None if found is None else float(found)  # type: ignore[arg-type]


def _field(name: str) -> _CellField:
    column = BY_NAME[name]
    unit = f", {column.unit}" if column.unit and column.unit != "boards" else ""
    attrs = {"inputmode": "decimal", "autocomplete": "off"}
    return _CellField(name, label=f"{column.label}{unit}", widget=forms.TextInput(attrs=attrs))


def _name(shot: Shot, name: str) -> str:
    return f"{shot.pk}-{name}"
