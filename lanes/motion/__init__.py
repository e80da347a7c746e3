"""The numeric core: lane, oil, friction, ball path, and the fit of them to what was seen.

No Django, no input or output. Usable from a notebook::

    from lanes.motion import BallSpec, Release, launch_for_target, lane_friction, roll

    ball = BallSpec("example", cover="solid", grit=2000)
    release = Release(17.5, 350, 55, 12, laydown=20, launch_deg=launch_for_target(20, 12.5))
    path = roll(release, ball, lane_friction(None, ball))
"""

from .balls import COVERS, BallSpec
from .display import speed_loss
from .fit import SessionFit, fit_session, fit_sessions
from .flare import Rings, clearance_in, flare_in
from .friction import Lane, LaneState, UniformLane, ball_friction, lane_friction
from .geometry import (
    ARROWS_FT,
    BOARD_IN,
    BOARDS,
    DECK_EXIT_FT,
    HEAD_PIN_FT,
    LANE_WIDTH_IN,
    PIN_SPACING_IN,
    POCKET,
    Pocket,
    board_to_m,
    ft_to_m,
    m_to_board,
    m_to_ft,
    mirror_board,
    mph_to_mps,
    mps_to_mph,
    pin_spots,
    undeflected_exit,
)
from .oil import HOUSE, Film, Layer, Oil, PatternSheet, parse_pattern, summary
from .orientation import Orientation
from .path import Path, Release, checkpoints, launch_for_target, roll
from .posterior import Draws
from .reading_error import ErrorEstimate, error_to_use, reading_error_from
from .reference import REFERENCE_VERSION, Figure, Reaction, reaction
from .rigid import RigidPath, checkpoints_rigid, roll_rigid
from .seen import LanePrior, ReadingError, ReleasePrior, SeenSession, SeenShot
from .tables import PatternError, Problem
from .tape import TapeReadings, parse_oil, parse_tape
from .wear import Throw, after, deplete, others

__all__ = [
    "ARROWS_FT",
    "BOARDS",
    "BOARD_IN",
    "COVERS",
    "DECK_EXIT_FT",
    "HEAD_PIN_FT",
    "HOUSE",
    "LANE_WIDTH_IN",
    "PIN_SPACING_IN",
    "POCKET",
    "REFERENCE_VERSION",
    "BallSpec",
    "Draws",
    "ErrorEstimate",
    "Figure",
    "Film",
    "Lane",
    "LanePrior",
    "LaneState",
    "Layer",
    "Oil",
    "Orientation",
    "Path",
    "PatternError",
    "PatternSheet",
    "Pocket",
    "Problem",
    "Reaction",
    "ReadingError",
    "Release",
    "ReleasePrior",
    "RigidPath",
    "Rings",
    "SeenSession",
    "SeenShot",
    "SessionFit",
    "TapeReadings",
    "Throw",
    "UniformLane",
    "after",
    "ball_friction",
    "board_to_m",
    "checkpoints",
    "checkpoints_rigid",
    "clearance_in",
    "deplete",
    "error_to_use",
    "fit_session",
    "fit_sessions",
    "flare_in",
    "ft_to_m",
    "lane_friction",
    "launch_for_target",
    "m_to_board",
    "m_to_ft",
    "mirror_board",
    "mph_to_mps",
    "mps_to_mph",
    "others",
    "parse_oil",
    "parse_pattern",
    "parse_tape",
    "pin_spots",
    "reaction",
    "reading_error_from",
    "roll",
    "roll_rigid",
    "speed_loss",
    "summary",
    "undeflected_exit",
]
