"""What the published limits say of a ball and of its holes: information, never a refusal."""

from __future__ import annotations

from datetime import date

from django.utils import timezone

from clients.drilling import StaticWeights
from clients.drilling.rules import Finding, check
from clients.models import Ball, StockBall


def of_ball(ball: Ball | StockBall, *, on: date | None = None) -> list[Finding]:
    """Return what the limits in force on a day, today if not given, say of a ball's numbers."""
    facts = {
        "mass": ball.mass_lb,
        "rg": ball.rg_in,
        "differential": ball.differential_in,
        "intermediate": ball.intermediate_in or None,
    }
    return check(facts, mass_lb=ball.mass_lb, on=on or timezone.localdate())


def of_drilling(
    ball: Ball,
    *,
    holes: int,
    thumb: bool,
    weights: StaticWeights | None,
    on: date | None = None,
) -> list[Finding]:
    """Return what the limits say of a ball once it is drilled.

    ``holes`` are those for gripping; ``weights`` those after drilling, ``None`` where nobody can
    tell them.
    """
    facts: dict[str, float | None] = {"gripping holes": float(holes), "balance holes": 0.0}
    if weights:
        facts |= {
            "top weight": weights.top_oz,
            "side weight": weights.side_oz,
            "finger weight": weights.finger_oz,
        }
    return check(facts, mass_lb=ball.mass_lb, on=on or timezone.localdate(), thumb=thumb)


def mistyped(ball: Ball | StockBall) -> list[str]:
    """Return what cannot be in a ball's numbers, in whole sentences."""
    if ball.differential_in is None or (ball.intermediate_in or 0.0) <= ball.differential_in:
        return []
    return [
        f"The intermediate differential, {ball.intermediate_in:g} in, is larger than the "
        f"differential, {ball.differential_in:g} in; one of the two is likely mistyped."
    ]
