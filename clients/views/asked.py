"""What an address or a form asks for, before it is looked up."""

from __future__ import annotations


def asked_key(text: str | None) -> int | None:
    """Return the row's key that the text is, None for anything else; no key has twelve figures."""
    return int(text) if text and text.isdecimal() and len(text) < 12 else None
