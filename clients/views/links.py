"""Pages whose address is a secret: no cache keeps them, and no other page learns the address."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from urllib.parse import urlsplit

import segno
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.safestring import SafeString, mark_safe

View = Callable[..., HttpResponse]
LINK_IN_SESSION = "fresh_link"


def keep_token_out_of_sight(view: View) -> View:
    """Let no page that follows learn the address.

    Not "no-referrer": with it browsers send "Origin: null", and no form would pass the CSRF check.
    """

    @wraps(view)
    def guarded(request: HttpRequest, *args: object, **kwargs: object) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response["Referrer-Policy"] = "strict-origin"
        return response

    return guarded


def keep_link(request: HttpRequest, what: str, link: str) -> None:
    """Remember the link that was just made, for the page that shows it; one at a time."""
    request.session[LINK_IN_SESSION] = {"what": what, "link": link}


def kept_link(request: HttpRequest, what: str) -> str:
    """Return the link made for this thing in this session, or an empty text."""
    kept = request.session.get(LINK_IN_SESSION, {})
    return kept["link"] if kept.get("what") == what else ""


def qr_picture(link: str) -> SafeString:
    """Return the link as a QR code: an inline SVG, black on white in every theme, no styles."""
    code = segno.make(link, error="m", micro=False)
    return mark_safe(code.svg_inline(border=4, dark="#000", light="#fff", omitsize=True))  # noqa: S308


def shown_link(request: HttpRequest, what: str) -> dict[str, object]:
    """Return what the part `clients/parts/link.html` shows: the link, its picture, a warning."""
    link = kept_link(request, what)
    if not link:
        return {"link": ""}
    return {"link": link, "qr": qr_picture(link), "only_here": links_open_only_here()}


def links_open_only_here() -> bool:
    """Whether no phone can open a link of this site, since its address was never set."""
    return urlsplit(settings.SITE_URL).hostname in ("localhost", "127.0.0.1")
