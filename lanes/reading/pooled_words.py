"""What earlier sessions did to the doubt of release and balls, as JSON and in words."""

from __future__ import annotations

from typing import Any

import numpy as np

from .physics import Physics

_DIGITS = {"rotation_deg": 1, "speed_mph": 2, "rev_rpm": 0}
_SURER = 0.97  # of the doubt alone: above this the earlier sessions tell hardly more


def pooled_json(physics: Physics | None) -> dict[str, Any]:
    """Return how many earlier sessions were fitted along, and the doubt before and after.

    ``release`` has value and sd of rotation (deg), speed (mph) and rev rate (rpm), ``balls`` the
    friction of each ball that was thrown against the expected one, by this session alone and with
    the earlier ones. Both are empty where none was pooled.
    """
    if physics is None or physics.alone is None:
        return {"sessions": [], "shots": 0, "release": {}, "balls": [], "words": ""}
    before, after = physics.alone, physics.fit
    release = {
        name: _pair(before.release[name], after.release[name], digits)
        for name, digits in _DIGITS.items()
    }
    balls = [
        {"name": ball.name, **_pair(one, other, 2)}
        for place, (ball, one, other) in enumerate(
            zip(
                physics.balls,
                zip(before.ball_scale, before.ball_scale_sd, strict=True),
                zip(after.ball_scale, after.ball_scale_sd, strict=True),
                strict=True,
            )
        )
        if place in physics.thrown
    ]
    return {
        "sessions": [session.on for session in physics.pooled],
        "shots": physics.pooled_shots,
        "release": release,
        "balls": balls,
        "words": _words(physics),
    }


def _pair(
    alone: tuple[float, float], together: tuple[float, float], digits: int
) -> dict[str, float]:
    """Return values and sds, these to one digit more."""
    return {
        "alone": round(float(alone[0]), digits),
        "alone_sd": round(float(alone[1]), digits + 1),
        "together": round(float(together[0]), digits),
        "together_sd": round(float(together[1]), digits + 1),
    }


def _words(physics: Physics) -> str:
    assert physics.alone is not None
    many, shots = len(physics.pooled), physics.pooled_shots
    told = f"Read together with {many} earlier session{'' if many == 1 else 's'} ({shots} shots)"
    surer = []
    before, after = physics.alone.rotation_sd, physics.fit.rotation_sd
    if after < _SURER * before:
        surer.append(f"the axis rotation to ± {after:.1f} deg instead of {before:.1f}")
    most = int(np.bincount(physics.thrown).argmax())
    before, after = physics.alone.ball_scale_sd[most], physics.fit.ball_scale_sd[most]
    if after < _SURER * before:
        surer.append(
            f"the friction of ball {physics.balls[most].name} to ± {100 * after:.1f} % "
            f"instead of {100 * before:.1f}"
        )
    if not surer:
        return f"{told}, which tell hardly more of release and balls than this one alone."
    return f"{told}. That tells {' and '.join(surer)}."
