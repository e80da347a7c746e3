"""A ball's life by hand: lines, meter readings, and passing the ball on."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from clients import life
from clients.forms.life import EventForm, PassOnForm, ReadingForm
from clients.models import Ball, BallEvent, SurfaceReading
from clients.names import NameTaken


def _editable(request: HttpRequest, pk: int) -> Ball:
    balls = Ball.objects.editable_by(request.user).select_related("client")
    return get_object_or_404(balls, pk=pk)


@require_http_methods(["GET", "POST"])
def event_add(request: HttpRequest, pk: int) -> HttpResponse:
    """A line of the ball's life; ?kind= says which kind is meant."""
    ball = _editable(request, pk)
    kind = request.GET.get("kind") or BallEvent.Kind.GAMES
    form = EventForm(request.POST or None, initial={"kind": kind})
    if request.method == "POST" and form.is_valid():
        event = life.write_down(ball=ball, by=request.user, **form.cleaned_data)
        messages.success(request, f"Written down for {ball}: {event.get_kind_display()}.")
        return redirect("clients:ball", pk)
    return render(request, "clients/life/event.html", {"form": form, "ball": ball})


@require_POST
def event_remove(request: HttpRequest, pk: int, event: int) -> HttpResponse:
    ball = _editable(request, pk)
    found = BallEvent.objects.filter(ball=ball, pk=event).first()
    if found:
        try:
            life.take_out(found, by=request.user)
        except ValueError as error:
            raise Http404 from error
        messages.success(request, "Taken out.")
    return redirect("clients:ball", pk)


@require_http_methods(["GET", "POST"])
def reading_add(request: HttpRequest, pk: int) -> HttpResponse:
    ball = _editable(request, pk)
    form = ReadingForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        values = form.cleaned_data
        life.add_reading(
            ball=ball,
            by=request.user,
            number=values["number"],
            on=values["read_on"],
            note=values["note"],
        )
        messages.success(request, f"Written down for {ball}: read {values['number']}.")
        return redirect("clients:ball", pk)
    return render(request, "clients/life/reading.html", {"form": form, "ball": ball})


@require_POST
def reading_remove(request: HttpRequest, pk: int, reading: int) -> HttpResponse:
    ball = _editable(request, pk)
    found = SurfaceReading.objects.filter(ball=ball, pk=reading).select_related("ball").first()
    if found:
        life.take_out_reading(found, by=request.user)
        messages.success(request, "Taken out.")
    return redirect("clients:ball", pk)


@require_http_methods(["GET", "POST"])
def pass_on(request: HttpRequest, pk: int) -> HttpResponse:
    ball = _editable(request, pk)
    form = PassOnForm(request.POST or None, ball=ball, user=request.user)
    if request.method == "POST" and form.is_valid():
        to = form.cleaned_data["to"]
        try:
            life.pass_on(ball=ball, by=request.user, **form.cleaned_data)
        except (NameTaken, life.InHand) as error:
            form.add_error("to", str(error))
        else:
            messages.success(request, f"{ball} is {to}'s now.")
            return redirect("clients:ball", pk)
    return render(request, "clients/life/pass_on.html", {"form": form, "ball": ball})
