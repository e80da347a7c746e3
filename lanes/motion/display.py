"""A ball's speed as a centre's display shows it, against its speed at release."""

from __future__ import annotations

import numpy as np

from .balls import BallSpec
from .friction import Lane
from .geometry import HEAD_PIN_FT
from .path import Release, launch_for_target, roll

PLACES = ("unknown", "release", "midlane", "average", "pins")
_MIDLANE_FT = 30.0
# Any ordinary line: the loss hardly depends on where across the lane the ball runs.
_LAYDOWN, _TARGET = 20.0, 12.0


def speed_loss(
    place: str,
    speed_mph: float,
    rev_rpm: float,
    rotation_deg: float,
    tilt_deg: float,
    ball: BallSpec,
    lane: Lane,
) -> float:
    """Return how much slower than at release a throw of this kind is shown, in mph.

    ``place`` is one of ``PLACES``; where it is unknown nothing is taken off, and the doubt of the
    display that every fit has (``ReleasePrior.display_sd``) stands for it. Computed from the ball's
    path: some 0.7 mph at mid-lane, 1.3 for the average over the lane, 3 at the pins (published:
    2.5 to 3 mph overall). Raises ``ValueError`` for another place.
    """
    if place not in PLACES:
        raise ValueError(f"place: {place!r} given, one of {', '.join(PLACES)} expected")
    if place in ("unknown", "release"):
        return 0.0
    launch = launch_for_target(_LAYDOWN, _TARGET)
    path = roll(Release(speed_mph, rev_rpm, rotation_deg, tilt_deg, _LAYDOWN, launch), ball, lane)
    if place == "midlane":
        return speed_mph - float(np.interp(_MIDLANE_FT, path.path_ft, path.path_mph))
    if path.speed_at_pins_mph is None:
        return 0.0
    if place == "pins":
        return speed_mph - path.speed_at_pins_mph
    return speed_mph - HEAD_PIN_FT / path.time_s * 3600.0 / 5280.0
