"""Pattern sheets and tape readings: the list, one with its film, and the import in steps.

An import goes file or text, columns where they are named otherwise, preview, kept. The sheet
travels in the form, so that nothing is kept here before the coach says so.
"""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from clients.gates import coaches_only, staff_only
from clients.names import NameTaken
from clients.views.downloads import download
from lanes import patterns as pattern_book
from lanes.forms.patterns import MappingForm, SheetForm
from lanes.models import Pattern
from lanes.motion.oil import (
    BOARD_BANDS,
    UNIT_UM,
    PatternSheet,
    summary,
)
from lanes.motion.tables import PatternError, Problem
from lanes.motion.tape import TapeReadings, parse_oil
from lanes.sheet_files import mapped


@staff_only
@require_GET
def patterns(request: HttpRequest) -> HttpResponse:
    known = (
        Pattern.objects.visible_to(request.user)
        .defer("layers", "readings", "note")
        .order_by("name")
    )
    return render(request, "lanes/patterns.html", {"patterns": known})


@require_GET
def pattern(request: HttpRequest, pk: int) -> HttpResponse:
    pattern = get_object_or_404(Pattern.objects.visible_to(request.user), pk=pk)
    ctx = {"pattern": pattern} | _facts(pattern_book.sheet_of(pattern))
    return render(request, "lanes/pattern.html", ctx)


@require_GET
def pattern_csv(request: HttpRequest, pk: int) -> HttpResponse:
    pattern = get_object_or_404(Pattern.objects.visible_to(request.user), pk=pk)
    text = pattern_book.write_csv(pattern_book.sheet_of(pattern))
    return download(text, pattern.name, ".csv", "text/csv; charset=utf-8")


def _facts(sheet: PatternSheet | TapeReadings) -> dict[str, object]:
    """What both the preview and the page show of a sheet or of tape readings."""
    facts = summary(sheet)
    zones = facts["film_by_zone"]
    across = len(BOARD_BANDS)
    rows = [zones[start : start + across] for start in range(0, len(zones), across)]
    return {
        "sheet": sheet,
        "facts": facts,
        "picture": pattern_book.picture_of(sheet),
        "bands": BOARD_BANDS,
        # The far end first, as the lane is drawn; distances without any oil are left out.
        "zones": [row for row in reversed(rows) if any(zone["film_um"] for zone in row)],
        "unit_um": UNIT_UM,
        "read_across": pattern_book.read_across(sheet) if isinstance(sheet, TapeReadings) else None,
    }


@coaches_only
@require_http_methods(["GET", "POST"])
def pattern_import(request: HttpRequest) -> HttpResponse:
    if request.method == "GET":
        return _ask_for_sheet(request, SheetForm())
    form = SheetForm(request.POST, request.FILES)
    if not form.is_valid():
        return _ask_for_sheet(request, form)
    typed = {key: form.cleaned_data[key] for key in ("name", "note", "text")}
    step = request.POST.get("step")
    if step == "edit":
        return _ask_for_sheet(request, SheetForm(initial=typed))
    if not form.columns.are_ours:
        asked = MappingForm(request.POST if step == "map" else None, columns=form.columns)
        if not (asked.is_bound and asked.is_valid()):
            ctx = {"form": asked, "carried": SheetForm(initial=typed)}
            return render(request, "lanes/pattern_map.html", ctx)
        typed["text"] = mapped(typed["text"], asked.mapping)
    try:
        sheet = parse_oil(typed["text"], typed["name"])
    except PatternError as error:
        return _ask_for_sheet(request, SheetForm(initial=typed), error.problems)
    form = SheetForm(typed)
    form.is_valid()
    if step == "save":
        try:
            pattern, is_new = pattern_book.import_pattern(
                sheet, note=typed["note"], by=request.user
            )
        except NameTaken as error:
            form.add_error("name", str(error))
        else:
            if is_new:
                messages.success(request, f"{pattern} is kept.")
            else:
                messages.warning(request, f"The same oil is already here, as {pattern}.")
            return redirect("lanes:pattern", pattern.pk)
    ctx = {"form": form, "same": pattern_book.same_sheet(sheet)} | _facts(sheet)
    return render(request, "lanes/pattern_preview.html", ctx)


def _ask_for_sheet(
    request: HttpRequest, form: SheetForm, problems: list[Problem] | None = None
) -> HttpResponse:
    ctx = {"form": form, "problems": problems}
    return render(request, "lanes/pattern_import.html", ctx)
