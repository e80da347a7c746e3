"""Having a session read, and how far that is."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from clients import jobs
from clients.models import Job
from lanes import readings
from lanes.models import Session


@require_POST
def session_read(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    session = get_object_or_404(Session.objects.visible_to(request.user), pk=pk)
    return redirect("lanes:job", pk=readings.ask(session, request.user).pk)


@never_cache
@require_GET
def job(request: HttpRequest, pk: uuid.UUID) -> HttpResponse:
    """How far a job is, for whoever may see the session it reads; htmx asks for the part alone."""
    job = get_object_or_404(Job, pk=pk, kind="read_session")
    session = get_object_or_404(
        Session.objects.visible_to(request.user).select_related("client", "block__centre"),
        pk=job.subject,
    )
    if job.state == Job.State.DONE and job.result.get("report"):
        address = reverse("lanes:report", args=[job.result["report"]])
        if request.htmx:
            return HttpResponse(headers={"HX-Redirect": address})
        return redirect(address)
    ctx = {"job": job, "session": session, "worker_is_alive": jobs.worker_is_alive()}
    ctx["seen"] = f"{job.state} {job.percent} {job.message} {ctx['worker_is_alive']}"
    if request.htmx and request.GET.get("seen") == ctx["seen"]:
        return HttpResponse(status=204)  # nothing new: a screen reader is not told again
    return render(request, "lanes/parts/progress.html" if request.htmx else "lanes/job.html", ctx)
