"""A ball's page: what the shop wrote down of it, and what it does on the reference lane."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from clients import life, limits, stock, tickets
from clients.models import Ball, Client, StockSale
from lanes.cover_law import law_words, shops_settling
from lanes.games import games_on, on_each_surface
from lanes.locker import spec_with
from lanes.reactions import shown


@require_GET
def ball(request: HttpRequest, pk: int) -> HttpResponse:
    balls = Ball.objects.visible_to(request.user).select_related("client")
    ball = get_object_or_404(balls.prefetch_related("surfaces__done_by"), pk=pk)
    games = games_on([ball])[ball.pk]
    on_surfaces = on_each_surface(ball, games)
    on_now = on_surfaces[ball.surface.pk] if ball.surface else None
    sale = StockSale.objects.editable_by(request.user).filter(ball=ball).first()
    ctx = {
        "ball": ball,
        "sale": sale if sale and not stock.done_since(ball) else None,
        "games": games.between().all,
        "games_on_surface": on_now.all if on_now else None,
        "life": life.time_line(
            ball,
            user=request.user,
            games_on={pk: str(tally) for pk, tally in on_surfaces.items()},
        ),
        "tickets": ball.tickets.filter(status__in=tickets.OPEN).select_related("ball"),
        "limits": limits.of_ball(ball),
        "mistyped": limits.mistyped(ball),
        "may_edit": Ball.objects.editable_by(request.user).filter(pk=pk).exists(),
        "may_see_client": Client.objects.editable_by(request.user)
        .filter(pk=ball.client_id)
        .exists(),
        "reaction": None,
    }
    if request.user.is_staff_member:  # a student's page is short
        settling = shops_settling()
        ctx["reaction"] = shown(spec_with(ball, on_now.all if on_now else None), settling.law)
        ctx["law_words"] = law_words(settling)
    return render(request, "clients/ball.html", ctx)
