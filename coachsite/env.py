"""Typed readers of the environment.

Every variable is listed in DEVELOPERS.md, and a test holds it.
"""

from __future__ import annotations

import os
import secrets
from pathlib import Path

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


def kept_secret(path: Path) -> str:
    """Return the secret key in `path`, made once and readable by its owner alone."""
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        key = path.read_text(encoding="ascii").strip()
        if len(key) < 50:
            raise ImproperlyConfigured(
                f"{path} holds no usable key; move it away and a new one is made"
            ) from None
        return key
    key = secrets.token_urlsafe(64)
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(key)
    return key
