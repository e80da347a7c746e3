"""Blows that last: ball, pins and deck push on each other at once, as springs with dry friction.

A rigid blow has no answer to which of two contacts gives way first: a ball that rolls onto a pin
pushes it down as well as along, and how much of that the deck gives back while the ball still
pushes depends on how stiff either is. Here every contact of the moment is a spring, stiffer on the
way out than on the way in (``k`` and ``k / e^2``), so it gives back the share ``e^2`` of the work
put in: Stronge's restitution by energy (Impact Mechanics, 2000). Friction is Coulomb's, followed
as slip changes through the blow. Directions and arms stay as they are at the first touch, for a
blow is over within about a millisecond. Energy cannot rise. Compiled with numba; SI units.
"""

from __future__ import annotations

import math

from .compiled import inner
from .impulse import ease_along, relative, strike_both

MICRO = 2e-5  # s; a fifteenth of the shortest way out (tests hold it to a finer one)
_LONGEST = 0.003  # s; a pin caught between two bodies may rattle on: what is left is solved after


@inner
def press(bodies, contacts, count, touched, before_v, before_w, stiff, deepest, micro):
    """Carry ``count`` contacts through their blow in place.

    ``contacts.depth`` holds each overlap at the start, negative for a gap. ``stiff`` (contacts,)
    is in N/m, ``deepest`` is work space of the same length, the others are those of ``solve``.
    """
    touched[:] = False
    for c in range(count):
        touched[contacts.first[c]] = True
        if contacts.second[c] >= 0:
            touched[contacts.second[c]] = True
        contacts.push[c] = 0.0
        contacts.drag[c, 0] = contacts.drag[c, 1] = contacts.drag[c, 2] = 0.0
        deepest[c] = 0.0
    for i in range(len(touched)):
        if touched[i]:
            for k in range(3):
                before_v[i, k] = bodies.v[i, k]
                before_w[i, k] = bodies.w[i, k]
    for _ in range(int(_LONGEST / micro)):
        pressed = False
        for c in range(count):
            nx, ny, nz = contacts.normal[c, 0], contacts.normal[c, 1], contacts.normal[c, 2]
            x, y, z = relative(bodies, contacts, c)
            opening = x * nx + y * ny + z * nz
            depth = contacts.depth[c] - micro * opening
            contacts.depth[c] = depth
            if depth <= 0.0:
                deepest[c] = 0.0
                continue
            deepest[c] = max(deepest[c], depth)
            k = stiff[c]
            hard = k / (contacts.bounce[c] * contacts.bounce[c])
            force = min(k * depth, k * deepest[c] - hard * (deepest[c] - depth))
            if force <= 0.0:
                continue
            pressed = True
            push = force * micro
            contacts.push[c] += push
            strike_both(bodies, contacts, c, push * nx, push * ny, push * nz)
            x, y, z = relative(bodies, contacts, c)
            opening = x * nx + y * ny + z * nz
            x -= opening * nx
            y -= opening * ny
            z -= opening * nz
            speed = math.sqrt(x * x + y * y + z * z)
            if speed < 1e-9:
                continue
            x, y, z = x / speed, y / speed, z / speed
            drag = min(
                contacts.friction[c] * push, speed / ease_along(bodies, contacts, c, x, y, z)
            )
            strike_both(bodies, contacts, c, -drag * x, -drag * y, -drag * z)
            contacts.drag[c, 0] -= drag * x
            contacts.drag[c, 1] -= drag * y
            contacts.drag[c, 2] -= drag * z
        if not pressed:
            break
