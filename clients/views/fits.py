"""A client's fit sheets and axis points."""

from __future__ import annotations

from itertools import zip_longest

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from clients import axis_points, fits
from clients.forms.fit import AxisPointForm, FitForm
from clients.models import AxisPoint, Client, FitSheet


@require_GET
def fit(request: HttpRequest, pk: int) -> HttpResponse:
    """The sheet in force, the older ones, and the axis points."""
    client = get_object_or_404(Client.objects.with_gear_for(request.user), pk=pk)
    sheets = list(
        FitSheet.objects.visible_to(request.user)
        .filter(client=client)
        .select_related("made_by")
        .prefetch_related("holes")
    )
    points = AxisPoint.objects.visible_to(request.user).filter(client=client)
    ctx = {
        "client": client,
        "sheet": sheets[0] if sheets else None,
        "history": _history(sheets),
        "points": [(p, axis_points.of_repeats(p.repeats)) for p in points],
        "may_edit": _may_edit(request, client),
    }
    return render(request, "clients/fit/fit.html", ctx)


@require_GET
def fit_sheet(request: HttpRequest, pk: int) -> HttpResponse:
    """One sheet of the history, with what it changed against the one before it."""
    sheets = FitSheet.objects.visible_to(request.user).select_related("client", "made_by")
    sheet = get_object_or_404(sheets, pk=pk)
    of_client = list(sheet.client.fit_sheets.prefetch_related("holes"))
    place = of_client.index(sheet)
    older = of_client[place + 1 : place + 2]
    ctx = {
        "client": sheet.client,
        "sheet": of_client[place],
        "is_current": place == 0,
        "older": older[0] if older else None,
        "changes": fits.changes(older[0], of_client[place]) if older else [],
    }
    return render(request, "clients/fit/sheet.html", ctx)


@require_http_methods(["GET", "POST"])
def fit_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A change makes a new sheet; the newest one's numbers stand in it to begin with."""
    client = get_object_or_404(Client.objects.with_gear_editable_by(request.user), pk=pk)
    form = FitForm(request.POST or None, client=client, newest=fits.current_fit(client))
    if request.method == "POST" and form.is_valid():
        sheet, holes = form.told()
        fits.add_fit(sheet, holes, by=request.user)
        messages.success(request, f"{client}'s fit is written down. Older sheets stay.")
        return redirect("clients:fit", client.pk)
    return render(request, "clients/fit/form.html", {"form": form, "client": client})


@require_http_methods(["GET", "POST"])
def axis_point_new(request: HttpRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client.objects.with_gear_editable_by(request.user), pk=pk)
    form = AxisPointForm(request.POST or None, instance=AxisPoint(client=client))
    if request.method == "POST" and form.is_valid():
        axis_points.add_axis_point(form.save(commit=False), by=request.user)
        messages.success(request, f"{client}'s axis point is written down. New layouts use it.")
        return redirect("clients:fit", client.pk)
    return render(request, "clients/fit/axis_point_form.html", {"form": form, "client": client})


def _history(sheets: list[FitSheet]) -> list[tuple[FitSheet, list[str]]]:
    """Return each sheet with what it changed against the one before it."""
    return [
        (sheet, fits.changes(old, sheet) if old else [])
        for sheet, old in zip_longest(sheets, sheets[1:])
    ]


def _may_edit(request: HttpRequest, client: Client) -> bool:
    return Client.objects.with_gear_editable_by(request.user).filter(pk=client.pk).exists()
