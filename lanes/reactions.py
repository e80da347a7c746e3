"""A ball of the locker on the reference lane, in words and numbers for its page."""

from __future__ import annotations

from dataclasses import dataclass

from clients.models import Ball
from lanes.cover_law import shops_settling
from lanes.locker import spec_of
from lanes.motion import BallSpec
from lanes.motion.friction import SurfaceLaw
from lanes.motion.reference import Figure, Reaction, reaction

# In the order in which they happen down the lane, with the unit.
_LABELS = {
    "hook_start_ft": ("Hook starts", "ft"),
    "roll_start_ft": ("Roll starts", "ft"),
    "last_20ft_boards": ("Covers in the last 20 ft", "boards"),
    "entry_angle_deg": ("Entry angle", "deg"),
    "flare_in": ("Track flare", "in"),
}


@dataclass(frozen=True)
class Line:
    """One figure as text: at the middle release, and over the others."""

    label: str
    unit: str
    value: str
    spread: str


@dataclass(frozen=True)
class Shown:
    """A ball's reaction for its page, or why there is none."""

    lines: tuple[Line, ...] = ()
    problem: str = ""


def reaction_of(ball: Ball) -> Shown:
    """Return what a ball does on the reference lane with its surface now and the games on it.

    A ball that cannot be is told as a problem: its numbers were typed in, and one is wrong.
    """
    return shown(spec_of(ball), shops_settling().law)


def shown(spec: BallSpec, law: SurfaceLaw) -> Shown:
    """Return what a ball does on the reference lane, or why that cannot be told.

    ``law`` is how covers settle in this shop (`lanes.cover_law`).
    """
    try:
        return Shown(lines_of(reaction(spec, law=law)))
    except ValueError as error:
        return Shown(problem=str(error))


def lines_of(told: Reaction) -> tuple[Line, ...]:
    """Return a reaction's lines in the order in which they happen down the lane."""
    return tuple(
        Line(label, unit, _value(getattr(told, name)), _spread(getattr(told, name)))
        for name, (label, unit) in _LABELS.items()
    )


def _value(figure: Figure) -> str:
    return "past the pins" if figure.value is None else f"{figure.value:.1f}"


def _spread(figure: Figure) -> str:
    if figure.low is None:
        return "past the pins"
    low = f"{figure.low:.1f}"
    if figure.high is None:
        return f"{low} to past the pins"
    high = f"{figure.high:.1f}"
    return low if low == high else f"{low} to {high}"
