"""Typed readers of the environment.

Every variable is listed in DEVELOPERS.md, and a test holds it.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import tempfile
from pathlib import Path
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured


def env_text(name: str, default: str = "") -> str:
    """Return the variable's text; NAME_FILE names a file that holds it (a mounted secret)."""
    file_name = os.environ.get(f"{name}_FILE")
    if file_name:
        try:
            return Path(file_name).read_text(encoding="utf-8").strip()
        except OSError as error:
            raise ImproperlyConfigured(f"{name}_FILE: cannot read {file_name}: {error}") from error
    return os.environ.get(name, default).strip()


def env_flag(name: str, default: bool = False) -> bool:
    """Return True or False; any other word is a mistake and is said, never guessed."""
    text = os.environ.get(name, "").strip()
    if text not in {"", "True", "False"}:
        raise ImproperlyConfigured(f"{name}: expected True or False, not {text!r}")
    return default if text == "" else text == "True"


def site_addresses(text: str) -> list[str]:
    """Return the addresses in SITE_URL; one that no link can be made of is a mistake and is said.

    Without "https://" a site meant for TLS would run without it.
    """
    addresses = [url.strip().rstrip("/") for url in text.split(",") if url.strip()]
    for address in addresses:
        scheme, host, *rest = urlsplit(address)
        if scheme not in ("http", "https") or not host or any(rest):
            raise ImproperlyConfigured(
                f"SITE_URL: expected an address such as https://coach.example, not {address!r}"
            )
    return addresses


def kept_secret(path: Path) -> str:
    """Return the secret key in `path`, made once and readable by its owner alone."""
    if not path.exists():
        _make_secret(path)
    key = path.read_text(encoding="ascii").strip()
    if len(key) < 50:
        raise ImproperlyConfigured(
            f"{path} holds no usable key; move it away and a new one is made"
        )
    return key


def _make_secret(path: Path) -> None:
    """Put a new key there whole or not at all: a start that is cut off leaves no half of one, and
    of two processes that start at once both read the first one's."""
    with tempfile.NamedTemporaryFile("w", encoding="ascii", dir=path.parent) as file:  # mode 0600
        file.write(secrets.token_urlsafe(64))
        file.flush()
        with contextlib.suppress(FileExistsError):
            os.link(file.name, path)
