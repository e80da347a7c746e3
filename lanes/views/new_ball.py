"""The new-ball plan of a client: having it made, how far that is, and what it says."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST

from clients import jobs
from clients.models import Client, Job, StockBall
from lanes import arsenal, new_ball
from lanes.models import NewBallPlan
from lanes.new_ball_page import page_of


def _client(request: HttpRequest, pk: int) -> Client:
    """The plan is for those who keep the client's gear: the coach and the shop."""
    return get_object_or_404(Client.objects.with_gear_editable_by(request.user), pk=pk)


@never_cache
@require_GET
def plan(request: HttpRequest, pk: int) -> HttpResponse:
    """The newest plan; without one, what is missing and what can be told without lessons."""
    client = _client(request, pk)
    state = new_ball.state(client, NewBallPlan.objects.visible_to(request.user))
    ctx: dict[str, object] = {"client": client, "state": state, "job": state.job}
    ctx |= {"currency": settings.CURRENCY}
    if state.job is not None:
        ctx |= _of_job(state.job)
    if state.plan is not None:
        ctx["page"] = page_of(state.plan)
        on_sale = StockBall.objects.editable_by(request.user).filter(quantity__gt=0)
        ctx["on_sale"] = {str(key) for key in on_sale.values_list("pk", flat=True)}
    elif state.missing:
        ctx["arsenal"] = arsenal.arsenal_of(client)
    return render(request, "lanes/new_ball/page.html", ctx)


@require_POST
def ask(request: HttpRequest, pk: int) -> HttpResponse:
    client = _client(request, pk)
    new_ball.ask(client, request.user)
    return redirect("lanes:new_ball", pk=client.pk)


@never_cache
@require_GET
def progress(request: HttpRequest, pk: int) -> HttpResponse:
    """How far the plan is; htmx asks, and a finished one opens."""
    client = _client(request, pk)
    job = new_ball.latest_job(client)
    address = reverse("lanes:new_ball", args=[client.pk])
    if not request.htmx:
        return redirect(address)
    if job is None or job.state == Job.State.DONE:
        return HttpResponse(headers={"HX-Redirect": address})
    ctx = {"client": client, "job": job} | _of_job(job)
    if request.GET.get("seen") == ctx["seen"]:
        return HttpResponse(status=204)  # nothing new: a screen reader is not told again
    return render(request, "lanes/new_ball/progress.html", ctx)


def _of_job(job: Job) -> dict[str, object]:
    alive = jobs.worker_is_alive()
    return {
        "worker_is_alive": alive,
        "seen": f"{job.state} {job.percent} {job.message} {alive}",
    }
