"""Inches as a shop writes them: 4 3/8, 1/16, with millimetres beside. Kept as decimal inches."""

from __future__ import annotations

import re
from fractions import Fraction

MM_PER_IN = 25.4  # exact
_SHARPEST = 64  # a shop's rule is divided no finer


def parse(text: str) -> float:
    """Return the inches of "4 3/8", "4-3/8", "1/16", "4.375" or "4,375", a sign before it or not.

    Raises ``ValueError`` for anything else.
    """
    told = text.strip().removesuffix('"').removesuffix("in").strip()
    sign = -1.0 if told[:1] in ("-", "−") else 1.0
    told = (told[1:] if told[:1] in ("+", "-", "−") else told).strip()
    try:
        return sign * float(_plain(told) if "/" not in told else _fraction(told))
    except (ValueError, ZeroDivisionError):
        raise ValueError("Expected inches, such as 4 3/8 or 4.375.") from None


def _plain(told: str) -> float:
    if not re.fullmatch(r"\d+(?:[.,]\d*)?|[.,]\d+", told):
        raise ValueError(told)
    return float(told.replace(",", "."))


def _fraction(told: str) -> Fraction:
    match = re.fullmatch(r"(?:(\d+)(?:\s+|\s*-\s*))?(\d+)\s*/\s*(\d+)", told)
    if not match:
        raise ValueError(told)
    whole, over, under = (int(part or 0) for part in match.groups())
    return whole + Fraction(over, under)


def fraction(inches: float) -> str:
    """Return "4 3/8" where a rule shows it, "4.380" where none does.

    Within a thousandth of a sixty-fourth it is taken for that.
    """
    size = abs(inches)
    near = Fraction(round(size * _SHARPEST), _SHARPEST)
    if abs(float(near) - size) > 1e-3:
        told = f"{size:.3f}"
    else:
        whole, rest = divmod(near.numerator, near.denominator)
        parts = [str(whole)] if whole or not rest else []
        told = " ".join([*parts, f"{rest}/{near.denominator}"] if rest else parts)
    return f"-{told}" if inches < 0 and told != "0" else told


def mm(inches: float) -> str:
    """Return the millimetres of so many inches, to a tenth."""
    return f"{inches * MM_PER_IN:.1f}"
