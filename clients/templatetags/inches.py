"""Inches on a page: the fraction that a rule shows, and millimetres beside it."""

from __future__ import annotations

from django import template
from django.utils.html import format_html

from clients import inches

register = template.Library()


@register.filter
def fraction(value: float | None) -> str:
    """Return 4 3/8 in (111.1 mm)."""
    if value is None:
        return "not told"
    return format_html(
        '<span class="nowrap">{} in</span> <span class="soft nowrap">({} mm)</span>',
        inches.fraction(value),
        inches.mm(value),
    )


@register.filter
def pitch(value: float, ways: str) -> str:
    """Return 1/8 in reverse (3.2 mm); `ways` are the words for plus and minus."""
    if not value:
        return "0"
    plus, minus = ways.split()
    return format_html(
        '<span class="nowrap">{} in {}</span> <span class="soft nowrap">({} mm)</span>',
        inches.fraction(abs(value)),
        plus if value > 0 else minus,
        inches.mm(abs(value)),
    )
