"""The arsenal list, and what is done to a ball and to its surface."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import F, Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from clients import gear as gear_book
from clients.forms.gear import BallForm, SurfaceForm
from clients.gates import staff_only
from clients.models import Ball, Client, Surface
from clients.names import NameTaken

ORDERS = {"client": "By client", "surface": "Oldest surface first"}


@staff_only
@require_GET
def gear(request: HttpRequest) -> HttpResponse:
    """Each client's balls and their surfaces now; no lesson, no release, no notes."""
    search = request.GET.get("q", "").strip()
    order = request.GET.get("order") if request.GET.get("order") in ORDERS else "client"
    clients = Client.objects.with_gear_for(request.user).order_by("name")
    if search:
        clients = clients.filter(name__icontains=search)
    ctx = {"search": search, "order": order, "orders": ORDERS}
    ctx["editable"] = set(
        Client.objects.with_gear_editable_by(request.user).values_list("pk", flat=True)
    )
    if order == "surface":
        in_use = gear_book.with_surface_date(Ball.objects.filter(retired_at=None))
        ctx["balls"] = (
            in_use.filter(client__in=clients)
            .select_related("client")
            .prefetch_related("surfaces")
            .order_by(F("surface_on").asc(nulls_first=True), "client__name", "name")
        )
    else:
        in_use_first = F("retired_at").asc(nulls_first=True)
        balls = Ball.objects.order_by(in_use_first, "name").prefetch_related("surfaces")
        ctx["clients"] = clients.prefetch_related(Prefetch("balls", balls))
    return render(request, "clients/gear.html", ctx)


@require_http_methods(["GET", "POST"])
def ball_new(request: HttpRequest, pk: int) -> HttpResponse:
    """A new ball, with the surface it comes with where that is known."""
    client = get_object_or_404(Client.objects.with_gear_editable_by(request.user), pk=pk)
    form = BallForm(request.POST or None, instance=Ball(client=client))
    if request.method == "POST" and form.is_valid() and _saved(form, request):
        messages.success(request, f"{form.instance} is in {client}'s arsenal. Next: its surface.")
        return redirect("clients:surface_add", form.instance.pk)
    return render(request, "clients/ball_form.html", {"form": form, "client": client})


@require_http_methods(["GET", "POST"])
def ball_edit(request: HttpRequest, pk: int) -> HttpResponse:
    ball = get_object_or_404(Ball.objects.editable_by(request.user), pk=pk)
    form = BallForm(request.POST or None, instance=ball)
    if request.method == "POST" and form.is_valid() and _saved(form, request):
        messages.success(request, "Saved.")
        return redirect("clients:ball", ball.pk)
    ctx = {"form": form, "client": ball.client, "ball": ball, "name": form.initial["name"]}
    return render(request, "clients/ball_form.html", ctx)


def _saved(form: BallForm, request: HttpRequest) -> bool:
    try:
        gear_book.save_ball(form.save(commit=False), by=request.user)
    except NameTaken as error:
        form.add_error("name", str(error))
        return False
    return True


@require_http_methods(["GET", "POST"])
def surface_add(request: HttpRequest, pk: int) -> HttpResponse:
    ball = get_object_or_404(Ball.objects.editable_by(request.user), pk=pk)
    form = SurfaceForm(request.POST or None, instance=Surface(ball=ball))
    if request.method == "POST" and form.is_valid():
        surface = gear_book.add_surface(form.save(commit=False), by=request.user)
        messages.success(request, f"Written down for {ball}: {surface}.")
        return redirect("clients:ball", ball.pk)
    return render(request, "clients/surface_form.html", {"form": form, "ball": ball})


@require_POST
def ball_retire(request: HttpRequest, pk: int) -> HttpResponse:
    ball = get_object_or_404(Ball.objects.editable_by(request.user), pk=pk)
    gear_book.retire(ball, by=request.user)
    messages.success(request, f"{ball} is retired. Its sessions and its history stay.")
    return redirect("clients:ball", ball.pk)


@require_POST
def ball_unretire(request: HttpRequest, pk: int) -> HttpResponse:
    ball = get_object_or_404(Ball.objects.editable_by(request.user), pk=pk)
    gear_book.take_back(ball, by=request.user)
    messages.success(request, f"{ball} is in use again.")
    return redirect("clients:ball", ball.pk)
