"""The shape and mass of a tenpin, from the published profile by integration.

Everything here is SI, heights from the base along the pin's axis. A pin is taken as a solid of
revolution of one density: then weight, centre of gravity and both radii of gyration follow from the
profile alone, and the centre of gravity falls inside the published window (a test holds it there).

For contact a pin is the envelope of spheres on its axis. Where the profile has radius ``R`` and
slope ``R'`` at height ``z``, the sphere that touches it there has its centre at ``c = z + R R'``
and the radius ``r = R sqrt(1 + R'^2)`` (the medial axis of a surface of revolution). The lowest
sphere just reaches the base, so the base's edge is rounded where pins touch each other; on the deck
a pin stands on its bearing ring, which is kept apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from lanes.motion.geometry import INCH_M

# Height and diameter in inches (pin specification; the four largest and smallest were seen, the
# rest from memory, and the integral of the whole supports them: FACTS section 1).
PROFILE_IN = (
    (0.0, 2.031),
    (0.75, 2.828),
    (2.25, 3.906),
    (3.375, 4.510),
    (4.5, 4.766),
    (5.875, 4.563),
    (7.25, 3.703),
    (8.625, 2.472),
    (9.375, 1.965),
    (10.0, 1.797),
    (10.875, 1.870),
    (11.75, 2.094),
    (12.625, 2.406),
    (13.5, 2.547),
)
HEIGHT_IN = 15.0  # pin specification
TOP_RADIUS_IN = 1.273  # radius of the crown (pin specification, from memory)
BEARING_DIAMETER_IN = 2.031  # of the ring it stands on (pin specification)
MASS_KG = 3.5 * 0.45359237  # middle of the specified 3 lb 6 oz to 3 lb 10 oz

_HEAD_IN = PROFILE_IN[-1][0]
_FINE = 4001
# Twice differentiable, so that the envelope's radii run smoothly; level at the head's widest.
_body = CubicSpline(
    [height for height, _ in PROFILE_IN],
    [diameter / 2.0 for _, diameter in PROFILE_IN],
    bc_type=((2, 0.0), (1, 0.0)),
)


@dataclass(frozen=True)
class Pin:
    """A pin's numbers: metres and kilograms.

    ``rho_across`` and ``rho_axis`` are the radii of gyration about the centre of gravity, across
    the long axis and about it. ``centre`` and ``radius`` (k,) are the envelope's spheres, evenly
    spaced from the lowest to the crown.
    """

    mass: float
    cg: float
    rho_across: float
    rho_axis: float
    volume: float
    bearing: float
    height: float
    centre: NDArray[np.float64]
    radius: NDArray[np.float64]


def radius_in(height_in: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the profile's radius in inches at heights in inches (0 outside the pin)."""
    z = np.asarray(height_in, dtype=float)
    crown = HEIGHT_IN - TOP_RADIUS_IN
    radius = np.where(z <= _HEAD_IN, _body(np.clip(z, 0.0, _HEAD_IN)), TOP_RADIUS_IN)
    round_top = np.sqrt(np.clip(TOP_RADIUS_IN**2 - (z - crown) ** 2, 0.0, None))
    radius = np.where(z > crown, round_top, radius)
    return np.where((z < 0.0) | (z > HEIGHT_IN), 0.0, radius)


def _envelope(count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return centres and radii in inches of ``count`` spheres, evenly spaced on the axis."""
    z = np.linspace(0.0, _HEAD_IN, _FINE)
    radius, slope = _body(z), _body(z, 1)
    centre = z + radius * slope
    touch = radius * np.sqrt(1.0 + slope**2)
    inside = centre - touch >= 0.0
    start = int(np.argmax(inside))
    centre, touch = centre[start:], touch[start:]
    # Centres must rise along the axis; where the profile bends more tightly than its own radius
    # they would fold back, and the sphere in front is the one that touches.
    forward = np.concatenate([[True], centre[1:] > np.maximum.accumulate(centre)[:-1]])
    centre = np.append(centre[forward], HEIGHT_IN - TOP_RADIUS_IN)
    touch = np.append(touch[forward], TOP_RADIUS_IN)
    at = np.linspace(centre[0], centre[-1], count)
    return at, np.interp(at, centre, touch)


@cache
def pin(spheres: int = 121) -> Pin:
    """Return the pin's numbers; ``spheres`` is how finely the envelope is tabulated."""
    z = np.linspace(0.0, HEIGHT_IN, _FINE)
    area = np.pi * radius_in(z) ** 2
    volume = np.trapezoid(area, z)
    cg = np.trapezoid(area * z, z) / volume
    axis = np.trapezoid(area * radius_in(z) ** 2 / 2.0, z) / volume
    across = np.trapezoid(area * (radius_in(z) ** 2 / 4.0 + (z - cg) ** 2), z) / volume
    centre, radius = _envelope(spheres)
    return Pin(
        mass=MASS_KG,
        cg=float(cg) * INCH_M,
        rho_across=float(np.sqrt(across)) * INCH_M,
        rho_axis=float(np.sqrt(axis)) * INCH_M,
        volume=float(volume) * INCH_M**3,
        bearing=BEARING_DIAMETER_IN / 2.0 * INCH_M,
        height=HEIGHT_IN * INCH_M,
        centre=centre * INCH_M,
        radius=radius * INCH_M,
    )
