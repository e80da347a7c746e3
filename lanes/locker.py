"""Balls of a client's locker as the numeric core knows them."""

from __future__ import annotations

from clients.models import Ball
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
    """Return a ball with its surface now."""
    surface = ball.surface
    return BallSpec(
        name=ball.name,
        grit=surface.grit if surface else None,
        polished=surface.polished if surface else None,
        **{name: getattr(ball, name) for name in _FACTS},
    )
