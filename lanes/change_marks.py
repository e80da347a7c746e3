"""The changes of a session as the charts mark them: the lane's, a ball's and the throw's.

A kind is told by its word and by its line, never by colour alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from lanes.words import certainty

DASHES = {"lane": "dash", "throw": "dot", "ball": "dashdot"}  # as plotly.js names them
_PARTS = {"front": "lane, front", "mid": "mid-lane", "back": "lane, back end"}
_THROWS = {"speed_mph": "throw, speed", "arrows": "throw, arrows", "laydown": "throw, laydown"}
_UNNAMED = ("", "ball")  # a log without a ball column


@dataclass(frozen=True)
class ChangeMark:
    """One mark: ``kind`` lane, throw or ball, the first ``shot`` of it, what it was, how sure."""

    kind: str
    shot: int
    what: str
    sure: str

    @property
    def label(self) -> str:
        """The words beside its line."""
        return f"shot {self.shot}: {self.what}, {self.sure}"

    @property
    def dash(self) -> str:
        return DASHES[self.kind]

    def as_json(self) -> dict[str, Any]:
        """Return the mark as charts.js takes it."""
        return {"shot": self.shot, "kind": self.kind, "dash": self.dash, "words": self.label}


def change_marks(reading: dict[str, Any]) -> list[ChangeMark]:
    """Return the marks in the order of the shots; a reading of before may know of fewer kinds."""
    told = reading["transition"]
    found = [
        ChangeMark("lane", one["shot"], _PARTS.get(one["where"], "lane"), certainty(one["p"]))
        for one in told["changes"]
    ]
    found += [
        ChangeMark("throw", one["shot"], _THROWS.get(one["what"], "throw"), certainty(one["p"]))
        for one in told["throw_changes"]
    ]
    found += [
        ChangeMark(
            "ball", one["shot"],
            "ball itself" if one["ball"] in _UNNAMED else f"ball {one['ball']} itself",
            certainty(one["p"]),
        )
        for one in told.get("ball_changes", [])
    ]  # fmt: skip
    return sorted(found, key=lambda mark: mark.shot)
