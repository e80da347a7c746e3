"""Two changes at once, and a cue for the release: shown only where they stand clear.

Each ball's own line is part of what a ball option is; beyond that, two changes together ask more
of a student than one. So a pair is told only where its chance stands clear of each of the two
alone, on the same lanes drawn, and a release cue alone only where it stands clear of staying. A
pair's line is looked for near that of its first change.

A release cue stays within what this student has shown: the speed between the slowest and the
fastest tenth of their fitted throws with this ball; the axis rotation as fitted to the earlier
sessions that were read along (a shot's own rotation is not seen).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from lanes.motion import BallSpec

from .gains import gain
from .options import Option, Range, lines_around, surface_steps

Array = NDArray[np.float64]

# Below these nobody can throw otherwise on purpose, nor tell that they did (assumed).
LEAST_MPH, LEAST_DEG = 0.3, 3.0
_TENTHS = (10.0, 90.0)


@dataclass(frozen=True)
class Cue:
    """A change of the release on purpose: mph of speed and degrees of rotation, one of them."""

    speed_mph: float = 0.0
    rotation_deg: float = 0.0


class CuedRange(Range):
    """A range on which the student throws as a cue says; as strange as a line not thrown."""

    def __init__(self, range_: Range, cue: Cue) -> None:
        self.__dict__.update(range_.__dict__)
        self.centre = range_.centre.copy()
        self.centre[:, 2] += cue.speed_mph
        rotation = range_.draws.rotation_deg + cue.rotation_deg
        self.draws = replace(range_.draws, rotation_deg=rotation)

    def astray(self, spec: BallSpec, moves: Array) -> Array:
        """Return how far off the model the throws arrive, boards: another throw is another line."""
        return super().astray(spec, np.where(moves == 0.0, 1.0, moves))


def on_cue(range_: Range, option: Option) -> Range:
    """Return the range on which an option is thrown."""
    if not option.speed_mph and not option.rotation_deg:
        return range_
    return CuedRange(range_, Cue(option.speed_mph, option.rotation_deg))


def cues(range_: Range) -> list[Cue]:
    """Return the cues that lie within what the student has shown, as far as they go."""
    physics = range_.physics
    speeds = physics.fit.launches[physics.thrown == range_.ball, 2]
    found = []
    usual = float(np.median(speeds))
    for end in np.percentile(speeds, _TENTHS):
        # Toward the usual, so that the cue lies within.
        change = math.trunc((float(end) - usual) * 10.0) / 10.0
        if abs(change) >= LEAST_MPH:
            found.append(Cue(speed_mph=change))
    now = physics.fit.rotation_deg
    for end in {min(physics.rotations, default=now), max(physics.rotations, default=now)}:
        degrees = float(math.trunc(end - now))
        if abs(degrees) >= LEAST_DEG:
            found.append(Cue(rotation_deg=degrees))
    return found


def combined(
    searched: Range,
    measured: Range,
    balls: Sequence[BallSpec],
    singles: Sequence[Option],
    competition: bool,
) -> list[Option]:
    """Return a release cue and pairs that stand clear, given the options of one change each.

    Ball and surface (out of competition, as for ``find_options``), and each of move and ball with a
    release cue. At most one of each kind: the best.
    """
    stay, move = (next(o for o in singles if o.kind == kind) for kind in ("stay", "move"))
    others = [o for o in singles if o.kind == "ball"]
    ball = max(others, key=lambda o: o.strike, default=None)
    surface = next((o for o in singles if o.kind == "surface"), None)
    found: list[Option] = []
    cued = [_cued(measured, stay, "release", cue) for cue in cues(measured)]
    if cued:
        cue = max(cued, key=lambda o: o.strike)
        found += [cue] if _is_clear(cue, [stay]) else []
        for first in [move, *([ball] if ball else [])]:
            with_cue = Cue(cue.speed_mph, cue.rotation_deg)
            line = _line_near(CuedRange(searched, with_cue), first.spec, first)
            pair = _cued(measured, replace(first, feet=line[0], eyes=line[1]), "both", with_cue)
            found += [pair] if _is_clear(pair, [first, cue]) else []
    if ball and surface and not competition:
        pairs = [
            measured.option("both", spec, ball.ball, _line_near(searched, spec, ball), way)
            for way, spec in surface_steps(ball.spec)
        ]
        best = max(pairs, key=lambda o: o.strike, default=None)
        found += [best] if best and _is_clear(best, [ball, surface]) else []
    return found


def _cued(measured: Range, option: Option, kind: str, cue: Cue) -> Option:
    line = (option.feet, option.eyes)
    found = CuedRange(measured, cue).option(kind, option.spec, option.ball, line)
    return replace(found, speed_mph=cue.speed_mph, rotation_deg=cue.rotation_deg)


def _line_near(searched: Range, spec: BallSpec, first: Option) -> tuple[float, float]:
    moves = np.array(lines_around(first.feet, first.eyes))
    return searched.best_of(spec, first.ball, moves)


def _is_clear(option: Option, of: Sequence[Option]) -> bool:
    """Say whether an option's chance stands clear of each of these, on the same lanes drawn."""
    return all(gain(option.chances, other.chances).is_clear for other in of)
