"""A guardian's wards, and what the guardian agrees to for each."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods

from clients import consents
from clients.forms.consents import ConsentForm
from clients.models import Guardianship


@require_GET
def wards(request: HttpRequest) -> HttpResponse:
    """Whom the user is a guardian of, with what is agreed to."""
    return render(request, "clients/wards.html", {"wards": consents.wards_of(request.user)})


@require_http_methods(["GET", "POST"])
def consents_of_ward(request: HttpRequest, pk: int) -> HttpResponse:
    """The consents for one ward. The guardian gives and takes back, the coach reads."""
    seen = Guardianship.objects.visible_to(request.user).select_related("client", "guardian")
    guardianship = get_object_or_404(seen, pk=pk)
    form = ConsentForm(request.POST or None)
    if form.is_bound and guardianship.guardian_id != request.user.pk:
        raise PermissionDenied
    if form.is_valid():
        act = consents.give if form.cleaned_data["action"] == "give" else consents.revoke
        act(guardianship, form.cleaned_data["kind"], by=request.user)
        messages.success(request, "Recorded.")
        return redirect("clients:consents", pk=guardianship.pk)
    context = {
        "guardianship": guardianship,
        "consents": consents.state_of(guardianship),
        "past": guardianship.consents.exclude(revoked_at=None).order_by("-revoked_at"),
        "is_own": guardianship.guardian_id == request.user.pk,
        "form": form,
    }
    status = 400 if form.is_bound else 200
    return render(request, "clients/consents.html", context, status=status)
