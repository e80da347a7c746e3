"""A reading as the reading's JSON contract has it, made by hand, so that pages can be tested alone.

24 shots of a right-hander: the ball begins to hook earlier after shot 14, and the best option is a
move. The numbers are invented.
"""

from __future__ import annotations

import math
from typing import Any


def path(laydown: float, breakpoint: float, at_ft: float, end: float) -> list[list[float]]:
    """Return (ft, board) points of a smooth made-up path."""
    points = []
    for ft in range(0, 63, 3):
        if ft <= at_ft:
            board = laydown + (breakpoint - laydown) * math.sin(math.pi / 2 * ft / at_ft)
        else:
            board = breakpoint + (end - breakpoint) * ((ft - at_ft) / (62.6 - at_ft)) ** 1.3
        points.append([float(ft), round(board, 2)])
    return points


def shot(n: int) -> dict[str, Any]:
    late = n > 14
    off = n in (5, 11, 17)
    head_pin = 17.4 + 0.25 * math.sin(n) + (1.4 if late else 0) + (1.8 if off else 0)
    hit = "high" if head_pin > 18.5 else "flush"
    leave = "X" if hit == "flush" and n % 5 else ("10" if hit == "flush" else "4-9")
    return {
        "shot": n,
        "ball": "A",
        "lane": 7 + n % 2,
        "game": 1 + n // 13,
        "frame": 1 + (n - 1) % 10,
        "delivery": 1,
        "first_ball": True,
        "throw": {
            "verdict": "off" if off else "good",
            "why": "2 boards in at the arrows" if off else "within 0.6 boards of the aim",
            "miss": "in" if off else None,
        },
        "hit": hit,
        "leave": leave,
        "leave_name": {"X": "strike", "10": "10 pin", "4-9": "4-9 split"}[leave],
        "corner": "ringing" if leave == "10" else None,
        "entry_angle_deg": round(5.1 + (0.6 if late else 0), 2),
        "entry_angle_sd": 0.5,
        "deflection_boards": 3.1,
        "cause": None
        if leave == "X"
        else {"throw": 0.7, "lane": 0.2, "ball": 0.05, "chance": 0.05}
        if off
        else {"throw": 0.1, "lane": 0.6, "ball": 0.1, "chance": 0.2},
        "seen": {
            "laydown": 24.0,
            "arrows": 14.0 + (2 if off else 0.3 * math.sin(n)),
            "breakpoint": 8.0 + (0.8 if late else 0),
            "breakpoint_ft": 42.0 - (2 if late else 0),
            "head_pin": head_pin,
            "deck_exit": 20.5,
            "speed_mph": 17.2,
        },
    }


DETAILS: dict[str, dict[str, Any]] = {
    "stay": {"ball": "A"},
    "move": {"ball": "A", "feet": 2.0, "eyes": 1.0, "toward": "left"},
    "ball": {"ball": "B", "feet": 0.0, "eyes": 0.0, "toward": "left"},
    "surface": {"ball": "A", "feet": 0.0, "eyes": -1.5, "toward": "right", "surface": "finer"},
}


def option(kind: str, title: str, strike: float, **more: Any) -> dict[str, Any]:
    return {
        "kind": kind,
        "detail": DETAILS[kind],
        "title": title,
        "strike": strike,
        "strike_interval": [round(strike - 0.12, 2), round(strike + 0.1, 2)],
        "pocket": 0.71,
        "likeliest_leave": {"pins": "10", "share": 0.41},
        "room_boards": 2.4,
        "why": "The ball reads the lane earlier now. Moving in puts it back on oil that is left.",
        "tied": False,
        "throw_first": False,
        **more,
    }


def sample_reading() -> dict[str, Any]:
    """Return a fresh copy of the whole reading."""
    shots = [shot(n) for n in range(1, 25)]
    return {
        "version": "1",
        "seed": 1,
        "lane": {
            "pattern": "ordinary house pattern",
            "assumed": True,
            "length_ft": 40.0,
            "volume_ml": 24.0,
        },
        "client": {"hand": "right", "hook": "usual", "assumed": ["rev_rpm"]},
        "shots": shots,
        "games": [],
        "counts": {
            "first_balls": 24,
            "strikes": sum(s["leave"] == "X" for s in shots),
            "pocket": sum(s["hit"] == "flush" for s in shots),
            "good": 21,
            "off": 3,
            "spares_made": 4,
            "spares_tried": 6,
        },
        "transition": {
            "changes": [
                {
                    "shot": 15,
                    "where": "mid",
                    "p": 0.93,
                    "hooks": "earlier",
                    "lane": None,
                    "ball": "A",
                    "words": "From shot 15 on the ball hooks earlier in the mid-lane.",
                }
            ],
            "throw_changes": [],
            "drift": {
                "arrows": {"per_10": 0.02, "low": -0.1, "high": 0.15, "n": 21, "unit": "boards"},
                "breakpoint_ft": {"per_10": -1.1, "low": -1.6, "high": -0.6, "n": 21, "unit": "ft"},
                "head_pin": {"per_10": 0.8, "low": 0.5, "high": 1.1, "n": 21, "unit": "boards"},
                "entry_angle": {"per_10": 0.3, "low": 0.1, "high": 0.5, "n": 21, "unit": "deg"},
            },
            "by": [],
            "words": "The lane hooks earlier: good throws come in 0.8 boards higher per 10 shots.",
        },
        "leaves": [
            {"leave": "4-9", "name": "4-9 split", "count": 7, "explained": "high in the pocket"},
            {
                "leave": "10",
                "name": "10 pin",
                "count": 2,
                "expected": 1.2,
                "explained": "about 1.2 expected of these hits; 2 of 2 flush",
            },
        ],
        "fit": {
            "balls": [{"name": "A", "friction": 1.05, "low": 0.9, "high": 1.2}],
            "reading_error": {"arrows": 0.5, "head_pin": 0.7},
            "notes": ["Rev rate was assumed; it cannot be told from boards alone."],
        },
        "scatter": {"arrows_sd": 0.6, "laydown_sd": 0.5, "n": 21},
        "verdict": {
            "kind": "lane",
            "headline": "The lane changed: it hooks earlier from shot 15",
            "why": "21 of 24 throws were good, and the good ones come in a board higher now.",
        },
        "options": [
            option("move", "Feet 2 left, eyes 1 left", 0.58),
            option("stay", "Stay with ball A on the same line", 0.39, tied=False),
            option("ball", "Ball B, same line", 0.44, tied=True),
        ],
        "paths": [
            {
                "label": "first shots",
                "kind": "first",
                "option": None,
                "points": path(24, 8.0, 42, 17.5),
            },
            {
                "label": "last shots",
                "kind": "last",
                "option": None,
                "points": path(24, 8.8, 40, 19.0),
            },
            {
                "label": "feet 2 left, eyes 1 left",
                "kind": "option",
                "option": 0,
                "points": path(26, 9.6, 41, 17.5),
            },
        ],
        "carry": {
            "balls": 12,
            "strikes": 10,
            "expected": 8.6,
            "low": 6,
            "high": 11,
            "p": 0.55,
            "words": "12 balls met the pocket and 10 struck; the table expects about 9 of such "
            "hits (6 to 11 nine times in ten). That is within luck.",
        },
        "table": {"version": "7", "words": "Chances of a strike come from table 7 of the pins."},
        "missing": ["Deck exit on more shots would tell bad luck from a deflected ball."],
    }


def spread(mean: float, low: float, high: float) -> dict[str, float]:
    return {"mean": mean, "low": low, "high": high}


def forecast(ten: float, twenty: float) -> list[dict[str, Any]]:
    """Return what the next 10 and 20 balls bring, by their strikes."""
    return [
        {
            "balls": balls,
            "strikes": spread(mean, mean - 2, mean + 3),
            "pocket": spread(mean + 1, mean - 1, mean + 4),
            "head_pin": spread(17.9, 17.0, 18.8),
            "entry_angle_deg": spread(5.4, 5.0, 5.8),
        }
        for balls, mean in ((10, ten), (20, twenty))
    ]


def what_if(low: float, high: float) -> dict[str, Any]:
    """Return the rest from shot 15 on with the first option; its gain in strikes lies between."""
    sides = {"pocket": spread(6.0, 4.0, 8.0)}
    return {
        "option": 0,
        "from_shot": 15,
        "shots": 10,
        "happened": {"strikes": 4, "pocket": 6},
        "as_thrown": sides | {"strikes": spread(4.4, 2.0, 7.0)},
        "with_option": sides | {"strikes": spread(6.6, 4.0, 9.0)},
        "gain": spread(0.5 * (low + high), low, high),
        "by_shot": [
            {"shot": n, "seen": 17.0, "thrown": 17.2, "asked": [16.0, 17.5, 19.0], "chance": 0.5}
            for n in range(15, 25)
        ],
        "words": "Of the 10 first balls from shot 15 on 4 struck.",
    }


def movers() -> dict[str, Any]:
    """Return what moved the hit from shot to shot, as a reading tells it where the launch did."""
    parts = (
        ("launch", "half a degree further in", 3.3, [2.2, 4.3], 0.6, [0.36, 0.75]),
        ("speed", "1 mph faster", -2.4, [-4.6, -0.3], 0.11, [0.01, 0.28]),
        ("lane", None, None, None, 0.0, [0.0, 0.02]),
        ("rest", None, None, None, 0.29, [0.17, 0.48]),
    )
    keys = ("what", "unit", "boards", "boards_interval", "share", "share_interval")
    return {
        "n": 21,
        "scatter_boards": 1.9,
        "first": "launch",
        "p": 0.97,
        "parts": [dict(zip(keys, part, strict=True)) for part in parts],
        "unread": [],
        "words": "The launch moved the hit most: 3.3 boards for half a degree further in (2.2 to "
        "4.3), 60 % of the scatter (36 to 75). What is left: 29 % of the scatter (17 to 48).",
    }


def whole_reading() -> dict[str, Any]:
    """Return the sample with what later versions tell: a change of each kind, and a look ahead."""
    found = sample_reading()
    throw = {"shot": 9, "what": "speed_mph", "p": 0.9, "before": 17.0, "after": 16.0}
    ball = {"shot": 20, "ball": "B", "p": 0.995, "hooks": "later", "beside": []}
    found["transition"] |= {
        "throw_changes": [throw | {"words": "1.0 mph slower from about shot 9"}],
        "ball_changes": [ball | {"words": "Ball B itself hooks later from about shot 20."}],
    }
    said = "As the coach says, shot 5 counts as a missed throw, since it was the throw."
    shots = [
        shot | {"said": {"cause": "throw", "computed": shot["cause"]}}
        if shot["shot"] == 5
        else shot
        for shot in found["shots"]
    ]
    return found | {
        "shots": shots,
        "said": said,
        "forecast": forecast(4.6, 8.9),
        "what_if": what_if(0.4, 4.0),
        "movers": movers(),
    }
