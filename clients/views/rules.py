"""The published limits, each with its source."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from clients.drilling.rules import rules as all_rules
from clients.gates import staff_only


@staff_only
@require_GET
def rules(request: HttpRequest) -> HttpResponse:
    """Those in force today first, then those of other days."""
    today = timezone.localdate()
    in_force, others = [], []
    for rule in all_rules():
        now = (not rule.since or rule.since <= today) and (not rule.until or today <= rule.until)
        (in_force if now else others).append(rule)
    ctx = {"parts": [("In force today", in_force), ("Of other days", others)], "today": today}
    return render(request, "clients/rules.html", ctx)
