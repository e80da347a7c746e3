"""Published limits on balls and drilling, as data: rules.csv, one row a limit.

A row holds a quantity, the weights of ball it is for (see below), the days on which it is in force,
the limit, and where it was seen. ``strength`` tells how far to trust it:

- ``published``   seen in the source or in a summary of it;
- ``reported``    second hand;
- ``from memory`` nobody could show it: shown with its source, never checked against;
- ``not found``   there is such a limit, and no published value is at hand.

``check`` answers ``within``, ``over``, ``under`` or ``unknown`` for each quantity that is told. It
informs and refuses nothing: the current rule book and the event's officials decide. A new limit is
a new row, and its predecessor gets its last day.

Of weights: RG and differential limits are for 13 lb *and over*, those of static weights for balls
*over* 10 lb. A ball of unknown weight is taken for a heavy one, and that is said.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

DATA = Path(__file__).with_name("rules.csv")
STRENGTHS = ("published", "reported", "from memory", "not found")
CHECKED = ("published", "reported")
DECIDES = "The current rule book and the event's officials decide."
# Quantities whose lower bound of weight is itself a light ball: "over 10 lb".
_OVER = frozenset({"top weight", "side weight", "finger weight", "thumb holes"})


@dataclass(frozen=True)
class Rule:
    """One published limit. Empty bounds are ``None``; days are both included."""

    key: str
    quantity: str
    from_lb: float | None
    to_lb: float | None
    thumb: bool | None  # for a grip with a thumb, without one, or either
    low: float | None
    high: float | None
    unit: str
    since: date | None
    until: date | None
    source: str
    source_date: str
    strength: str
    note: str

    @property
    def limit(self) -> str:
        """The limit in words, with its unit."""
        if self.low is None and self.high is None:
            return "unknown"
        unit = f" {self.unit}" if self.unit else ""
        if self.low is None:
            return f"up to {_number(self.high, self.unit)}{unit}"
        if self.high is None:
            return f"{_number(self.low, self.unit)}{unit} or more"
        return f"{_number(self.low, self.unit)} to {_number(self.high, self.unit)}{unit}"

    @property
    def balls(self) -> str:
        """Which balls it is for, in words."""
        over = "over" if self.quantity in _OVER else "from"
        words = "any ball"
        if self.from_lb is not None:
            words = f"{over} {self.from_lb:g} lb"
        elif self.to_lb is not None:
            words = f"{'up to' if self.quantity in _OVER else 'under'} {self.to_lb:g} lb"
        if self.thumb is not None:
            words += ", with a thumb hole" if self.thumb else ", gripped without the thumb"
        return words

    def is_for(self, mass_lb: float | None, thumb: bool | None, on: date) -> bool:
        """Whether the limit holds for such a ball on a day."""
        if (self.since and on < self.since) or (self.until and on > self.until):
            return False
        if self.thumb is not None and thumb is not None and self.thumb != thumb:
            return False
        if mass_lb is None:
            return self.to_lb is None
        if self.quantity in _OVER:
            above = self.from_lb is None or mass_lb > self.from_lb
            return above and (self.to_lb is None or mass_lb <= self.to_lb)
        above = self.from_lb is None or mass_lb >= self.from_lb
        return above and (self.to_lb is None or mass_lb < self.to_lb)


@dataclass(frozen=True)
class Finding:
    """What a limit says of one number: ``verdict`` within, over, under or unknown."""

    quantity: str
    value: float
    verdict: str
    rule: Rule | None

    @property
    def is_outside(self) -> bool:
        return self.verdict in ("over", "under")

    @property
    def words(self) -> str:
        """One sentence with number and limit."""
        name = "RG" if self.quantity == "rg" else self.quantity.capitalize()
        name = {"Mass": "Weight", "Intermediate": "Intermediate differential"}.get(name, name)
        unit = f" {self.rule.unit}" if self.rule and self.rule.unit else ""
        told = f"{name} {self.value:.4g}{unit}"
        if self.rule is None or self.verdict == "unknown":
            return f"{told}: no published limit at hand."
        if not self.is_outside:
            return f"{told} is within {self.rule.limit.removeprefix('up to ')}."
        bounds = (self.rule.low, self.rule.high)
        if None not in bounds:
            return f"{told} is outside {self.rule.limit}."
        bound = self.rule.high if self.verdict == "over" else self.rule.low
        return f"{told} is {self.verdict} {_number(bound, self.rule.unit)}{unit}."


@cache
def rules() -> tuple[Rule, ...]:
    """Return every row of the data file. Raises ``ValueError`` that names a wrong row."""
    with DATA.open(encoding="utf-8", newline="") as file:
        return tuple(_rule(number, row) for number, row in enumerate(csv.DictReader(file), 2))


def check(
    facts: Mapping[str, float | None],
    *,
    mass_lb: float | None,
    on: date,
    thumb: bool | None = None,
) -> list[Finding]:
    """Return what the limits in force on a day say of a ball's numbers.

    ``facts`` are numbers by quantity, in the unit of the data file; static weights are told with
    their sign and judged by their size. ``None`` is not told and not judged. ``thumb`` says whether
    the grip has a thumb hole. Raises ``KeyError`` for a quantity that the file does not have.
    """
    known = {rule.quantity for rule in rules()}
    if strange := set(facts) - known:
        raise KeyError(f"no limit is called {sorted(strange)[0]!r}")
    findings = []
    for quantity, value in facts.items():
        if value is None:
            continue
        rule = next(
            (r for r in rules() if r.quantity == quantity and r.is_for(mass_lb, thumb, on)), None
        )
        findings.append(Finding(quantity, value, _verdict(rule, value), rule))
    return findings


def _verdict(rule: Rule | None, value: float) -> str:
    if rule is None or rule.strength not in CHECKED or (rule.low is None and rule.high is None):
        return "unknown"
    size = abs(value) if rule.unit == "oz" else value
    if rule.low is not None and size < rule.low - 1e-9:
        return "under"
    if rule.high is not None and size > rule.high + 1e-9:
        return "over"
    return "within"


def _rule(number: int, row: dict[str, str]) -> Rule:
    try:
        rule = Rule(
            key=row["key"],
            quantity=row["quantity"],
            from_lb=_float(row["from_lb"]),
            to_lb=_float(row["to_lb"]),
            thumb={"": None, "yes": True, "no": False}[row["thumb"]],
            low=_float(row["low"]),
            high=_float(row["high"]),
            unit=row["unit"],
            since=_day(row["since"]),
            until=_day(row["until"]),
            source=row["source"],
            source_date=row["source_date"],
            strength=row["strength"],
            note=row["note"],
        )
    except (KeyError, ValueError, TypeError) as error:
        raise ValueError(f"{DATA.name}, line {number}: {error}") from error
    if rule.strength not in STRENGTHS or not rule.source:
        raise ValueError(f"{DATA.name}, line {number}: a source and one of {STRENGTHS} expected")
    return rule


def _float(text: str) -> float | None:
    return float(text) if text else None


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def _number(value: float | None, unit: str) -> str:
    if value is None:
        return ""
    if unit == "in" and value < 10:
        return f"{value:.3f}"
    return f"{value:.2f}" if unit in ("lb", "g/mL") else f"{value:g}"
