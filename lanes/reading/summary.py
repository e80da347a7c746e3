"""A reading as plain text, for a terminal."""

from __future__ import annotations

from typing import Any

from .movers import lines as mover_lines

_NAMES = {
    "arrows": "arrows",
    "breakpoint": "breakpoint",
    "breakpoint_ft": "breakpoint distance",
    "head_pin": "head pin",
    "entry_angle": "entry angle",
    "deck_exit": "deck exit",
}


def summary(reading: dict[str, Any]) -> str:
    """Return the reading's JSON as a page of text: the decision first, then what it rests on."""
    lines = [reading["verdict"]["headline"], reading["verdict"]["why"], ""]
    lines += _options(reading)
    lines += _ahead(reading)
    lines += _counts(reading)
    lines += _drift(reading)
    lines += _movers(reading)
    lines += _shots(reading)
    lines += [f"Game {g['game']}: {_score(g)}" for g in reading["games"]]
    lines += _limits(reading)
    return "\n".join(lines)


def percent(share: float | None) -> str:
    """Return a share in whole per cent."""
    return "?" if share is None else f"{100 * share:.0f} %"


def _options(reading: dict[str, Any]) -> list[str]:
    if not reading["options"]:
        return []
    lines = [
        f"Options, best first by chance and pocket together (chances by table "
        f"{reading['table']['version']} of the pins):"
    ]
    for place, option in enumerate(reading["options"], start=1):
        low, high = option["strike_interval"]
        tie = ", a tie" if option["tied"] else ""
        lines.append(
            f"{place}. {option['title']}: {percent(option['strike'])} "
            f"({percent(low)} to {percent(high)}{tie}), pocket {percent(option['pocket'])}, "
            f"room {option['room_boards']} boards"
            f"{_leave_words(option['likeliest_leave'])}"
        )
        lines.append(f"   {option['why']}")
        lines += [f"   {option[name]['words']}" for name in ("watch", "holds") if option[name]]
    return [*lines, ""]


def _ahead(reading: dict[str, Any]) -> list[str]:
    lines = []
    for row in reading["forecast"]:
        strikes = row["strikes"]
        lines.append(
            f"The next {row['balls']} balls if nothing changes: {strikes['mean']:.0f} to strike "
            f"({strikes['low']:.0f} to {strikes['high']:.0f})."
        )
    if reading["what_if"]:
        title = reading["options"][reading["what_if"]["option"]]["title"]
        lines.append(f"What if ({title}): {reading['what_if']['words']}")
    return [*lines, ""] if lines else []


def _leave_words(leave: dict[str, Any] | None) -> str:
    if leave is None:
        return ""
    return f", else likeliest the {leave['pins']} ({percent(leave['share'])} of what stays)"


def _counts(reading: dict[str, Any]) -> list[str]:
    c = reading["counts"]
    line = (
        f"{c['first_balls']} first balls: {c['strikes']} strikes, {c['pocket']} in the pocket, "
        f"{c['good']} good throws and {c['off']} off."
    )
    if c["spares_tried"]:
        line += f" Spares: {c['spares_made']} of {c['spares_tried']}."
    carry = [reading["carry"]["words"]] if reading["carry"] else []
    return [line, *carry, reading["transition"]["words"], ""]


def _drift(reading: dict[str, Any]) -> list[str]:
    lines = ["Drift in ten balls, good throws, on the same throw (95 %):"]
    for name, drift in reading["transition"]["drift"].items():
        lines.append(
            f"  {_NAMES[name]:<20}{drift['per_10']:+6.2f} {drift['unit']:<7}"
            f"({drift['low']:+.2f} to {drift['high']:+.2f}, {drift['n']} balls)"
        )
    return [*lines, ""] if len(lines) > 1 else []


def _movers(reading: dict[str, Any]) -> list[str]:
    movers = reading["movers"]
    if movers is None:
        return []
    return [movers["words"], *(f"  {line}" for line in mover_lines(movers)), ""]


def _shots(reading: dict[str, Any]) -> list[str]:
    lines = ["Shot  throw    hit        angle       deflection  leave, likeliest cause"]
    for shot in reading["shots"]:
        if not shot["first_ball"]:
            continue
        angle = shot["entry_angle_deg"]
        seen = "" if angle is None else f"{angle:.1f} ± {shot['entry_angle_sd']:.1f}"
        turned = shot["deflection_boards"]
        cause = shot["cause"]
        told = shot["leave_name"]
        if cause:
            first = max(cause, key=lambda kind: cause[kind])
            told += f", {first} {percent(cause[first])}"
        lines.append(
            f"{shot['shot']:>4}  {shot['throw']['verdict']:<8} {shot['hit'] or '':<10} "
            f"{seen:<11} {'' if turned is None else f'{turned:+.1f}':<11} {told}"
        )
    return [*lines, ""]


def _score(game: dict[str, Any]) -> str:
    frames = " | ".join(" ".join(frame["balls"]) for frame in game["frames"])
    return f"{game['score'] if game['score'] is not None else 'score not known'}  {frames}"


def _limits(reading: dict[str, Any]) -> list[str]:
    lines = ["", "What this rests on:"]
    lane = reading["lane"]
    if lane["assumed"]:
        lines.append("- No pattern sheet: an ordinary house pattern is assumed.")
    if reading["client"]["assumed"]:
        lines.append(f"- Assumed of the student: {', '.join(reading['client']['assumed'])}.")
    if reading["pooled"]["words"]:
        lines.append(f"- {reading['pooled']['words']}")
    lines += [f"- {note}" for note in [*reading["fit"]["notes"], *reading["missing"]]]
    return [*lines, f"- {reading['table']['words']}"]
