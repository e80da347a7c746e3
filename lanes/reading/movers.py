"""What moved the hit from shot to shot: launch, laydown, speed, the lane, and what is left.

The board at the head pin scatters about the level of its ball, lane and planned line. How many
boards of that go with the throw as read is a robust regression, with the motion model's own slopes
as what was known before. Arrows and laydown together make the launch, so they are told as laydown
at one launch, and launch at one laydown: what a thrower turns at.

Readings scatter about what was thrown, and slopes on readings come out too flat. In their place
stands what was likely thrown (regression calibration: Carroll and others, Measurement Error in
Nonlinear Models, 2006, chapter 4), and the share of the scatter is that of the throws, not of their
misreading. A part's share is its covariance with the whole over the whole's variance, so that
shares add up to 1 with what is left: misread hits, and what nobody reads (rotation, tilt). A part
that works against the others is told to have none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from lanes.motion.geometry import DEG_PER_BOARD
from lanes.motion.seen import ReadingError

from .causes import HIDDEN_DRIFT_SD
from .changes import Change
from .robust import RobustFit, huber
from .series import LEAST_REAL, RESOLUTION, THROW, Sensitivity, centred_by, column, levels
from .shots import LoggedShot

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

MIN_SHOTS = 10  # beyond the numbers that are fitted; fewer tell slopes and shares from nothing
READ = 0.6  # share of the hits whose throw column was read, for it to be told (assumed)
NAMED = 0.8  # probability from which on a part is named as the greatest (as a claim elsewhere)
BENDS = 0.2  # of a slope: a lane bends, no two throws have quite the same one (assumed)
DRAWS = 1000
LAUNCH_STEP_DEG = 0.5
REV_STEP_RPM = 10.0

UNITS = {
    "launch": "half a degree further in",
    "laydown": "a board further in at laydown, same launch",
    "arrows": "a board further in at the arrows",
    "speed": "1 mph faster",
    "rev": f"{REV_STEP_RPM:.0f} rpm more",
}
NAMES = {
    "launch": "the launch",
    "laydown": "the laydown",
    "arrows": "the board at the arrows",
    "speed": "the speed",
    "rev": "the rev rate",
    "lane": "the lane",
    "ball": "the ball's change",
    "rest": "what is left",
}
_COLUMNS = {"speed_mph": "speed", "rev_rpm": "rev"}
_NOT_READ = {"laydown": "laydown", "arrows": "arrows", "speed_mph": "speed", "rev_rpm": "rev rate"}


@dataclass(frozen=True)
class Mover:
    """One part: boards at the head pin for one ``UNITS``, and its share of the scatter, 90 %.

    Without boards for what has no unit: the lane, a ball that changed, what is left.
    """

    what: str
    boards: tuple[float, float, float] | None
    share: tuple[float, float, float]

    def as_json(self) -> dict[str, Any]:
        """Return the part as the reading's JSON holds it."""
        boards = self.boards and [round(value, 2) + 0.0 for value in self.boards]
        return {
            "what": self.what,
            "unit": UNITS.get(self.what),
            "boards": boards and boards[0],
            "boards_interval": boards and boards[1:],
            "share": round(self.share[0], 2) + 0.0,
            "share_interval": [round(value, 2) + 0.0 for value in self.share[1:]],
        }


@dataclass(frozen=True)
class Movers:
    """All parts of one session, the greatest named first; none where too little was read.

    ``scatter`` is the hits' own about their levels in boards (sd), ``p`` the probability that the
    first is the greatest of those that have a name.
    """

    n: int
    parts: tuple[Mover, ...] = ()
    scatter: float = 0.0
    p: float = 0.0
    unread: tuple[str, ...] = ()

    @property
    def first(self) -> str | None:
        """What moved the hit most, ``None`` where that is not sure."""
        return self.parts[0].what if self.parts and self.p >= NAMED else None

    @property
    def words(self) -> str:
        """Say it in one or two sentences."""
        unread = ", ".join(_NOT_READ[name] for name in self.unread)
        if not self.parts:
            without = f" (too seldom read: {unread})" if unread else ""
            return (
                f"Too little to say what moved the hit: {self.n} first balls with a board at the "
                f"head pin and their throw{without}."
            )
        one, other = self.parts[:2]
        if self.first:
            told = f"{_capital(NAMES[one.what])} moved the hit most: {_size(one)}"
        else:
            told = (
                f"What moved the hit most cannot be told. Likeliest: {NAMES[one.what]}, "
                f"{_share(one)}, or {NAMES[other.what]}, {_share(other)}"
            )
        rest = next(part for part in self.parts if part.what == "rest")
        lacking = f" Too seldom read to count: {unread}." if unread else ""
        return f"{told}. {_capital(NAMES['rest'])}: {_share(rest)}.{lacking}"

    def as_json(self) -> dict[str, Any]:
        """Return it as the reading's JSON holds it."""
        return {
            "n": self.n,
            "scatter_boards": round(self.scatter, 2),
            "first": self.first,
            "p": round(self.p, 3),
            "parts": [part.as_json() for part in self.parts],
            "unread": [_NOT_READ[name] for name in self.unread],
            "words": self.words,
        }


def lines(movers: dict[str, Any]) -> list[str]:
    """Return a line for each part of a reading's ``movers``: its share, its boards for one unit."""
    told = []
    for part in movers["parts"]:
        low, high = (100.0 * end for end in part["share_interval"])
        line = f"{_capital(NAMES[part['what']])}: {100.0 * part['share']:.0f} % of the scatter"
        line += f" ({low:.0f} to {high:.0f})"
        if part["boards"] is not None:
            least, most = part["boards_interval"]
            line += f"; {part['unit']}: {part['boards']:+.1f} boards ({least:+.1f} to {most:+.1f})"
        told.append(line)
    return told


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _share(part: Mover) -> str:
    share, low, high = (100.0 * value for value in part.share)
    return f"{share:.0f} % of the scatter ({low:.0f} to {high:.0f})"


def _size(part: Mover) -> str:
    if part.boards is None:
        return _share(part)
    boards, low, high = part.boards
    return f"{boards:.1f} boards for {UNITS[part.what]} ({low:.1f} to {high:.1f}), {_share(part)}"


def find_movers(
    shots: Sequence[LoggedShot],
    first: Flags,
    changes: Sequence[Change],
    sensitivity: Sensitivity,
    error: ReadingError,
    seed: int = 1,
) -> Movers:
    """Return what moved the hits of a session's first deliveries, flagged by ``first``."""
    pins = column(shots, "head_pin")
    hit = first & np.isfinite(pins)
    read = {name: column(shots, name) for name in THROW}
    names = [n for n in THROW if hit.any() and np.isfinite(read[n][hit]).mean() >= READ]
    unread = tuple(name for name in THROW if name not in names and name != "rev_rpm")
    use = hit & np.all([np.isfinite(read[name]) for name in names], axis=0)
    groups = levels(shots)
    for group in np.unique(groups[use]):
        if (use & (groups == group)).sum() < 2:
            use &= groups != group
    level = groups[use][:, None] == np.unique(groups[use])[None, :]
    moved, by = _moved(shots, changes)
    n, freedom = int(use.sum()), int(use.sum()) - level.shape[1]
    if not names or freedom - len(names) - len(by) < MIN_SHOTS:
        return Movers(n, unread=unread)

    thrown = np.column_stack([centred_by(read[name], groups, use)[use] for name in names])
    moved = moved[use] - level @ (level.T @ moved[use] / level.sum(axis=0)[:, None])
    sd = np.array([getattr(error, name) for name in names])
    kept = _kept(thrown.T @ thrown / freedom, sd)
    known = [HIDDEN_DRIFT_SD**-2] if not _elsewhere(changes) else [0.0] * len(by)
    fit = huber(
        np.column_stack([level.astype(float), thrown @ kept.T, moved]),
        pins[use],
        np.array([0.0] * level.shape[1] + [sensitivity.mean["head_pin", name] for name in names]
                 + [0.0] * len(by)),
        np.array([0.0] * level.shape[1]
                 + [sensitivity.sd["head_pin", name] ** -2 for name in names] + known),
        floor=RESOLUTION["head_pin"],
    )  # fmt: skip
    return _told(_Fitted(fit, names, by, thrown, moved, sd, freedom), n, unread, seed)


@dataclass(frozen=True, eq=False)
class _Fitted:
    """The regression: on ``names`` as thrown, then on what moved ``by`` lane or ball.

    ``thrown`` (n, k) are the readings, ``error`` (k,) theirs, ``moved`` (n, b) the other columns,
    all about their levels.
    """

    fit: RobustFit
    names: list[str]
    by: list[str]
    thrown: Array
    moved: Array
    error: Array
    freedom: int


def _elsewhere(changes: Sequence[Change]) -> list[Change]:
    """Return the changes that are not the throw's: that one is in the throws as read."""
    return [change for change in changes if change.cause != "throw"]


def _moved(shots: Sequence[LoggedShot], changes: Sequence[Change]) -> tuple[Array, list[str]]:
    """Return a column for each change of lane or ball, and whose it is; else the lane's drift."""
    others = _elsewhere(changes)
    if not others:
        return np.arange(len(shots), dtype=float)[:, None] / 10.0, ["lane"]
    return np.column_stack([c.over(shots) for c in others]), [c.cause for c in others]


def _kept(spread: Array, error: Array) -> Array:
    """Return what turns throws as read into the likely ones (..., k, k), for readings that spread
    so (..., k, k) with these errors (k,).

    Never less than ``LEAST_REAL`` of what was read in any direction is taken for thrown.
    """
    size, axes = np.linalg.eigh(spread / np.outer(error, error))
    share = np.maximum(1.0 - 1.0 / np.maximum(size, 1e-9), LEAST_REAL)
    return np.asarray(
        (error[:, None] * axes * share[..., None, :]) @ (np.swapaxes(axes, -1, -2) / error)
    )


def _steps(names: Sequence[str]) -> tuple[list[str], Array]:
    """Return what is told, and the columns as read (k,) that one unit of each moves (k, told)."""
    told = [_COLUMNS.get(name, name) for name in names]
    steps = np.eye(len(names))
    if "rev_rpm" in names:
        steps[:, names.index("rev_rpm")] *= REV_STEP_RPM
    if "arrows" in names and "laydown" in names:
        arrows, laydown = names.index("arrows"), names.index("laydown")
        told[arrows] = "launch"
        steps[arrows, arrows] = LAUNCH_STEP_DEG / DEG_PER_BOARD
        steps[arrows, laydown] = 1.0  # the same launch from a board further in
    return told, steps


def _told(found: _Fitted, n: int, unread: tuple[str, ...], seed: int) -> Movers:
    """Turn the regression into what is told, with intervals from draws.

    Drawn are the slopes (Student), how far the readings of the throw spread (inverse Wishart: it
    says how much of what was read was thrown, and slopes go with it), and what is left.
    """
    rng = np.random.default_rng(seed)
    fit, by, freedom, k = found.fit, found.by, found.freedom, len(found.names)
    told, steps = _steps(found.names)
    back = np.linalg.inv(steps)
    cross = found.thrown.T @ found.moved / freedom
    still = found.moved.T @ found.moved / freedom
    spread = found.thrown.T @ found.thrown / freedom
    kept = _kept(spread, found.error)
    these = slice(len(fit.coef) - k - len(by), None)
    coef, cov = fit.coef[these], fit.cov[these, these]

    def split(slopes: Array, real: Array, left: Array) -> Array:
        """Return (m, told + moved + 1) parts of the variance, the last what is left."""
        throws = back @ real @ back.T
        side = np.broadcast_to(back @ cross, (len(real), k, len(by)))
        low = np.broadcast_to(
            np.hstack([cross.T @ back.T, still]), (len(real), len(by), k + len(by))
        )
        whole = np.concatenate([np.concatenate([throws, side], axis=2), low], axis=1)
        told_slopes = np.column_stack([slopes[:, :k] @ steps, slopes[:, k:]])
        return np.column_stack([told_slopes * np.einsum("mij,mj->mi", whole, told_slopes), left])

    real = kept @ spread
    misread = float(coef[:k] @ (real - kept @ real) @ coef[:k])
    left = max(float(fit.residuals @ fit.residuals) / (freedom - k) - misread, 0.0)
    best = split(np.asarray(coef[None], dtype=np.float64), real[None], np.array([left]))[0]

    root = np.linalg.cholesky(spread + 1e-9 * np.eye(k))
    drawn = rng.standard_normal((DRAWS, k, freedom))
    spreads = freedom * root @ np.linalg.inv(drawn @ drawn.transpose(0, 2, 1)) @ root.T
    keeps = _kept(spreads, found.error)
    wide = np.sqrt(fit.dof / rng.chisquare(fit.dof, DRAWS))[:, None]
    slopes = coef + wide * rng.multivariate_normal(np.zeros(len(coef)), cov, DRAWS)
    slopes[:, :k] += BENDS * coef[:k] * rng.standard_normal((DRAWS, 1))
    as_read = slopes[:, :k] @ kept
    slopes[:, :k] = np.linalg.solve(keeps.transpose(0, 2, 1), as_read[..., None])[..., 0]
    many = split(slopes, keeps @ spreads, left * freedom / rng.chisquare(freedom, DRAWS))

    what = list(dict.fromkeys([*told, *by, "rest"]))
    places = np.array([what.index(one) for one in (*told, *by, "rest")])
    gather = (places[:, None] == np.arange(len(what))).astype(float)
    best, many = best @ gather, many @ gather
    boards = coef[:k] @ steps
    ends = np.percentile(slopes[:, :k] @ steps, (5, 95), axis=0)
    shares = np.clip(best / best.sum(), 0.0, 1.0)
    low, high = np.clip(np.percentile(many / many.sum(axis=1)[:, None], (5, 95), axis=0), 0.0, 1.0)
    parts = [
        Mover(
            one,
            (float(boards[i]), float(ends[0, i]), float(ends[1, i])) if i < k else None,
            (float(shares[i]), float(low[i]), float(high[i])),
        )
        for i, one in enumerate(what)
    ]
    lead = int(np.argmax(best[:-1]))
    p = float(np.mean(np.argmax(many[:, :-1], axis=1) == lead))
    parts.sort(key=lambda part: (part.what == "rest", -part.share[0]))
    return Movers(n, tuple(parts), float(np.sqrt(best.sum())), p, unread)
