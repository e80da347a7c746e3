"""The outbox as its readers may see it: to whom a letter went and when, never what it says."""

from __future__ import annotations

from django.conf import settings
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from clients.gates import coaches_only
from clients.models import Mail

PER_PAGE = 50


@require_GET
@coaches_only
def letters(request: HttpRequest) -> HttpResponse:
    """All letters for the owner, those about own clients for a coach, newest first.

    Letters hold links that open accounts, so their words are not fetched at all.
    """
    seen = Mail.objects.visible_to(request.user).select_related("to", "client").defer("body")
    context = {
        "page": Paginator(seen, PER_PAGE).get_page(request.GET.get("page")),
        "mail_goes_out": bool(settings.EMAIL_HOST),
    }
    return render(request, "clients/letters.html", context)
