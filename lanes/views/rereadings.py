"""A coach's reading error: shots read again, and what that shows."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients.gates import coaches_only
from lanes import rereadings
from lanes.forms.rereadings import AgainForm
from lanes.models import Rereading, Session
from lanes.motion.reading_error import FEWEST, FINEST


@coaches_only
@require_GET
def reading_error(request: HttpRequest) -> HttpResponse:
    """How closely the user reads at each check-point, and what their sessions' readings use."""
    sittings = rereadings.sittings_of(request.user)
    counts = rereadings.second_readings(sittings)
    context = {
        "lines": rereadings.told(rereadings.estimate_of(request.user)),
        "sittings": [(sitting, counts[sitting.pk]) for sitting in sittings],
        "editable": set(Rereading.objects.editable_by(request.user).values_list("pk", flat=True)),
        "fewest": FEWEST,
        "head_pin_least": FINEST["head_pin"],
    }
    return render(request, "lanes/rereadings/error.html", context)


@require_http_methods(["GET", "POST"])
def read_again(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Some of the session's shots with empty fields; what is typed is kept beside the log."""
    session = get_object_or_404(
        Session.objects.visible_to(request.user).select_related("client", "block__centre", "coach"),
        pk=pk,
    )
    posted = request.POST if request.method == "POST" else None
    form = AgainForm(posted, session=session, initial={"id": uuid.uuid4()})
    status = 200
    if posted is not None and form.is_valid():
        rereadings.keep(
            session=session,
            by=request.user,
            how=form.cleaned_data["how"],
            readings=form.readings,
            key=form.cleaned_data["id"],
        )
        messages.success(request, "Kept beside the log, which stays as it is.")
        if session.coach_id == request.user.pk:
            return redirect("lanes:reading_error")
        return redirect("lanes:session", session.pk)
    if posted is not None:
        status = 400
    context = {"session": session, "form": form, "rows": form.rows}
    return render(request, "lanes/rereadings/again.html", context, status=status)


@require_POST
def remove(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """Take a sitting out again; the log is not touched."""
    sitting = get_object_or_404(
        Rereading.objects.editable_by(request.user).select_related("session"), pk=pk
    )
    rereadings.remove(sitting, by=request.user)
    messages.success(request, "Those second readings no longer count.")
    return redirect("lanes:reading_error")
