"""What earlier sessions did to the doubt of the release, as JSON and in words."""

from __future__ import annotations

from typing import Any

from .physics import Physics

_DIGITS = {"rotation_deg": 1, "speed_mph": 2, "rev_rpm": 0}
_SURER = 0.97  # of the doubt alone: above this the earlier sessions tell hardly more


def pooled_json(physics: Physics | None) -> dict[str, Any]:
    """Return how many earlier sessions were fitted along, and the release before and after.

    ``release`` has value and sd of rotation (deg), speed (mph) and rev rate (rpm) by this session
    alone and with the earlier ones; it is empty where none was pooled.
    """
    if physics is None or physics.alone is None:
        return {"sessions": [], "shots": 0, "release": {}, "words": ""}
    before, after = physics.alone.release, physics.fit.release
    release = {
        name: {
            "alone": round(before[name][0], digits),
            "alone_sd": round(before[name][1], max(digits, 1)),
            "together": round(after[name][0], digits),
            "together_sd": round(after[name][1], max(digits, 1)),
        }
        for name, digits in _DIGITS.items()
    }
    return {
        "sessions": [session.on for session in physics.pooled],
        "shots": physics.pooled_shots,
        "release": release,
        "words": _words(len(physics.pooled), physics.pooled_shots, release["rotation_deg"]),
    }


def _words(sessions: int, shots: int, rotation: dict[str, float]) -> str:
    with_whom = (
        f"Read together with {sessions} earlier session{'' if sessions == 1 else 's'} "
        f"({shots} shots)"
    )
    before, after = rotation["alone_sd"], rotation["together_sd"]
    if after > _SURER * before:
        return f"{with_whom}, which tell hardly more of the axis rotation than this one alone."
    return f"{with_whom}: the axis rotation is known to ± {after:.1f} deg instead of {before:.1f}."
