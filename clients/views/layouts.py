"""Layouts: planned, changed, thrown away, and said to be in the ball. The sheet is lanes' page."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from clients import layouts, tickets
from clients.forms.layout import LayoutForm
from clients.models import Ball, Layout


@require_http_methods(["GET", "POST"])
def layout_new(request: HttpRequest, pk: int) -> HttpResponse:
    balls = Ball.objects.editable_by(request.user).select_related("client")
    ball = get_object_or_404(balls, pk=pk)
    form = LayoutForm(request.POST or None, ball=ball, instance=Layout(ball=ball))
    if request.method == "POST" and form.is_valid():
        layout = layouts.save_layout(form.save(commit=False), by=request.user)
        for ticket in tickets.name_layout(layout, by=request.user):
            messages.success(request, f"Ticket {ticket.number} drills this layout now.")
        return redirect("lanes:layout", layout.pk)
    return render(request, "clients/layout_form.html", {"form": form, "ball": ball})


@require_http_methods(["GET", "POST"])
def layout_edit(request: HttpRequest, pk: int) -> HttpResponse:
    """A plan can be changed until it is drilled."""
    plans = Layout.objects.editable_by(request.user).select_related("ball__client")
    layout = get_object_or_404(plans, pk=pk)
    if layout.drilled_on:
        messages.error(request, "This layout is drilled; make another one.")
        return redirect("lanes:layout", layout.pk)
    form = LayoutForm(request.POST or None, ball=layout.ball, instance=layout)
    if request.method == "POST" and form.is_valid():
        layouts.save_layout(form.save(commit=False), by=request.user)
        messages.success(request, "Saved.")
        return redirect("lanes:layout", layout.pk)
    ctx = {"form": form, "ball": layout.ball, "layout": layout}
    return render(request, "clients/layout_form.html", ctx)


@require_POST
def layout_remove(request: HttpRequest, pk: int) -> HttpResponse:
    layout = get_object_or_404(Layout.objects.editable_by(request.user), pk=pk)
    try:
        layouts.remove_layout(layout, by=request.user)
    except layouts.Drilled as error:
        messages.error(request, str(error))
        return redirect("lanes:layout", pk)
    messages.success(request, "The plan is gone.")
    return redirect("clients:ball", layout.ball_id)


@require_POST
def layout_drilled(request: HttpRequest, pk: int) -> HttpResponse:
    """For a ball that came drilled, or without a ticket; a ticket's sign-off does the same."""
    layouts_of_shop = Layout.objects.editable_by(request.user).select_related("ball")
    layout = get_object_or_404(layouts_of_shop, pk=pk)
    layouts.was_drilled(layout, on=timezone.localdate(), by=request.user)
    messages.success(request, f"{layout.ball} has this layout now.")
    return redirect("lanes:layout", layout.pk)
