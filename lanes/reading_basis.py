"""What a reading rests on besides its own shots, as the report shows it."""

from __future__ import annotations

import datetime as dt
from typing import Any

from lanes.rereadings import CHECKPOINTS
from lanes.shotlog import BY_NAME

_RELEASE = (
    ("rotation_deg", "Axis rotation", "deg"),
    ("speed_mph", "Speed at the foul line", "mph"),
    ("rev_rpm", "Rev rate", "rpm"),
)


def context(reading: dict[str, Any]) -> dict[str, Any]:
    """Return release and balls with and without earlier sessions, and the reading error used.

    A reading by an earlier version says less; what it lacks is left out.
    """
    pooled = reading.get("pooled") or {}
    release = pooled.get("release") or {}
    sizes = reading["fit"].get("reading_error") or {}
    own = reading["fit"].get("reading_error_own")
    return {
        "pooled_rows": [
            {"label": label, "unit": unit, **release[name]}
            for name, label, unit in _RELEASE
            if name in release
        ]
        + [
            {"label": f"Friction of ball {ball['name']}", "unit": "times", **ball}
            for ball in pooled.get("balls") or []
        ],
        "pooled_on": [dt.date.fromisoformat(day) for day in pooled.get("sessions", [])],
        "errors_used": [
            {
                "label": BY_NAME[name].label.lower(),
                "unit": BY_NAME[name].unit,
                "size": sizes[name],
                "is_own": name in own,
            }
            for name in CHECKPOINTS
            if own is not None and name in sizes
        ],
        "errors_own": _share(own or []),
        "law_own": reading["fit"].get("law_own"),
    }


def _share(own: list[str]) -> str:
    """Say where the error was measured and where it is assumed."""
    if not own:
        return "assumed"
    if len(own) == len(CHECKPOINTS):
        return "measured"
    return f"measured at {len(own)} of {len(CHECKPOINTS)} check-points"
