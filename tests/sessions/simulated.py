"""Shots of an invented bowler, written into a session of the cast."""

from __future__ import annotations

from collections.abc import Iterable
from types import SimpleNamespace

from lanes import shots
from lanes.reading.shots import LoggedShot


def log(cast: SimpleNamespace, some: Iterable[LoggedShot]) -> None:
    """Log them in Carl's name, as a phone would."""
    for shot in some:
        values = {
            name: value
            for name in shots.NAMES
            if name != "shot" and (value := getattr(shot, name)) not in (None, "", False)
        }
        shots.log_shot(session=cast.session, by=cast.carl, values=values)
