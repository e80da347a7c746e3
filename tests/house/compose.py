"""Reads docker-compose.yml as Compose would, so that tests can start what it starts."""

from __future__ import annotations

import re
from typing import Any

import yaml

from tests.house.scripts import ROOT

_VARIABLE = re.compile(r"\$\{(\w+)(?::?([-?])([^}]*))?\}")


def compose() -> dict[str, Any]:
    return yaml.safe_load((ROOT / "docker-compose.yml").read_text(encoding="utf-8"))


def variables() -> set[str]:
    """Return the names that the compose file takes from .env."""
    text = (ROOT / "docker-compose.yml").read_text(encoding="utf-8")
    return {match[1] for match in _VARIABLE.finditer(text)}


def environment(service: str, dot_env: dict[str, str]) -> dict[str, str]:
    """Return the service's environment with the variables of `dot_env` put in."""

    def value(match: re.Match[str]) -> str:
        name, kind, rest = match.groups()
        if not dot_env.get(name) and kind == "?":
            raise KeyError(f"{name}: {rest}")
        return dot_env.get(name) or (rest if kind == "-" else "")

    stated = compose()["services"][service]["environment"]
    return {name: _VARIABLE.sub(value, str(text)) for name, text in stated.items()}
