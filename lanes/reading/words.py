"""The reading in the trade's plain words: verdict, reasons, and what is missing.

"First question always: was it a good throw?" If it was not, the verdict and the first advice are
about the throw.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from lanes.motion import POCKET

from . import hits, leaves
from .causes import KINDS
from .findings import Findings
from .luck import LUCK, pocket_words
from .options import WORTH, Option
from .scoring import spares
from .series import column
from .transition import session_words

FEWEST_FIRST_BALLS = 8
_OFF_SHARE = 0.30  # of the judged first balls: more than this and the throw comes first (assumed)
# Sd at the arrows of a bowler averaging 160 or more: a range of 4.5 boards over ten shots (the
# governing body's magazine, 2012, FACTS section 8) over 3.08, the mean range of ten normals.
_WIDE_ARROWS_SD = 4.5 / 3.08
_POOR_CARRY = 0.5
_MUCH = 0.10  # a gain that speaks against a line or a ball; a smaller one is only worth taking
LIKE_ROOM = 0.3  # boards of room that nobody tells apart
FAR_OFF = 6.0  # boards at the pins beyond which a size says nothing: gutter, or the other pocket
_SMALL_MOVE = 2.0  # boards of feet and eyes together
_ENOUGH_SPARES = 5
_SPEED_WATCHED = 0.25  # of the good first balls
_FAIR_SPARES = 0.5
_NAMED = 0.5  # a cause that is no likelier than this is not headlined

RULE = (
    "No surface may be changed during competition (governing body's Rule 18, as reported for 2019 "
    "and after); the current rule book and the event's officials decide."
)
SANDING = (
    "Treat the whole surface alike. Sanding makes dust and the spinner rotates: eye and breathing "
    "protection, no loose clothing, trained staff."
)


@dataclass(frozen=True)
class Verdict:
    """The answer to "throw, lane or ball?", its headline and its reason."""

    kind: str
    headline: str
    why: str


def toward(boards: float, hand: str) -> str:
    """Return the side of a move toward the weak side (positive) as the bowler sees it."""
    return "left" if (boards > 0) == (hand == "right") else "right"


def half(boards: float) -> str:
    """Return a size in half boards as it is said: ``1``, ``2.5``."""
    return f"{abs(boards):g}"


def move_words(option: Option, hand: str) -> str:
    """Return the move of feet and eyes, ``""`` for none."""
    if option.feet == 0 and option.eyes == 0:
        return ""
    if option.feet == 0:
        return f"feet where they are, eyes {half(option.eyes)} {toward(option.eyes, hand)}"
    words = f"feet {half(option.feet)} {toward(option.feet, hand)}"
    if option.eyes == 0:
        return f"{words}, eyes where they are"
    return f"{words}, eyes {half(option.eyes)} {toward(option.eyes, hand)}"


def cue_words(option: Option) -> str:
    """Return what the release is to be, ``""`` for as it is."""
    if option.speed_mph:
        way = "faster" if option.speed_mph > 0 else "slower"
        return f"{abs(option.speed_mph):.1f} mph {way}"
    if option.rotation_deg:
        way = "more" if option.rotation_deg > 0 else "less"
        return f"{abs(option.rotation_deg):.0f} deg {way} axis rotation"
    return ""


def option_title(option: Option, hand: str) -> str:
    """Return the option's name."""
    move = move_words(option, hand)
    if option.kind == "stay":
        return "Stay: same ball, same line"
    if option.kind == "release":
        return f"Same ball and line, {cue_words(option)}"
    if option.kind == "both":
        surface = f"{option.surface} surface" if option.surface else ""
        parts = (f"Ball {option.spec.name}", surface, move or "same line", cue_words(option))
        return ", ".join(part for part in parts if part)
    if option.kind == "move":
        return move[0].upper() + move[1:]
    if option.kind == "ball":
        return f"Ball {option.spec.name}" + (f", {move}" if move else ", same line")
    return f"A {option.surface} surface on ball {option.spec.name}" + (f", {move}" if move else "")


def option_detail(option: Option, f: Findings) -> dict[str, Any]:
    """Return what the option changes, in boards and names."""
    detail: dict[str, Any] = {"ball": option.spec.name}
    if option.kind != "stay":
        detail |= {"feet": option.feet, "eyes": option.eyes}
        detail["toward"] = toward(option.feet or option.eyes, f.client.hand)
    assert f.range is not None
    laydown = float(np.median(f.range.centre[:, 0])) + option.feet
    arrows = _usual_arrows(f)
    detail["laydown"] = round(laydown * 2) / 2
    if arrows is not None:
        detail["arrows"] = round((arrows + option.eyes) * 2) / 2
    if option.speed_mph:
        detail["speed_mph"] = option.speed_mph
    if option.rotation_deg:
        detail["rotation_deg"] = option.rotation_deg
    if option.surface:
        before = f.balls[option.ball].filled()
        detail |= {
            "surface": option.surface,
            "grit_from": before.grit,
            "grit_to": option.spec.grit,
            "rule": RULE,
            "caution": SANDING,
        }
    return detail


def _usual_arrows(f: Findings) -> float | None:
    read = column(f.shots, "arrows")[f.usable]
    read = read[np.isfinite(read)][-12:]
    return float(np.median(read)) if len(read) else None


def option_why(option: Option, f: Findings) -> str:
    """Return the reason in two sentences of the trade's words."""
    stay = next(o for o in f.options if o.kind == "stay")
    where = f"The usual throw then meets the head pin at board {option.head_pin:.1f}"
    room = f"{option.room_boards:.1f} boards of room at the arrows"
    if option.kind == "stay":
        side = _side(option.head_pin)
        first = f"The usual throw meets the head pin at board {option.head_pin:.1f}, {side}"
        tail = (
            "nothing else at hand is expected to strike more often"
            if option.tied or option is f.options[0]
            else "something else is expected to strike more often"
        )
        return f"{first}, with {room}. On this log {tail}."
    gain = _room_words(option, stay)
    if option.kind == "move":
        return f"{_move_reason(option, stay)}. {where}, {gain}."
    if option.kind == "both":
        return (
            "Two changes together, shown since each of them alone brings clearly less on the lanes "
            f"that the fit leaves possible. {where}, {gain}."
        )
    reads = _reads(option)
    if option.kind == "release":
        first = f"With {cue_words(option)}, within what this student has shown, the ball {reads}"
        return f"{first}. {where}, {gain}."
    if option.kind == "ball":
        if f.deflecting and option.same_line < 0:
            first = (
                "Light hits with the ball thrown far aside and a flat corner ask for a ball that "
                f"reads later rather than a move with the same ball, and {option.spec.name} {reads}"
            )
        else:
            first = f"On the same line ball {option.spec.name} {reads}"
        return f"{first}. {where}, {gain}."
    small = abs(option.feet) + abs(option.eyes) <= _SMALL_MOVE
    fits = ", so the line fits again with little or no move" if small else ""
    return f"A {option.surface} cover {reads}{fits}. {where}, {gain}; not during competition."


def _move_reason(option: Option, stay: Option) -> str:
    """Return what the move does to the line, and what that is good for."""
    away = option.feet - option.eyes
    if away > 0.25:
        shape = "opens the angle"
    elif away < -0.25:
        shape = "closes the angle"
    else:
        shape = f"keeps the angle and shifts the whole line {'in' if option.feet > 0 else 'out'}"
    side = _side(stay.head_pin)
    if side == "flush":
        if option.room_boards >= stay.room_boards + LIKE_ROOM:
            use = "and gains room"
        elif option.strike >= stay.strike + WORTH:
            use = "and brings more throws to the pocket"
        else:
            use = "and gains little"
        return f"The ball already comes in flush; the move {shape} {use}"
    aim = 0.5 * (POCKET.flush_low + POCKET.flush_high)
    if abs(option.head_pin - aim) >= abs(stay.head_pin - aim):
        return f"The ball now comes in {side}; the move {shape}"
    way = "up" if option.head_pin > stay.head_pin else "back"
    return f"The ball now comes in {side}; the move {shape} and brings it {way} toward the pocket"


def _reads(option: Option) -> str:
    if option.same_line < -FAR_OFF:
        return "reads later and does not come back to the pocket"
    if option.same_line > FAR_OFF:
        return "reads earlier and crosses over"
    if option.same_line < -0.3:
        return f"reads later and meets the pins {abs(option.same_line):.1f} boards lighter"
    if option.same_line > 0.3:
        return f"reads earlier and meets the pins {option.same_line:.1f} boards higher"
    return "reads about the same"


def _room_words(option: Option, stay: Option) -> str:
    change = option.room_boards - stay.room_boards
    if abs(change) < LIKE_ROOM:
        return f"with about the same room at the arrows ({option.room_boards:.1f} boards)"
    more = "more" if change > 0 else "less"
    return f"with {more} room at the arrows ({option.room_boards:.1f} boards)"


def _side(head_pin: float) -> str:
    kind = hits.hit(round(head_pin, 1))  # as it is written beside
    return {
        "light": "light",
        "flush": "flush",
        "high": "high",
        "crossover": "across the head pin",
        "missed": "past the head pin",
        None: "",
    }[kind]


def verdict(f: Findings) -> Verdict:
    """Return the verdict: the throw first, then the lane, then the ball."""
    judged = [t.verdict for t, first in zip(f.throws.verdicts, f.first, strict=True) if first]
    off, known = judged.count("off"), sum(v != "unknown" for v in judged)
    lane = session_words([*f.changes, *f.ball_changes], f.drifts, _enough(f))
    if f.throws.drifts:
        told = "; ".join(d.words(f.shots[d.at].shot) for d in f.throws.drifts)
        slower = any(d.what == "speed_mph" and d.after < d.before for d in f.throws.drifts)
        effect = (
            "A slower ball hooks earlier on a lane that has not changed; bring the speed back "
            "before anything is moved."
            if slower
            else "Bring it back before anything is moved."
        )
        why = f"The throw itself changed. {effect} {lane}"
        return Verdict("throw", f"First the throw: {told}", why)
    if known >= FEWEST_FIRST_BALLS and off / known >= _OFF_SHARE:
        return Verdict(
            "throw",
            f"First the throw: {off} of {known} first balls were off",
            f"So many misses hide what lane and ball do. {lane}",
        )
    sd = f.throws.scatter.arrows_sd
    if sd is not None and sd >= _WIDE_ARROWS_SD:
        return Verdict(
            "throw",
            "First the throw: the balls spread too wide at the arrows",
            f"One ball in three misses the usual board by more than {sd:.1f} boards. {lane}",
        )
    if not _enough(f):
        return Verdict(
            "unknown",
            "Too little was seen to say",
            "A verdict needs at least "
            f"{FEWEST_FIRST_BALLS} good first balls with a board at the head pin.",
        )
    best = f.options[0] if f.options else None
    if f.changes or f.ball_changes:
        free = f" What is free: {_lower(option_title(best, f.client.hand))}." if best else ""
        if best is None or best.kind not in ("move", "ball"):
            free = ""
        why = f"{_held(off, known)} {lane}{_speed_unseen(f)}{free}"
        return _changed(f, why)
    return _without_change(f, best, _held(off, known))


def _changed(f: Findings, why: str) -> Verdict:
    """Return the verdict on what changed, the clearest first; a doubtful cause is not headlined."""
    lane = f.changes[0] if f.changes else None
    ball = f.ball_changes[0] if f.ball_changes else None
    if ball is not None and (lane is None or ball.p > lane.p):
        way = "later" if ball.later else "earlier"
        if ball.p >= _NAMED:
            name = "The ball" if ball.ball in ("", "ball") else f"Ball {ball.ball}"
            return Verdict("ball", f"{name} itself changed: it hooks {way}", why)
        return Verdict("ball", f"The ball hooks {way}, and why cannot be told yet", why)
    assert lane is not None
    way = "later" if lane.later else "earlier"
    if lane.p >= _NAMED:
        return Verdict("lane", f"The lane changed: the ball hooks {way}", why)
    return Verdict("lane", f"The ball hooks {way}, and why cannot be told yet", why)


def _speed_unseen(f: Findings) -> str:
    """Return the caution that a hook which comes earlier or later needs where no speed was read."""
    if np.isfinite(column(f.shots, "speed_mph")[f.usable]).mean() >= _SPEED_WATCHED:
        return ""
    return " The speed was not read, and a throw that gets slower or faster looks much the same."


def _held(off: int, known: int) -> str:
    """Return how the throws went, as far as it was seen."""
    if known < FEWEST_FIRST_BALLS:
        return "How the throws went was not seen."
    if off == 0:
        return f"All {known} throws held."
    return f"{known - off} of {known} throws held."


def _lower(title: str) -> str:
    return title[0].lower() + title[1:]


def _without_change(f: Findings, best: Option | None, held: str) -> Verdict:
    held = f"{held} No change of the lane stands out."
    later = [o for o in f.options if o.kind == "ball" and o.same_line < 0.0]
    if f.deflecting and later:
        return Verdict(
            "ball",
            "The ball reads too soon for this lane",
            f"{held} Light hits with the ball thrown far aside and a flat corner beside it ask for "
            "a ball that reads later rather than a move with the same ball.",
        )
    stay = next((o for o in f.options if o.kind == "stay"), None)
    if best is None or stay is None or stay is best or stay.tied:
        return _nothing_to_change(f, held)
    if best.strike - stay.strike < _MUCH:
        headline = f"Little is wrong; {_lower(option_title(best, f.client.hand))} may add a little"
        return Verdict("none", headline, f"{held} {option_why(best, f)}")
    if best.kind == "release":
        headline = option_title(best, f.client.hand)
        return Verdict("lane", headline, f"{held} {option_why(best, f)}")
    if best.kind == "move":
        return Verdict("lane", "The line does not fit this lane", f"{held} {option_why(best, f)}")
    headline = option_title(best, f.client.hand)
    return Verdict("ball", headline, f"{held} {option_why(best, f)}")


def _nothing_to_change(f: Findings, held: str) -> Verdict:
    pocket = f.earned.pocket if f.earned else None
    fewer = pocket is not None and pocket.seen < pocket.expected
    if pocket and fewer and (pocket.p < LUCK or pocket.seen / pocket.of < _POOR_CARRY):
        headline = "In the pocket, but the pins stayed"
        return Verdict("chance", headline, f"{held} {pocket_words(f.earned)}")
    leading = _leading_cause(f)
    told = {
        "throw": " What missed was mostly the single throw.",
        "chance": " What missed was mostly chance.",
    }.get(leading, "")
    return Verdict("none", "Stay: nothing asks for a change", f"{held}{told}{_spares(f)}")


def _spares(f: Findings) -> str:
    made, tried = spares(f.shots)
    if tried < _ENOUGH_SPARES or made / tried >= _FAIR_SPARES:
        return ""
    return f" Spares cost more: {made} of {tried} made."


def _leading_cause(f: Findings) -> str:
    told = [c for c in f.causes if c]
    if not told:
        return ""
    return max(KINDS, key=lambda kind: sum(c[kind] for c in told))


def _enough(f: Findings) -> bool:
    pins = column(f.shots, "head_pin")
    return bool((f.usable & np.isfinite(pins)).sum() >= FEWEST_FIRST_BALLS)


def leave_words(leave: str, f: Findings) -> str:
    """Return what the hits behind one leave have in common, as far as was read."""
    mine = [s for s, first in zip(f.shots, f.first, strict=True) if first and s.leave == leave]
    kinds = [hits.hit(s.head_pin, s.leave) for s in mine]
    known = [k for k in kinds if k]
    told = []
    if known:
        kind = max(dict.fromkeys(known), key=known.count)  # of a tie the first met
        name = {"missed": "past the head pin", "crossover": "across the head pin"}.get(kind, kind)
        told.append(f"{known.count(kind)} of {len(known)} {name}")
    deflected = sum(hits.drive(s) == "deflected" for s in mine)
    if deflected:
        told.append(f"{deflected} with the ball thrown far aside")
    states = [leaves.corner_state(leave, s.neighbour_pin, f.client.hand) for s in mine]
    for state in ("flat", "ringing", "into"):
        if state in states:
            told.append(f"{states.count(state)} {state}")
    words = ", ".join(told)
    if any(
        hits.drive(s) == "deflected" and state == "flat"
        for s, state in zip(mine, states, strict=True)
    ):
        words += "; where it is both, the ball was deflected and asks for one that reads later"
    return words


_COLUMN_WORDS = {
    "arrows": ("the board at the arrows", "throws cannot be told from lane"),
    "head_pin": ("the board at the head pin", "no hit, fit or option can be computed"),
    "breakpoint_ft": (
        "the breakpoint and its distance",
        "front, mid and back cannot be told apart",
    ),
    "laydown": ("the laydown board", "the launch rests on the arrows alone"),
    "deck_exit": ("the deck exit", "deflection cannot be told"),
    "speed_mph": ("the speed", "a tired or hurried throw goes unseen"),
    "leave": ("the leave", "strikes, causes and score are unknown"),
    "aim": ("the board aimed at", "a planned move looks like a miss"),
}


def missing_words(f: Findings) -> list[str]:
    """Return what is missing and what to watch next time."""
    told = []
    first = [s for s, flag in zip(f.shots, f.first, strict=True) if flag]
    good = int(f.usable.sum())
    if good < FEWEST_FIRST_BALLS:
        told.append(
            f"Only {good} usable first balls; a trend needs at least {FEWEST_FIRST_BALLS}, a "
            "change of the lane about 15."
        )
    for name, (what, because) in _COLUMN_WORDS.items():
        read = sum(
            bool(s.leave) if name == "leave" else getattr(s, name) is not None for s in first
        )
        if not first or read / len(first) < 0.25:
            told.append(f"Watch next: {what}. Without it {because}.")
    corners = [s for s in first if leaves.corner_pin(s.leave, f.client.hand) and "-" not in s.leave]
    unread = [s for s in corners if not s.neighbour_pin]
    if len(unread) >= 2 and len(unread) * 2 > len(corners):
        told.append("Watch next: how the pin beside a standing corner went, flat or around.")
    if f.unknown_balls:
        told.append(
            f"Nothing is known of ball {', '.join(f.unknown_balls)}: an average ball is assumed."
        )
    told += [note for game in f.games for note in _game_notes(game.game, game.notes)]
    if f.client.hook == "backup":
        told.append(
            "A back-up ball curves the other way: hits, fit, causes and options are not computed "
            "for it yet; throws and trends are."
        )
    if f.competition:
        told.append(RULE)
    return told


def _game_notes(game: int, notes: tuple[str, ...]) -> list[str]:
    return [f"Game {game}: {note}." for note in notes]
