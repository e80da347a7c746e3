"""The surface plan of the shop and of one ball, and a ticket from it."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from clients import cautions, tickets
from clients.gates import staff_only
from clients.models import Ball, Ticket
from lanes import surface_plan
from lanes.forms.surface_plan import HookForm, WorkForm


def _told() -> dict[str, object]:
    """What both pages say of thresholds and practice."""
    return {
        "moved_ft": surface_plan.MOVED_FT,
        "refresh_games": surface_plan.REFRESH_GAMES,
        "resurface_games": surface_plan.RESURFACE_GAMES,
        "oil_games": surface_plan.LOOK_FOR_OIL_GAMES,
    }


@staff_only
@require_GET
def plan(request: HttpRequest) -> HttpResponse:
    """What is due this week and when the rest is, of every ball that the user keeps."""
    search = request.GET.get("q", "").strip()
    planned = surface_plan.plan_for(request.user, search=search)
    ctx = _told() | {
        "plan": planned,
        "settling": planned.settling,
        "search": search,
        "today": timezone.localdate(),
        "new_key": uuid.uuid4,
        "cautions": cautions.for_work(*planned.kinds),
    }
    return render(request, "lanes/surfaces/plan.html", ctx)


@staff_only
@require_GET
def ball_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """One ball: how its surface settles, and with ?hook= which grit brings its hook there."""
    balls = Ball.objects.editable_by(request.user).select_related("client")
    ball = get_object_or_404(balls.prefetch_related("surfaces"), pk=pk)
    planned, settling = surface_plan.plan_of(ball)
    form = HookForm(request.GET if "hook" in request.GET else None)
    ctx = _told() | {
        "ball": ball,
        "planned": planned,
        "settling": settling,
        "form": form,
        "new_key": uuid.uuid4,
        "cautions": cautions.for_work(Ticket.Kind.RESURFACE),
        "after_games": surface_plan.AFTER_GAMES,
    }
    if not planned.problem:
        pads = ctx["pads"] = surface_plan.pads_of(ball, planned.games, settling)
        ctx["first_pad"], ctx["last_pad"] = (pads[0], pads[-1]) if pads else (None, None)
        if form.is_bound and form.is_valid():
            ctx["wanted"] = surface_plan.grit_wanted(
                ball, planned.games, settling, form.cleaned_data["hook"]
            )
    return render(request, "lanes/surfaces/ball.html", ctx)


@require_POST
def ticket_from_plan(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the ball in for a piece of the plan's work, a week from now."""
    balls = Ball.objects.editable_by(request.user).select_related("client")
    ball = get_object_or_404(balls, pk=pk)
    form = WorkForm(request.POST)
    if not form.is_valid():
        return HttpResponseBadRequest("Not a line of the plan.")
    ticket = tickets.take_in(
        client=ball.client,
        ball=ball,
        by=request.user,
        due_on=timezone.localdate() + surface_plan.WEEK,
        **form.cleaned_data,
    )
    messages.success(request, f"Ticket {ticket.number} is taken in.")
    return redirect("clients:ticket", ticket.pk)
