"""Leaves: the pins standing after a delivery, how they are written, named and judged.

A leave is written as the standing pins in order, ``3-6-10``; ``X`` is all ten down on the first
ball, ``/`` the rest down on a later one, ``0`` nothing fell, empty was not recorded. Pin numbers
never mirror: a left-hander's corner is the seven where a right-hander's is the ten.
"""

from __future__ import annotations

import re

ALL_PINS = frozenset(range(1, 11))

# The pins directly behind each pin, in the two diagonal rows of the rack.
_BEHIND = {1: (2, 3), 2: (4, 5), 3: (5, 6), 4: (7, 8), 5: (8, 9), 6: (9, 10)}
# One pin hidden straight behind another; nothing stands between them.
_HIDDEN = ((1, 5), (2, 8), (3, 9))
# Two pins side by side and the pin immediately ahead of the two.
_SIDE_BY_SIDE = {(a, b): front for front, (a, b) in _BEHIND.items()}
_TOUCHING = frozenset(
    frozenset(pair) for front, backs in _BEHIND.items() for pair in ((front, b) for b in backs)
) | frozenset(frozenset(pair) for pair in _HIDDEN)

CORNER_NEIGHBOUR = {10: 6, 7: 4}
_WORDS = {"x": "X", "/": "/", "0": "0", "": ""}

# Names of the trade by definition: the standing pins, and what they are called (common practice, no
# source). Pins do not mirror, so a right-hander's leave and its mirror image both stand here, under
# one name. Splits and washouts without a name of their own follow the rule.
NAMES = {
    frozenset({2, 4, 5, 8}): "bucket",
    frozenset({3, 5, 6, 9}): "bucket",
    frozenset({2, 7}): "baby split",
    frozenset({3, 10}): "baby split",
    frozenset({2, 7, 8}): "baby split with company",
    frozenset({3, 9, 10}): "baby split with company",
    frozenset({7, 10}): "bed posts",
    frozenset({5, 7, 10}): "sour apple",
    frozenset({2, 7, 10}): "Christmas tree",
    frozenset({3, 7, 10}): "Christmas tree",
    frozenset({4, 6, 7, 10}): "big four",
    frozenset({2, 4, 6, 7, 10}): "big five",
    frozenset({3, 4, 6, 7, 10}): "big five",
    frozenset({4, 6, 7, 8, 10}): "Greek church",
    frozenset({4, 6, 7, 9, 10}): "Greek church",
    frozenset({1, 2, 4, 7}): "picket fence",
    frozenset({1, 3, 6, 10}): "picket fence",
    frozenset({1, 5}): "double wood",
    frozenset({2, 8}): "double wood",
    frozenset({3, 9}): "double wood",
}
MIRRORED_PIN = {1: 1, 2: 3, 3: 2, 4: 6, 5: 5, 6: 4, 7: 10, 8: 9, 9: 8, 10: 7}
_NEIGHBOUR_TO_CORNER = {"flat": "flat", "around": "ringing", "into": "into"}


class LeaveError(ValueError):
    """The text is no leave; the message says what was expected."""


def parse_leave(text: str) -> str:
    """Return the canonical form of a leave as someone typed it.

    Accepts the pins in any order, parted by hyphens, dashes, commas, blanks or plus signs; ``x``
    in either case; all ten pins listed is ``0`` (nothing fell). Raises :class:`LeaveError`.
    """
    cleaned = text.strip().lower()
    if cleaned in _WORDS:
        return _WORDS[cleaned]
    parts = [p for p in re.split(r"[\s,+;\u2010-\u2015-]+", cleaned) if p]
    if not parts or not all(p.isascii() and p.isdigit() for p in parts):
        raise LeaveError("expected the standing pins such as 3-6-10, or X, / or 0")
    pins = [int(p) for p in parts]
    strange = [p for p in pins if p not in ALL_PINS]
    if strange:
        raise LeaveError(f"there is no pin {strange[0]}; pins are 1 to 10")
    if len(set(pins)) != len(pins):
        raise LeaveError("a pin is named twice")
    return format_leave(frozenset(pins))


def format_leave(pins: frozenset[int]) -> str:
    """Return the canonical text for a set of standing pins; all ten standing is ``0``.

    No pin standing has two spellings, ``X`` and ``/``, so it is the caller's to say which.
    """
    if not pins:
        raise LeaveError("no pin standing is X on the first ball and / on a later one")
    if pins == ALL_PINS:
        return "0"
    return "-".join(str(p) for p in sorted(pins))


def pins_standing(leave: str, before: frozenset[int] = ALL_PINS) -> frozenset[int] | None:
    """Return the pins standing after a delivery at ``before``; ``None`` where not recorded."""
    if leave == "":
        return None
    if leave in ("X", "/"):
        return frozenset()
    if leave == "0":
        return before
    return frozenset(int(p) for p in leave.split("-"))


def _pieces(pins: frozenset[int]) -> int:
    """Return into how many groups of neighbouring pins the standing pins fall."""
    left, pieces = set(pins), 0
    while left:
        pieces += 1
        edge = [left.pop()]
        while edge:
            pin = edge.pop()
            near = {q for q in left if frozenset((pin, q)) in _TOUCHING}
            left -= near
            edge.extend(near)
    return pieces


def is_split(leave: str) -> bool:
    """Say whether a first-ball leave is a split by the published rule (playing rules, from memory).

    The head pin is down and two or more pins stand with at least one pin down between them (7-9,
    3-10) or immediately ahead of them (5-6).
    """
    pins = pins_standing(leave)
    if pins is None or 1 in pins or len(pins) < 2:
        return False
    if _pieces(pins) > 1:
        return True
    return any(
        a in pins and b in pins and front not in pins for (a, b), front in _SIDE_BY_SIDE.items()
    )


def is_washout(leave: str) -> bool:
    """Say whether the head pin stands apart from other standing pins (common practice)."""
    pins = pins_standing(leave)
    return pins is not None and 1 in pins and pins != ALL_PINS and _pieces(pins) > 1


def strong_corner(hand: str) -> int:
    """Return the corner pin on the bowler's strong side: the ten from the right, else the seven."""
    return 10 if hand == "right" else 7


def weak_corner(hand: str) -> int:
    """Return the corner pin on the bowler's weak side."""
    return 7 if hand == "right" else 10


def corner_pin(leave: str, hand: str) -> int | None:
    """Return the standing corner whose neighbour is down, the strong side's first."""
    pins = pins_standing(leave)
    if not pins:
        return None
    for corner in (strong_corner(hand), weak_corner(hand)):
        if corner in pins and CORNER_NEIGHBOUR[corner] not in pins:
            return corner
    return None


def corner_state(leave: str, neighbour_pin: str, hand: str) -> str | None:
    """Return ``flat``, ``ringing`` or ``into`` for a standing corner, ``None`` if not recorded.

    Flat: the pin beside it lay down in the gutter. Ringing: it flew around the corner pin. Into:
    it struck the corner pin, which stood all the same (common practice, no source).
    """
    if corner_pin(leave, hand) is None:
        return None
    return _NEIGHBOUR_TO_CORNER.get(neighbour_pin)


def leave_name(
    leave: str, hand: str = "right", neighbour_pin: str = "", flush: bool = False
) -> str:
    """Return the trade's name of a leave; ``""`` where it was not recorded.

    ``flush`` says that the ball met the middle of the pocket: a pin of the back row that stood
    then is a stone 8 or 9, or a solid corner where nothing else is known of it (common practice, no
    source).
    """
    if leave in ("X", "/", "0", ""):
        return {"X": "strike", "/": "spare", "0": "nothing fell", "": ""}[leave]
    pins = pins_standing(leave)
    assert pins is not None
    if len(pins) == 1:
        (pin,) = pins
        return _single_name(pin, corner_state(leave, neighbour_pin, hand), flush)
    if pins in NAMES:
        return f"{leave} {NAMES[pins]}"
    if is_split(leave):
        return f"{leave} split"
    if is_washout(leave):
        return f"{leave} washout"
    return leave


def _single_name(pin: int, state: str | None, flush: bool) -> str:
    """Return the name of a single pin; a ringing corner is a wrap as well."""
    if state == "flat":
        return f"flat {pin}"
    if state == "ringing":
        return f"ringing {pin} (wrap)"
    if state == "into":
        return f"{pin} pin, the {CORNER_NEIGHBOUR[pin]} into it"
    if flush and pin in (8, 9):
        return f"stone {pin}"
    if flush and pin in CORNER_NEIGHBOUR:
        return f"solid {pin}"
    return f"{pin} pin"
