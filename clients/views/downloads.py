"""Answers that a browser keeps as a file."""

from __future__ import annotations

from django.http import HttpResponse
from django.utils.text import slugify


def download(body: str | bytes, name: str, ending: str, content_type: str) -> HttpResponse:
    """Return the file as a download, its name in plain letters; "file" where none are left."""
    headers = {"Content-Disposition": f'attachment; filename="{slugify(name) or "file"}{ending}"'}
    return HttpResponse(body, content_type=content_type, headers=headers)
