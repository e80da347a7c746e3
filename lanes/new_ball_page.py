"""A new-ball plan for eyes: sentences, the chart of gains and the paths, from the plan's JSON.

What is free comes first, and a ball is shown as a purchase only where the plan calls it clear.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from lanes.gain_chart import GainChart, chart_of, in_strikes
from lanes.models import NewBallPlan
from lanes.pictures import LanePicture

# Which line each way to play has on the picture and in the chart, also without colour.
_LOOKS = {
    "now": (1, "solid", "circle"),
    "practice": (1, "solid", "circle"),
    "resurface": (2, "dash", "square"),
    "stock": (3, "dashdot", "triangle"),
    "legal": (4, "dot", "diamond"),
}
_WHAT = {
    "now": "At hand",
    "resurface": "Fresh surface",
    "stock": "From stock",
    "legal": "Best of what is legal",
}
_AXES = {"rg": "RG", "differential": "differential", "pin_to_pap": "pin to PAP"}
_COVERS = ("solid", "hybrid", "pearl", "urethane")


@dataclass(frozen=True)
class Shown:
    """A ball of the plan with its numbers in words."""

    data: dict[str, Any]

    @property
    def name(self) -> str:
        return str(self.data.get("name", ""))

    @property
    def pk(self) -> str:
        return str(self.data.get("key", "")).removeprefix("stock ")

    @property
    def surface(self) -> str:
        return surface_words(self.data)

    @property
    def gain(self) -> str:
        """The gain in words; a ball that no lane asks for gains nothing, whatever the doubt."""
        return in_strikes(self.data["gain"]) if self.is_used else "0"

    @property
    def is_used(self) -> bool:
        """Whether any lane asks for it."""
        return bool(self.data.get("used"))

    @property
    def over_resurface(self) -> str:
        over = self.data.get("over_resurface")
        return in_strikes(over) if over else ""

    @property
    def over_practice(self) -> str:
        return in_strikes(self.data["over_practice"])

    @property
    def numbers(self) -> str:
        d = self.data
        return (
            f"{d['cover']}, {self.finish}, RG {d['rg_in']:.3f} in, differential "
            f"{d['differential_in']:.3f} in"
        )

    @property
    def is_fresh(self) -> bool:
        """Whether it is told in another finish than it has in its box."""
        return bool(self.data.get("fresh"))

    @property
    def finish(self) -> str:
        made = "made in the shop before it is handed over" if self.is_fresh else "from the box"
        return f"{self.surface} {made}"

    @property
    def price(self) -> str:
        return str(self.data.get("price", ""))

    @property
    def share(self) -> str:
        """What the best resurface gets of it: "70 % (40 to 100 %)"; empty where it says nothing."""
        part = self.data.get("share_of_resurface")
        if not part:
            return ""
        mean, low, high = (min(round(100 * part[name]), 100) for name in ("mean", "low", "high"))
        return f"{mean} % of it ({low} to {high} %)" if mean > 0 else ""

    @property
    def is_clear(self) -> bool:
        return bool(self.data.get("is_clear"))


@dataclass(frozen=True)
class PlanPage:
    """Everything that the page of a plan shows."""

    plan: NewBallPlan
    headline: str
    why: str
    lessons: str
    at_hand: list[str]
    practice: str
    resurfaces: list[Shown]
    stock: list[Shown]
    clear: list[Shown]
    legal: Shown
    area: str
    surface_matters: str
    spread: list[tuple[str, str, str]]
    chart: GainChart
    picture: LanePicture

    @property
    def data(self) -> dict[str, Any]:
        return self.plan.data


def page_of(plan: NewBallPlan) -> PlanPage:
    """Return a plan as its page shows it."""
    data = plan.data
    resurfaces = [Shown(one) for one in data["resurface"]]
    stock = [Shown(one) for one in data["stock"]]
    clear = [one for one in stock if one.is_clear]
    headline, why = _decision(data, resurfaces, clear)
    return PlanPage(
        plan=plan,
        headline=headline,
        why=why,
        lessons=_lessons(data),
        at_hand=list(_at_hand(data)),
        practice=_practice(data),
        resurfaces=resurfaces,
        stock=stock,
        clear=clear,
        legal=Shown(data["legal"]),
        area=_area(data["legal"]),
        surface_matters=_surface_matters(data["legal"]),
        spread=_spread(data["legal"]),
        chart=_chart(data, resurfaces, stock),
        picture=_picture(data["picture"]),
    )


def surface_words(found: dict[str, Any]) -> str:
    """Return a surface in words: "2000 grit", "polish over 4000"."""
    return f"polish over {found['grit']}" if found["polished"] else f"{found['grit']} grit"


def listed(words: Sequence[str], last: str = "and") -> str:
    """Return words as a sentence has them: "a, b and c"."""
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def _decision(data: dict[str, Any], resurfaces: list[Shown], clear: list[Shown]) -> tuple[str, str]:
    kind = data["decision"]["kind"]
    if kind == "buy":
        names = listed([one.name for one in clear], "or")
        return (
            f"A new ball stands clear: {names}",
            f"It gains {clear[0].gain} strikes of 100 on these lanes, more than the best fresh "
            "surface and more than practice. Try those first all the same: they cost little or "
            "nothing.",
        )
    none = (
        "No ball in stock stands clear of the best fresh surface and of practice: not now."
        if data["in_stock"]
        else "No purchase is shown: the stock list holds no ball in this weight."
    )
    if kind == "resurface":
        best = resurfaces[0]
        return (
            f"A fresh surface first: {best.name} to {best.surface}",
            f"It gains {best.gain} strikes of 100. {none}",
        )
    if kind == "practice":
        gain = in_strikes(data["practice"]["gain"], sign=False)
        return ("Practice first", f"It gains {gain} strikes of 100 and costs nothing. {none}")
    return ("What is at hand covers these lanes", none)


def _lessons(data: dict[str, Any]) -> str:
    told = [f"{one['name']} ({one['first_balls']} first balls)" for one in data["lessons"]]
    return f"{listed(told)}, each early and late"


def _at_hand(data: dict[str, Any]) -> Iterable[str]:
    yield (
        f"Each lane with its best ball on its best line: {round(100 * data['at_hand']['chance'])} "
        "strikes of 100, to compare with and no forecast."
    )
    for ball in data["at_hand"]["balls"]:
        where = ball["best_on"]
        yield (
            f"{ball['name']} is the best on {len(where)} of {data['moments']}: {listed(where)}."
            if where
            else f"{ball['name']} is the best on none of them."
        )


def _practice(data: dict[str, Any]) -> str:
    p = data["practice"]
    return (
        f"Misses at the arrows are {p['scatter_boards']:.1f} boards; in the better half of "
        f"{p['runs']} runs of five first balls they are {p['better_boards']:.1f}. If all throws "
        f"were like that half, the balls at hand would strike "
        f"{in_strikes(p['gain'], sign=False)} times more in 100. "
        "That it can be reached is assumed; a part of a good run is luck."
    )


def _area(legal: dict[str, Any]) -> str:
    surfaces = [surface_words(one) for one in legal["surfaces"]]
    same = "every" if len(legal["covers"]) == len(_COVERS) else None
    covers = "any cover" if same else f"cover {listed(legal['covers'], 'or')}"
    every = "any surface" if len(surfaces) >= 5 else listed(surfaces, "or")
    ranges = [
        f"{_AXES[axis]} {low:g} to {high:g} in" if high > low else f"{_AXES[axis]} about {low:g} in"
        for axis, (low, high) in legal["ranges"].items()
    ]
    return (
        f"{covers.capitalize()}, {every}; {', '.join(ranges)}. Within this area nothing can be "
        f"told from the best ({legal['alike']} of {legal['looked_at']} covers with a surface; less "
        "than the model's own doubt apart)."
    )


def _surface_matters(legal: dict[str, Any]) -> str:
    spread = legal["path_spread"]
    others = {name: spread[name] for name in _AXES if name in spread}
    if not others or "surface" not in spread:
        return ""
    told = listed([f"{_AXES[name]} by {value:.1f}" for name, value in others.items()])
    more = spread["surface"] > max(others.values())
    lead = "Surface matters more than the numbers" if more else "The numbers matter here too"
    return (
        f"{lead}: on one line a fresh surface moves the ball by {spread['surface']:.1f} boards at "
        f"the head pin, {told}."
    )


def _spread(legal: dict[str, Any]) -> list[tuple[str, str, str]]:
    low, high = legal["searched"]["strike_rg"]
    names = {"surface": "Surface, 500 grit to polish", "cover": "Cover, solid to urethane"}
    names |= {
        "rg": f"RG, {low:g} to {high:g} in",
        "differential": "Differential, all that is legal",
    }
    names |= {"pin_to_pap": "Pin to PAP, 1 to 5.5 in"}
    rows = []
    for key, label in names.items():
        path, chance = legal["path_spread"].get(key), legal["chance_spread"].get(key)
        rows.append(
            (
                label,
                "" if path is None else f"{path:.1f}",
                "" if chance is None else f"{100 * chance:.0f}",
            )
        )
    return rows


def _chart(data: dict[str, Any], resurfaces: list[Shown], stock: list[Shown]) -> GainChart:
    rows = [("Practice", data["practice"]["gain"], "practice")]
    rows += [(f"{one.name} to {one.surface}", one.data["gain"], "resurface") for one in resurfaces]
    rows += [(f"{one.name}, from stock", one.data["gain"], "stock") for one in stock]
    rows.append(("The best of what is legal", data["legal"]["gain"], "legal"))
    return chart_of(
        "Gain in strikes of 100 over the balls at hand, each with its range of 9 of 10",
        [(label, gain, _LOOKS[kind][2], _LOOKS[kind][0]) for label, gain, kind in rows],
    )


def _picture(found: dict[str, Any]) -> LanePicture:
    words = [f"{_label(path)}: {_does(path)}" for path in found["paths"]]
    picture = LanePicture(
        title=f"Usual throws on {found['on']}, from above",
        description=". ".join(words) + "." if words else "No path to show.",
        hand=found["hand"],
        key="new-ball",
    )
    for path in found["paths"]:
        series, dash, _ = _LOOKS[path["kind"]]
        points = [(ft, board) for ft, board in path["points"]]
        picture.add_path(points, _label(path), series=series, dash=dash)
    return picture


def _label(path: dict[str, Any]) -> str:
    name = path["name"] or path["cover"]
    return f"{_WHAT[path['kind']]}: {name}, {surface_words(path)}"


def _does(path: dict[str, Any]) -> str:
    parts = []
    if path["breakpoint"] is not None:
        parts.append(f"breakpoint on board {path['breakpoint']:.1f}")
    if path["entry_angle_deg"] is not None:
        parts.append(f"{path['entry_angle_deg']:.1f} deg into the pins")
    return ", ".join(parts) or "no hook"
