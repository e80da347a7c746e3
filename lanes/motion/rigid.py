"""The path of a ball as a rigid body: three principal moments, a spin vector, a turning attitude.

The reduced model (``path.py``) is exact for equal moments. A real ball's differ by a few per cent:
its axis migrates, its track flares, and the direction of slip turns. Here Euler's equations are
integrated with the attitude, sliding with Coulomb friction against the contact slip, then rolling
with the force that the constraint asks for, and slipping again where friction cannot give it
(``rigid_kernel.py`` tells how). Sources: any text on rigid bodies; Frohlich, Am. J. Phys. 72, 1170
(2004) for a bowling ball with unequal moments. Left out: an offset centre of mass (at most about a
millimetre, same paper), the couple that the patch of contact puts against upright spin, lift.

**Frame and signs.** The bowler's (x, y, up) is left-handed for a right-hander, so inside the frame
is X toward the strong side, Y to the pins, Z up; every bowler is computed as a right-hander. The
spin vector of a release of rotation A and tilt T, seen from above and from behind::

    from above          Y, travel                    from behind          Z
                        ^                                                 |
                        |                                      axis       |
        axis at A = 0   |                                         `.  T   |
        <---------------o----> X, strong side             ----------`-----o-----> X
                  .'    |
              .' A      |                     T raises the positive end of the axis;
       axis at A        |                     A = 0 is end over end, top of the ball forward;
                        v back                A = 90 points the axis back at the bowler.

The bowler's x is -X. Along the path, rotation and tilt are told against the line on which the ball
is then travelling: at release that is the line of launch, and a ball that rolls has rotation 0.

**Attitude at release** (assumed; a display does not show it): the PAP is on the axis, and the side
of the ball that holds the grip centre, body z, faces square to the axis along the horizontal, back
toward the bowler at rotation 0 and toward the strong side at 90, as the hand does.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .balls import BallSpec
from .constants import ROLLING_RESISTANCE
from .flare import Rings, between_in, flare_in
from .friction import Lane
from .geometry import (
    ARROWS_FT,
    BALL_RADIUS_M,
    BOARD_M,
    FOOT_M,
    GRAVITY,
    HEAD_PIN_FT,
    ft_to_m,
    mph_to_mps,
    rpm_to_radps,
)
from .kernel import MAX_STEPS
from .orientation import Orientation, Vector, moments
from .path import Path, Release, as_seen, cut_off, path_fields
from .rigid_kernel import (
    FIRST_RING,
    LAST_RING,
    MOST_RINGS,
    PIN_SIDE_SLIP,
    RIGID_RESULTS,
    RING,
    TRACK,
    trace_rigid,
    trace_rigid_many,
)

TIME_STEP = 0.03  # s; keeps a path within 0.02 board of the full equations (checked in tests)
TRACK_STEP = 0.005  # s; the same where the path itself is wanted


@dataclass(frozen=True, eq=False)
class RigidPath(Path):
    """What one rigid ball did: all of ``Path`` with the same meanings, and how it turned.

    ``rotation_deg``, ``tilt_deg`` and ``rev_rpm`` stand at the places of ``path_ft``; a ball that
    does not turn has 0 in all. ``slip_side_mps`` is the part of the slip at the pins across the
    lane, positive toward the weak side. ``rings`` are all to the pins; ``flare_in`` is the widest
    distance between the first and the last of those made while it slips. ``roll_start_ft`` is where
    slip first falls to nothing (told from its last cm/s); where friction is too slight for what
    unequal moments ask of it, a ball said to roll goes on creeping by a few cm/s.
    """

    rotation_deg: NDArray[np.float64]
    tilt_deg: NDArray[np.float64]
    rev_rpm: NDArray[np.float64]
    slip_side_mps: float | None
    rings: Rings
    flare_in: float


@dataclass(frozen=True, eq=False)
class Tumble:
    """What became of one rigid ball over a stretch of lane, in SI.

    ``track`` rows: time, x, y, vx, vy (bowler's count), spin X, Y, Z (right-handed frame), slip
    toward the weak side and along the lane, 1 where it rolls, attitude (4, as in a start).
    ``found`` is the kernel's.
    """

    track: NDArray[np.float64]
    found: NDArray[np.float64]
    rings: NDArray[np.float64]


def tumble(
    start: NDArray[np.float64],
    inertia: NDArray[np.float64],
    lane: Lane,
    distance: float,
    radius: float = BALL_RADIUS_M,
    gravity: float = GRAVITY,
    resistance: float = ROLLING_RESISTANCE,
    time_step: float = TRACK_STEP,
) -> Tumble:
    """Follow one ball to ``distance`` metres from the foul line: the low-level form of
    ``roll_rigid``, all in SI.

    ``start`` (11,) is X, Y, velocity (2), attitude (4: quaternion from principal axes to space,
    scalar first) and spin in space (3), in the right-handed frame; ``inertia`` (3,) the principal
    moments over the mass, m2.
    """
    found = np.empty(RIGID_RESULTS)
    track = np.empty((MAX_STEPS + 2, TRACK))
    rings = np.empty((MOST_RINGS, RING))
    rows, laps = trace_rigid(
        start,
        inertia,
        radius,
        gravity,
        resistance,
        lane.film,
        lane.law,
        lane.factors,
        min(ft_to_m(ARROWS_FT), distance),
        distance,
        time_step,
        found,
        np.empty(6),
        track,
        rings,
    )
    return Tumble(track[:rows], found, rings[:laps])


def rigid_starts(
    launches: NDArray[np.float64],
    rotation_deg: ArrayLike,
    tilt_deg: ArrayLike,
    orientation: Orientation,
) -> NDArray[np.float64]:
    """Turn launches (n, 4: laydown board, launch_deg, mph, rpm) into (n, 11) starts in SI."""
    starts = np.zeros((len(launches), 11))
    launch = np.radians(launches[:, 1])
    turn = np.radians(rotation_deg) - launch
    tilt = np.radians(tilt_deg) + np.zeros(len(launches))
    speed = launches[:, 2] * mph_to_mps(1.0)
    spin = launches[:, 3] * rpm_to_radps(1.0)
    starts[:, 0] = -(launches[:, 0] - 0.5) * BOARD_M
    starts[:, 2] = speed * np.sin(launch)
    starts[:, 3] = speed * np.cos(launch)
    starts[:, 4:8] = _attitudes(turn, tilt, orientation)
    starts[:, 8] = -spin * np.cos(tilt) * np.cos(turn)
    starts[:, 9] = -spin * np.cos(tilt) * np.sin(turn)
    starts[:, 10] = spin * np.sin(tilt)
    return starts


def roll_rigid(
    release: Release,
    ball: BallSpec,
    lane: Lane,
    orientation: Orientation | None = None,
    *,
    resistance: float = ROLLING_RESISTANCE,
) -> RigidPath:
    """Roll one rigid ball down the lane as far as the head-pin plane or the gutter.

    ``orientation`` is where pin and mass bias lie against the axis; that of the ball's own layout
    if not given. Raises ``ValueError`` for moments that no ball has (``orientation.moments``).
    """
    orientation = orientation or Orientation.of(ball)
    launch = np.array(
        [[release.laydown, release.launch_deg, release.speed_mph, release.rev_rpm]], dtype=float
    )
    start = rigid_starts(launch, release.rotation_deg, release.tilt_deg, orientation)[0]
    fallen = tumble(start, moments(ball), lane, ft_to_m(HEAD_PIN_FT), resistance=resistance)
    time, x, y, vx, vy = fallen.track[:, :5].T
    slope = float(vx[0] / vy[0])
    fields = path_fields(time, x, y, np.hypot(vx, vy), fallen.found, slope)
    turning = _turning(fields["path_ft"] * FOOT_M, fallen.track)
    rings = _rings(fallen.rings, orientation)
    if fields["gutter_at_ft"] is not None:
        rings = rings.until(fields["gutter_at_ft"])
    return RigidPath(
        **fields,
        rotation_deg=turning[0],
        tilt_deg=turning[1],
        rev_rpm=turning[2],
        slip_side_mps=(
            None if fields["slip_at_pins_mps"] is None else float(fallen.found[PIN_SIDE_SLIP])
        ),
        rings=rings,
        flare_in=flare_in(rings.until(fields["roll_start_ft"])),
    )


def checkpoints_rigid(
    launches: NDArray[np.float64],
    rotation_deg: ArrayLike,
    tilt_deg: ArrayLike,
    ball: BallSpec,
    lane: Lane,
    orientation: Orientation | None = None,
    factors: NDArray[np.float64] | None = None,
    *,
    resistance: float = ROLLING_RESISTANCE,
) -> NDArray[np.float64]:
    """Return what would be seen of many launches of one rigid ball at once.

    Arguments as for ``path.checkpoints``, and the orientation as for ``roll_rigid``. Returns
    (n, 8): the seven columns of ``checkpoints``, then the flare in inches.
    """
    launches = np.asarray(launches, dtype=float)
    orientation = orientation or Orientation.of(ball)
    if factors is None:
        factors = np.broadcast_to(lane.factors, (len(launches), 4))
    results = np.empty((len(launches), RIGID_RESULTS))
    trace_rigid_many(
        rigid_starts(launches, rotation_deg, tilt_deg, orientation),
        moments(ball),
        BALL_RADIUS_M,
        GRAVITY,
        resistance,
        lane.film,
        lane.law,
        factors.copy(),  # as in `path.trace_launches`
        ft_to_m(ARROWS_FT),
        ft_to_m(HEAD_PIN_FT),
        TIME_STEP,
        results,
    )
    first, last = (results[:, at : at + 4] for at in (FIRST_RING, LAST_RING))
    flare = between_in(first[:, :3], first[:, 3], last[:, :3], last[:, 3])
    return np.column_stack([cut_off(as_seen(results)), np.nan_to_num(flare)])


def _attitudes(turn: Vector, tilt: Vector, orientation: Orientation) -> NDArray[np.float64]:
    """Quaternions (n, 4) from principal axes to space, for axes turned and raised (radians).

    The axis starts out to the left with the grip's side back; it is raised about the line of
    travel, then turned about the vertical.
    """
    held = _attitude(orientation)
    zero = np.zeros_like(tilt)
    raised = np.column_stack([np.cos(tilt / 2), zero, np.sin(tilt / 2), zero])
    turned = np.column_stack([np.cos(turn / 2), zero, zero, np.sin(turn / 2)])
    return _product(turned, _product(raised, held))


def _attitude(orientation: Orientation) -> NDArray[np.float64]:
    """The quaternion (4,) of a ball whose PAP is to the left and whose grip faces back."""
    pap = orientation.pap
    # The grip's side; a PAP at the grip centre itself has none, so the VAL's upper arm stands in.
    for toward in (np.array([0.0, 0.0, 1.0]), np.array([0.0, 1.0, 0.0])):
        grip = toward - (toward @ pap) * pap
        if np.linalg.norm(grip) > 1e-6:
            break
    grip = grip / np.linalg.norm(grip)
    body = np.array([pap, grip, np.cross(pap, grip)])
    space = np.array([[-1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, 1.0]])
    a = space.T @ body @ orientation.axes.T  # principal axes to space
    # The unit quaternion that a belongs to is an eigenvector (Bar-Itzhack 2000).
    k = np.array(
        [
            [a[0, 0] + a[1, 1] + a[2, 2], a[2, 1] - a[1, 2], a[0, 2] - a[2, 0], a[1, 0] - a[0, 1]],
            [0.0, a[0, 0] - a[1, 1] - a[2, 2], a[0, 1] + a[1, 0], a[0, 2] + a[2, 0]],
            [0.0, 0.0, a[1, 1] - a[0, 0] - a[2, 2], a[1, 2] + a[2, 1]],
            [0.0, 0.0, 0.0, a[2, 2] - a[0, 0] - a[1, 1]],
        ]
    )
    return np.asarray(np.linalg.eigh(k, UPLO="U")[1][:, -1])


def _product(p: NDArray[np.float64], q: NDArray[np.float64]) -> NDArray[np.float64]:
    """Products of quaternions, scalar first, (n, 4) or (4,)."""
    p0, p1, p2, p3 = p.T
    q0, q1, q2, q3 = q.T
    return np.stack(
        [
            p0 * q0 - p1 * q1 - p2 * q2 - p3 * q3,
            p0 * q1 + p1 * q0 + p2 * q3 - p3 * q2,
            p0 * q2 - p1 * q3 + p2 * q0 + p3 * q1,
            p0 * q3 + p1 * q2 - p2 * q1 + p3 * q0,
        ],
        axis=-1,
    )


def _turning(
    at: NDArray[np.float64], track: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Rotation and tilt in degrees and rev rate in rpm at some distances, metres."""
    vx, vy, wx, wy, wz = (np.interp(at, track[:, 2], track[:, n]) for n in (3, 4, 5, 6, 7))
    vx = -vx
    spin = np.sqrt(wx**2 + wy**2 + wz**2)
    turns = spin > 1e-9
    to_left = -wx * vy + wy * vx  # times the speed, as the next
    to_back = -wx * vx - wy * vy
    rotation = np.where(turns, np.degrees(np.arctan2(to_back, to_left)), 0.0)
    tilt = np.where(turns, np.degrees(np.arcsin(np.clip(wz / np.where(turns, spin, 1), -1, 1))), 0)
    return rotation, tilt, spin / rpm_to_radps(1.0)


def _rings(rows: NDArray[np.float64], orientation: Orientation) -> Rings:
    return Rings(rows[:, :3] @ orientation.axes, rows[:, 3].copy(), rows[:, 4] / FOOT_M)
