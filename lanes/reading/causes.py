"""Why a shot did not end as intended: the throw, the lane, the ball, or chance.

The departure at the head pin (the board met, less the middle of the flush pocket) is a sum of four
parts: what the throw did, what the lane's change did, what this ball on this line does when it is
thrown as usual, and chance (misreading and the like). The first three are estimated, each with its
doubt, the throw's with what it did unseen. What changed during the session is the lane's, a ball's
or an unseen throw's with the probabilities that the change itself has. Draws from these normal
doubts, conditioned on adding up to the departure, say how often each part was the greatest in the
departure's own direction: that share is its probability. Where pins stood although the ball met the
pocket, the part of the failures that a flush hit has too is chance.

A simple model, openly: sums and normal doubts, no interplay.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion import POCKET

from .changes import Change
from .explanations import CAUSES
from .robust import huber
from .series import RESOLUTION, Sensitivity, column, levels, throw_columns
from .shots import LoggedShot
from .strike import strike_chance
from .throws import Throw

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

KINDS = ("throw", "lane", "ball", "chance")
TARGET = 0.5 * (POCKET.flush_low + POCKET.flush_high)
DRAWS = 400
HEAD_PIN_READING_SD = 0.9  # boards; assumed, FACTS section 10
MIN_SHOTS = 8  # good first balls with a board at the head pin
HIDDEN_DRIFT_SD = 0.1  # boards in ten balls that a change too small to find may hide (assumed)
UNKNOWN_LEVEL_SD = 2.0  # boards; a line that was thrown too rarely to have a level
_USUAL_ANGLE = 4.5
# Share of the scatter beyond misreading that the throw made unseen, by the verdict (assumed).
# Nearly all of it: from one ball to the next neither lane nor ball varies, but arrows are misread
# by half a board and revs go unread.
_UNSEEN_THROW = {"good": 0.85, "off": 1.0, "unknown": 0.9}
# Doubt of where the ball really met the head pin when luck is asked for, boards (assumed): small,
# so that a hit read as flush counts as flush.
_LUCK_SD = 0.3
_FLUSH_LUCK = (
    0.8  # of the flush hits that leave a pin: mostly the pins (common practice, no source)
)
# Without a board at the head pin only the verdict on the throw is left to go by (assumed).
_BLIND = {
    "off": {"throw": 0.7, "lane": 0.1, "ball": 0.05, "chance": 0.15},
    "good": {"throw": 0.2, "lane": 0.25, "ball": 0.2, "chance": 0.35},
    "unknown": {"throw": 0.4, "lane": 0.2, "ball": 0.1, "chance": 0.3},
}


@dataclass(frozen=True, eq=False)
class Parts:
    """For each shot, boards at the head pin by throw, lane and ball, and their sd (n,).

    ``rest_sd`` is the scatter that the throw as read leaves over. ``changed`` (k, n) are boards by
    each change that was found, with their sd, and ``shares`` (k, 3) how likely throw, lane and ball
    are behind it.
    """

    throw: Array
    throw_sd: Array
    lane: Array
    lane_sd: Array
    ball: Array
    ball_sd: Array
    rest_sd: float
    changed: Array = field(default_factory=lambda: np.zeros((0, 0)))
    changed_sd: Array = field(default_factory=lambda: np.zeros((0, 0)))
    shares: Array = field(default_factory=lambda: np.zeros((0, 3)))


def split_parts(
    shots: Sequence[LoggedShot],
    first: Flags,
    good: Flags,
    changes: Sequence[Change],
    sensitivity: Sensitivity,
) -> Parts | None:
    """Return the parts of every shot's board at the head pin.

    The slopes come from good first balls (``good`` and ``first`` flag the session's shots) and are
    then applied to every first ball. A change of the throw is in the throws as read. Without any
    other change, a slow drift of the lane too small to be found stays as doubt. ``None`` with fewer
    than ``MIN_SHOTS`` good first balls.
    """
    pins = column(shots, "head_pin")
    keep = first & good & np.isfinite(pins)
    if keep.sum() < MIN_SHOTS:
        return None
    groups = levels(shots)
    columns = throw_columns(shots, groups, keep)
    order: Array = np.arange(len(shots), dtype=float) + 1.0
    changes = [change for change in changes if change.cause != "throw"]
    if changes:
        moved: Array = np.column_stack([change.over(shots) for change in changes])
        precision = [0.0] * len(changes)
    else:
        moved = ((order - 1.0) / 10.0)[:, None]
        precision = [HIDDEN_DRIFT_SD**-2]
    found = np.unique(groups[keep])
    level = (groups[:, None] == found[None, :]).astype(float)
    throw = np.column_stack(list(columns.values())) if columns else np.zeros((len(shots), 0))
    design = np.column_stack([level, throw, moved])
    slopes = [sensitivity.mean["head_pin", name] for name in columns]
    doubts = [sensitivity.sd["head_pin", name] ** -2 for name in columns]
    fit = huber(
        design[keep],
        pins[keep],
        np.array([0.0] * len(found) + slopes + [0.0] * moved.shape[1]),
        np.array([0.0] * len(found) + doubts + precision),
        floor=RESOLUTION["head_pin"],
    )

    def part(values: Array, start: int) -> tuple[Array, Array]:
        these = slice(start, start + values.shape[1])
        sd = np.sqrt(np.einsum("ni,ij,nj->n", values, fit.cov[these, these], values))
        return values @ fit.coef[these], sd

    by_throw, throw_sd = part(throw, len(found))
    by_change = [
        part(moved[:, [k]], len(found) + throw.shape[1] + k) for k in range(moved.shape[1])
    ]
    by_ball, ball_sd = part(level, 0)
    known = level.any(axis=1)
    usual = float(np.median(fit.coef[: len(found)]))
    by_ball = np.where(known, by_ball, usual) - TARGET
    ball_sd = np.where(known, ball_sd, UNKNOWN_LEVEL_SD)
    still = np.zeros(len(shots))
    if not changes:
        ((by_lane, lane_sd),) = by_change
        return Parts(by_throw, throw_sd, by_lane, lane_sd, by_ball, ball_sd, fit.scale)
    shares = np.array([[change.causes[cause] for cause in CAUSES] for change in changes])
    return Parts(
        by_throw, throw_sd, still, still, by_ball, ball_sd, fit.scale,
        changed=np.array([boards for boards, _ in by_change]),
        changed_sd=np.array([sd for _, sd in by_change]),
        shares=shares / shares.sum(axis=1, keepdims=True),
    )  # fmt: skip


def find_causes(
    shots: Sequence[LoggedShot],
    first: Sequence[bool],
    throws: Sequence[Throw],
    angles: Array,
    parts: Parts | None,
    seed: int = 1,
) -> list[dict[str, float] | None]:
    """Return each shot's causes as probabilities that add up to 1, ``None`` for no departure.

    A first ball departs unless it is a strike in the pocket; spares and second balls are not
    judged. ``parts`` is ``None`` where the session is too thin to take apart.
    """
    rng = np.random.default_rng(seed)
    changes = 0 if parts is None else len(parts.changed)
    normal = rng.standard_normal((4, DRAWS))
    chosen = np.zeros((changes, DRAWS), dtype=np.int64)
    for k in range(changes):
        assert parts is not None
        chosen[k] = rng.choice(len(CAUSES), DRAWS, p=parts.shares[k])
    causes: list[dict[str, float] | None] = []
    for i, shot in enumerate(shots):
        struck = shot.leave == "X"
        if not first[i] or (shot.leave == "" and shot.head_pin is None):
            causes.append(None)
        elif shot.head_pin is None:
            causes.append(None if struck else dict(_BLIND[throws[i].verdict]))
        elif struck and POCKET.light <= shot.head_pin <= POCKET.high:
            causes.append(None)
        elif parts is None:
            causes.append(dict(_BLIND[throws[i].verdict]))
        else:
            causes.append(_cause(shot, throws[i], float(angles[i]), parts, i, normal, chosen))
    return causes


def _cause(
    shot: LoggedShot,
    throw: Throw,
    angle: float,
    parts: Parts,
    i: int,
    normal: Array,
    chosen: NDArray[np.int64],
) -> dict[str, float]:
    assert shot.head_pin is not None
    departure = shot.head_pin - TARGET
    estimated = np.array([parts.throw[i], parts.lane[i], parts.ball[i]])
    doubt = np.array([parts.throw_sd[i], parts.lane_sd[i], parts.ball_sd[i]])
    rest = parts.rest_sd**2
    # What the throw did unseen is a part of the rest, by the verdict a small or a large one.
    unseen = _UNSEEN_THROW[throw.verdict] * max(rest - HEAD_PIN_READING_SD**2, 0.0)
    variance = np.repeat(
        [[doubt[0] ** 2 + unseen], [doubt[1] ** 2], [doubt[2] ** 2], [0.0]], DRAWS, axis=1
    )
    variance[3] = max(rest - unseen, HEAD_PIN_READING_SD**2)
    mean = np.repeat(np.append(estimated, 0.0)[:, None], DRAWS, axis=1)
    each = np.arange(DRAWS)
    for k, cause in enumerate(chosen):
        mean[cause, each] += parts.changed[k, i]
        variance[cause, each] += parts.changed_sd[k, i] ** 2
    drawn = mean + np.sqrt(variance) * normal
    # Conditioned on adding up to the departure: what is over goes by the variances.
    gap = departure - drawn.sum(axis=0)
    drawn = drawn + variance / variance.sum(axis=0) * gap
    way = np.sign(departure) or 1.0
    leading = np.argmax(drawn * way, axis=0)
    found = np.bincount(leading, minlength=4) / DRAWS
    if shot.leave != "X":
        found = _with_luck(found, shot.head_pin, angle, normal[0])
    found = found / found.sum()
    return {kind: float(value) for kind, value in zip(KINDS, found, strict=True)}


def _with_luck(found: Array, head_pin: float, angle: float, normal: Array) -> Array:
    """Give chance the share of failures that a flush hit at this angle would have had too."""
    steep = angle if np.isfinite(angle) else _USUAL_ANGLE
    real = head_pin + _LUCK_SD * normal
    fails = 1.0 - float(strike_chance(real, steep).mean())
    fails_flush = 1.0 - float(strike_chance(TARGET, steep))
    luck = min(1.0, fails_flush / max(fails, 1e-9))
    if POCKET.flush_low <= head_pin <= POCKET.flush_high:
        luck = max(luck, _FLUSH_LUCK)
    out = (1.0 - luck) * found
    out[3] += luck
    return np.asarray(out)


def as_json(cause: dict[str, float] | None) -> dict[str, Any] | None:
    """Return a cause rounded so that its parts still add up to 1."""
    if cause is None:
        return None
    rounded = {kind: round(cause[kind], 3) for kind in KINDS}
    largest = max(KINDS, key=lambda kind: rounded[kind])  # can give or take what rounding left
    rounded[largest] = round(rounded[largest] + 1.0 - sum(rounded.values()), 3)
    return rounded
