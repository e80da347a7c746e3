"""What the tests of the pages share."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse

from lanes import reports
from lanes.models import Report


def text_of(response: HttpResponse) -> str:
    return response.content.decode()


def draft_post(report: Report, **changes: Any) -> dict[str, Any]:
    """Return what the form of a draft posts, changed here and there."""
    suggestions = list(report.suggestions.all())
    data = {
        "opened_at": report.edited_at.isoformat(),
        **{field: getattr(report, field) for field in reports.WORDS},
        "order": [s.pk for s in suggestions],
        "keep": [s.pk for s in suggestions],
        "homework-TOTAL_FORMS": "1",
        "homework-INITIAL_FORMS": "0",
        "homework-0-text": "",
        "homework-0-amount": "",
        "homework-0-due_on": "",
    }
    return {**data, **changes}
