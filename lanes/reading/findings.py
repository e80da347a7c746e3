"""What a reading found, before it is put into words and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from lanes.motion import BallSpec, Oil
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw
from lanes.motion.seen import ReadingError

from .ahead import Ahead
from .client import ClientFacts
from .entries import Entries
from .luck import Earned
from .movers import Movers
from .options import Option, Range
from .overruled import Ruling
from .physics import Physics
from .scoring import Game
from .shots import LoggedShot
from .throws import Throws
from .transition import BallChange, LaneChange
from .trends import Drift
from .what_if import WhatIf

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Drifts = dict[str, Drift | None]


@dataclass(frozen=True, eq=False)
class Findings:
    """Everything the steps of a reading left; arrays are by shot of the log, (n,).

    ``first`` flags first deliveries, ``usable`` those whose throw is not known to be off. ``by``
    holds ball, lane and drifts; ``own_error`` names the check-points whose reading error
    was measured; ``law`` is how covers settle. ``causes`` are those that hold, ``computed`` those
    of the reading itself, and ``said`` is what the coach says of single shots. ``what_if`` is of
    the first option that changes something, or of the one that was asked for.
    """

    version: str
    seed: int
    client: ClientFacts
    pattern: Oil | None
    competition: bool
    shots: list[LoggedShot]
    balls: list[BallSpec]
    first: Flags
    usable: Flags
    throws: Throws
    physics: Physics | None
    entries: Entries
    drifts: Drifts
    by: list[tuple[str, int | None, Drifts]]
    changes: list[LaneChange]
    ball_changes: list[BallChange]
    causes: list[dict[str, float] | None]
    computed: list[dict[str, float] | None]
    said: Sequence[Ruling]
    games: list[Game]
    earned: Earned | None
    range: Range | None
    options: list[Option]
    deflecting: bool
    unknown_balls: list[str]
    reading_error: ReadingError = field(default_factory=ReadingError)
    own_error: tuple[str, ...] = ()
    law: SurfaceLaw = SURFACE_LAW
    ahead: Ahead | None = None
    what_if: WhatIf | None = None
    movers: Movers | None = None
