"""What the session page says about the session's reading."""

from __future__ import annotations

from django import template

from lanes import readings
from lanes.models import Session
from lanes.report_page import percent, strike_range
from lanes.words import certainty

register = template.Library()
register.filter(strike_range)


@register.simple_tag
def reading_state(session: Session) -> readings.State:
    return readings.state(session)


@register.filter
def signed(value: float | None, digits: int = 1) -> str:
    """Return a change with its sign and a true minus: "+0.8", "−1.1"; a dash where unknown."""
    if value is None:
        return "–"
    text = f"{value:+.{digits}f}"
    return text.replace("-", "−") if float(text) else f"{0:.{digits}f}"


@register.filter
def sure(p: float) -> str:
    return f"{certainty(p)} sure"


@register.filter
def share(part: float) -> str:
    return f"{percent(part)} %"
