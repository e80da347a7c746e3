"""The radius of gyration about the bowler's own axis, from the layout."""

from __future__ import annotations

import math

from .layout import Layout
from .sphere import radians


def rg_about_axis_in(
    layout: Layout, rg_in: float, differential_in: float, intermediate_in: float = 0.0
) -> float | None:
    """Return the RG about the axis at release, inches.

    ``rg_in`` is the low RG, about the pin; the one about the mass bias is ``differential_in``
    higher, the third ``intermediate_in`` under that. From the tensor of inertia:
    ``RG^2 = lo^2 cos^2 t + hi^2 sin^2 t`` for a symmetric ball whose pin lies ``t`` from the axis.
    ``None`` for an asymmetric ball whose mass bias is not told.
    """
    high = rg_in + differential_in
    pin = math.cos(radians(layout.pin_to_pap_in, layout.around_in)) ** 2
    if not intermediate_in:
        return math.sqrt(rg_in**2 * pin + high**2 * (1.0 - pin))
    if layout.mass_bias_to_pap_in is None:
        return None
    bias = math.cos(radians(layout.mass_bias_to_pap_in, layout.around_in)) ** 2
    third = max(0.0, 1.0 - pin - bias)
    return math.sqrt(rg_in**2 * pin + high**2 * bias + (high - intermediate_in) ** 2 * third)
