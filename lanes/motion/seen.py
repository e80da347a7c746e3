"""What a fit starts from: the seen shots, their reading error, and what was known before."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .balls import BallSpec
from .friction import SURFACE_LAW, SurfaceLaw
from .oil import Film

SEEN = ("laydown", "arrows", "breakpoint", "breakpoint_ft", "head_pin", "speed_mph", "rev_rpm")
# Where one of these was never read, the shape of a path hangs on the model.
SHAPE = ("arrows", "breakpoint", "speed_mph")


@dataclass(frozen=True)
class SeenShot:
    """What was seen of one first delivery; nan where nothing was.

    Boards in the bowler's own count. ``ball`` is an index into the balls given to the fit,
    ``order`` the number of balls (of any kind) thrown before it, ``lane`` an index that tells the
    lanes of a pair apart, ``weight`` between 0 and 1 what the shot's readings count for.
    """

    ball: int
    order: int
    laydown: float = math.nan
    arrows: float = math.nan
    breakpoint: float = math.nan
    breakpoint_ft: float = math.nan
    head_pin: float = math.nan
    speed_mph: float = math.nan
    rev_rpm: float = math.nan
    weight: float = 1.0
    lane: int = 0


@dataclass(frozen=True, eq=False)
class SeenSession:
    """One session of a student, for a fit over several.

    ``film`` is the oil in the bowler's own count (``None``: an ordinary house pattern). Sessions
    with an equal ``place`` were on the same lanes with the same oil, and share part of what is not
    known of them. ``balls_per_shot`` is how many balls of anybody were thrown on the lane for each
    one that the shots' ``order`` counts: others wear the lane too. ``balls`` are the fit's balls in
    the same order as they were that day, where their covers had rolled more or fewer games;
    ``error`` is the reading error of whoever read this session. Left out, both are the fit's.
    ``law`` is how covers settle.
    """

    shots: Sequence[SeenShot]
    film: Film | None = None
    place: str = ""
    balls_per_shot: float = 1.0
    balls: Sequence[BallSpec] | None = None
    error: ReadingError | None = None
    law: SurfaceLaw = SURFACE_LAW


@dataclass(frozen=True)
class ReadingError:
    """Standard deviation of one reading at each check-point, in the reading's own unit.

    Assumed: no published figure of a human's board-reading error was found; half a board to a
    board at the arrows and one to two boards at 40 ft and beyond is our assumption. The errors are
    taken as Student t with four degrees of freedom and these scales.
    """

    laydown: float = 0.4
    arrows: float = 0.5
    breakpoint: float = 1.2
    breakpoint_ft: float = 2.0
    head_pin: float = 0.9
    speed_mph: float = 0.2
    rev_rpm: float = 15.0

    def as_array(self) -> NDArray[np.float64]:
        """Return the seven standard deviations in the order of ``SEEN``."""
        return np.array([getattr(self, name) for name in SEEN])


@dataclass(frozen=True)
class ReleasePrior:
    """What is known of a student's release before a shot is seen.

    ``…_sd`` is the doubt of the session's level, ``…_between`` the part of it by which one session
    of the student differs from the next, ``…_spread`` how much one shot differs from the next (for
    laydown and launch: from its neighbours; the readings have a say in these two). Nobody reads a
    shot's rotation, so its spread is a doubt alone. ``display_sd`` is the doubt of where a centre's
    speed display measures, in mph. Spreads assumed.
    """

    speed_mph: float
    rev_rpm: float
    rotation_deg: float
    tilt_deg: float
    speed_sd: float = 0.5
    rev_sd: float = 20.0
    rotation_sd: float = 5.0
    speed_between: float = 0.2
    rev_between: float = 8.0
    rotation_between: float = 2.0
    laydown_spread: float = 1.0
    launch_spread: float = 0.8
    speed_spread: float = 0.35
    rev_spread: float = 10.0
    rotation_spread: float = 2.0
    display_sd: float = 0.5
    assumed: tuple[str, ...] = ()

    @classmethod
    def known(
        cls,
        speed_mph: float | None = None,
        rev_rpm: float | None = None,
        rotation_deg: float | None = None,
        tilt_deg: float | None = None,
    ) -> ReleasePrior:
        """Return the prior for what is known, with an average release where it is not.

        Averages: 17 mph, 330 rpm, 55 deg of rotation, 13 deg of tilt (rotation 45 to 70 and tilt
        10 to 15 typical; 13 from memory), each with a doubt wide enough to hold most bowlers.
        """
        given = {
            "speed_mph": speed_mph,
            "rev_rpm": rev_rpm,
            "rotation_deg": rotation_deg,
            "tilt_deg": tilt_deg,
        }
        return cls(
            speed_mph=17.0 if speed_mph is None else speed_mph,
            rev_rpm=330.0 if rev_rpm is None else rev_rpm,
            rotation_deg=55.0 if rotation_deg is None else rotation_deg,
            tilt_deg=13.0 if tilt_deg is None else tilt_deg,
            speed_sd=1.5 if speed_mph is None else 0.5,
            rev_sd=80.0 if rev_rpm is None else 20.0,
            rotation_sd=10.0 if rotation_deg is None else 5.0,
            assumed=tuple(name for name, value in given.items() if value is None),
        )


@dataclass(frozen=True)
class LanePrior:
    """How far friction and lane may differ from the sheet and the tables (assumed, as logs).

    ``common`` is the friction level shared by all balls, ``ball`` one ball against the others,
    ``front``, ``mid`` and ``back`` the lane at the first shot, ``…_drift`` the change over ten
    balls, ``lane`` the film of a second lane against the first. ``ball_between`` is the part of
    ``ball`` by which a ball differs from itself in another session (its surface ages),
    ``new_each_time`` the share of the variance of front, mid and back that is new in each session
    on the same lanes and oil.
    """

    common: float = 0.15
    ball: float = 0.10
    front: float = 0.25
    mid: float = 0.25
    back: float = 0.08
    front_drift: float = 0.05
    mid_drift: float = 0.08
    back_drift: float = 0.04
    lane: float = 0.15
    ball_between: float = 0.03
    new_each_time: float = 0.5
