"""Balls of a client's locker as the numeric core knows them."""

from __future__ import annotations

from collections.abc import Iterable

from clients.models import Ball
from lanes.games import on_surface_now
from lanes.motion import BallSpec

_FACTS = (
    "cover",
    "rg_in",
    "differential_in",
    "intermediate_in",
    "mass_lb",
    "pin_to_pap_in",
    "angle_at_pin_deg",
    "angle_at_pap_deg",
)


def spec_of(ball: Ball) -> BallSpec:
    """Return a ball with its surface now and the games on it."""
    return specs_of([ball])[0]


def specs_of(balls: Iterable[Ball]) -> list[BallSpec]:
    """Return balls with their surfaces now and the games on them, counted for all at once."""
    balls = list(balls)
    games = on_surface_now(balls)
    return [spec_with(ball, games[ball.pk]) for ball in balls]


def spec_with(ball: Ball, games: float | None) -> BallSpec:
    """Return a ball with its surface now, so many games after it was made."""
    surface = ball.surface
    return BallSpec(
        name=ball.name,
        grit=surface.grit if surface else None,
        polished=surface.polished if surface else None,
        games=games,
        **{name: getattr(ball, name) for name in _FACTS},
    )
