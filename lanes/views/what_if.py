"""What if: the rest of a session with another line, ball or surface."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from clients.jobs import JobProblem
from lanes import what_if as asking
from lanes.forms.what_if import WhatIfForm
from lanes.models import Report


@require_GET
def what_if(request: HttpRequest, pk: int) -> HttpResponse:
    """What the reading asked by itself; with a query, what the coach asks. Nothing is kept."""
    mine = Report.objects.coached_by(request.user).select_related(
        "reading", "session__client", "session__coach", "session__block__centre",
        "session__block__pattern",
    )  # fmt: skip
    report = get_object_or_404(mine, pk=pk)
    told: dict[str, Any] | None = asking.default(report)
    ctx: dict[str, Any] = {"report": report, "problem": ""}
    status = 200
    if request.GET:
        form = WhatIfForm(request.GET, report=report)
        if form.is_valid():
            try:
                told = asking.asked(report, form.cleaned_data["option"], form.cleaned_data["shot"])
            except JobProblem as problem:
                told, ctx["problem"] = None, str(problem)
        else:
            told, status = None, 400
    else:
        initial = {"option": told["option"], "shot": told["from_shot"]} if told else None
        form = WhatIfForm(report=report, initial=initial)
    ctx |= {"form": form, "told": told, "chart": asking.chart(report, told) if told else None}
    return render(request, "lanes/what_if.html", ctx, status=status)
