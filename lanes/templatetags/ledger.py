"""The ledger on other pages: a session's advice, a client's score, a report's overrulings."""

from __future__ import annotations

from typing import Any

from django import template

from clients.models import Client, User
from lanes import ledger, ledger_page, overrulings
from lanes.models import Report, Session
from lanes.reading.overruled import CAUSES, HOOKS, NO_CHANGE, PLACES, THE_BALL, THROWS

register = template.Library()
register.filter(ledger_page.share_words)
register.filter(ledger_page.gain_words)


@register.filter
def gain_verdict(gain: Any) -> str:
    return ledger_page.VERDICTS[gain.verdict]


@register.simple_tag
def advice_for(session: Session) -> list[ledger.Offers]:
    return ledger.offers_for(session)


@register.simple_tag
def ledger_of(client: Client, user: User) -> dict[str, Any]:
    return ledger_page.of_client(client, user)


@register.simple_tag
def overruled_in(report: Report) -> dict[str, Any]:
    """Return what the coach says against a report's reading now, and what could be said."""
    now = overrulings.live_rows(report.session_id)
    first = [shot["shot"] for shot in report.reading.data["shots"] if shot.get("first_ball", True)]
    return {
        "rows": [(row, overrulings.as_ruling(row)) for row in now],
        "shots": first,
        "throws": THROWS.items(),
        "causes": CAUSES.items(),
        "places": [
            (NO_CHANGE, "nothing"),
            *((place, f"the lane {words}") for place, words in PLACES.items()),
            (THE_BALL, "the ball itself"),
        ],
        "hooks": HOOKS,
        "options": [option["title"][:160] for option in report.reading.data["options"]],
    }


@register.filter
def said_of(report_rows: dict[str, Any], shot: int) -> list[str]:
    """Return what the coach says of one shot's throw; of its cause its row knows."""
    rulings = [ruling for _, ruling in report_rows["rows"] if ruling.shot == shot]
    return [ruling.words for ruling in rulings if ruling.kind == "throw"]
