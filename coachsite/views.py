"""The shell's own pages."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET

from clients import jobs
from coachsite.today import todays_work


@login_not_required
@require_GET
def healthz(request: HttpRequest) -> HttpResponse:
    """Say whether the site answers and its database with it; ?worker=1 asks for a worker too."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    if "worker" in request.GET and not jobs.worker_is_alive():
        return HttpResponse("no worker\n", status=503, content_type="text/plain")
    return HttpResponse("ok\n", content_type="text/plain")


@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """The first page: what is to do today; students and guardians go to their portal."""
    if not request.user.is_staff_member:
        return redirect("portal")
    return render(request, "today.html", {"today": todays_work(request.user)})
