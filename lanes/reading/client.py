"""What is known of a student, and the JSON file that says it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from lanes.motion import COVERS, BallSpec
from lanes.motion.balls import LIMITS as BALL_LIMITS
from lanes.motion.path import LIMITS as RELEASE_LIMITS

RELEASE = ("speed_mph", "rev_rpm", "rotation_deg", "tilt_deg")
HANDS = ("right", "left")
HOOKS = ("usual", "backup")

# Numbers that a client file may hold beside those that the motion model limits itself; the wider
# of what is possible (a PAP lies within a quarter of a 27-in ball).
_OTHER_LIMITS = {
    "pap_over_in": (-6.75, 6.75),
    "pap_up_in": (-6.75, 6.75),
}
_BALL_NUMBERS = (
    "grit",
    "rg_in",
    "differential_in",
    "intermediate_in",
    "mass_lb",
    "pin_to_pap_in",
    "angle_at_pin_deg",
    "angle_at_pap_deg",
)
_MOST_BALLS = 50
_LONGEST_NAME = 60


class ClientError(ValueError):
    """The client file cannot be used; the message names the field and what was expected."""


@dataclass(frozen=True)
class ClientFacts:
    """What is known of the student; everything but the hand may be ``None``.

    ``hook`` is ``usual`` or ``backup`` (a ball that curves toward the bowler's own strong side).
    """

    hand: str
    hook: str = "usual"
    speed_mph: float | None = None
    rev_rpm: float | None = None
    rotation_deg: float | None = None
    tilt_deg: float | None = None

    @property
    def assumed(self) -> list[str]:
        """What an average has to stand in for."""
        return [name for name in RELEASE if getattr(self, name) is None]


def parse_client(data: bytes) -> tuple[ClientFacts, list[BallSpec]]:
    """Return the student and the balls at hand from a JSON object in UTF-8.

    ``hand`` is required, everything else may be missing or null; unknown fields are passed over.
    Raises :class:`ClientError`.
    """
    try:
        found = json.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise ClientError("not UTF-8 text; a JSON object expected") from None
    except (ValueError, RecursionError) as error:  # a number of thousands of digits too
        line = f" (line {error.lineno})" if isinstance(error, json.JSONDecodeError) else ""
        raise ClientError(f"not JSON{line}; a JSON object expected") from None
    if not isinstance(found, dict):
        raise ClientError("a JSON object expected")
    hand = _choice(found, "hand", HANDS, "hand")
    if hand is None:
        raise ClientError(f"hand: missing; one of {', '.join(HANDS)} expected")
    for name in ("pap_over_in", "pap_up_in"):
        _number(found, name, _OTHER_LIMITS[name], name)
    client = ClientFacts(
        hand=hand,
        hook=_choice(found, "hook", HOOKS, "hook") or "usual",
        **{name: _number(found, name, RELEASE_LIMITS[name], name) for name in RELEASE},
    )
    return client, _balls(found.get("balls"))


def _balls(found: Any) -> list[BallSpec]:
    if found is None:
        return []
    if not isinstance(found, list) or len(found) > _MOST_BALLS:
        raise ClientError(f"balls: a list of at most {_MOST_BALLS} balls expected")
    balls = [_ball(ball, f"balls[{place}]") for place, ball in enumerate(found, start=1)]
    names = [ball.name for ball in balls]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise ClientError(f"balls: {twice!r} is there twice; each ball needs its own name")
    return balls


def _ball(found: Any, where: str) -> BallSpec:
    if not isinstance(found, dict):
        raise ClientError(f"{where}: a JSON object expected")
    name = found.get("name")
    if not isinstance(name, str) or not 0 < len(name.strip()) <= _LONGEST_NAME:
        raise ClientError(f"{where}.name: a text of 1 to {_LONGEST_NAME} letters expected")
    if not name.strip().isprintable():  # a shot log on one line could not hold it
        raise ClientError(f"{where}.name: {name!r} given, letters without control signs expected")
    polished = found.get("polished")
    if polished is not None and not isinstance(polished, bool):
        raise ClientError(f"{where}.polished: {polished!r} given, true or false expected")
    return BallSpec(
        name=name.strip(),
        cover=_choice(found, "cover", COVERS, f"{where}.cover"),
        polished=polished,
        **{n: _number(found, n, BALL_LIMITS[n], f"{where}.{n}") for n in _BALL_NUMBERS},
    )


def _choice(found: dict[str, Any], name: str, choices: tuple[str, ...], where: str) -> str | None:
    value = found.get(name)
    if value is None:
        return None
    if value not in choices:
        raise ClientError(f"{where}: {value!r} given, one of {', '.join(choices)} expected")
    return str(value)


def _number(
    found: dict[str, Any], name: str, limits: tuple[float, float], where: str
) -> float | None:
    value = found.get(name)
    if value is None:
        return None
    low, high = limits
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise ClientError(f"{where}: {value!r} given, a number from {low:g} to {high:g} expected")
    return float(value)
