"""Track flare: the rings that the contact point draws on the ball, one for each revolution.

Over one revolution the contact point runs around a circle about the axis of rotation. Where the
moments of inertia are unequal the axis migrates through the ball, so that each ring lies a little
beside the last. A ring is told by the **pole** it runs around, the positive end of the axis in the
body frame, and its angular **radius** about that pole: 90 degrees plus the tilt (a track's radius
about the *other* end is 90 degrees less the tilt). Inches run along a 27-in ball.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .geometry import BALL_CIRCUMFERENCE_IN

DEG_PER_IN = 360.0 / BALL_CIRCUMFERENCE_IN


@dataclass(frozen=True, eq=False)
class Rings:
    """The rings of one ball on its way to the pins, first to last, a whole revolution each.

    ``poles`` (m, 3) are unit vectors in the body frame of the ball's ``Orientation``: the mean axis
    over that revolution. ``radius_deg`` (m,) is the ring's angular radius about its pole, ``at_ft``
    (m,) where the ball was half way through the revolution.
    """

    poles: NDArray[np.float64]
    radius_deg: NDArray[np.float64]
    at_ft: NDArray[np.float64]

    def until(self, ft: float | None) -> Rings:
        """Return the rings up to a distance, all of them for ``None``.

        The last one then stands at that distance, between its neighbours, so that the flare grows
        smoothly with the distance and not by a ring at a time.
        """
        if ft is None or not len(self.at_ft) or ft >= self.at_ft[-1]:
            return self
        n = int(np.searchsorted(self.at_ft, ft))
        if n == 0:
            return Rings(self.poles[:0], self.radius_deg[:0], self.at_ft[:0])
        part = (ft - self.at_ft[n - 1]) / (self.at_ft[n] - self.at_ft[n - 1])
        pole = (1.0 - part) * self.poles[n - 1] + part * self.poles[n]
        radius = (1.0 - part) * self.radius_deg[n - 1] + part * self.radius_deg[n]
        return Rings(
            np.vstack([self.poles[:n], pole / np.linalg.norm(pole)]),
            np.append(self.radius_deg[:n], radius),
            np.append(self.at_ft[:n], ft),
        )


def flare_in(rings: Rings) -> float:
    """Return the widest distance between the first and the last ring, inches.

    Zero with fewer than two rings. Give it ``rings.until(roll_start_ft)`` for the flare that is
    seen on a ball: what it draws while it slips through oil.
    """
    if len(rings.poles) < 2:
        return 0.0
    return float(
        between_in(rings.poles[0], rings.radius_deg[0], rings.poles[-1], rings.radius_deg[-1])
    )


def between_in(
    pole: ArrayLike, radius_deg: ArrayLike, other_pole: ArrayLike, other_radius_deg: ArrayLike
) -> NDArray[np.float64]:
    """Return the widest distance from a circle on the ball to another one, inches (broadcast).

    Poles have shape (..., 3). The points of the other circle lie between ``|apart - radius|`` and
    ``apart + radius`` from the first pole, with ``apart`` the angle between poles; the distance to
    the first circle is how far that is from its own radius. Exact.
    """
    one, other = np.asarray(pole, dtype=float), np.asarray(other_pole, dtype=float)
    first, second = np.asarray(radius_deg, dtype=float), np.asarray(other_radius_deg, dtype=float)
    across = np.linalg.norm(np.cross(one, other), axis=-1)
    apart = np.degrees(np.arctan2(across, np.sum(one * other, axis=-1)))
    far = apart + second
    far = np.where(far > 180.0, 360.0 - far, far)
    near = np.abs(apart - second)
    widest = np.maximum(np.abs(far - first), np.abs(near - first))
    return np.asarray(widest / DEG_PER_IN)


def clearance_in(rings: Rings, places: ArrayLike, hole_radius_in: ArrayLike) -> NDArray[np.float64]:
    """Return how far the nearest ring passes from each hole's edge, inches, shape (p,).

    ``places`` (p, 3) are unit vectors to the holes' centres in the same body frame,
    ``hole_radius_in`` a number or (p,). Negative where a ring crosses the hole; infinite without
    rings. The ring is a line here: a real track is a strip about a quarter inch wide.
    """
    places = np.atleast_2d(np.asarray(places, dtype=float))
    if len(rings.poles) == 0:
        return np.full(len(places), np.inf)
    across = np.linalg.norm(np.cross(places[:, None], rings.poles[None]), axis=-1)
    away = np.degrees(np.arctan2(across, places @ rings.poles.T))  # (p, m)
    nearest = np.abs(away - rings.radius_deg).min(axis=1) / DEG_PER_IN
    return np.asarray(nearest - hole_radius_in)
