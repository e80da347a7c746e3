"""What holds for every request and every answer of the site."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import urlsplit

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.utils.http import url_has_allowed_host_and_scheme

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


class LogInFirst(LoginRequiredMiddleware):
    """Send who is not logged in to the log-in, and then on to the page that they came for.

    A form that was sent after the log-in had run out goes on to the page that it stood on: many of
    the addresses that forms are sent to have no page of their own.
    """

    def handle_no_permission(self, request: HttpRequest, view_func: Callable) -> HttpResponse:
        if request.method in ("GET", "HEAD"):
            return super().handle_no_permission(request, view_func)
        page = request.headers.get("Referer", "")
        is_ours = url_has_allowed_host_and_scheme(page, allowed_hosts={request.get_host()})
        path = urlsplit(page).path if is_ours else ""
        return redirect_to_login(path or "/", self.get_login_url(view_func))
