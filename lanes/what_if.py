"""What the rest of a session would have been, for the coach's page of a report."""

from __future__ import annotations

from typing import Any

from clients.jobs import JobProblem
from lanes import readings
from lanes.change_marks import change_marks
from lanes.head_pin_chart import HeadPinChart
from lanes.models import Report


def default(report: Report) -> dict[str, Any] | None:
    """Return the what-if that the reading holds already; one by an earlier version has none."""
    found: dict[str, Any] | None = report.reading.data.get("what_if")
    return found


def asked(report: Report, option: int, from_shot: int) -> dict[str, Any] | None:
    """Return the rest of the report's session with an option of its reading from a shot on.

    Computed now, from the shots as they are now; ``None`` where too little is left from that shot
    on, or too little was seen for any fit. Raises `JobProblem` where the session has changed so
    that it cannot be read at all.
    """
    inputs = readings.gather(report.session)
    # Here and not above: numpy and numba, which most pages do without.
    from lanes.reading.session import Reader
    from lanes.reading.what_if import Way

    reader = Reader(**inputs.as_arguments())
    try:
        found = reader.what_if(Way.of(report.reading.data["options"][option]), from_shot)
    except ValueError:  # the ball has been taken off the session since
        raise JobProblem(
            "The ball of that option is not at hand in this session any more. Read it again."
        ) from None
    return None if found is None else found.as_json() | {"option": option}


def chart(report: Report, told: dict[str, Any]) -> HeadPinChart:
    """Return the picture: boards at the head pin by shot."""
    struck = {s["shot"] for s in report.reading.data["shots"] if s["leave"] == "X"}
    title = report.reading.data["options"][told["option"]]["title"]
    name = f"From shot {told['from_shot']} on: {title}"
    return HeadPinChart(name, told["by_shot"], struck, change_marks(report.reading.data))
