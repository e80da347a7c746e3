"""What holds for every request and every answer of the site."""

from __future__ import annotations

from collections.abc import Callable

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse

Handler = Callable[[HttpRequest], HttpResponse]


def refuse_nul(get_response: Handler) -> Handler:
    """Answer 400 to an address with a NUL, which no page here makes.

    PostgreSQL cannot even compare a text with it; the form fields refuse it by themselves.
    """

    def handle(request: HttpRequest) -> HttpResponse:
        if "\0" in request.path or "%00" in request.META.get("QUERY_STRING", ""):
            raise BadRequest("a NUL in the address")
        return get_response(request)

    return handle


def keep_nothing_in_caches(get_response: Handler) -> Handler:
    """Let no cache keep a page that does not say otherwise.

    Nearly every page tells about people, and after the log-out the button "back" must not show one
    to whoever has the phone next.
    """

    def handle(request: HttpRequest) -> HttpResponse:
        response = get_response(request)
        response.headers.setdefault("Cache-Control", "no-store, private")
        return response

    return handle
