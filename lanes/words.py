"""Words for the student, suggested from a reading; the coach makes them their own.

One thing well done, one to change, one to practise. Counts are "about 7 of 10", a miss is "left of
target", and nothing blames.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict, dataclass
from typing import Any

FIELDS = ("headline", "went_well", "to_change", "to_practise")


@dataclass(frozen=True)
class Words:
    headline: str
    went_well: str
    to_change: str
    to_practise: str

    def as_dict(self) -> dict[str, str]:
        return asdict(self)


def suggested(reading: dict[str, Any]) -> Words:
    """Return the words that a reading suggests, from its JSON."""
    kind = reading["verdict"]["kind"]
    return Words(
        headline=_HEADLINES.get(kind, _HEADLINES["unknown"]),
        went_well=_went_well(reading["counts"]),
        to_change=_to_change(reading, kind),
        to_practise=_to_practise(reading, kind),
    )


def about(part: int, whole: int) -> str:
    """Return a share as a person says it: "about 7 of 10", and small counts as they are."""
    if part == whole:
        return f"all {whole}"
    if whole <= 10:
        return f"{part} of {whole}"
    return f"about {min(max(round(10 * part / whole), 1), 9)} of 10"


def side(miss: str, hand: str) -> str:
    """Return where a miss went, as seen from the foul line: `in` is toward the weak side."""
    left = (miss == "in") == (hand == "right")
    return "left" if left else "right"


_HEADLINES = {
    "throw": "First the throw, then the rest",
    "lane": "The lane changed: move with it",
    "ball": "Another ball suits this lane better",
    "chance": "Stay with what you do",
    "none": "Stay with what you do",
    "unknown": "A good start: next time we look closer",
}


def _went_well(counts: dict[str, Any]) -> str:
    good, judged = counts["good"], counts["good"] + counts["off"]
    made, tried = counts["spares_made"], counts["spares_tried"]
    first = counts["first_balls"]
    if judged and good / judged >= 0.6:
        return _sentence(f"{about(good, judged)} throws went the way you meant them to.")
    if tried >= 3 and made / tried >= 0.5:
        return f"You made {about(made, tried)} spares."
    if first and (counts["pocket"] or 0) / first >= 0.4:
        return _sentence(f"{about(counts['pocket'], first)} first balls found the pocket.")
    if counts["strikes"]:
        return f"You threw {counts['strikes']} strike{'s' if counts['strikes'] > 1 else ''}."
    return "You gave us enough good looks at your ball to know what to work on."


def _to_change(reading: dict[str, Any], kind: str) -> str:
    if kind == "throw":
        habit = _throw_change(reading) or _usual_miss(reading)
        return f"The throw first. {habit or 'Some balls did not go where you meant them to.'}"
    if kind in ("lane", "ball"):
        change = next((option for option in reading["options"] if option["kind"] != "stay"), None)
        reason = "Your throw was fine."
        if kind == "lane":
            moved = reading["transition"]["changes"]
            reason = "The lane changed while you bowled." if moved else "Your line can be better."
        return f"{reason} Next time: {change['title']}." if change else reason
    if kind in ("chance", "none") and _spares_cost(reading["counts"]):
        made, tried = reading["counts"]["spares_made"], reading["counts"]["spares_tried"]
        return f"Your strike ball: nothing. The spares: {made} of {tried} were made."
    if kind == "chance":
        return "Nothing for now. Some good balls leave a pin; that is bad luck, not a mistake."
    if kind == "none":
        return "Nothing for now: stay with your line."
    return "Nothing yet. We have to see a few more balls before we change anything."


def _throw_change(reading: dict[str, Any]) -> str:
    """Return the sentence on how the throw changed during the session; empty where it did not."""
    changes = reading["transition"]["throw_changes"]
    if not changes:
        return ""
    change = max(changes, key=lambda one: one["p"])
    before, after = change["before"], change["after"]
    if change["what"] == "speed_mph":
        way = "lost" if after < before else "gained"
        return f"Your ball {way} speed during the session: from {before:.1f} to {after:.1f} mph."
    way = side("in" if after > before else "out", reading["client"]["hand"])
    where = "crossed the arrows" if change["what"] == "arrows" else "started"
    far = round(abs(after - before))
    boards = f"{far} board{'' if far == 1 else 's'}"
    return f"During the session your ball {where} {boards} further {way}."


def _usual_miss(reading: dict[str, Any]) -> str:
    """Return the sentence on where the missed throws mostly went; empty where there is no habit."""
    hand = reading["client"]["hand"]
    missed = Counter(shot["throw"].get("miss") for shot in reading["shots"])
    missed.pop(None, None)
    missed.pop("", None)
    if not missed:
        return ""
    miss, count = missed.most_common(1)[0]
    if count < 2 or count * 2 <= missed.total():
        return ""
    place = {
        "in": f"{side('in', hand)} of target",
        "out": f"{side('out', hand)} of target",
        "fast": "a little fast",
        "slow": "a little slow",
        "early": "let go a little early",
        "late": "let go a little late",
    }.get(miss)
    return f"When a ball missed, it was mostly {place}." if place else ""


def _to_practise(reading: dict[str, Any], kind: str) -> str:
    counts = reading["counts"]
    changed = {change["what"] for change in reading["transition"]["throw_changes"]}
    if kind == "lane":
        return (
            "Watch where your ball makes its move, and say it aloud before it reaches the pins. "
            "When it moves earlier than before, tell me."
        )
    if kind == "throw" and "speed_mph" in changed:
        return (
            "20 balls, and look at the speed after each. Count how many stay within half a mph of "
            "the first, and write it down."
        )
    if kind != "throw" and _spares_cost(counts):
        return "Spares: 10 balls at each corner pin. Count how many you hit and write it down."
    return "20 balls at one target. Count how many cross it within one board, and write it down."


def _spares_cost(counts: dict[str, Any]) -> bool:
    made, tried = counts["spares_made"], counts["spares_tried"]
    return tried >= 3 and made / tried < 0.5


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:]
