"""Which ball would fill a student's gap: searched over what is legal and over what a shop has.

All on the lanes that the student met lately (``moments``). What an arsenal is worth is the mean
over them of its best ball's chance of a strike on that ball's best line. From there come the gains
of a ball more, of a fresh surface on a ball at hand, and of practice, paired on the same drawn
lanes and throws. What is free comes first: a purchase counts as clear only where the lower end of
its gain over the best resurface and over practice lies above nothing.

A quick look by the reduced model goes over everything, a closer one over the best, and the rigid
ball measures what is told, on lanes and throws that the search has not seen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion import BallSpec
from lanes.motion.settling import Settling

from .gains import Gain, gain, share
from .moments import (
    CHOOSING,
    QUICK_LOOK,
    Fitted,
    Lesson,
    Line,
    Moment,
    Thing,
    fitted_along,
    moments,
)
from .options import LANES_DRAWN, THROWS, model_sd

Array = NDArray[np.float64]
Progress = Callable[[float, str], None]

COVERS = ("solid", "hybrid", "pearl", "urethane")  # plastic is for spares
# Fresh surfaces that a shop makes (common practice): the last grit, and polish over it.
SURFACES = ((500.0, False), (1000.0, False), (2000.0, False), (4000.0, False), (4000.0, True))
AFTER_GAMES = 10.0  # a fresh surface settles; it is met so many games on, at home or in the shop
_MIDDLE = {"rg": 0.2, "differential": 0.75}  # of the legal range: an ordinary ball (assumed)
_PIN_TO_PAP = 4.0
_ALONG = {  # places on each axis, as parts of the legal range or inches
    "rg": (0.0, 0.1, 0.25, 0.4, 1.0),
    "differential": (0.1, 0.4, 0.7, 1.0),
    "pin_to_pap": (1.0, 2.5, 4.0, 5.5),
}
# What strike balls have of the legal range of RG (assumed): none comes near its upper end. Spreads
# are told over this, and over what surfaces there are when fresh.
STRIKE_RG = 0.4
_CLOSER = {"resurface": 2, "stock": 3}  # that get the closer look
_SHOWN = {"resurface": 2, "stock": 3}  # that are measured
_TOLD_APART = 20.0  # per cent of lanes: told apart is what is better on four in five
_WITHIN = model_sd((0.0, 0.0))  # a smaller difference of chances lies within the model's own doubt
_BOOTSTRAPS = 200
_THROWS = 72  # over all moments, on each drawn lane, that measure a play


@dataclass(frozen=True)
class Limits:
    """What a ball may be: bounds in inches, and the words that say where they come from."""

    rg_in: tuple[float, float]
    differential_in: tuple[float, float]
    mass_lb: float | None
    words: str

    def at(self, axis: str, part: float) -> float:
        low, high = getattr(self, f"{axis}_in")
        return float(low + part * (high - low))


@dataclass(frozen=True, eq=False)
class Way:
    """One way to play all moments: the thing thrown on each, its line, and what that gives.

    ``chances`` (draws,) is the mean over the moments, measured; ``used`` says on which of them the
    way differs from what is at hand.
    """

    thing: Thing | None
    plays: tuple[tuple[Thing, Line] | None, ...]
    chances: Array
    used: tuple[bool, ...] = ()


class Shelf:
    """The student's moments, the balls at hand, and what they give."""

    def __init__(
        self, at_hand: Sequence[Thing], found: Sequence[Moment], fits: Sequence[Fitted]
    ) -> None:
        self.at_hand, self.moments, self.fits = list(at_hand), list(found), list(fits)
        self.throws = int(np.clip(_THROWS // len(self.moments), 12, THROWS - CHOOSING))
        self._measured: dict[tuple[int, str, float], Array] = {}

    @property
    def late(self) -> list[Moment]:
        """The late half of the moments: enough to tell how far a number moves a ball."""
        return self.moments[1::2]

    # In the search -----------------------------------------------------------------------------

    def chance(self, moment: Moment, thing: Thing, closely: bool) -> float:
        line = moment.line(thing, closely)
        return line.chance if line else 0.0

    def worth(self, things: Sequence[Thing], closely: bool) -> float:
        """Return what an arsenal is worth by the search."""
        best = (max(self.chance(m, t, closely) for t in things) for m in self.moments)
        return float(np.mean(list(best)))

    def with_(self, thing: Thing) -> list[Thing]:
        """Return the arsenal with a thing: beside the others, or in place of the ball it was."""
        return [one for one in self.at_hand if one.of != thing.of or thing.of is None] + [thing]

    def best(self, things: Iterable[Thing], closer: int, shown: int) -> list[Thing]:
        """Return the things that make the arsenal worth most, after a quick and a closer look."""
        quick = sorted(things, key=lambda t: -self.worth(self.with_(t), closely=False))
        closely = sorted(quick[:closer], key=lambda t: -self.worth(self.with_(t), closely=True))
        return closely[:shown]

    # Measured ----------------------------------------------------------------------------------

    def _measure(self, at: int, thing: Thing, line: Line, misses: float) -> Array:
        known = (at, thing.key, misses)
        if known not in self._measured:
            self._measured[known] = self.moments[at].measured(thing, line, misses, self.throws)
        return self._measured[known]

    def way(self, things: Sequence[Thing], misses: Sequence[float] | None = None) -> Way:
        """Return the way that picks on each moment the best ball, as the search saw it."""
        plays: list[tuple[Thing, Line] | None] = []
        total = np.zeros(LANES_DRAWN)
        for at, moment in enumerate(self.moments):
            best = max(things, key=lambda thing: self.chance(moment, thing, closely=True))
            line = moment.line(best)
            plays.append((best, line) if line else None)
            if line:
                total += self._measure(at, best, line, misses[at] if misses else 1.0)
        return Way(None, tuple(plays), total / len(self.moments))

    @cached_property
    def now(self) -> Way:
        """What the balls at hand give, each lane with its best ball on its best line."""
        return self.way(self.at_hand)

    def way_with(self, thing: Thing) -> Way:
        """Return the way with a thing more, or with a ball's new surface."""
        way = self.way(self.with_(thing))
        used = tuple(bool(play and play[0].key == thing.key) for play in way.plays)
        return replace(way, thing=thing, used=used)

    def model_sd(self, way: Way, other: Way) -> float:
        """Return the model's own doubt of the difference, one sd.

        Nothing on a moment that both play alike, else that of a line as far away as the two lie
        apart; the same error on all moments, to be careful.
        """
        doubts = []
        for play, instead in zip(way.plays, other.plays, strict=True):
            if play is None or instead is None:
                doubts.append(model_sd((0.0, 0.0)) if play is not instead else 0.0)
            elif play[0].key == instead[0].key:
                doubts.append(0.0)
            else:
                line, there = play[1], instead[1]
                doubts.append(model_sd((line.feet - there.feet, line.eyes - there.eyes)))
        return float(np.mean(doubts))

    def gain(self, way: Way, other: Way) -> Gain:
        return gain(way.chances, other.chances, self.model_sd(way, other))


@dataclass(frozen=True, eq=False)
class Practice:
    """The student's own scatter brought to what the better half of their runs already shows.

    ``scatter_boards`` is the miss at the arrows now (root mean square), ``better_boards`` that of
    the better half; ``way`` what it gives with the balls at hand and ``doubt`` the sd of that gain
    from the few runs that it rests on.
    """

    scatter_boards: float
    better_boards: float
    runs: int
    way: Way
    gain: Gain


def practice(shelf: Shelf, seed: int) -> Practice:
    """Simulate practice: every miss smaller by what the better half of the runs has less."""
    runs = np.concatenate([fit.run_misses for fit in shelf.fits])
    smaller, scatter, better = _better_half(runs)
    way = shelf.way(shelf.at_hand, [smaller] * len(shelf.moments))
    rng = np.random.default_rng(seed)
    again = [_better_half(rng.choice(runs, len(runs)))[0] for _ in range(_BOOTSTRAPS)]
    mean = float((way.chances - shelf.now.chances).mean())
    # As the gain goes with how much smaller the misses are.
    doubt = abs(mean) * float(np.std(again)) / max(1.0 - smaller, 0.02)
    return Practice(
        scatter, better, len(runs), way, gain(way.chances, shelf.now.chances, min(doubt, 1.0))
    )


def _better_half(runs: Array) -> tuple[float, float, float]:
    """Return how much smaller the better half's misses are (1: no smaller), all, and the half's."""
    ordered = np.sort(runs) ** 2
    all_ = float(np.sqrt(ordered.mean()))
    half = float(np.sqrt(ordered[: max((len(ordered) + 1) // 2, 1)].mean()))
    return (half / all_ if all_ > 0.0 else 1.0), all_, half


def resurfaces(at_hand: Sequence[Thing]) -> list[Thing]:
    """Return every ball at hand with each fresh surface that it does not have now."""
    found = []
    for thing, (grit, polished) in product(at_hand, SURFACES):
        full = thing.spec.filled()
        same = full.grit == grit and full.polished == polished
        if same and (full.games or 0.0) <= AFTER_GAMES:
            continue
        spec = replace(thing.spec, grit=grit, polished=polished, games=AFTER_GAMES)
        found.append(Thing(f"{thing.key} to {grit:g} {polished}", spec, thing.of))
    return found


def offers(shelf: Shelf, stock: Sequence[Thing]) -> list[Thing]:
    """Return each ball in stock as it would be handed over: as it is in the box, or resurfaced.

    Fresh surfaces are tried on the best ball of each cover, since in one surface balls of a cover
    hardly differ. The box's finish costs no work: another one is taken only where it is worth more
    by a quick look than the model's own doubt.
    """

    def worth(thing: Thing) -> float:
        return shelf.worth(shelf.with_(thing), closely=False)

    best: dict[str | None, Thing] = {}
    for thing in sorted(stock, key=lambda one: -worth(one)):
        best.setdefault(thing.spec.cover, thing)
    found = []
    for thing in stock:
        if best[thing.spec.cover] is thing:
            fresh = max(refinished(thing), key=worth)
            if worth(fresh) - worth(thing) > _WITHIN:
                thing = fresh
        found.append(thing)
    return found


def refinished(thing: Thing) -> list[Thing]:
    """Return a ball in stock with each fresh surface that its box does not give it."""
    full = thing.spec.filled()
    return [
        Thing(
            f"{thing.key} to {grit:g} {polished}",
            replace(thing.spec, grit=grit, polished=polished, games=AFTER_GAMES),
            box=thing.key,
        )
        for grit, polished in SURFACES
        if (grit, polished) != (full.grit, full.polished)
    ]


# The legal space.


@dataclass(frozen=True, eq=False)
class Legal:
    """Where in the legal space a ball would help: an area, since much of it does alike.

    ``covers`` and ``surfaces`` hold what cannot be told from the best, ``ranges`` the same along
    each axis in inches, ``best`` the best one found. ``path_spread`` tells how far each axis moves
    the ball at the head pin on one line, over all that is legal; ``chance_spread`` what that does
    to the chance with the line found anew.
    """

    best: Way
    alike: tuple[Thing, ...]
    looked_at: int
    ranges: dict[str, tuple[float, float]]
    path_spread: dict[str, float]
    chance_spread: dict[str, float]


def legal_space(shelf: Shelf, limits: Limits) -> Legal:
    """Search the legal space: cover and surface by a quick look, then RG, and by the rigid ball
    differential and layout, along their axes."""
    grid = [_legal(limits, *choice) for choice in product(COVERS, SURFACES)]
    chances = np.array([_worth_by_draw(shelf, thing) for thing in grid])
    means = chances.mean(axis=1)
    best = int(np.argmax(means))
    less = chances[best] - chances
    alike = (np.percentile(less, _TOLD_APART, axis=1) <= 0.0) | (less.mean(axis=1) < _WITHIN)
    middle = grid[best]
    ranges, chance_spread = {}, {}
    for axis in _ALONG:
        values, worths = _along(shelf, limits, middle, axis)
        near = worths >= worths.max() - _WITHIN
        ranges[axis] = (float(values[near].min()), float(values[near].max()))
        chance_spread[axis] = float(np.ptp(worths[: _told(axis)]))
    of_best = [n for n, t in enumerate(grid) if t.spec.cover == middle.spec.cover]
    chance_spread["surface"] = float(np.ptp(means[of_best]))
    return Legal(
        best=shelf.way_with(grid[best]),
        alike=tuple(t for t, same in zip(grid, alike, strict=True) if same),
        looked_at=len(grid),
        ranges=ranges,
        path_spread=_path_spread(shelf, limits, middle),
        chance_spread=chance_spread,
    )


def _surface(thing: Thing) -> tuple[float, bool]:
    full = thing.spec.filled()
    return full.grit or 0.0, bool(full.polished)


def _legal(limits: Limits, cover: str, surface: tuple[float, bool]) -> Thing:
    """Return a ball of the legal space with ordinary numbers for the rest."""
    spec = BallSpec(
        name="",
        cover=cover,
        grit=surface[0],
        polished=surface[1],
        rg_in=limits.at("rg", _MIDDLE["rg"]),
        differential_in=limits.at("differential", _MIDDLE["differential"]),
        mass_lb=limits.mass_lb,
        pin_to_pap_in=_PIN_TO_PAP,
        games=AFTER_GAMES,
    )
    return Thing(f"legal {spec}", spec)


def _worth_by_draw(shelf: Shelf, thing: Thing) -> Array:
    """Return by a quick look what the arsenal is worth with a thing, on each drawn lane."""
    total = np.zeros(QUICK_LOOK[0])
    for moment in shelf.moments:
        best = max(shelf.with_(thing), key=lambda one: shelf.chance(moment, one, closely=False))
        line = moment.line(best, closely=False)
        if line:
            total += line.chances
    return total / len(shelf.moments)


def _changed(limits: Limits, middle: Thing, axis: str, value: float) -> tuple[Thing, float]:
    """Return the middle ball with one axis changed, and that axis's value in inches."""
    inches = value if axis == "pin_to_pap" else limits.at(axis, value)
    changed: dict[str, Any] = {f"{axis}_in": inches}
    spec = replace(middle.spec, **changed)
    return Thing(f"legal {spec}", spec), inches


def _along(shelf: Shelf, limits: Limits, middle: Thing, axis: str) -> tuple[Array, Array]:
    """Return values along an axis and the chance of each, the rigid ball aimed anew."""
    values, worths = [], []
    for part in _ALONG[axis]:
        thing, value = _changed(limits, middle, axis, part)
        found = []
        for moment in shelf.late:
            line = moment.line(middle, closely=False)
            if axis == "rg":  # the reduced model knows of it, and its lines are quick to find
                found.append(shelf.chance(moment, thing, closely=False))
            elif line:
                found.append(moment.glanced(thing, line))
        values.append(value)
        worths.append(float(np.mean(found)) if found else 0.0)
    return np.array(values), np.array(worths)


def _told(axis: str) -> int | None:
    """Return how many places on an axis a spread is told over."""
    return sum(part <= STRIKE_RG for part in _ALONG[axis]) if axis == "rg" else None


def _path_spread(shelf: Shelf, limits: Limits, middle: Thing) -> dict[str, float]:
    """Return how far each axis moves the ball at the head pin, boards, on one line."""
    cover = middle.spec.cover or ""
    fresh = [_legal(limits, cover, surface) for surface in SURFACES]
    fresh = [Thing(f"fresh {t.key}", replace(t.spec, games=0.0)) for t in fresh]
    families = {"surface": fresh}
    families["cover"] = [_legal(limits, one, _surface(middle)) for one in COVERS]
    for axis, parts in _ALONG.items():
        told = parts[: _told(axis)]
        families[axis] = [_changed(limits, middle, axis, part)[0] for part in told]
    spread: dict[str, list[float]] = {name: [] for name in families}
    for moment in shelf.late:
        line = moment.line(middle, closely=False)
        if line is None:
            continue
        for name, things in families.items():
            spread[name].append(float(np.ptp([moment.arrives(t, line) for t in things])))
    return {name: float(np.median(values)) for name, values in spread.items() if values}


# The whole.


@dataclass(frozen=True, eq=False)
class Findings:
    """Everything that a plan tells; gains are over the balls at hand."""

    shelf: Shelf
    practice: Practice
    resurfaces: tuple[Way, ...]
    stock: tuple[Way, ...]
    legal: Legal

    @property
    def best_resurface(self) -> Way | None:
        return self.resurfaces[0] if self.resurfaces else None

    def over_free(self, way: Way) -> tuple[Gain | None, Gain]:
        """Return what a ball gains over the best resurface and over practice."""
        rival = self.best_resurface
        of_resurface = self.shelf.gain(way, rival) if rival else None
        return of_resurface, self.shelf.gain(way, self.practice.way)

    def is_clear(self, way: Way) -> bool:
        """Whether a purchase stands clear of what is there, of a resurface and of practice."""
        of_resurface, of_practice = self.over_free(way)
        clear = self.shelf.gain(way, self.shelf.now).is_clear and of_practice.is_clear
        return clear and (of_resurface is None or of_resurface.is_clear)

    def share_of(self, way: Way) -> Gain | None:
        """Return the part of a ball's gain that the best resurface gets."""
        rival, now = self.best_resurface, self.shelf.now
        if rival is None:
            return None
        return share(
            rival.chances - now.chances,
            way.chances - now.chances,
            self.shelf.model_sd(rival, now),
            self.shelf.model_sd(way, now),
        )


def search(
    lessons: Sequence[Lesson],
    at_hand: Sequence[Thing],
    stock: Sequence[Thing],
    limits: Limits,
    settling: Settling,
    seed: int = 1,
    progress: Progress | None = None,
) -> Findings | None:
    """Return what would fill the gap; ``None`` where no lesson can be fitted or no ball is there.

    ``at_hand`` are the strike balls as they are today, each its own ``of``; ``stock`` those of the
    shop as they come from the box, tried in other finishes too. The same input and ``seed`` give
    the same findings.
    """
    tell = progress or (lambda share, words: None)
    tell(0.05, "Fitting the last lessons")
    fits = fitted_along(lessons, at_hand)
    if not fits or not at_hand:
        return None
    shelf = Shelf(at_hand, [m for fit in fits for m in moments(fit, settling, seed)], fits)
    tell(0.15, "Throwing the balls at hand")
    practised = practice(shelf, seed)
    tell(0.25, "Trying surfaces")
    fresh = shelf.best(resurfaces(at_hand), closer=_CLOSER["resurface"], shown=_SHOWN["resurface"])
    tell(0.45, "Trying the balls in stock")
    offered = shelf.best(offers(shelf, stock), _CLOSER["stock"], _SHOWN["stock"])
    tell(0.6, "Looking through what is legal")
    legal = legal_space(shelf, limits)
    tell(0.85, "Comparing")
    return Findings(
        shelf=shelf,
        practice=practised,
        resurfaces=_by_gain(shelf.way_with(thing) for thing in fresh),
        stock=_by_gain(shelf.way_with(thing) for thing in offered),
        legal=legal,
    )


def _by_gain(ways: Iterable[Way]) -> tuple[Way, ...]:
    return tuple(sorted(ways, key=lambda way: -float(way.chances.mean())))
