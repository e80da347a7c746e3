"""The coach's form over a draft: words, options in order, homework; one form, one POST."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.dateparse import parse_datetime

from lanes.models import Homework, Report, Suggestion
from lanes.reports import WORDS, HomeworkLine

HOMEWORK_LINES = 12


class WordsForm(forms.ModelForm):
    class Meta:
        model = Report
        fields = WORDS
        labels = {
            "headline": "Headline",
            "went_well": "One thing well done",
            "to_change": "One to change",
            "to_practise": "One to practise",
            "coach_words": "Words to the student",
        }
        help_texts = {"coach_words": "Anything you want to add; may stay empty."}
        widgets = {
            "went_well": forms.Textarea(attrs={"rows": 3}),
            "to_change": forms.Textarea(attrs={"rows": 3}),
            "to_practise": forms.Textarea(attrs={"rows": 3}),
            "coach_words": forms.Textarea(attrs={"rows": 4}),
        }


class HomeworkForm(forms.ModelForm):
    class Meta:
        model = Homework
        fields = ("text", "amount", "due_on")
        labels = {"text": "What to do", "amount": "How much", "due_on": "Until"}
        help_texts = {"amount": ""}
        widgets = {"due_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")}


def homework_lines(
    data: QueryDict | None = None, initial: list[dict[str, Any]] | None = None, extra: int = 0
) -> forms.BaseFormSet:
    """Return the homework's lines: as typed, or from `initial` with blank ones after. A line left
    blank is none."""
    lines = forms.formset_factory(
        HomeworkForm, extra=extra, can_delete=True, max_num=HOMEWORK_LINES, validate_max=True
    )
    blank_is_fine = {"empty_permitted": True}
    # No initial beside data: a line that did not change would count as blank.
    return lines(
        data, prefix="homework", initial=None if data else initial, form_kwargs=blank_is_fine
    )


class DraftForms:
    """The three parts of the form. `reshaped` answers a button that moves an option or adds a
    homework line: it gives back what was typed, in its new shape, and saves nothing."""

    def __init__(self, report: Report, data: QueryDict | None = None) -> None:
        self.report = report
        self.data = data
        self.words = WordsForm(data, instance=report)
        saved = list(report.homework.values("text", "amount", "due_on"))
        self.homework = homework_lines(data, saved, extra=1)
        self.opened_at = data.get("opened_at", "") if data else report.edited_at.isoformat()
        self.suggestions = self._in_order(data)

    def _in_order(self, data: QueryDict | None) -> list[Suggestion]:
        """Return the options in the order that the form has, `dropped` as it has them."""
        suggestions = list(self.report.suggestions.all())
        if data is None:
            return suggestions
        place = {key: position for position, key in enumerate(data.getlist("order"))}
        suggestions.sort(key=lambda s: place.get(str(s.pk), len(place) + s.position))
        for suggestion in suggestions:
            if str(suggestion.pk) in place:  # a new reading may have made others meanwhile
                suggestion.dropped = str(suggestion.pk) not in data.getlist("keep")
        return suggestions

    def is_valid(self) -> bool:
        return self.words.is_valid() & self.homework.is_valid()

    def _opened_at(self) -> datetime | None:
        """Return when the draft was last edited before it was opened; None matches no draft."""
        try:
            return parse_datetime(self.opened_at)
        except ValueError:
            return None

    def cleaned(self) -> dict[str, Any]:
        """Return the arguments of `lanes.reports.save_draft`."""
        lines = [line for line in self.homework.cleaned_data if line and not line.get("DELETE")]
        return {
            "opened_at": self._opened_at(),
            "texts": {field: self.words.cleaned_data[field] for field in WORDS},
            "order": [s.pk for s in self.suggestions],
            "dropped": [s.pk for s in self.suggestions if s.dropped],
            "homework": [
                HomeworkLine(line["text"], line["amount"], line["due_on"]) for line in lines
            ],
        }

    @property
    def is_change_of_shape(self) -> bool:
        return self.data is not None and ("move" in self.data or "add_homework" in self.data)

    def reshaped(self) -> DraftForms:
        data = self._copy()
        if "add_homework" in data:
            data["homework-TOTAL_FORMS"] = str(min(_lines_in(data) + 1, HOMEWORK_LINES))
        way, _, key = data.get("move", "").partition(":")
        order = [str(s.pk) for s in self.suggestions]
        if key in order:
            here = order.index(key)
            there = max(0, here - 1) if way == "up" else min(len(order) - 1, here + 1)
            order.insert(there, order.pop(here))
            data.setlist("order", order)
        return _Unchecked(self.report, data)

    def reopened(self, report: Report) -> DraftForms:
        """Return the form with what was typed, ready to be saved over the draft as it is now."""
        data = self._copy()
        data["opened_at"] = report.edited_at.isoformat()
        return _Unchecked(report, data)

    def _copy(self) -> QueryDict:
        assert self.data is not None
        return self.data.copy()


class _Unchecked(DraftForms):
    """The form as typed, shown again without complaints, since it was not to be saved."""

    def __init__(self, report: Report, data: QueryDict) -> None:
        super().__init__(report, data)
        self.words = WordsForm(initial=_typed(data, WORDS), instance=report)
        fields = HomeworkForm.Meta.fields
        lines = [_typed(data, fields, f"homework-{n}-") for n in range(_lines_in(data))]
        removed = [f"homework-{n}-DELETE" in data for n in range(len(lines))]
        kept = [line for line, gone in zip(lines, removed, strict=True) if not gone]
        self.homework = homework_lines(initial=kept)


def _lines_in(data: Mapping[str, Any]) -> int:
    """Return how many homework lines the form has by its own count, and never too many."""
    count = data.get("homework-TOTAL_FORMS", "")
    return min(int(count), HOMEWORK_LINES) if count.isdecimal() and len(count) < 4 else 0


def _typed(data: Mapping[str, Any], fields: tuple[str, ...], prefix: str = "") -> dict[str, Any]:
    return {field: data.get(prefix + field, "") for field in fields}
