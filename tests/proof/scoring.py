"""What the reading said of a session, against what was true of it: one plain record each.

Looking back, a session is read whole. Live, it is read again on its first 15, 20, 25, ... shots,
for changes alone (options are not needed to be told that something changed), so a delay is known
to five shots.
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.special import stdtrit

from lanes.reading import live
from lanes.reading import session as reading

from . import pins, rivals
from .ball import ANGLE, ARROWS, LOW, LOW_FT, PIN
from .scenarios import Scenario
from .simulate import Line, Session, simulate

FIELDS = ("full", "missing")
CAUSE_OF = {"burn": "lane", "carrydown": "lane", "slowing": "throw", "target": "throw",
            "surface": "ball"}  # fmt: skip
LIVE_FROM, LIVE_EVERY = 15, 5
THROWS = 240  # of the true student at each option
_Z90 = 1.6448536269514722
_TRUE_COLUMN = {"arrows": ARROWS, "breakpoint": LOW, "breakpoint_ft": LOW_FT, "head_pin": PIN,
                "entry_angle": ANGLE}  # fmt: skip


def read(session: Session, fields: str) -> dict[str, Any]:
    """Read one log of a session with what its owner knows."""
    return reading.read_session(
        session.shots(fields),
        session.client[fields],
        [ware.spec() for ware in session.wares],
        session.sheet,
    ).as_json()


def watch(session: Session, fields: str, first: int) -> dict[str, Any]:
    """Return what a reading of a session's first shots says changed, as its JSON holds it.

    As at the lane, where many looks share the false alarms of one. Options come after the changes
    and have no part in them, and cost most of the time; they are left out.
    """
    shots = session.shots(fields)[:first]
    balls = [ware.spec() for ware in session.wares]
    reader = live.LiveReader(shots, session.client[fields], balls, session.sheet)
    reader.look()
    return {
        "transition": {
            "changes": [change.as_json() for change in reader.changes],
            "ball_changes": [change.as_json() for change in reader.ball_changes],
            "throw_changes": [
                {"shot": shots[d.at].shot, "what": d.what, "p": round(min(d.p, 0.999), 3)}
                for d in reader.throws.drifts
            ],
        }
    }


def claim(found: dict[str, Any]) -> dict[str, Any]:
    """Return the one cause that a reading names for the session, and how surely.

    As its verdict does: a change of the throw comes first, then the likelier one of lane and ball.
    ``cause`` is throw, lane, ball or none.
    """
    told = found["transition"]
    if told["throw_changes"]:
        best = max(told["throw_changes"], key=lambda change: change["p"])
        return {"cause": "throw", "p": best["p"], "fine": best["what"], "at": best["shot"] - 1}
    lane = [{**change, "cause": "lane"} for change in told["changes"][:1]]
    ball = [{**change, "cause": "ball"} for change in told["ball_changes"][:1]]
    if not lane and not ball:
        return {"cause": "none", "p": 0.0, "fine": "", "at": -1}
    best = max(lane + ball, key=lambda change: change["p"])
    where = best["where"] if best["cause"] == "lane" else best["ball"]
    fine = "carrydown" if best["cause"] == "lane" and best["hooks"] == "later" else where
    return {"cause": best["cause"], "p": best["p"], "fine": fine or best["hooks"],
            "at": best["shot"] - 1}  # fmt: skip


def alarms(found: dict[str, Any]) -> list[int]:
    """Return the places of everything that a reading says changed."""
    told = found["transition"]
    every = (*told["changes"], *told["ball_changes"], *told["throw_changes"])
    return [change["shot"] - 1 for change in every]


def look_back(scenario: Scenario) -> dict[str, Any]:
    """Simulate, read both logs whole and score them."""
    session = simulate(scenario)
    record = _planted(session) | {"stage": "back"}
    for fields in FIELDS:
        found = read(session, fields)
        record[fields] = score(session, fields, found)
        record["version"] = found["version"]
    return record


def look_live(scenario: Scenario) -> dict[str, Any]:
    """Simulate and read both logs as they grow; keeps at which lengths something was told."""
    session = simulate(scenario)
    record = _planted(session) | {"stage": "live"}
    lengths = list(range(LIVE_FROM, scenario.shots + 1, LIVE_EVERY))
    for fields in FIELDS:
        told = []
        for length in lengths:
            found = watch(session, fields, length)
            if alarms(found):
                told.append([length, claim(found)["cause"], round(claim(found)["p"], 3)])
        record[fields] = {"lengths": lengths, "told": told}
    return record


def work(job: tuple[str, Scenario]) -> str:
    """Do one session of one stage ("back" or "live") and return its record as a line of JSON."""
    stage, scenario = job
    look = look_back if stage == "back" else look_live
    return json.dumps(look(scenario), separators=(",", ":"))


def _planted(session: Session) -> dict[str, Any]:
    s, truth = session.scenario, session.truth
    return {
        "number": s.number,
        "kind": s.kind,
        "shots": s.shots,
        "onset": s.onset,
        "size": round(truth.size, 2),
        "size_low": round(truth.size_low, 2),
        "reached": truth.reached,
        "second_ball": s.second_ball,
    }


def plant_size(record: dict[str, Any]) -> float:
    """Return a plant's size in boards: at the breakpoint for a burn, else at the head pin."""
    return abs(record["size_low"] if record["kind"] == "burn" else record["size"])


def score(session: Session, fields: str, found: dict[str, Any]) -> dict[str, Any]:
    """Score one reading of one log."""
    shots = session.shots(fields)
    options = _options(session, found)
    return {
        "claim": claim(found),
        "alarms": alarms(found),
        "verdict": found["verdict"]["kind"],
        "angle": _angles(session, found),
        "drift": _drifts(session, shots, found),
        "options": options,
        "shot_causes": _shot_causes(session, found),
        "agree": rivals.drift_against_statsmodels(shots),
        "rivals": rivals.all_of(shots, session.scenario.hand, _true_drift(session, shots, PIN)),
        "extras": _extras(session, found),
    }


# Angles, drifts ---------------------------------------------------------------------------------


def _angles(session: Session, found: dict[str, Any]) -> list[float]:
    """Return how many angles were given, how many 90 % intervals held, mean miss and half width."""
    told = [(s["entry_angle_deg"], s["entry_angle_sd"]) for s in found["shots"]]
    rows = [
        (angle - true, _Z90 * sd)
        for (angle, sd), true in zip(told, session.truth.thrown[:, ANGLE], strict=True)
        if angle is not None and sd is not None and np.isfinite(true)
    ]
    if not rows:
        return [0, 0, 0.0, 0.0]
    miss, half = np.array(rows).T
    held = int((np.abs(miss) <= half).sum())
    return [len(rows), held, round(float(miss.mean()), 3), round(float(half.mean()), 3)]


def _true_drift(session: Session, shots, column: int) -> float | None:
    """Return the true drift on the same throw, per ten balls: the trend of the usual throw.

    Least squares over the good shots whose check-point was read, each line with a level of its own,
    as the reading's own drift is.
    """
    name = {value: key for key, value in _TRUE_COLUMN.items()}[column]
    truth = session.truth
    values = truth.usual[:, column].copy()
    s = session.scenario
    if column == ARROWS:  # the throw itself: what the student meant to do, fault and all
        grown = np.clip((np.arange(s.shots) - s.onset + 1) / (s.shots - s.onset), 0.0, 1.0)
        values = values + session.target_off * grown
    seen = "head_pin" if name == "entry_angle" else name
    use = np.array([getattr(x, seen) is not None and x.throw != "off" for x in shots])
    use &= np.isfinite(values)
    groups = truth.line_of
    for group in np.unique(groups):
        if (use & (groups == group)).sum() < 2:
            use &= groups != group
    if use.sum() < 8:
        return None
    index = np.flatnonzero(use)
    level = (groups[index, None] == np.unique(groups[index])).astype(float)
    design = np.column_stack([level, (index + 1.0) / 10.0])
    return float(np.linalg.lstsq(design, values[index], rcond=None)[0][-1])


def _drifts(session: Session, shots, found: dict[str, Any]) -> dict[str, list[float]]:
    """Return for each check-point the drift told, its 90 % interval, and the true drift."""
    rows = {}
    for name, column in _TRUE_COLUMN.items():
        told = found["transition"]["drift"].get(name)
        true = _true_drift(session, shots, column)
        if told is None or true is None:
            continue
        freedom = max(told["n"] - 6, 3)
        narrower = stdtrit(freedom, 0.95) / stdtrit(freedom, 0.975)  # from 95 to 90 %
        low = told["per_10"] - narrower * (told["per_10"] - told["low"])
        high = told["per_10"] + narrower * (told["high"] - told["per_10"])
        rows[name] = [round(v, 3) for v in (told["per_10"], low, high, true)]
    return rows


def _shot_causes(session: Session, found: dict[str, Any]) -> dict[str, float]:
    """Return the mean of the causes told for the last third of a session's departures."""
    late = [s["cause"] for s in found["shots"][-(session.scenario.shots // 3) :] if s["cause"]]
    if not late:
        return {}
    kinds = late[0].keys()
    return {kind: round(float(np.mean([c[kind] for c in late])), 3) for kind in kinds}


# Options ----------------------------------------------------------------------------------------


def true_chance(
    session: Session,
    ware_name: str,
    line: Line,
    grit: float | None = None,
    repaired: bool = False,
) -> float:
    """Return the true chance of a strike of the true student, by the harness's lane and pins.

    The same misses serve every option. ``grit`` is a fresh surface; ``repaired`` throws as before
    the student's own fault.
    """
    asked = (ware_name, line, grit, repaired)
    if asked in session.chances:
        return session.chances[asked]
    s = session.scenario
    ware = next(w for w in session.wares if w.name == ware_name)
    if ware_name == "A":
        ware = replace(ware, roughened=session.roughened)
    if grit is not None:
        ware = replace(ware, grit=grit, polished=False, roughened=0.0)
    rng = np.random.default_rng([s.seed, 3])
    misses = rng.standard_normal((THROWS, 6))
    wild = rng.random(THROWS) < 0.04
    misses[wild, 1] *= 3.0
    slower, off = (0.0, 0.0) if repaired else (session.speed_lost, session.target_off)
    throws = session.student.throws(line, misses, slower, off)
    found = np.concatenate(
        [
            session.student.roll(ware, throws[i :: len(session.films)], film)[0]
            for i, film in enumerate(session.films)
        ]
    )
    chance = pins.strike_chance(found[:, PIN], found[:, ANGLE], s.carry_logit)
    session.chances[asked] = round(float(chance.mean()), 4)
    return session.chances[asked]


def _now(session: Session, found: dict[str, Any]) -> tuple[str, Line, bool] | None:
    """Return the ball and line that a reading's options start from, and whether the throw first."""
    stay = next((o for o in found["options"] if o["kind"] == "stay"), None)
    if stay is None:
        return None
    name = stay["detail"]["ball"]
    return name, session.last_lines[name], bool(stay["throw_first"])


def _repaired(session: Session, throw_first: bool) -> bool:
    """A reading that asks for the throw first counts on the throw of before."""
    return throw_first and session.scenario.kind in ("slowing", "target")


def _options(session: Session, found: dict[str, Any]) -> list[dict[str, Any]]:
    now = _now(session, found)
    if now is None:
        return []
    _, line, throw_first = now
    rows = []
    for option in found["options"]:
        detail = option["detail"]
        there = line.moved(detail.get("feet", 0.0), detail.get("eyes", 0.0))
        true = true_chance(
            session, detail["ball"], there, detail.get("grit_to"), _repaired(session, throw_first)
        )
        low, high = option["strike_interval"]
        rows.append(
            {"kind": option["kind"], "told": option["strike"], "low": low, "high": high,
             "true": true, "tied": option["tied"]}
        )  # fmt: skip
    return rows


def _extras(session: Session, found: dict[str, Any]) -> dict[str, float]:
    """Return the true chance of what simple rules would do: the other ball, two and one."""
    now = _now(session, found)
    if now is None:
        return {}
    name, line, throw_first = now
    other = "B" if name == "A" else "A"
    fixed = _repaired(session, throw_first)
    return {
        "other ball": true_chance(session, other, line, None, fixed),
        "two and one in": true_chance(session, name, line.moved(2.0, 1.0), None, fixed),
        "two and one out": true_chance(session, name, line.moved(-2.0, -1.0), None, fixed),
    }
