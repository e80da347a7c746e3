"""Where bodies touch: gaps, directions and points of contact between ball, pins and deck.

Compiled with numba; used by the solver only. A pin is its axis with the envelope of spheres of
``shape``; the sphere nearest to a point is looked up in a table over the point's place along and
beside the axis, and then refined, so that the surface is smooth. Frame: ``x`` to the right across
the deck, ``y`` toward the pit, ``z`` up, origin on the deck under the head pin's spot. Lengths are
metres.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from .compiled import inner
from .shape import Pin

_CELL = 0.0025  # m, of the table of nearest spheres
_ALONG = 0.16  # m, how far the table reaches beyond both ends of the axis
_BESIDE = 0.20  # m, how far beside the axis
_COARSE = 10  # every tenth sphere of the envelope is tried first: 13 of 121


class Shape(NamedTuple):
    """A pin's envelope for the compiled code: spheres and the table of the nearest one."""

    centre: NDArray[np.float64]
    radius: NDArray[np.float64]
    nearest: NDArray[np.int16]
    first: float
    spacing: float
    cg: float
    bearing: float
    fattest: float


def make_shape(pin: Pin) -> Shape:
    """Return the compiled code's view of a pin, with the nearest sphere for each place."""
    along = np.arange(-_ALONG, pin.height + _ALONG, _CELL)
    beside = np.arange(0.0, _BESIDE, _CELL)
    reach = (
        np.hypot(along[:, None, None] - pin.centre[None, None, :], beside[None, :, None])
        - pin.radius
    )
    return Shape(
        pin.centre,
        pin.radius,
        np.argmin(reach, axis=2).astype(np.int16),
        float(pin.centre[0]),
        float(pin.centre[1] - pin.centre[0]),
        pin.cg,
        pin.bearing,
        float(pin.radius.max()),
    )


@inner
def _cell(shape, along, beside):
    i = int((along + _ALONG) / _CELL + 0.5)
    j = int(beside / _CELL + 0.5)
    i = min(max(i, 0), shape.nearest.shape[0] - 1)
    j = min(j, shape.nearest.shape[1] - 1)
    return shape.nearest[i, j]


@inner
def _parabola(low, mid, high):
    """Return the lowest point of a parabola through three values at -1, 0, 1, held within them."""
    bend = low - 2.0 * mid + high
    if bend <= 1e-15:
        return 0.0
    return min(max(0.5 * (low - high) / bend, -1.0), 1.0)


@inner
def _sphere_at(shape, along, beside):
    """Return (centre, radius) of the envelope's sphere nearest to a point beside the axis."""
    k = _cell(shape, along, beside)
    last = len(shape.centre) - 1
    centre, radius = shape.centre[k], shape.radius[k]
    if 0 < k < last:
        low = math.hypot(along - shape.centre[k - 1], beside) - shape.radius[k - 1]
        mid = math.hypot(along - centre, beside) - radius
        high = math.hypot(along - shape.centre[k + 1], beside) - shape.radius[k + 1]
        u = _parabola(low, mid, high)
        centre += u * shape.spacing
        radius += 0.5 * u * (shape.radius[k + 1] - shape.radius[k - 1]) + 0.5 * u * u * (
            shape.radius[k + 1] - 2.0 * shape.radius[k] + shape.radius[k - 1]
        )
    return centre, radius


@inner
def point_to_pin(p, r, a, shape, out):
    """Return the distance from a point to a pin's skin; ``out`` gets the unit normal, pin to point.

    ``p`` (3,) the point, ``r`` and ``a`` (3,) the pin's centre of gravity and axis.
    """
    dx, dy, dz = p[0] - r[0], p[1] - r[1], p[2] - r[2]
    on_axis = dx * a[0] + dy * a[1] + dz * a[2]
    beside = math.sqrt(max(dx * dx + dy * dy + dz * dz - on_axis * on_axis, 0.0))
    centre, radius = _sphere_at(shape, on_axis + shape.cg, beside)
    h = centre - shape.cg
    nx, ny, nz = dx - h * a[0], dy - h * a[1], dz - h * a[2]
    length = math.sqrt(nx * nx + ny * ny + nz * nz)
    out[0], out[1], out[2] = nx / length, ny / length, nz / length
    return length - radius


@inner
def pin_to_pin(r1, a1, r2, a2, shape, out):
    """Return (gap, radius of the touching sphere of pin 1, its height from the centre of gravity).

    ``out`` (3,) gets the unit normal from pin 2 to pin 1.
    """
    bx, by, bz = r1[0] - r2[0], r1[1] - r2[1], r1[2] - r2[2]
    b1 = bx * a1[0] + by * a1[1] + bz * a1[2]
    b2 = bx * a2[0] + by * a2[1] + bz * a2[2]
    bb = bx * bx + by * by + bz * bz
    cross = a1[0] * a2[0] + a1[1] * a2[1] + a1[2] * a2[2]
    best = 1e9
    k = 0
    for i in range(0, len(shape.centre), _COARSE):
        gap = _sphere_gap(shape, i, b1, b2, bb, cross)
        if gap < best:
            best = gap
            k = i
    for step in (_COARSE // 2, 2, 1):
        for i in (k - step, k + step):
            if 0 <= i < len(shape.centre):
                gap = _sphere_gap(shape, i, b1, b2, bb, cross)
                if gap < best:
                    best = gap
                    k = i
    h = shape.centre[k] - shape.cg
    radius = shape.radius[k]
    if 0 < k < len(shape.centre) - 1:
        low = _sphere_gap(shape, k - 1, b1, b2, bb, cross)
        high = _sphere_gap(shape, k + 1, b1, b2, bb, cross)
        u = _parabola(low, best, high)
        h += u * shape.spacing
        radius += 0.5 * u * (shape.radius[k + 1] - shape.radius[k - 1])
    p = (r1[0] + h * a1[0], r1[1] + h * a1[1], r1[2] + h * a1[2])
    return point_to_pin(p, r2, a2, shape, out) - radius, radius, h


@inner
def _sphere_gap(shape, i, b1, b2, bb, cross):
    """Return the gap between sphere ``i`` of pin 1 and pin 2, both told by dot products."""
    h = shape.centre[i] - shape.cg
    on_axis = b2 + h * cross
    square = bb + 2.0 * h * b1 + h * h
    beside = math.sqrt(max(square - on_axis * on_axis, 0.0))
    k = _cell(shape, on_axis + shape.cg, beside)
    far = on_axis + shape.cg - shape.centre[k]
    return math.sqrt(beside * beside + far * far) - shape.radius[k] - shape.radius[i]


@inner
def axes_apart(r1, a1, r2, a2, below, above):
    """Return the distance between two axes, each from ``below`` to ``above`` its centre.

    After the closest points of two segments in any text on collision detection.
    """
    dx, dy, dz = r1[0] - r2[0], r1[1] - r2[1], r1[2] - r2[2]
    b = a1[0] * a2[0] + a1[1] * a2[1] + a1[2] * a2[2]
    d1 = dx * a1[0] + dy * a1[1] + dz * a1[2]
    d2 = dx * a2[0] + dy * a2[1] + dz * a2[2]
    denominator = 1.0 - b * b
    s = (b * d2 - d1) / denominator if denominator > 1e-9 else 0.0
    s = min(max(s, -below), above)
    t = min(max(d2 + s * b, -below), above)
    s = min(max(t * b - d1, -below), above)
    gx = dx + s * a1[0] - t * a2[0]
    gy = dy + s * a1[1] - t * a2[1]
    gz = dz + s * a1[2] - t * a2[2]
    return math.sqrt(gx * gx + gy * gy + gz * gz)
