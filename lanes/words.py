"""Words for the student, suggested from a reading; the coach makes them their own.

One thing well done, one to change, one to practise. Counts are "about 7 of 10", a miss is "left of
target", and nothing blames.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
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


def suggested(reading: dict[str, Any], kept: Sequence[int] | None = None) -> Words:
    """Return the words that a reading suggests, from its JSON.

    `kept` are the numbers of the reading's options that the coach shows, in the coach's order; all
    in the reading's order where it is left out.
    """
    every = range(len(reading["options"])) if kept is None else kept
    return _words(reading, advised(reading, every))


def possible(reading: dict[str, Any]) -> list[dict[str, str]]:
    """Return all words that a reading may suggest, whichever option the coach puts first."""
    return [_words(reading, option).as_dict() for option in (None, *reading["options"])]


def _words(reading: dict[str, Any], option: dict[str, Any] | None) -> Words:
    kind = reading["verdict"]["kind"]
    option = None if option and option["kind"] == "stay" else option
    return Words(
        headline=_headline(reading, kind, option),
        went_well=_went_well(reading["counts"]),
        to_change=_to_change(reading, kind, option),
        to_practise=_to_practise(reading, kind, option),
    )


def advised(reading: dict[str, Any], kept: Sequence[int]) -> dict[str, Any] | None:
    """Return the option that the student is asked to try, None where there is nothing to move.

    That is the first kept one, where the verdict is about lane or ball. Where it is about the throw
    or asks for nothing, a move beside it would contradict it, unless the coach put that move first.
    """
    if not kept:
        return None
    option = reading["options"][kept[0]]
    chosen_by_coach = kept[0] != min(kept)
    if option["kind"] == "stay":
        return None
    return option if chosen_by_coach or reading["verdict"]["kind"] in ("lane", "ball") else None


def step(option: dict[str, Any], hand: str) -> str:
    """Return what an option asks of the student, to go on a sentence: boards to the left or right
    as seen from the foul line."""
    detail = option["detail"]
    move = _move(detail.get("feet", 0), detail.get("eyes", 0), hand)
    cue = _cue(detail)
    if option["kind"] == "release":
        return cue
    if option["kind"] == "both":
        ball = f"take ball {detail['ball']}"
        if detail.get("surface"):
            ball += f" with a {detail['surface']} surface from the shop"
            ball += " (never once a competition has begun)"
        return ", ".join([ball, move or "stay on the same line", *([cue] if cue else [])])
    if option["kind"] == "ball":
        return f"take ball {detail['ball']}{f', {move}' if move else ' on the same line'}"
    if option["kind"] == "surface":
        text = f"have ball {detail['ball']} given a {detail['surface']} surface in the shop"
        return f"{text}{f', then {move}' if move else ''} (never once a competition has begun)"
    return move


def _cue(detail: dict[str, Any]) -> str:
    """Return what the release is asked to be; empty for as it is."""
    speed, rotation = detail.get("speed_mph", 0.0), detail.get("rotation_deg", 0.0)
    if speed:
        return f"throw about {abs(speed):.1f} mph {'faster' if speed > 0 else 'slower'} than now"
    if rotation:
        way = "more around the side of" if rotation > 0 else "more up the back of"
        return f"let the hand come {way} the ball than now"
    return ""


def _move(feet: float, eyes: float, hand: str) -> str:
    """Return a move of feet and eyes in boards, positive toward the weak side; empty for none."""

    def way(boards: float) -> str:
        size = f"{abs(boards):g} board{'' if abs(boards) == 1 else 's'}"
        return f"{size} further {side('in' if boards > 0 else 'out', hand)}"

    if feet and eyes:
        return f"stand {way(feet)} and look {way(eyes)} at the arrows"
    if feet:
        return f"stand {way(feet)} and look at the same board as now"
    return f"stand where you do now and look {way(eyes)} at the arrows" if eyes else ""


def about(part: int, whole: int) -> str:
    """Return a share as a person says it: "about 7 of 10", and small counts as they are."""
    if part == whole:
        return f"all {whole}"
    if whole <= 10:
        return f"{part} of {whole}"
    return f"about {min(max(round(10 * part / whole), 1), 9)} of 10"


def certainty(p: float) -> str:
    """Return a probability as certainty, never all of it: "93 %", "over 99 %"."""
    return "over 99 %" if p > 0.99 else f"{round(100 * p)} %"


def side(miss: str, hand: str) -> str:
    """Return where a miss went, as seen from the foul line: `in` is toward the weak side."""
    left = (miss == "in") == (hand == "right")
    return "left" if left else "right"


_HEADLINES = {
    "throw": "First the throw, then the rest",
    "lane": "The lane changed, and your line still fits",
    "ball": "A ball that turns later would help",
    "chance": "Stay with what you do",
    "none": "Stay with what you do",
    "unknown": "A good start: next time we look closer",
}
_HEADLINES_OF_OPTIONS = {
    "move": "Another line suits this lane better",
    "ball": "Another ball suits this lane better",
    "surface": "Another surface suits this lane better",
    "release": "Another speed or hand suits this lane better",
    "both": "Two changes together suit this lane better",
}


def _headline(reading: dict[str, Any], kind: str, option: dict[str, Any] | None) -> str:
    changed = kind == "lane" and reading["transition"]["changes"]
    if kind == "throw":
        return _HEADLINES[kind]
    if kind == "ball" and reading["transition"].get("ball_changes"):
        return "Your ball itself changed: let us look at its cover"
    if option:
        return (
            "The lane changed: move with it" if changed else _HEADLINES_OF_OPTIONS[option["kind"]]
        )
    if kind == "lane" and not changed:
        return _HEADLINES["none"]
    return _HEADLINES.get(kind, _HEADLINES["unknown"])


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
    balls = f"{first} first ball{'' if first == 1 else 's'}" if first else "what you threw"
    return f"You had {balls} written down; that is how getting better begins."


def _to_change(reading: dict[str, Any], kind: str, option: dict[str, Any] | None) -> str:
    now = step(option, reading["client"]["hand"]) if option else ""
    if kind == "throw":
        habit = _throw_change(reading) or _usual_miss(reading)
        told = f"The throw first. {habit or 'Some balls did not go where you meant them to.'}"
        return f"{told} After that, {now}." if now else told
    changes = reading["transition"]["changes"] if kind == "lane" else []
    if changes:
        told = f"The lane changed while you bowled: your ball began to hook {changes[0]['hooks']}."
        return f"{told} When you see that again, {now}." if now else f"{told} Stay with your line."
    balls = reading["transition"].get("ball_changes") if kind == "ball" else None
    if balls:
        told = f"Your ball itself began to hook {balls[0]['hooks']}. Bring it to be looked at."
        return f"{told} Until then, {now}." if now else told
    if now:
        return f"{_throw_was_fine(reading['counts'])}Next time on this lane, {now}."
    if kind == "ball":
        return (
            f"{_throw_was_fine(reading['counts'])}Nothing to move for now. "
            "We will try a ball that turns later."
        )
    if kind in ("chance", "none") and _spares_cost(reading["counts"]):
        made, tried = reading["counts"]["spares_made"], reading["counts"]["spares_tried"]
        return f"Your strike ball: nothing. The spares: {made} of {tried} were made."
    if kind == "chance":
        return "Nothing for now. Good balls leave a pin at times; that is luck, not a mistake."
    if kind == "unknown":
        return "Nothing yet. We have to see a few more balls before we change anything."
    return "Nothing for now: stay with your line."


def _throw_was_fine(counts: dict[str, Any]) -> str:
    """Return that the throw was fine, where enough of the throws were seen to say so."""
    return "Your throw was fine. " if counts["good"] >= 8 else ""


def _throw_change(reading: dict[str, Any]) -> str:
    """Return the sentence on how the throw changed during the session; empty where it did not."""
    changes = reading["transition"]["throw_changes"]
    if not changes:
        return ""
    change = max(changes, key=lambda one: one["p"])
    before, after = change["before"], change["after"]
    if change["what"] == "speed_mph":
        way = "lost" if after < before else "gained"
        return (
            f"Your ball {way} speed during the session: from {before:.1f} to {after:.1f} mph. "
            "Bring it back before you move."
        )
    way = side("in" if after > before else "out", reading["client"]["hand"])
    where = "crossed the arrows" if change["what"] == "arrows" else "started"
    far = round(abs(after - before))
    boards = f"{far} board{'' if far == 1 else 's'}"
    return f"During the session your ball {where} {boards} further {way}. Bring it back first."


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


def _to_practise(reading: dict[str, Any], kind: str, option: dict[str, Any] | None) -> str:
    counts = reading["counts"]
    changed = {change["what"] for change in reading["transition"]["throw_changes"]}
    if kind == "lane" and (changes := reading["transition"]["changes"]):
        return (
            "Watch where your ball makes its move, and say it aloud before it reaches the pins. "
            f"When it moves {changes[0]['hooks']} than before, tell me."
        )
    if kind == "throw" and "speed_mph" in changed:
        return (
            "20 balls, and look at the speed after each. Count how many stay within half a mph of "
            "the first, and write it down."
        )
    if kind != "throw" and option and option["kind"] == "move":
        return (
            "20 balls from the new boards. Count how many cross the one that you look at, and "
            "write it down."
        )
    if kind != "throw" and _spares_cost(counts):
        return "Spares: 10 balls at each corner pin. Count how many you hit and write it down."
    return "20 balls at one target. Count how many cross it within one board, and write it down."


def _spares_cost(counts: dict[str, Any]) -> bool:
    made, tried = counts["spares_made"], counts["spares_tried"]
    return tried >= 3 and made / tried < 0.5


def _sentence(text: str) -> str:
    return text[0].upper() + text[1:]
