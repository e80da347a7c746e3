"""A chart of gains with their intervals: coordinates for one drawing, as `lanes.pictures` does it.

Each row is a bar from the low to the high end with a mark at the middle; marks differ by shape, the
numbers stand in words above the bar, and the line of no gain is drawn thick.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import ClassVar

from lanes.pictures import mark_shape

_MARGIN, _ROW, _TOP, _AXIS = 18.0, 46.0, 6.0, 40.0
_BAR = 31.0  # of a row's height, where the bar lies below its words
_MOST = 60  # strikes of 100 either way; an interval beyond is cut, and said in its numbers


@dataclass(frozen=True)
class Row:
    label: str
    numbers: str
    shape: str
    series: int
    y: float
    low: float
    high: float
    mark: str


@dataclass(frozen=True)
class Tick:
    x: float
    text: str


@dataclass
class GainChart:
    """Gains in strikes of 100; add rows, then draw."""

    title: str
    gains: Sequence[tuple[str, dict[str, float], str, int]] = field(default_factory=list)
    width: ClassVar[float] = 340.0

    @property
    def ends(self) -> tuple[int, int]:
        """The axis in strikes of 100, to the next ten on either side."""
        low = min([0.0, *(100 * gain["low"] for _, gain, _, _ in self.gains)])
        high = max([0.0, *(100 * gain["high"] for _, gain, _, _ in self.gains)])
        first = max(math.floor(low / 10.0) * 10, -_MOST)
        return first, min(max(math.ceil(high / 10.0) * 10, first + 20), _MOST)

    def x(self, strikes: float) -> float:
        first, last = self.ends
        part = (min(max(strikes, first), last) - first) / (last - first)
        return round(_MARGIN + part * (self.width - 2 * _MARGIN), 1)

    @property
    def height(self) -> float:
        return _TOP + _ROW * len(self.gains) + _AXIS

    @property
    def bottom(self) -> float:
        return _TOP + _ROW * len(self.gains)

    @property
    def zero(self) -> float:
        return self.x(0.0)

    @property
    def middle(self) -> float:
        return self.width / 2.0

    @property
    def rows(self) -> list[Row]:
        found = []
        for place, (label, gain, shape, series) in enumerate(self.gains):
            y = _TOP + _ROW * place
            low, mean, high = (self.x(100 * gain[name]) for name in ("low", "mean", "high"))
            mark = mark_shape(shape, mean, y + _BAR)
            found.append(Row(label, in_strikes(gain), shape, series, y, low, high, mark))
        return found

    @property
    def ticks(self) -> list[Tick]:
        first, last = self.ends
        step = 10 if last - first <= 60 else 20
        return [Tick(self.x(at), f"{at:+d}" if at else "0") for at in range(first, last + 1, step)]

    @property
    def description(self) -> str:
        return "; ".join(f"{row.label}: {row.numbers}" for row in self.rows) + "."


def in_strikes(gain: dict[str, float], sign: bool = True) -> str:
    """Return a gain with its interval in strikes of 100: "+6 (1 to 11)"."""
    mean, low, high = (round(100 * gain[name]) for name in ("mean", "low", "high"))
    told = f"{mean:+d}" if sign and mean else f"{mean}"
    return f"{told} ({low} to {high})".replace("-", "\u2212")


def chart_of(title: str, gains: Iterable[tuple[str, dict[str, float], str, int]]) -> GainChart:
    return GainChart(title, list(gains))
