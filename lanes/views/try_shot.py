"""Try a shot: a page whose whole state is its address; asking writes nothing."""

from __future__ import annotations

from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import urlencode
from django.views.decorators.http import require_GET

from clients.gates import staff_only
from clients.models import Ball, Client
from clients.views.asked import asked_key
from lanes import try_shot as trials
from lanes.cover_law import law_words, shops_settling
from lanes.forms.rack import RackForm
from lanes.forms.try_shot import BEFORE, DESCRIBED, SLOTS, TryForm
from lanes.models import Pattern
from lanes.patterns import sheet_of
from lanes.pin_hits import pin_hit
from lanes.pins.carry import LIMITS
from lanes.rack_film import film_rack, scatter_words

KEPT_AT_FILLING = ("client", "oil", *BEFORE)


@staff_only
@require_GET
def try_shot(request: HttpRequest) -> HttpResponse:
    asked = request.GET.dict()
    if "fill" in asked:  # another client: their release and balls, on the lane as it was asked
        kept = {
            name: asked[name] for name in KEPT_AT_FILLING if asked.get(name, "") not in ("", "0")
        }
        return redirect(f"{reverse('lanes:try_shot')}?{urlencode(kept)}")
    # Whose gear, as the shop sees it; the release only of those whose lessons the user may know.
    clients = Client.objects.with_gear_for(request.user).order_by("name")
    client = _asked(clients, asked.get("client"))
    patterns = Pattern.objects.visible_to(request.user).order_by("name")
    pattern = _asked(patterns, asked.get("oil"))
    form = TryForm(
        asked,
        clients=clients.only("name"),
        client=client,
        knows_release=Client.objects.visible_to(request.user).filter(pk=_pk(client)).exists(),
        patterns=patterns.only("name"),
        locker=_locker(request, client, asked),
    )
    answer, law = None, ""
    if form.is_valid():
        settling = shops_settling()
        answer = trials.try_shot(form.trial(sheet_of(pattern) if pattern else None, settling.law))
        law = law_words(settling)
    context = {"form": form, "client": client, "answer": answer, "law_words": law}
    context["carry_limits"] = LIMITS
    if not request.htmx:
        return render(request, "lanes/try/page.html", context)
    response = render(request, "lanes/try/renewed.html", context)
    if answer is None:
        response["HX-Reswap"] = "none"  # the last good answer stays; what is wrong is told beside
    return response


@staff_only
@require_GET
def rack(request: HttpRequest) -> HttpResponse:
    """Show one rack of one hit; the address holds which, and the same address is the same rack."""
    form = RackForm(request.GET.dict())
    context = {"form": form, "carry_limits": LIMITS}
    if form.is_valid():
        hand, number = form.cleaned_data["hand"], form.cleaned_data["rack"]
        context |= {
            "at": pin_hit(form.hit, hand),
            "film": film_rack(form.hit, hand, number),
            "scatter": scatter_words(),
        }
    template = "lanes/try/film.html" if request.htmx else "lanes/try/rack_page.html"
    return render(request, template, context)


def _asked(things: QuerySet, text: str | None):
    """Return the thing that the address names, None where it names none; a stranger's is 404."""
    return get_object_or_404(things, pk=asked_key(text)) if text else None


def _locker(request: HttpRequest, client: Client | None, asked: dict[str, str]) -> list[Ball]:
    """Return the client's balls in use and those that the address names, whoever's they are."""
    named = {asked.get(slot, "") for slot in SLOTS} - {"", DESCRIBED}
    keys = {asked_key(text) for text in named}
    balls = list(
        Ball.objects.visible_to(request.user)
        .filter(Q(client=client, retired_at=None) | Q(pk__in=keys - {None}))
        .select_related("client")
        .prefetch_related("surfaces")
        .order_by("client__name", "name")
    )
    if keys - {ball.pk for ball in balls}:
        raise Http404
    return balls


def _pk(client: Client | None) -> int | None:
    return client.pk if client else None
