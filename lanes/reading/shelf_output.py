"""What a search of the shelf found, as the plain JSON that is kept. Chances are 0 to 1."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from lanes.motion import BallSpec

from .gains import Gain
from .moments import Line, Moment, Thing
from .shelf import AFTER_GAMES, STRIKE_RG, Findings, Limits, Way
from .strike import basis

PATHS = {"now": "at hand", "resurface": "fresh surface", "stock": "from stock", "legal": "legal"}


def plan_json(found: Findings, limits: Limits, prices: Mapping[str, str]) -> dict[str, Any]:
    """Return the findings; ``prices`` by the keys of what is in stock."""
    now = found.shelf.now
    stock = [_stock(found, way, prices) for way in found.stock]
    resurfaces = [_resurface(found, way) for way in found.resurfaces]
    legal = _legal(found, limits)
    return {
        "lessons": [
            {"name": fit.lesson.name, "first_balls": fit.first_balls} for fit in found.shelf.fits
        ],
        "at_hand": {
            "chance": round(float(now.chances.mean()), 4),
            "balls": [
                {
                    "key": thing.key,
                    "name": thing.spec.name,
                    "best_on": [
                        moment.name
                        for moment, play in zip(found.shelf.moments, now.plays, strict=True)
                        if play and play[0].key == thing.key
                    ],
                }
                for thing in found.shelf.at_hand
            ],
        },
        "moments": len(found.shelf.moments),
        "after_games": AFTER_GAMES,
        "practice": {
            "gain": found.practice.gain.as_json(),
            "scatter_boards": round(found.practice.scatter_boards, 2),
            "better_boards": round(found.practice.better_boards, 2),
            "runs": found.practice.runs,
        },
        "resurface": resurfaces,
        "stock": stock,
        "legal": legal,
        "decision": _decision(found),
        "table": basis(),
        "picture": _picture(found),
    }


def _thing(way: Way) -> Thing:
    assert way.thing is not None
    return way.thing


def _surface(spec: BallSpec) -> dict[str, Any]:
    full = spec.filled()
    return {"grit": round(full.grit or 0.0), "polished": bool(full.polished)}


def _resurface(found: Findings, way: Way) -> dict[str, Any]:
    thing = _thing(way)
    gain = found.shelf.gain(way, found.shelf.now)
    return {
        "key": thing.of,
        "name": thing.spec.name,
        **_surface(thing.spec),
        "gain": gain.as_json(),
        "is_clear": gain.is_clear,
        "used": sum(way.used),
    }


def _of_ball(found: Findings, way: Way) -> dict[str, Any]:
    """Return what is told alike of a ball in stock and of the best legal one."""
    spec = _thing(way).spec.filled()
    of_resurface, of_practice = found.over_free(way)
    part = found.share_of(way)
    return {
        "cover": spec.cover,
        **_surface(spec),
        "rg_in": spec.rg_in,
        "differential_in": spec.differential_in,
        "pin_to_pap_in": spec.pin_to_pap_in,
        "gain": found.shelf.gain(way, found.shelf.now).as_json(),
        "over_resurface": of_resurface.as_json() if of_resurface else None,
        "over_practice": of_practice.as_json(),
        "is_clear": found.is_clear(way),
        "share_of_resurface": part.as_json() if part else None,
        "used": sum(way.used),
    }


def _stock(found: Findings, way: Way, prices: Mapping[str, str]) -> dict[str, Any]:
    """Return a ball in stock; ``fresh`` where it is told in another finish than the box's."""
    thing = _thing(way)
    key = _article(thing)
    return {
        "key": key,
        "name": thing.spec.name,
        "price": prices.get(key, ""),
        "fresh": thing.box is not None,
        **_of_ball(found, way),
    }


def _article(thing: Thing) -> str:
    """Return the key of the ball in stock that a thing is."""
    return thing.box or thing.key


def _legal(found: Findings, limits: Limits) -> dict[str, Any]:
    legal = found.legal
    covers = dict.fromkeys(thing.spec.cover for thing in legal.alike)
    surfaces = {(s["grit"], s["polished"]) for s in (_surface(t.spec) for t in legal.alike)}
    return {
        **_of_ball(found, legal.best),
        "covers": list(covers),
        "surfaces": [{"grit": grit, "polished": polished} for grit, polished in sorted(surfaces)],
        "alike": len(legal.alike),
        "looked_at": legal.looked_at,
        "ranges": {axis: [round(v, 3) for v in ends] for axis, ends in legal.ranges.items()},
        "searched": {
            "rg": list(limits.rg_in),
            "strike_rg": [limits.rg_in[0], round(limits.at("rg", STRIKE_RG), 2)],
            "differential": list(limits.differential_in),
        },
        "limits": limits.words,
        "path_spread": {k: round(v, 2) for k, v in legal.path_spread.items()},
        "chance_spread": {k: round(v, 4) for k, v in legal.chance_spread.items()},
    }


def _decision(found: Findings) -> dict[str, Any]:
    """Say what comes first: what is free, then a surface, and a ball only where it is clear."""
    clear = [way for way in found.stock if found.is_clear(way)]
    surface: Gain | None = None
    if found.best_resurface:
        surface = found.shelf.gain(found.best_resurface, found.shelf.now)
    if clear:
        kind, key = "buy", _article(_thing(clear[0]))
    elif surface and surface.is_clear:
        kind, key = "resurface", _thing(found.resurfaces[0]).of or ""
    elif found.practice.gain.is_clear:
        kind, key = "practice", ""
    else:
        kind, key = "enough", ""
    return {"kind": kind, "key": key, "clear": [_article(_thing(way)) for way in clear]}


def _picture(found: Findings) -> dict[str, Any]:
    """Return the paths over one another on the moment where the best new ball gains most."""
    ways = {"now": found.shelf.now}
    if found.best_resurface:
        ways["resurface"] = found.best_resurface
    ways |= {"stock": found.stock[0]} if found.stock else {"legal": found.legal.best}
    newest = ways.get("stock", found.legal.best)
    thing = _thing(newest)
    moments = found.shelf.moments
    at = int(np.argmax([_lead(found, moment, thing) for moment in moments]))
    moment = moments[at]
    paths = []
    for kind, way in ways.items():
        shown = _shown(moment, way, at)
        if shown is None:
            continue
        what, line = shown
        path = moment.path(what, line)
        points = zip(path.path_ft.tolist(), path.path_board.tolist(), strict=True)
        paths.append(
            {
                "kind": kind,
                "name": what.spec.name,
                **_surface(what.spec),
                "cover": what.spec.filled().cover,
                "feet": round(line.feet, 1),
                "eyes": round(line.eyes, 1),
                "entry_angle_deg": path.entry_angle_deg and round(path.entry_angle_deg, 1),
                "breakpoint": path.breakpoint_board and round(path.breakpoint_board, 1),
                "points": [[round(ft, 2), round(board, 2)] for ft, board in points],
            }
        )
    client = moment.fit.lesson.client
    return {"on": moment.name, "hand": client.hand, "paths": paths}


def _lead(found: Findings, moment: Moment, thing: Thing) -> float:
    best = max(found.shelf.chance(moment, one, closely=True) for one in found.shelf.at_hand)
    return found.shelf.chance(moment, thing, closely=True) - best


def _shown(moment: Moment, way: Way, at: int) -> tuple[Thing, Line] | None:
    """Return what a way shows on a moment: its own ball even where another does better there."""
    if way.thing is None:
        return way.plays[at]
    line = moment.line(way.thing, closely=True)
    return (way.thing, line) if line else None
