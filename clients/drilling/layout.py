"""A layout: where pin and mass bias lie against the bowler's axis.

Three ways of telling the same thing, each turned into the others:

- **places**: pin and mass bias over and up from the grip centre, as the PAP is given;
- **one distance and two angles**: pin to PAP; at the pin, between the arcs to the PAP and to the
  mass bias; at the PAP, between the arc to the pin and the vertical axis line (VAL);
- **three distances**: pin to PAP, mass bias to PAP, pin to VAL.

The VAL is the full circle through the PAP that crosses the midline at a right angle. The mass bias
lies a quarter of the way around the ball from the pin: 6.75 in on a 27-in ball.

Signs. The angle at the PAP is counted from the VAL's upper arm toward the grip centre: 0 to 180 for
a pin on the grip's side of the VAL, negative beyond it. The angle at the pin is counted from the
arc to the PAP the way that leads, for a pin on the grip's side, toward the VAL's lower arm
(clockwise for a right-hander who looks at the ball from outside): 0 to 180 for the usual mass bias,
negative on the other side of that arc. Angles between -180 and 180 are taken, and come back so.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from .sphere import (
    AROUND_IN,
    GRIP_CENTRE,
    Place,
    Vector,
    destination,
    distance_in,
    distance_to_meridian_in,
    heading,
    inches,
    radians,
    turn_deg,
    turned,
    up_from,
)

# How far a measured mass bias may lie from its quarter turn before it is said: pin and mass bias
# are marked to about a sixteenth and read to about an eighth of an inch (assumed).
MASS_BIAS_SLACK_IN = 0.25


class LayoutError(ValueError):
    """Numbers that no ball can have; ``field`` names the one at fault."""

    def __init__(self, field: str, message: str) -> None:
        self.field = field
        super().__init__(message)


@dataclass(frozen=True)
class Layout:
    """Pin and mass bias of one ball against one bowler's PAP, inches and degrees.

    ``mass_bias`` is ``None`` for a symmetric ball, or where nothing tells where it is. Distances
    and angles that need what is missing are ``None``; ``notes`` says which and why.
    """

    pap: Place
    pin: Place
    mass_bias: Place | None = None
    around_in: float = AROUND_IN

    @classmethod
    def from_angles(
        cls,
        pap: Place,
        pin_to_pap_in: float,
        angle_at_pin_deg: float | None,
        angle_at_pap_deg: float,
        around_in: float = AROUND_IN,
    ) -> Layout:
        """Return the places of pin and mass bias from the distance and the two angles.

        ``angle_at_pin_deg`` is ``None`` for a symmetric ball, which has no mass bias. With the pin
        on the PAP, or right opposite to it, the angles say nothing of the mass bias, which is then
        ``None`` too. Raises ``LayoutError`` for a PAP at the very top or bottom, where no VAL is,
        and for a distance under nothing or over half the way around.
        """
        if not 0.0 <= pin_to_pap_in <= around_in / 2.0:
            raise LayoutError("pin_to_pap_in", f"0 to {around_in / 2:g} in expected")
        axis = pap.vector(around_in)
        up = up_from(axis)
        if up is None:
            raise LayoutError("pap", "no vertical axis line runs through the top of the ball")
        to_pin = turned(axis, up, angle_at_pap_deg)
        pin = destination(axis, to_pin, pin_to_pap_in, around_in)
        to_axis = heading(pin, axis)
        mass_bias = None
        if to_axis is not None and angle_at_pin_deg is not None:
            way = turned(pin, to_axis, -angle_at_pin_deg)
            mass_bias = Place.of(destination(pin, way, around_in / 4.0, around_in), around_in)
        return cls(pap, Place.of(pin, around_in), mass_bias, around_in)

    @classmethod
    def from_distances(
        cls,
        pap: Place,
        pin_to_pap_in: float,
        mass_bias_to_pap_in: float,
        pin_to_val_in: float,
        pin_above: bool = True,
        around_in: float = AROUND_IN,
    ) -> Layout:
        """Return the layout of three distances, pin on the grip's side and angles 0 to 180.

        Distances alone do not tell whether the pin stands above or below the line that crosses the
        VAL square at the PAP: ``pin_above`` does. Spherical cosine and sine rule, with a quarter
        turn from pin to mass bias: ``cos c = sin p cos D``, ``sin b = sin p sin V``. Raises
        ``LayoutError`` where no ball has such distances.
        """
        reach = math.sin(radians(pin_to_pap_in, around_in))
        if not 0.0 < pin_to_pap_in < around_in / 2.0:
            raise LayoutError("pin_to_pap_in", f"more than 0, under {around_in / 2:g} in expected")
        toward = math.cos(radians(mass_bias_to_pap_in, around_in)) / reach
        aside = math.sin(radians(pin_to_val_in, around_in)) / reach
        if not -1.0 - 1e-12 <= toward <= 1.0 + 1e-12:
            quarter = around_in / 4.0
            near = abs(quarter - pin_to_pap_in)
            raise LayoutError(
                "mass_bias_to_pap_in",
                f"{near:.2f} to {2 * quarter - near:.2f} in expected with the pin "
                f"{pin_to_pap_in:g} in from the PAP",
            )
        if not 0.0 <= pin_to_val_in <= around_in / 4.0 or aside > 1.0 + 1e-12:
            most = inches(math.asin(min(reach, 1.0)), around_in)
            raise LayoutError(
                "pin_to_val_in",
                f"0 to {most:.2f} in expected with the pin {pin_to_pap_in:g} in from the PAP",
            )
        at_pin = math.degrees(math.acos(max(-1.0, min(1.0, toward))))
        at_pap = math.degrees(math.asin(min(1.0, aside)))
        at_pap = at_pap if pin_above else 180.0 - at_pap
        return cls.from_angles(pap, pin_to_pap_in, at_pin, at_pap, around_in)

    @property
    def pin_to_pap_in(self) -> float:
        return distance_in(self._pin, self._pap, self.around_in)

    @property
    def pin_to_grip_centre_in(self) -> float:
        return distance_in(self._pin, GRIP_CENTRE.vector(), self.around_in)

    @property
    def pin_to_val_in(self) -> float:
        """The shortest way from the pin to the VAL, on whichever side of it."""
        return distance_to_meridian_in(self._pin, self._pap, self.around_in)

    @property
    def mass_bias_to_pap_in(self) -> float | None:
        if self.mass_bias is None:
            return None
        return distance_in(self.mass_bias.vector(self.around_in), self._pap, self.around_in)

    @property
    def pin_to_mass_bias_in(self) -> float | None:
        if self.mass_bias is None:
            return None
        return distance_in(self.mass_bias.vector(self.around_in), self._pin, self.around_in)

    @property
    def angle_at_pin_deg(self) -> float | None:
        """From the arc to the PAP to the arc to the mass bias (signs: see the module)."""
        if self.mass_bias is None:
            return None
        to_axis = heading(self._pin, self._pap)
        to_mass_bias = heading(self._pin, self.mass_bias.vector(self.around_in))
        if to_axis is None or to_mass_bias is None:
            return None
        return _told(-turn_deg(self._pin, to_axis, to_mass_bias))

    @property
    def angle_at_pap_deg(self) -> float | None:
        """From the VAL's upper arm to the arc to the pin (signs: see the module)."""
        up, to_pin = up_from(self._pap), heading(self._pap, self._pin)
        if up is None or to_pin is None:
            return None
        return _told(turn_deg(self._pap, up, to_pin))

    @property
    def notes(self) -> list[str]:
        """What cannot be told of this layout, or looks wrong in it, in whole sentences."""
        notes = []
        if self.angle_at_pap_deg is None:
            notes.append("The pin is on the axis: the two angles say nothing there.")
        if self.mass_bias is None:
            notes.append("No mass bias: the angle at the pin and its distances are left out.")
        apart, quarter = self.pin_to_mass_bias_in, self.around_in / 4.0
        if apart is not None and abs(apart - quarter) > MASS_BIAS_SLACK_IN:
            notes.append(
                f"Pin and mass bias are {apart:.2f} in apart where {quarter:.2f} in are expected: "
                "measure again."
            )
        return notes

    @cached_property
    def _pap(self) -> Vector:
        return self.pap.vector(self.around_in)

    @cached_property
    def _pin(self) -> Vector:
        return self.pin.vector(self.around_in)


def _told(angle: float) -> float:
    """Return the angle with half a turn told as 180, on whichever side rounding left it."""
    return 180.0 if angle < -180.0 + 1e-9 else angle + 0.0
