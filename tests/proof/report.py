"""The table of the proof: figures beside targets and beside simpler rivals, as Markdown.

The number behind ± is one standard error: of a share by the binomial, of what is counted several
times in a session from session to session.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import numpy as np

from . import robot
from .scoring import CAUSE_OF, FIELDS, LIVE_EVERY, LIVE_FROM, plant_size

Record = dict[str, Any]

NEAR = 8  # shots
LARGE = 2.0  # boards
SURE = 0.80
WORTH = 0.05  # strike chance by which the best must beat staying
CHECKPOINTS = ("arrows", "breakpoint", "breakpoint_ft", "head_pin", "entry_angle")
OPTIONS = ("stay", "move", "ball", "surface")
PLANTS = tuple(CAUSE_OF)
KIND_WORDS = {
    "nothing": "nothing", "burn": "mid-lane burn", "carrydown": "carrydown",
    "slowing": "slowing student", "target": "drifting target", "surface": "surface unannounced",
}  # fmt: skip


def load(path: Path) -> tuple[dict[str, str], list[Record], list[Record]]:
    """Return what a file of results is about, its records looking back, and those live."""
    rows = [json.loads(line) for line in path.read_text().splitlines()]
    about = next(row for row in rows if row["stage"] == "about")
    back = sorted((r for r in rows if r["stage"] == "back"), key=lambda r: r["number"])
    live = sorted((r for r in rows if r["stage"] == "live"), key=lambda r: r["number"])
    return about, back, live


def share(flags: Iterable[bool]) -> str:
    """Return a share with its standard error in per cent, and of how many."""
    found = np.array(list(flags), dtype=float)
    if len(found) == 0:
        return "none"
    mean = found.mean()
    error = np.sqrt(mean * (1 - mean) / len(found))
    return f"{100 * mean:.1f} ± {100 * error:.1f} % of {len(found)}"


def pooled(held: list[float], tried: list[float]) -> str:
    """Return a share of what is tried several times in each session, its error by sessions."""
    h, n = np.array(held, dtype=float), np.array(tried, dtype=float)
    h, n = h[n > 0], n[n > 0]
    if len(n) == 0:
        return "none"
    mean = h.sum() / n.sum()
    error = np.sqrt(np.sum((h - mean * n) ** 2)) / n.sum()
    return f"{100 * mean:.1f} ± {100 * error:.1f} % of {int(n.sum())}"


def _lines(title: str, head: list[str], rows: list[list[str]]) -> list[str]:
    out = ["", f"### {title}", "", "| " + " | ".join(head) + " |"]
    out.append("|" + "---|" * len(head))
    return out + ["| " + " | ".join(row) + " |" for row in rows]


def _pair(value: Callable[[str], str]) -> list[str]:
    return [value(fields) for fields in FIELDS]


def false_alarms(back: list[Record], live: list[Record]) -> list[str]:
    quiet = [r for r in back if r["kind"] == "nothing"]
    quiet_live = [r for r in live if r["kind"] == "nothing"]

    def rival(name: str, told: Callable[[Any], bool]) -> list[str]:
        return _pair(lambda f: share(told(r[f]["rivals"][name]) for r in quiet))

    rows = [
        ["the reading, looking back", "at most 5 %",
         *_pair(lambda f: share(bool(r[f]["alarms"]) for r in quiet))],
        ["its part of the lane", "", *_pair(lambda f: share(_lane_alarm(r[f]) for r in quiet))],
        [f"the reading, live (any of its looks, every {LIVE_EVERY} shots)", "at most 5 %",
         *_pair(lambda f: share(bool(r[f]["told"]) for r in quiet_live))],
        ["CUSUM of the head pin", "", *rival("cusum", lambda x: x["told"] >= 0)],
        ["PELT of the head pin", "", *rival("pelt", lambda x: x["at"] >= 0)],
        ["least-squares trend, p < 0.05", "", *rival("trend", lambda x: x["told"])],
        ["two flat corners", "", *rival("two flat", lambda x: x >= 0)],
    ]  # fmt: skip
    return _lines(
        "False alarms: sessions with nothing planted in which something is said to have changed",
        ["who", "target", "full fields", "missing fields"], rows,
    )  # fmt: skip


def _lane_alarm(found: dict[str, Any]) -> bool:
    return found["claim"]["cause"] == "lane"


def _near(places: Iterable[int], onset: int) -> bool:
    return any(at >= 0 and abs(at - onset) <= NEAR for at in places)


def found(back: list[Record]) -> list[str]:
    large = [r for r in back if r["kind"] != "nothing" and plant_size(r) >= LARGE]

    def of(kind: str | None) -> list[Record]:
        return [r for r in large if kind in (None, r["kind"])]

    rows = [
        ["the reading, all causes", "at least 80 % (full)",
         *_pair(lambda f: share(_near(r[f]["alarms"], r["onset"]) for r in of(None)))],
    ]  # fmt: skip
    for kind in PLANTS:
        some = of(kind)
        rows.append(
            [f"its {KIND_WORDS[kind]}", "",
             *_pair(lambda f, some=some: share(_near(r[f]["alarms"], r["onset"]) for r in some))]
        )  # fmt: skip
    burns = [r for r in of("burn") if r["reached"] >= 0]
    rows += [
        ["a burn, from 8 shots before its onset to 8 after it reached 2 boards", "",
         *_pair(lambda f: share(
             any(r["onset"] - NEAR <= at <= r["reached"] + NEAR for at in r[f]["alarms"])
             for r in burns))],
        ["anything told at all", "",
         *_pair(lambda f: share(bool(r[f]["alarms"]) for r in of(None)))],
        ["CUSUM of the head pin", "",
         *_pair(lambda f: share(_near([r[f]["rivals"]["cusum"]["at"]], r["onset"])
                                for r in of(None)))],
        ["PELT of the head pin", "",
         *_pair(lambda f: share(_near([r[f]["rivals"]["pelt"]["at"]], r["onset"])
                                for r in of(None)))],
        ["least-squares trend: told at all (it names no shot)", "",
         *_pair(lambda f: share(r[f]["rivals"]["trend"]["told"] for r in of(None)))],
    ]  # fmt: skip
    return _lines(
        f"Found looking back: within {NEAR} shots of the true onset, plants of {LARGE:g} boards "
        "or more",
        ["who", "target", "full fields", "missing fields"], rows,
    )  # fmt: skip


def delays(back: list[Record], live: list[Record]) -> list[str]:
    large = [r for r in live if r["kind"] != "nothing" and plant_size(r) >= LARGE]
    whole = {r["number"]: r for r in back}

    def reading(fields: str, some: list[Record]) -> str:
        early = [r for r in some if any(t[0] <= r["onset"] for t in r[fields]["told"])]
        rest = [r for r in some if r not in early]
        after = [min((t[0] - r["onset"] for t in r[fields]["told"]), default=None) for r in rest]
        return _delay_words(after, len(early))

    def cusum(fields: str, some: list[Record]) -> str:
        told = [(whole[r["number"]][fields]["rivals"]["cusum"]["told"], r["onset"])
                for r in some if r["number"] in whole]  # fmt: skip
        early = sum(0 <= at < onset for at, onset in told)
        after = [at - onset if at >= 0 else None for at, onset in told if not 0 <= at < onset]
        return _delay_words(after, early)

    rows = [["the reading, all causes", *_pair(lambda f: reading(f, large))]]
    for kind in PLANTS:
        some = [r for r in large if r["kind"] == kind]
        rows.append(
            [f"its {KIND_WORDS[kind]}", *_pair(lambda f, some=some: reading(f, some))]
        )  # fmt: skip
    rows.append(["CUSUM of the head pin", *_pair(lambda f: cusum(f, large))])
    return _lines(
        f"Live delay in shots after the onset, plants of {LARGE:g} boards or more (looks at shot "
        f"{LIVE_FROM} and every {LIVE_EVERY} after)",
        ["who", "full fields", "missing fields"], rows,
    )  # fmt: skip


def _delay_words(after: list[int | None], early: int) -> str:
    if not after and not early:
        return "none"
    told = sorted(a for a in after if a is not None)
    total = len(after) + early
    if not told:
        return f"never told in {len(after)} of {total}, too early in {early}"
    q = np.percentile(told, (25, 50, 75, 90))
    return (
        f"quarters {q[0]:.0f}, {q[1]:.0f}, {q[2]:.0f}, nine in ten {q[3]:.0f}; "
        f"never in {len(after) - len(told)}, too early in {early}, of {total}"
    )


def causes(back: list[Record]) -> list[str]:
    planted = [r for r in back if r["kind"] != "nothing"]

    def right(fields: str, some: list[Record]) -> str:
        sure = [r for r in some if r[fields]["claim"]["p"] > SURE]
        return share(r[fields]["claim"]["cause"] == CAUSE_OF[r["kind"]] for r in sure)

    def claimed(fields: str, some: list[Record]) -> str:
        return share(r[fields]["claim"]["p"] > SURE for r in some)

    rows = [
        ["right, of claims over 80 %", "at least 85 %", *_pair(lambda f: right(f, planted))],
        ["sessions with such a claim", "at least half", *_pair(lambda f: claimed(f, planted))],
    ]
    for kind in PLANTS:
        some = [r for r in planted if r["kind"] == kind]
        rows.append(
            [f"{KIND_WORDS[kind]} ({CAUSE_OF[kind]}): right", "",
             *_pair(lambda f, some=some: right(f, some))]
        )  # fmt: skip
        rows.append(
            [f"{KIND_WORDS[kind]}: claimed", "", *_pair(lambda f, some=some: claimed(f, some))]
        )
    for name in ("cusum", "trend"):
        words = {"cusum": "CUSUM", "trend": "least-squares trend"}[name]

        def told(record: Record, fields: str, name: str = name) -> bool:
            found = record[fields]["rivals"][name]
            return bool(found["told"]) if name == "trend" else found["told"] >= 0

        rows.append(
            [f"{words}, which can only say lane: right", "",
             *_pair(lambda f, told=told: share(
                 CAUSE_OF[r["kind"]] == "lane" for r in planted if told(r, f)))]
        )  # fmt: skip
        rows.append(
            [f"{words}: told", "",
             *_pair(lambda f, told=told: share(told(r, f) for r in planted))]
        )  # fmt: skip
    return _lines(
        "Right cause: throw, lane or ball, of all sessions with something planted",
        ["what", "target", "full fields", "missing fields"], rows,
    )  # fmt: skip


def coverage(back: list[Record]) -> list[str]:
    def angle(fields: str) -> str:
        told = [r[fields]["angle"] for r in back]
        biased = np.average([a[2] for a in told], weights=[a[0] + 1e-9 for a in told])
        return f"{pooled([a[1] for a in told], [a[0] for a in told])}; mean miss {biased:+.2f} deg"

    def drift(fields: str, name: str) -> str:
        told = [r[fields]["drift"][name] for r in back if name in r[fields]["drift"]]
        return share(low <= true <= high for _, low, high, true in told)

    def option(fields: str, kind: str) -> str:
        told = [[o for o in r[fields]["options"] if o["kind"] == kind] for r in back]
        held = [float(sum(o["low"] <= o["true"] <= o["high"] for o in some)) for some in told]
        miss = [o["told"] - o["true"] for some in told for o in some]
        told_words = pooled(held, [float(len(some)) for some in told])
        return f"{told_words}; mean miss {100 * np.mean(miss):+.1f} points" if miss else "none"

    def trend(fields: str) -> str:
        told = [r[fields]["rivals"]["trend"]["row"] for r in back]
        return share(row[1] <= row[3] <= row[2] for row in told if row)

    rows = [["entry angle, every shot", "85 to 95 %", *_pair(angle)]]
    rows += [
        [f"drift: {name.replace('_', ' ')}", "85 to 95 %",
         *_pair(lambda f, name=name: drift(f, name))]
        for name in CHECKPOINTS
    ]  # fmt: skip
    rows.append(["drift of the head pin, least squares", "", *_pair(trend)])
    rows += [
        [f"strike chance: {kind}", "85 to 95 %", *_pair(lambda f, kind=kind: option(f, kind))]
        for kind in OPTIONS
    ]
    return _lines(
        "Coverage of 90 % intervals", ["quantity", "target", "full fields", "missing fields"], rows
    )


def regret(back: list[Record]) -> list[str]:
    def rows_of(fields: str) -> list[dict[str, float]]:
        out = []
        for r in back:
            options, extras = r[fields]["options"], r[fields]["extras"]
            if not options:
                continue
            stay = next(o["true"] for o in options if o["kind"] == "stay")
            best = max([o["true"] for o in options] + list(extras.values()))
            if best - stay < WORTH:
                continue
            rivals = r[fields]["rivals"]

            def stepped(way: int, stay: float = stay, extras: Any = extras) -> float:
                if way == 0:
                    return stay
                return extras["two and one in" if way > 0 else "two and one out"]

            told = rivals["trend"]["way"] if rivals["trend"]["told"] else 0
            chosen = {
                "top": options[0]["true"],
                "stay": stay,
                "flat": extras["other ball"] if rivals["two flat"] >= 0 else stay,
                "cusum": stepped(rivals["cusum"]["way"]),
                "pelt": stepped(rivals["pelt"]["way"]),
                "trend": stepped(told),
            }
            out.append({name: 100 * (best - value) for name, value in chosen.items()})
        return out

    table = {fields: rows_of(fields) for fields in FIELDS}

    def words(fields: str, name: str) -> str:
        values = np.array([row[name] for row in table[fields]])
        if len(values) < 2:
            return "none"
        error = values.std(ddof=1) / np.sqrt(len(values))
        ninth = np.percentile(values, 90)
        return (
            f"{values.mean():.1f} ± {error:.1f}, ninth decile {ninth:.1f}, {len(values)} sessions"
        )

    names = {
        "top": "the reading's top option",
        "stay": "always stay",
        "flat": "the other ball after two flat corners, same line",
        "cusum": "two and one toward where a CUSUM says",
        "pelt": "two and one toward where PELT says",
        "trend": "two and one toward where the trend says",
    }
    rows = [
        [words_, "mean at most 4" if name == "top" else "",
         *_pair(lambda f, name=name: words(f, name))]
        for name, words_ in names.items()
    ]  # fmt: skip
    return _lines(
        "Regret in points of strike chance by the true model, where the best of all tried beats "
        "staying by 5 points or more",
        ["what is done", "target", "full fields", "missing fields"], rows,
    )  # fmt: skip


def agreement(back: list[Record]) -> str:
    found = [r[f]["agree"] for r in back for f in FIELDS if r[f]["agree"] is not None]
    if not found:
        return "no drift at the arrows to compare"
    return (
        f"greatest difference of the drift at the arrows from statsmodels RLM on the same numbers: "
        f"{max(found):.5f} boards in ten balls, {len(found)} logs"
    )


def robot_lines() -> list[str]:
    rows = []
    for words, shift, error in (
        ("as measured, with a person's reading errors, as `read_log` takes them", False, None),
        ("as measured, settings known", False, robot.SETTINGS),
        ("middle setting counted as the pocket, settings known", True, robot.SETTINGS),
    ):
        a = robot.read(shift, error)
        inside = "inside" if a.low <= robot.PUBLISHED <= a.high else "outside"
        rows.append(
            [words, f"{a.slope:.2f} ({a.low:.2f} to {a.high:.2f})",
             f"{robot.PUBLISHED} is {inside}",
             f"{a.first or 'nothing'}, {100 * a.p:.0f} % sure; the launch is "
             f"{100 * a.share:.0f} % of the scatter",
             f"first in {a.by_throw} of {a.departures}, mean {100 * a.mean_throw:.0f} % throw, "
             f"{100 * a.mean_lane:.0f} % lane",
             str(a.changes)]
        )  # fmt: skip
    return _lines(
        "The measured robot rows (USBC staff, 18 rows)",
        ["entry boards", "boards for half a degree of launch, 90 %", "published",
         "named as what moved the hit most", "throw, of single departures",
         "changes of the lane told"],
        rows,
    )  # fmt: skip


def table(path: Path) -> str:
    """Return the whole table of a file of results as Markdown."""
    about, back, live = load(path)
    kinds = {k: sum(r["kind"] == k for r in back) for k in KIND_WORDS}
    large = sum(r["kind"] != "nothing" and plant_size(r) >= LARGE for r in back)
    versions = ", ".join(sorted({str(r["version"]) for r in back}))
    lines = [
        f"Reading version {versions}, commit {about['commit']}, "
        f"table of sessions {about['table']}.",
        "",
        f"{len(back)} sessions looking back ("
        + ", ".join(f"{n} {KIND_WORDS[k]}" for k, n in kinds.items())
        + f"; {large} plants of {LARGE:g} boards or more), {len(live)} of them also live.",
    ]
    lines += false_alarms(back, live) + found(back) + delays(back, live) + causes(back)
    lines += coverage(back) + regret(back) + robot_lines()
    lines += ["", f"Drift: {agreement(back)}."]
    return "\n".join(lines)
