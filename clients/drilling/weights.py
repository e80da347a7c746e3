"""Static weights of a ball before and after drilling: top, side and finger weight, in ounces.

A ball whose centre of gravity lies off its middle leans on a balance. What the balance shows is the
moment about the ball's middle over the ball's radius: an ounce laid on the cover counts as an ounce
(assumed: a balance is set so; no published definition at hand). So a static weight is a vector. Its
part toward the grip centre is *top* weight, toward the axis side *side* weight, toward the fingers
*finger* weight; negative are bottom weight, the other side's, and thumb weight.

Before drilling it points at the CG's mark and is as long as the top weight on the box. A hole takes
away the moment of what was in it: a cylinder under the sphere, flat at the bottom. The part of that
along the hole's axis has a closed form; for the rest and for the volume the height over the cross-
section is integrated by Gauss and by equal angles, to 1e-9 of itself. Inserts, slugs and the
point of a drill are left out.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from .holes import Hole, radius_in
from .sphere import AROUND_IN, Place, Vector

OZ_PER_LB = 16.0
CM3_PER_IN3 = 16.387064  # exact
GRAM_PER_OZ = 28.349523125  # exact, avoirdupois

_RINGS, _SPOKES = 24, 32
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(_RINGS)


@dataclass(frozen=True)
class StaticWeights:
    """Ounces toward the grip centre, toward the axis side and toward the fingers."""

    top_oz: float
    side_oz: float
    finger_oz: float

    @classmethod
    def of(cls, moment_oz: Vector) -> StaticWeights:
        side, finger, top = (float(part) for part in moment_oz)
        return cls(top, side, finger)

    @property
    def vector(self) -> Vector:
        """Side, finger, top: the frame of places on the ball."""
        return np.array([self.side_oz, self.finger_oz, self.top_oz])


def before_drilling(cg: Place, top_weight_oz: float, around_in: float = AROUND_IN) -> StaticWeights:
    """Return the static weights of the whole ball: all of it points at the CG's mark."""
    return StaticWeights.of(top_weight_oz * cg.vector(around_in))


def after_drilling(
    before: StaticWeights, holes: Iterable[Hole], density_g_cm3: float
) -> StaticWeights:
    """Return the static weights once the holes are drilled; their depths must be known."""
    moment = before.vector
    for hole in holes:
        moment = moment - taken_out(hole, density_g_cm3)[1]
    return StaticWeights.of(moment)


def mean_density_g_cm3(mass_lb: float, around_in: float = AROUND_IN) -> float:
    """Return the density of a ball of one stuff: what is drilled is taken for that, if not told."""
    volume = 4.0 / 3.0 * math.pi * radius_in(around_in) ** 3 * CM3_PER_IN3
    return mass_lb * OZ_PER_LB * GRAM_PER_OZ / volume


def taken_out(hole: Hole, density_g_cm3: float) -> tuple[float, Vector]:
    """Return the weight that a hole takes away, oz, and its static weight, oz (3,)."""
    volume, moment = volume_and_moment(hole)
    oz_per_in3 = density_g_cm3 * CM3_PER_IN3 / GRAM_PER_OZ
    return volume * oz_per_in3, moment * oz_per_in3 / radius_in(hole.around_in)


def volume_and_moment(hole: Hole) -> tuple[float, Vector]:
    """Return the volume of a hole, in3, and its first moment about the ball's centre, in4 (3,).

    With the axis ``p`` from the centre, radius ``a`` and the bottom ``b`` above the plane through
    the centre square to the axis: the moment along the axis is
    ``pi a^2 / 2 (R^2 - p^2 - a^2 / 2 - b^2)``.
    """
    assert hole.depth_in is not None
    ball, radius = radius_in(hole.around_in), hole.size_in / 2.0
    out = -hole.into
    foot = hole.at(0.0) - (hole.at(0.0) @ out) * out  # the axis' point nearest to the centre
    bottom = float(hole.at(hole.depth_in) @ out)
    pitch = float(np.linalg.norm(foot))
    toward = foot / pitch if pitch > 0.0 else _square_to(out)
    # Over the disc: rho dr dphi, with Gauss in rho^2 and equal steps in phi.
    rho = radius * np.sqrt(0.5 * (_NODES + 1.0))
    phi = (np.arange(_SPOKES) + 0.5) * 2.0 * math.pi / _SPOKES
    x = pitch + rho[:, None] * np.cos(phi)
    y = rho[:, None] * np.sin(phi)
    height = np.sqrt(ball**2 - x**2 - y**2) - bottom
    area = math.pi * radius**2 * 0.5 * _WEIGHTS[:, None] / _SPOKES
    volume = float(np.sum(area * height))
    aside = float(np.sum(area * height * x))
    along = math.pi * radius**2 / 2.0 * (ball**2 - pitch**2 - radius**2 / 2.0 - bottom**2)
    return volume, np.asarray(along * out + aside * toward)


def _square_to(way: Vector) -> Vector:
    square = np.cross(way, np.eye(3)[int(np.argmin(np.abs(way)))])
    return np.asarray(square / np.linalg.norm(square))
