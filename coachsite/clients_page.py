"""The list of clients and a client's page: the two that join lessons with people and gear."""

from __future__ import annotations

from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from clients.gates import coaches_only
from clients.models import Client
from lanes import overview


@coaches_only
@require_GET
def client_list(request: HttpRequest) -> HttpResponse:
    """The coach's own clients, the owner's all."""
    search = request.GET.get("q", "").strip()
    mine = Client.objects.editable_by(request.user)
    clients = overview.with_lessons(mine).select_related("coach").order_by("name")
    if search:
        clients = clients.filter(name__icontains=search)
    ctx = {"clients": clients, "search": search, "has_any": bool(search) and mine.exists()}
    return render(request, "clients/client_list.html", ctx)


@require_GET
def client_page(request: HttpRequest, pk: int) -> HttpResponse:
    clients = Client.objects.editable_by(request.user).select_related("coach", "user")
    client = get_object_or_404(clients, pk=pk)
    in_use_first = F("retired_at").asc(nulls_first=True)
    ctx = {
        "client": client,
        "balls": client.balls.order_by(in_use_first, "name").prefetch_related("surfaces"),
        "sessions": overview.sessions_seen_by(request.user, client),
        "reports": overview.sent_reports_of(client, user=request.user),
    }
    return render(request, "clients/client_page.html", ctx)
