"""How a ball's mass lies against the axis that the bowler turns it about.

Body frame of ``from_angles``: that of places on the ball, in which a place (over, up) in inches
along a 27-in ball is ``(cos(up) sin(over), sin(up), cos(up) cos(over))``. Here the PAP is put on
the midline, a quarter turn from z, so that it is x; y points up along the vertical axis line (VAL)
and z to the grip's side::

            y  up, VAL's upper arm            angle at the PAP: from the VAL's upper arm toward z
            |                                 angle at the pin: from the arc to the PAP to the arc
            |   pin                           to the mass bias, turning toward the VAL's lower arm
            |  /
            | / pin to PAP, in                seen from outside at the PAP, right-hander:
            |/
     -------x-------> z  grip's side          (z is drawn to the right for reading; looked at from
            PAP                               outside it lies to the left)

Every bowler is computed as a right-hander; a left-hander's ball is the mirror image, and so is its
layout, since over is toward the PAP for both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from .balls import BallSpec
from .geometry import BALL_CIRCUMFERENCE_IN, INCH_M

Vector = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Orientation:
    """PAP, pin and mass bias as unit vectors (3,) in one right-handed body frame.

    Any frame will do for the motion, but z is taken for the grip centre where the ball's attitude
    at release is assumed (``rigid.py``). Pin and mass bias are square to each other.
    """

    pap: Vector
    pin: Vector
    mass_bias: Vector

    def __post_init__(self) -> None:
        pin = _unit(self.pin)
        across = np.asarray(self.mass_bias, dtype=float)
        # What was measured on a ball is near square, not square: the pin is kept.
        square = across - (across @ pin) * pin
        if not np.linalg.norm(square) > 0.5 * np.linalg.norm(across) > 0.0:
            raise ValueError(
                "mass_bias: a quarter of the way around the ball from the pin expected"
            )
        object.__setattr__(self, "pap", _unit(self.pap))
        object.__setattr__(self, "pin", pin)
        object.__setattr__(self, "mass_bias", _unit(square))

    @classmethod
    def from_angles(
        cls, pin_to_pap_in: float, angle_at_pin_deg: float = 90.0, angle_at_pap_deg: float = 45.0
    ) -> Orientation:
        """Return the orientation of a layout told by one distance and two angles (see module).

        With the pin on the PAP the arc between them has no direction; the limit is taken.
        """
        p = pin_to_pap_in / BALL_CIRCUMFERENCE_IN * 2.0 * math.pi
        at_pin, at_pap = math.radians(angle_at_pin_deg), math.radians(angle_at_pap_deg)
        pap = np.array([1.0, 0.0, 0.0])
        to_pin = np.array([0.0, math.cos(at_pap), math.sin(at_pap)])
        to_pap = math.sin(p) * pap - math.cos(p) * to_pin  # the tangent at the pin
        downward = np.array([0.0, -math.sin(at_pap), math.cos(at_pap)])  # square to that arc
        return cls(
            pap,
            math.cos(p) * pap + math.sin(p) * to_pin,
            math.cos(at_pin) * to_pap + math.sin(at_pin) * downward,
        )

    @classmethod
    def of(cls, ball: BallSpec) -> Orientation:
        """Return the orientation of a ball's own layout, defaults where it is not known."""
        full = ball.filled()
        assert full.pin_to_pap_in is not None
        assert full.angle_at_pin_deg is not None
        assert full.angle_at_pap_deg is not None
        return cls.from_angles(full.pin_to_pap_in, full.angle_at_pin_deg, full.angle_at_pap_deg)

    @cached_property
    def axes(self) -> NDArray[np.float64]:
        """Principal axes as rows (3, 3), right-handed: pin, mass bias, and the third."""
        return np.array([self.pin, self.mass_bias, np.cross(self.pin, self.mass_bias)])


def moments(ball: BallSpec) -> NDArray[np.float64]:
    """Return the principal moments over the mass, m2, (3,): about pin, mass bias, third axis.

    Raises ``ValueError`` for an intermediate differential over the whole one: the third axis would
    then be lower than the pin's, which is the lowest by definition.
    """
    full = ball.filled()
    assert full.rg_in is not None
    assert full.differential_in is not None
    assert full.intermediate_in is not None
    if full.intermediate_in > full.differential_in:
        raise ValueError(
            f"intermediate_in: {full.intermediate_in:g} given, at most the differential "
            f"{full.differential_in:g} expected"
        )
    high = full.rg_in + full.differential_in
    rgs = np.array([full.rg_in, high, high - full.intermediate_in])
    return np.asarray((rgs * INCH_M) ** 2)


def _unit(vector: Vector) -> Vector:
    vector = np.asarray(vector, dtype=float)
    length = float(np.linalg.norm(vector))
    if not 0.0 < length < math.inf:
        raise ValueError("a direction that is not nothing expected")
    return vector / length
