"""The layout sheet: for the screen, and on paper for the press."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from clients import cautions, limits
from clients.drilling_sheet import THIN_WALL_IN
from clients.models import Layout, Ticket
from lanes.layout_sheet import layout_sheet


@require_GET
def layout(request: HttpRequest, pk: int) -> HttpResponse:
    seen = Layout.objects.visible_to(request.user)
    row = get_object_or_404(
        seen.select_related("ball__client", "fit", "made_by").prefetch_related("fit__holes"), pk=pk
    )
    tickets = Ticket.objects.visible_to(request.user).filter(layout=row)
    ctx = {
        "layout": row,
        "ball": row.ball,
        "sheet": layout_sheet(row),
        "limits": limits.of_ball(row.ball, on=row.drilled_on),
        "thin_wall_in": THIN_WALL_IN,
        "mistyped": limits.mistyped(row.ball),
        "cautions": cautions.for_work(Ticket.Kind.DRILL),
        "tickets": tickets,
        "open_tickets": [ticket for ticket in tickets if ticket.is_in_hand],
        "may_edit": Layout.objects.editable_by(request.user).filter(pk=pk).exists(),
    }
    return render(request, "lanes/layout/sheet.html", ctx)
