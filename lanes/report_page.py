"""What a report shows: the picture, the charts' data and the rows, from a reading's JSON.

Everything here is for eyes; the numbers are the reading's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from lanes import outlook, overrulings, reading_basis, words
from lanes.change_marks import change_marks
from lanes.models import Report, Suggestion
from lanes.motion.geometry import ARROWS_FT, DECK_EXIT_FT, HEAD_PIN_FT, POCKET
from lanes.pictures import SHAPES, LanePicture
from lanes.reading import movers
from lanes.reading.overruled import CAUSES, Ruling, causes_of

SERIES = 4  # colours in tokens.css; a fifth ball shares the first one's and differs by shape
DASH_OF = {"first": "solid", "last": "dash", "option": "dot"}
SERIES_OF = {"first": 1, "last": 2, "option": 3}
CHECKPOINTS = {
    "arrows": ("Arrows", "board"),
    "breakpoint": ("Breakpoint", "board"),
    "breakpoint_ft": ("Breakpoint distance", "ft"),
    "head_pin": ("Head pin", "board"),
    "entry_angle": ("Entry angle", "deg"),
    "deck_exit": ("Deck exit", "board"),
}
UNITS = {"board": "boards", "boards": "boards", "ft": "ft", "deg": "deg"}
HITS = {
    "light": "light",
    "flush": "flush",
    "high": "high",
    "crossover": "crossover",
    "missed": "missed the head pin",
}


def percent(share: float) -> int:
    return round(100 * share)


def strike_range(suggestion: Suggestion) -> str:
    """Return the interval of an option's chance of a strike: "46 to 68 %"; empty where unknown."""
    low, high = suggestion.strike_low, suggestion.strike_high
    return "" if low is None or high is None else f"{percent(low)} to {percent(high)} %"


@dataclass(frozen=True)
class OptionRow:
    """One option of the list, with the bar of its interval as the page draws it (0 to 100)."""

    suggestion: Suggestion
    rank: int

    @property
    def strike_range(self) -> str:
        return strike_range(self.suggestion)

    @property
    def bar(self) -> dict[str, float] | None:
        s = self.suggestion
        if s.strike is None or s.strike_low is None or s.strike_high is None:
            return None
        low, high = 100 * s.strike_low, 100 * s.strike_high
        return {"x": round(low, 1), "width": round(high - low, 1), "at": round(100 * s.strike, 1)}

    @property
    def pocket(self) -> str:
        return "" if self.suggestion.pocket is None else f"{percent(self.suggestion.pocket)} %"

    @property
    def room(self) -> str:
        boards = self.suggestion.room_boards
        return "" if boards is None else f"{boards:.1f} boards"

    @property
    def leave(self) -> str:
        """The likeliest leave with its share: "the 10, 41 % of what is left"; empty if unknown."""
        leave = self.suggestion.detail.get("likeliest_leave")
        return f"the {leave['pins']}, {percent(leave['share'])} % of what is left" if leave else ""


def option_rows(suggestions: Iterable[Suggestion]) -> list[OptionRow]:
    return [OptionRow(s, rank) for rank, s in enumerate(suggestions, start=1)]


def balls_of(reading: dict[str, Any]) -> list[str]:
    """Return the balls in the order in which they were first thrown; their place is their mark."""
    return list(dict.fromkeys(shot["ball"] or "" for shot in reading["shots"] if _counts(shot)))


def lane_picture(
    reading: dict[str, Any], suggestions: Iterable[Suggestion], *, for_student: bool = False
) -> LanePicture:
    """Return the lane from above: first and last path, the first option's, and the seen points.

    The student's picture has the paths alone, in the student's words.
    """
    chosen = next(iter(suggestions), None)
    option = chosen.detail.get("option") if chosen else None
    picture = LanePicture(
        title="The lane from above",
        description=_in_words(reading, chosen, for_student=for_student),
        hand=reading["client"]["hand"],
        key="student-lane" if for_student else "report-lane",
    )
    if not for_student:
        _add_seen_points(picture, reading)
    for path in reading["paths"]:
        kind = path["kind"]
        if kind == "option" and path["option"] != option:
            continue
        series, dash = SERIES_OF[kind], DASH_OF[kind]
        if path.get("band") and not for_student:
            picture.add_band(path["band"], f"{path['label']}: likely range", series=series)
        label = _student_label(kind) if for_student else _label(path, chosen)
        picture.add_path(path["points"], label, series=series, dash=dash)
    return picture


def _label(path: dict[str, Any], chosen: Suggestion | None) -> str:
    if path["kind"] == "option" and chosen is not None:
        return f"suggested: {chosen.title}"
    return path["label"]


def _student_label(kind: str) -> str:
    return {"first": "your first balls", "last": "your last balls", "option": "next time"}[kind]


def _add_seen_points(picture: LanePicture, reading: dict[str, Any]) -> None:
    balls = balls_of(reading)
    for shot in reading["shots"]:
        if not _counts(shot) or shot["throw"]["verdict"] == "off":
            continue
        place = balls.index(shot["ball"] or "")
        seen = shot["seen"]
        points = (
            (seen.get("laydown"), 0.0),
            (seen.get("arrows"), ARROWS_FT),
            (seen.get("breakpoint"), seen.get("breakpoint_ft")),
            (seen.get("head_pin"), HEAD_PIN_FT),
            (seen.get("deck_exit"), DECK_EXIT_FT),
        )
        label = f"seen, ball {balls[place]}" if balls[place] else "seen"
        for board, ft in points:
            if board is not None and ft is not None:
                picture.add_mark(
                    board, ft, label, shape=shape_of(place), series=series_of(place), r=3.0
                )


def shape_of(place: int) -> str:
    return SHAPES[place % len(SHAPES)]


def series_of(place: int) -> int:
    return place % SERIES + 1


def _in_words(reading: dict[str, Any], chosen: Suggestion | None, *, for_student: bool) -> str:
    """Return what the picture shows, for somebody who cannot see it."""
    said = []
    for path in reading["paths"]:
        if path["kind"] == "option" and (
            chosen is None or path["option"] != chosen.detail.get("option")
        ):
            continue
        label = _student_label(path["kind"]) if for_student else _label(path, chosen)
        boards = dict(path["points"])
        if not boards:
            continue
        lowest = min(boards, key=lambda ft: boards[ft])
        end = max(boards)
        said.append(
            f"{label}: from board {boards[min(boards)]:.1f} at the foul line, nearest to the "
            f"gutter at board {boards[lowest]:.1f}, {lowest:.0f} ft, to board {boards[end]:.1f} "
            "at the pins"
        )
    return ". ".join(said) + "." if said else "No path could be computed."


def _counts(shot: dict[str, Any]) -> bool:
    return shot.get("first_ball", True)


def charts(reading: dict[str, Any]) -> list[dict[str, Any]]:
    """Return one chart per check-point that was seen at least three times, for charts.js.

    Values are by shot number, one series per ball, missed throws apart; the trend is a line
    through the middle of the good throws with the reading's slope, its interval the band.
    """
    drawn = []
    for name, (title, unit) in CHECKPOINTS.items():
        points = [
            (shot["shot"], value, shot)
            for shot in reading["shots"]
            if _counts(shot) and (value := _value(shot, name)) is not None
        ]
        if len(points) < 3:
            continue
        drawn.append(
            {
                "name": name,
                "title": title,
                "unit": unit,
                "series": _series(points, balls_of(reading)),
                "trend": _trend(points, reading["transition"]["drift"].get(name)),
                "changes": [mark.as_json() for mark in change_marks(reading)],
                "zone": [POCKET.light, POCKET.high] if name == "head_pin" else None,
            }
        )
    return drawn


def _value(shot: dict[str, Any], name: str) -> float | None:
    return shot["entry_angle_deg"] if name == "entry_angle" else shot["seen"].get(name)


def _series(points: list[tuple[int, float, dict]], balls: list[str]) -> list[dict[str, Any]]:
    series = []
    for place, ball in enumerate(balls):
        for off in (False, True):
            some = [
                (n, value)
                for n, value, shot in points
                if (shot["ball"] or "") == ball and (shot["throw"]["verdict"] == "off") is off
            ]
            if some:
                series.append(
                    {
                        "label": (f"ball {ball}" if ball else "shots")
                        + (", missed throw" if off else ""),
                        "shape": shape_of(place),
                        "series": series_of(place),
                        "off": off,
                        "x": [n for n, _ in some],
                        "y": [round(value, 2) for _, value in some],
                    }
                )
    return series


def _trend(
    points: list[tuple[int, float, dict]], drift: dict[str, Any] | None
) -> dict[str, Any] | None:
    good = [(n, value) for n, value, shot in points if shot["throw"]["verdict"] != "off"]
    if not drift or drift["per_10"] is None or len(good) < 3:
        return None
    middle_shot = sorted(n for n, _ in good)[len(good) // 2]
    middle = sorted(value - drift["per_10"] / 10 * (n - middle_shot) for n, value in good)
    at_middle = middle[len(middle) // 2]
    ends = [min(n for n, _ in good), max(n for n, _ in good)]

    def line(per_10: float) -> list[float]:
        return [round(at_middle + per_10 / 10 * (n - middle_shot), 2) for n in ends]

    x = [ends[0], middle_shot, ends[1]]
    trend = {"x": ends, "y": line(drift["per_10"]), "low": None, "high": None, "band_x": x}
    if drift["low"] is not None and drift["high"] is not None:
        slow, fast = line(drift["low"]), line(drift["high"])
        trend["low"] = [min(slow[0], fast[0]), round(at_middle, 2), min(slow[1], fast[1])]
        trend["high"] = [max(slow[0], fast[0]), round(at_middle, 2), max(slow[1], fast[1])]
    return trend


@dataclass(frozen=True)
class DriftRow:
    title: str
    per_10: float
    low: float | None
    high: float | None
    n: int
    unit: str

    @property
    def is_clear(self) -> bool:
        """Whether the interval leaves no doubt about the direction."""
        return self.low is not None and self.high is not None and (self.low > 0 or self.high < 0)


def drift_rows(reading: dict[str, Any]) -> list[DriftRow]:
    """Return the trends as a table's rows, in the order of the lane."""
    drift = reading["transition"]["drift"]
    return [
        DriftRow(
            title,
            drift[name]["per_10"],
            drift[name]["low"],
            drift[name]["high"],
            drift[name]["n"],
            UNITS.get(drift[name].get("unit", unit), unit),
        )
        for name, (title, unit) in CHECKPOINTS.items()
        if drift.get(name) and drift[name]["per_10"] is not None
    ]


@dataclass(frozen=True)
class ShotRow:
    """A row of the shot table; `data` is the reading's own, `ruled` what the coach says now of the
    cause."""

    data: dict[str, Any]
    ruled: str = ""

    @property
    def hit(self) -> str:
        return HITS.get(self.data["hit"] or "", "")

    @property
    def cause(self) -> str:
        """The most likely cause with its probability, and a second one that is nearly as likely.

        As it was computed, also where the coach says otherwise.
        """
        said = self.data.get("said")
        cause = said["computed"] if said else self.data["cause"]
        if not cause:
            return ""
        ranked = sorted(cause.items(), key=lambda item: -item[1])
        shown = [ranked[0]] + [item for item in ranked[1:2] if item[1] >= 0.3]
        return ", ".join(f"{name} {words.certainty(p)}" for name, p in shown)

    @property
    def said(self) -> str:
        """What the coach says was behind it, now or before this was read; empty for nothing."""
        before = self.data.get("said")
        return CAUSES.get(self.ruled or (before["cause"] if before else ""), "")

    @property
    def counts(self) -> bool:
        return _counts(self.data)


def shot_rows(reading: dict[str, Any], rulings: Iterable[Ruling] = ()) -> list[ShotRow]:
    ruled = causes_of(rulings)
    return [ShotRow(shot, ruled.get(shot["shot"], "")) for shot in reading["shots"]]


ASSUMED = {
    "speed_mph": "speed",
    "rev_rpm": "rev rate",
    "rotation_deg": "axis rotation",
    "tilt_deg": "axis tilt",
}


def limits(reading: dict[str, Any]) -> list[str]:
    """Return what the reading rests on without having seen it, and what is missing."""
    said = []
    if reading["lane"]["assumed"]:
        said.append("No pattern sheet was given: an ordinary house pattern is assumed.")
    assumed = [ASSUMED.get(name, name) for name in reading["client"]["assumed"]]
    if assumed:
        said.append(f"Assumed, since nobody measured it: {', '.join(assumed)}.")
    return [*said, *reading["fit"]["notes"], *reading["missing"]]


def chances_words(reading: dict[str, Any]) -> str:
    """Return what the chances rest on, in a reading's own words of its day."""
    table = reading.get("table")
    return table["words"] if table else reading["provisional"]


def context(report: Report) -> dict[str, Any]:
    """Return what the coach's page of a report shows."""
    reading = report.reading.data
    suggestions = list(report.suggestions.all())
    kept = [s for s in suggestions if not s.dropped]
    return reading_basis.context(reading) | {
        "report": report,
        "reading": reading,
        "picture": lane_picture(reading, kept),
        "charts": charts(reading),
        "drift": drift_rows(reading),
        "movers": [line.replace("-", "\N{MINUS SIGN}") for line in movers.lines(reading["movers"])]
        if reading.get("movers")
        else [],
        "options": option_rows(kept),
        "dropped": [s for s in suggestions if s.dropped],
        "shots": shot_rows(reading, map(overrulings.as_ruling, overrulings.rows_of(report))),
        "has_lanes": any(shot["lane"] for shot in reading["shots"]),
        "limits": limits(reading),
        "scores": [game["score"] for game in reading["games"] if game["score"] is not None],
        "chances": chances_words(reading),
        "has_ties": any(s.tied for s in kept),
        "has_surface_option": any(
            s.kind == Suggestion.Kind.SURFACE or s.detail.get("surface") for s in kept
        ),
    }


def student_context(report: Report) -> dict[str, Any]:
    """Return what the student's page shows of a report, and nothing else of the session."""
    reading = overrulings.reading_of(report)
    shown = {s.detail["option"]: s for s in report.suggestions.all() if not s.dropped}
    option = words.advised(reading, list(shown))
    asked = words.step(option, reading["client"]["hand"]) if option else ""
    drawn = list(shown.values())[:1] if option else []
    # The words may say it already, and a report that was sent before may say the option's title.
    said = report.to_change.casefold()
    is_said = option and (asked.casefold() in said or option["title"].casefold() in said)
    return {
        "report": report,
        "picture": lane_picture(reading, drawn, for_student=True),
        "asked": "" if is_said else asked,
        "outlook": outlook.outlook(reading, shown, option),
        "outlook_limits": outlook.LIMITS,
    }
