"""A client's arsenal map: for coach, shop, the student and the guardians."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from clients.models import Client
from lanes import arsenal
from lanes.motion.reference import ARROWS, LAYDOWN


@require_GET
def arsenal_map(request: HttpRequest, pk: int) -> HttpResponse:
    client = get_object_or_404(Client.objects.with_gear_for(request.user), pk=pk)
    ctx = {
        "client": client,
        "arsenal": arsenal.arsenal_of(client),
        "laydown": LAYDOWN,
        "arrows": ARROWS,
        "gap_boards": arsenal.GAP_BOARDS,
        "doubts": arsenal.DOUBTS,
        # A release is the lessons'; the shop sees what it does to the balls.
        "sees_release": Client.objects.visible_to(request.user).filter(pk=pk).exists(),
        "may_edit": Client.objects.with_gear_editable_by(request.user).filter(pk=pk).exists(),
    }
    return render(request, "lanes/arsenal.html", ctx)
