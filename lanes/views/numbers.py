"""About the numbers."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from lanes.numbers import numbers_page


@require_GET
def numbers(request: HttpRequest) -> HttpResponse:
    """What is computed, how well, from what, and where it ends: for whoever reads a number here."""
    return render(request, "lanes/numbers.html", {"page": numbers_page()})
