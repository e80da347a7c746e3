"""Centres: which lanes there are, and where the display measures speed."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients.gates import coaches_only, staff_only
from clients.names import NameTaken
from lanes import centres as centre_book
from lanes.forms.centres import CentreForm, LanesForm
from lanes.models import Centre


@staff_only
@require_GET
def centres(request: HttpRequest) -> HttpResponse:
    known = Centre.objects.visible_to(request.user).annotate(lane_count=Count("lanes"))
    return render(request, "lanes/centres.html", {"centres": known.order_by("name")})


@coaches_only
@require_http_methods(["GET", "POST"])
def centre_new(request: HttpRequest) -> HttpResponse:
    form = CentreForm(request.POST or None)
    if request.method == "POST" and form.is_valid() and _saved(form, request):
        messages.success(request, f"{form.instance} is on file. Next: its lanes.")
        return redirect("lanes:centre", form.instance.pk)
    return render(request, "lanes/centre_form.html", {"form": form})


@require_GET
def centre(request: HttpRequest, pk: int) -> HttpResponse:
    centre = get_object_or_404(Centre.objects.visible_to(request.user), pk=pk)
    return _centre_page(request, centre, LanesForm())


def _centre_page(request: HttpRequest, centre: Centre, form: LanesForm) -> HttpResponse:
    ctx = {
        "centre": centre,
        "lanes": centre.lanes.order_by("number"),
        "form": form,
        "may_edit": Centre.objects.editable_by(request.user).filter(pk=centre.pk).exists(),
    }
    return render(request, "lanes/centre.html", ctx)


@require_http_methods(["GET", "POST"])
def centre_edit(request: HttpRequest, pk: int) -> HttpResponse:
    centre = get_object_or_404(Centre.objects.editable_by(request.user), pk=pk)
    form = CentreForm(request.POST or None, instance=centre)
    if request.method == "POST" and form.is_valid() and _saved(form, request):
        messages.success(request, "Saved.")
        return redirect("lanes:centre", centre.pk)
    ctx = {"form": form, "centre": centre, "name": form.initial["name"]}
    return render(request, "lanes/centre_form.html", ctx)


def _saved(form: CentreForm, request: HttpRequest) -> bool:
    try:
        centre_book.save_centre(form.save(commit=False), by=request.user)
    except NameTaken as error:
        form.add_error("name", str(error))
        return False
    return True


@require_POST
def centre_lanes(request: HttpRequest, pk: int) -> HttpResponse:
    """Add the lanes named, or take them off again."""
    centre = get_object_or_404(Centre.objects.editable_by(request.user), pk=pk)
    form = LanesForm(request.POST)
    if not form.is_valid():
        return _centre_page(request, centre, form)
    numbers = form.cleaned_data["lanes"]
    match request.POST.get("do"):
        case "add":
            count = centre_book.add_lanes(centre, numbers, by=request.user)
            messages.success(request, f"{count} added." if count else "All of them are here.")
        case "remove":
            count, kept = centre_book.remove_lanes(centre, numbers, by=request.user)
            messages.success(request, f"{count} removed.")
            if kept:
                names = ", ".join(str(number) for number in kept)
                messages.warning(request, f"Kept for their sessions: {names}.")
        case _:
            raise Http404
    return redirect("lanes:centre", centre.pk)
