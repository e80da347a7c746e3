"""The reading's JSON, the contract with pages and commands: plain, rounded, without nan."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion import HOUSE, Release, roll
from lanes.motion.friction import SURFACE_LAW

from . import causes, hits, leaves, luck
from .combined import on_cue
from .findings import Drifts, Findings
from .options import Option, with_factors
from .overruled import causes_of, said_words
from .physics import Physics
from .pooled_words import pooled_json
from .scoring import Game, spares
from .strike import basis
from .throws import ThrowDrift
from .transition import session_words
from .words import (
    FEWEST_FIRST_BALLS,
    leave_words,
    missing_words,
    option_detail,
    option_title,
    option_why,
    verdict,
)

SEEN = ("laydown", "arrows", "breakpoint", "breakpoint_ft", "head_pin", "deck_exit", "speed_mph")
_ENDS = 10  # first and last throws whose usual path is drawn
_BAND_DRAWS = 12
_STEP_FT = 2


def number(value: float | None, digits: int = 2) -> float | None:
    """Return a rounded float, ``None`` for nan or nothing."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), digits) + 0.0  # no minus before a nought


def reading_json(f: Findings) -> dict[str, Any]:
    """Return the whole reading."""
    answer = verdict(f)
    sheet = f.pattern or HOUSE
    enough = int(f.usable.sum()) >= FEWEST_FIRST_BALLS
    return {
        "version": f.version,
        "seed": f.seed,
        "lane": {
            "pattern": sheet.name,
            "assumed": f.pattern is None,
            "length_ft": number(sheet.length_ft, 1),
            "volume_ml": number(sheet.total_ml, 2),
        },
        "client": {"hand": f.client.hand, "hook": f.client.hook, "assumed": f.client.assumed},
        "shots": [_shot(f, i) for i in range(len(f.shots))],
        "games": [_game(game) for game in f.games],
        "counts": _counts(f),
        "transition": {
            "changes": [change.as_json() for change in f.changes],
            "ball_changes": [change.as_json() for change in f.ball_changes],
            "throw_changes": [throw_change_json(f, drift) for drift in f.throws.drifts],
            "drift": _drifts(f.drifts),
            "by": [
                {"ball": ball, "lane": lane, "drift": _drifts(drifts)}
                for ball, lane, drifts in f.by
            ],
            "words": session_words([*f.changes, *f.ball_changes], f.drifts, enough),
        },
        "leaves": _leaves(f),
        "carry": luck.as_json(f.earned),
        "fit": _fit(f),
        "pooled": pooled_json(f.physics),
        "scatter": f.throws.scatter.as_json(),
        "movers": f.movers.as_json() if f.movers else None,
        "verdict": {"kind": answer.kind, "headline": answer.headline, "why": answer.why},
        "options": [option_json(f, option, answer.kind == "throw") for option in f.options],
        "forecast": f.ahead.forecast if f.ahead else [],
        "what_if": f.what_if.as_json() if f.what_if else None,
        "paths": _paths(f),
        "table": basis(),
        "missing": missing_words(f),
        "said": said_words(f.said),
    }


def throw_change_json(f: Findings, drift: ThrowDrift) -> dict[str, Any]:
    """Return a change of the throw itself."""
    shot = f.shots[drift.at].shot
    return {
        "shot": shot,
        "what": drift.what,
        "p": number(min(drift.p, 0.999), 3),
        "before": number(drift.before),
        "after": number(drift.after),
        "words": drift.words(shot),
    }


def _shot(f: Findings, i: int) -> dict[str, Any]:
    shot = f.shots[i]
    angle = number(f.entries.angle_deg[i])
    first = bool(f.first[i])
    behind = causes_of(f.said).get(shot.shot)
    hit = hits.hit(shot.head_pin, shot.leave) if first and f.client.hook == "usual" else None
    return {
        "shot": shot.shot,
        "ball": shot.ball,
        "lane": shot.lane,
        "game": shot.game,
        "frame": shot.frame,
        "delivery": shot.delivery,
        "first_ball": first,
        "throw": f.throws.verdicts[i].as_json(),
        "hit": hit,
        "leave": shot.leave,
        "leave_name": leaves.leave_name(
            shot.leave, f.client.hand, shot.neighbour_pin, hit == "flush"
        ),
        "corner": leaves.corner_state(shot.leave, shot.neighbour_pin, f.client.hand),
        "entry_angle_deg": angle,
        "entry_angle_sd": number(f.entries.sd[i]),
        "entry_angle_from": f.entries.source[i] or None,
        "drive": hits.drive(shot) if first and hit else None,
        "deflection_boards": number(hits.deflection(shot, angle) if first else None, 1),
        "cause": causes.as_json(f.causes[i]),
        "seen": {name: number(getattr(shot, name), 2) for name in SEEN},
        "said": behind and {"cause": behind, "computed": causes.as_json(f.computed[i])},
    }


def _game(game: Game) -> dict[str, Any]:
    return {
        "game": game.game,
        "score": game.score,
        "notes": list(game.notes),
        "frames": [
            {
                "frame": frame.frame,
                "balls": list(frame.balls),
                "cumulative": frame.cumulative,
                "mark": frame.mark,
                "split": frame.split,
                "foul": frame.foul,
            }
            for frame in game.frames
        ],
    }


def _counts(f: Findings) -> dict[str, int]:
    first = [s for s, flag in zip(f.shots, f.first, strict=True) if flag]
    judged = [t.verdict for t, flag in zip(f.throws.verdicts, f.first, strict=True) if flag]
    made, tried = spares(f.shots)
    pocket = sum(bool(hits.in_pocket(s.head_pin)) for s in first)
    return {
        "first_balls": len(first),
        "strikes": sum(s.leave == "X" and not s.foul for s in first),
        "pocket": pocket if f.client.hook == "usual" else 0,
        "good": judged.count("good"),
        "off": judged.count("off"),
        "spares_made": made,
        "spares_tried": tried,
    }


def _drifts(drifts: Drifts) -> dict[str, Any]:
    return {name: drift.as_json() for name, drift in drifts.items() if drift is not None}


def _leaves(f: Findings) -> list[dict[str, Any]]:
    counted = Counter(
        s.leave
        for s, flag in zip(f.shots, f.first, strict=True)
        if flag and s.leave not in ("", "X", "/")
    )
    rows = []
    for leave, count in sorted(counted.items(), key=lambda item: (-item[1], item[0])):
        told = f.earned.leave(leave) if f.earned else None
        words = (luck.leave_words(told), leave_words(leave, f))
        rows.append(
            {
                "leave": leave,
                "name": leaves.leave_name(leave, f.client.hand),
                "count": count,
                "expected": number(told.expected, 1) if told else None,
                "explained": "; ".join(part for part in words if part),
            }
        )
    return rows


def _fit(f: Findings) -> dict[str, Any]:
    physics = f.physics
    error = {
        "reading_error": asdict(f.reading_error),
        "reading_error_own": list(f.own_error),
        "law": asdict(f.law),
        "law_own": f.law != SURFACE_LAW,
    }
    if physics is None:
        return {
            "balls": [],
            **error,
            "notes": ["Too few first balls were read down the lane for a fit of ball and lane."],
        }
    fit = physics.fit
    return {
        "balls": [
            {
                "name": ball.name,
                "friction": number(scale),
                "low": number(max(0.0, scale - 1.645 * sd)),
                "high": number(scale + 1.645 * sd),
                "assumed": list(ball.assumed),
            }
            for ball, scale, sd in zip(fit.balls, fit.ball_scale, fit.ball_scale_sd, strict=True)
        ],
        **error,
        "notes": list(fit.notes),
    }


def option_json(f: Findings, option: Option, throw_first: bool) -> dict[str, Any]:
    """Return an option; ``throw_first`` where the throw comes before any of them."""
    leave = option.likeliest_leave(f.client.hand)
    place = next(i for i, one in enumerate(f.options) if one is option)
    holds, sign = (f.ahead.holds[place], f.ahead.signs[place]) if f.ahead else (None, None)
    return {
        "kind": option.kind,
        "detail": option_detail(option, f),
        "title": option_title(option, f.client.hand),
        "strike": number(option.strike, 3),
        "strike_interval": [number(option.low, 3), number(option.high, 3)],
        "pocket": number(option.pocket, 3),
        "likeliest_leave": leave and {"pins": leave.name, "share": number(leave.p, 3)},
        "room_boards": number(option.room_boards, 1),
        "head_pin": number(option.head_pin, 1),
        "why": option_why(option, f),
        "holds": holds.as_json() if holds else None,
        "watch": sign.as_json() if sign else None,
        "tied": option.tied,
        "throw_first": throw_first,
    }


# Paths ------------------------------------------------------------------------------------------


def _paths(f: Findings) -> list[dict[str, Any]]:
    """Return the usual path at the start, at the end, and of each option."""
    if f.physics is None or f.range is None:
        return []
    physics, fit = f.physics, f.physics.fit
    good = np.flatnonzero(f.usable[physics.index])
    rows = good if len(good) else np.arange(len(physics.index))
    ends = (("first", "First balls", rows[:_ENDS]), ("last", "Last balls", rows[-_ENDS:]))
    found = []
    for kind, label, some in ends:
        ball = int(physics.thrown[some[0 if kind == "first" else -1]])
        some = some[physics.thrown[some] == ball]
        launch = np.median(fit.launches[some], axis=0)
        order = float(np.median(physics.index[some]))
        name = f"{label}, ball {physics.balls[ball].name}"
        path: dict[str, Any] = {"label": name, "kind": kind, "option": None}
        points = _points(physics, launch, ball, order)
        if points:
            found.append(path | {"points": points, "band": _band(physics, some, ball, order)})
    for place, option in enumerate(f.options):
        if option.kind == "stay":
            continue
        points = _option_points(f, option)
        if points:
            title = option_title(option, f.client.hand)
            found.append({"label": title, "kind": "option", "option": place, "points": points})
    return found


def _trim(path: Any) -> list[list[float]]:
    last = len(path.path_ft) - 1
    return [
        [round(float(ft), 2), round(float(board), 2)]
        for i, (ft, board) in enumerate(zip(path.path_ft, path.path_board, strict=True))
        if i % _STEP_FT == 0 or i == last
    ]


def _release(launch: NDArray[np.float64], rotation: float, tilt: float) -> Release | None:
    try:
        return Release(
            float(launch[2]), float(launch[3]), rotation, tilt, float(launch[0]), float(launch[1])
        )
    except ValueError:  # a launch that nobody throws is not drawn
        return None


def _points(
    physics: Physics, launch: NDArray[np.float64], ball: int, order: float
) -> list[list[float]]:
    release = _release(launch, physics.fit.rotation_deg, physics.fit.tilt_deg)
    if release is None:
        return []
    return _trim(roll(release, physics.balls[ball], physics.fit.lane_at(order, ball)))


def _option_points(f: Findings, option: Option) -> list[list[float]]:
    """Return the path of the throw whose head-pin board the option tells."""
    assert f.physics is not None
    assert f.range is not None
    range_ = on_cue(f.range, option)
    usual = range_.usual(option.spec, option.ball, (option.feet, option.eyes))
    release = _release(usual.launch, usual.rotation_deg, f.physics.fit.tilt_deg)
    if release is None:
        return []
    lane = with_factors(range_.lane(option.spec), usual.factors)
    return _trim(roll(release, option.spec, lane))


def _band(physics: Physics, rows: NDArray[np.int64], ball: int, order: float) -> list[list[float]]:
    """Return ``[ft, low, high]`` that holds 90 % of the usual paths the fit leaves possible."""
    draws = physics.fit.draws(_BAND_DRAWS, 1)
    lane = physics.fit.lane_at(order, ball)
    factors = draws.factors_at(order, ball)
    drawn = []
    for d in range(_BAND_DRAWS):
        launch = np.median(draws.launches[d, rows], axis=0)
        release = _release(launch, float(draws.rotation_deg[d]), physics.fit.tilt_deg)
        if release is None:
            continue
        path = roll(release, physics.balls[ball], with_factors(lane, factors[d]))
        if path.gutter_at_ft is None:
            drawn.append(np.array(_trim(path)))
    if len(drawn) < _BAND_DRAWS // 2:
        return []
    boards = np.array([points[:, 1] for points in drawn])
    low, high = np.percentile(boards, (5, 95), axis=0)
    return [
        [round(float(ft), 2), round(float(a), 2), round(float(b), 2)]
        for ft, a, b in zip(drawn[0][:, 0], low, high, strict=True)
    ]
