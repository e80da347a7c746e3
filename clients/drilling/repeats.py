"""A place measured several times: its mean, and how far the measurements lie apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .sphere import AROUND_IN, Place, distance_in


@dataclass(frozen=True)
class Measured:
    """The mean of the repeats, and their scatter along the surface.

    ``sd_in`` is the root mean square distance from the mean, over one repeat fewer than there are,
    in both directions together; ``widest_in`` the largest distance from the mean. Both are ``None``
    for one repeat, of which nobody can tell how well it holds.
    """

    mean: Place
    count: int
    sd_in: float | None
    widest_in: float | None


def measured(repeats: Sequence[Place], around_in: float = AROUND_IN) -> Measured:
    """Return mean and scatter of one place measured once or more.

    The mean is the direction of the sum of the unit vectors. Raises ``ValueError`` without any
    repeat, or for repeats that cancel out.
    """
    if not repeats:
        raise ValueError("one measurement at least expected")
    vectors = np.array([place.vector(around_in) for place in repeats])
    total = vectors.sum(axis=0)
    length = float(np.linalg.norm(total))
    if length < 1e-9:
        raise ValueError("measurements on one side of the ball expected")
    mean = total / length
    off = [distance_in(mean, vector, around_in) for vector in vectors]
    if len(off) == 1:
        return Measured(repeats[0], 1, None, None)
    sd = math.sqrt(sum(arc**2 for arc in off) / (len(off) - 1))
    return Measured(Place.of(mean, around_in), len(off), sd, max(off))
