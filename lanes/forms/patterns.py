"""A pattern sheet to import, and which of its columns is which."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from lanes import sheet_files
from lanes.motion.oil import COLUMNS
from lanes.motion.tape import COLUMNS as TAPE_COLUMNS


class SheetForm(forms.Form):
    """A file or pasted text; afterwards `cleaned_data["text"]` is the sheet as CSV text."""

    file = forms.FileField(
        required=False, label="File", help_text="CSV or XLSX, up to 1 MB.", allow_empty_file=True
    )
    text = forms.CharField(
        required=False,
        strip=False,
        label="Or paste the sheet",
        max_length=sheet_files.MAX_BYTES,
        widget=forms.Textarea(attrs={"rows": 8, "spellcheck": "false", "class": "figures"}),
        help_text=f"With its header row, best: {', '.join(COLUMNS)}; or of tape readings: "
        f"{', '.join(TAPE_COLUMNS)}.",
    )
    name = forms.CharField(
        required=False,
        max_length=80,
        label="Name of the pattern",
        help_text="Empty: the name of the file.",
    )
    note = forms.CharField(
        required=False, label="Note", max_length=1000, widget=forms.Textarea(attrs={"rows": 2})
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        file = cleaned.get("file")
        try:
            if file:
                sheet_files.check_size(file.size, file.name)
                cleaned["text"] = sheet_files.text_of(file.read(), file.name)
                cleaned["name"] = cleaned.get("name") or PurePath(file.name).stem[:80]
            elif not (cleaned.get("text") or "").strip():
                raise ValidationError("Choose a file, or paste the sheet.")
            self.columns = sheet_files.columns_of(cleaned["text"])
        except sheet_files.SheetFileError as error:
            self.add_error("file" if file else "text", str(error))
        if not (cleaned.get("name") or self.errors):  # one thing at a time
            self.add_error("name", "Give the pattern a name.")
        return cleaned


class MappingForm(forms.Form):
    """Asks which column of somebody else's sheet holds what."""

    ALL = {"=forward": "no column: all forward", "=reverse": "no column: all reverse"}

    last_from = forms.ChoiceField(
        label="The last board is counted from",
        choices=[("left", "the left edge, like the first"), ("right", "the right edge")],
        help_text="Boards written like 2L or 2R are understood either way.",
    )
    distance = forms.ChoiceField(label="Distances are in", choices=[("ft", "ft"), ("m", "m")])
    volume = forms.ChoiceField(label="Volumes are in", choices=[("ml", "mL"), ("ul", "µL")])

    def __init__(self, data: Any = None, *, columns: sheet_files.Columns) -> None:
        super().__init__(data)
        own = [
            (str(place), f"{name or 'without a name'} ({sample or 'empty'})")
            for place, (name, sample) in enumerate(zip(columns.names, columns.samples, strict=True))
        ]
        asked = {}
        for ours in COLUMNS:
            choices = [("", "choose"), *own]
            if ours == "layer":
                choices[0] = ("", "no column: count them")
            if ours == "direction":
                choices += self.ALL.items()
            asked[ours] = forms.ChoiceField(
                label=sheet_files.LABELS[ours],
                choices=choices,
                required=ours != "layer",
                initial=columns.guess(ours),
            )
        self.fields = asked | self.fields

    @property
    def mapping(self) -> sheet_files.Mapping:
        chosen = self.cleaned_data
        direction = chosen["direction"]
        return sheet_files.Mapping(
            places={
                ours: int(chosen[ours])
                for ours in COLUMNS
                if chosen[ours] and chosen[ours] not in self.ALL
            },
            all_direction=direction.lstrip("=") if direction in self.ALL else "",
            right_from_right=chosen["last_from"] == "right",
            metres=chosen["distance"] == "m",
            microlitres=chosen["volume"] == "ul",
        )
