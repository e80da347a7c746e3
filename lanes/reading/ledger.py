"""Whether advice paid: the shots after it scored against what was predicted. No Django in here.

A piece of advice was given with a chance of a strike and of a pocket hit, and the board at the head
pin where the usual throw would arrive. The first balls from where the student took it score it,
misses and all, since the prediction has the student's own misses in it. Where there is too little
the counts are given and nothing else.

What this cannot tell: a student who takes advice also warms up, tires or moves home, and advice is
given when things go badly, after which they mostly get better by themselves.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.special import ndtri, stdtrit

from .hits import in_pocket
from .leaves import pins_standing
from .shots import LoggedShot, first_balls

MOST_BALLS = 20  # first balls that score a piece of advice, and that it is set against
FEWEST_BALLS = 10  # fewer first balls than this show counts, no rate
FEWEST_EACH = 5  # first balls before and after, for a piece of advice to count for its kind
FEWEST_PIECES = 5  # fewer pieces of advice than this show counts, no score and no gain
LEVEL = 0.90  # of every interval
EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)  # of predicted chances, for the calibration curve
# Another line: feet or eyes further from the first ball's than a student wanders, and than the two
# lanes of a pair usually differ (assumed), boards.
OTHER_LINE_BOARDS = 1.5
# Feet or eyes that came within this of what was advised are taken for it (assumed), boards ...
AS_ADVISED_BOARDS = 1.0
# ... in so many first balls one after the other: one alone may be a try or a slip of the pen.
AS_ADVISED_BALLS = 2
_DRAWS = 2000


@dataclass(frozen=True)
class Share:
    """So many of so many; a rate and its interval only from ``FEWEST_BALLS`` on."""

    made: int
    of: int

    @property
    def tells(self) -> bool:
        return self.of >= FEWEST_BALLS

    @property
    def rate(self) -> float | None:
        return self.made / self.of if self.tells else None

    @property
    def interval(self) -> tuple[float, float] | None:
        """Wilson's interval for a share (1927), or ``None`` where the counts are too few."""
        return wilson(self.made, self.of) if self.tells else None


@dataclass(frozen=True)
class Mean:
    """A mean of boards with its interval by Student's t; none below ``FEWEST_BALLS`` readings."""

    n: int
    value: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Outcome:
    """What the first balls of a stretch came to, and the last shot of it."""

    balls: int
    strikes: Share
    pocket: Share
    head_pin: Mean
    until: int | None


@dataclass(frozen=True)
class Piece:
    """A piece of advice that was taken, with the balls before and after.

    ``strike`` and ``pocket`` are the chances that were predicted. ``scores`` says whether the lane
    was oiled as predicted for, so that it may score the predictions.
    """

    kind: str
    strike: float | None
    pocket: float | None
    before: Outcome
    after: Outcome
    scores: bool = True


@dataclass(frozen=True)
class Bin:
    """Predictions of one size with what came of them; ``predicted`` is their mean by balls."""

    low: float
    high: float
    pieces: int
    predicted: float | None
    share: Share


@dataclass(frozen=True)
class Brier:
    """Brier's score by balls, that of the base rate, and the skill against it with its interval.

    ``score`` and what follows are ``None`` below ``FEWEST_PIECES`` and ``FEWEST_BALLS``; ``skill``
    too where every ball ended alike, so that the base rate cannot be wrong.
    """

    pieces: int
    balls: int
    base_rate: float | None = None
    score: float | None = None
    of_base_rate: float | None = None
    skill: float | None = None
    skill_low: float | None = None
    skill_high: float | None = None


@dataclass(frozen=True)
class Gain:
    """Strikes more in one ball than before, by kind of advice, with its interval where it tells."""

    kind: str
    taken: int
    pieces: int
    before: Share
    after: Share
    gain: float | None = None
    low: float | None = None
    high: float | None = None

    @property
    def verdict(self) -> str:
        """``paid``, ``cost``, ``even`` (no difference that can be told) or ``few``."""
        if self.gain is None or self.low is None or self.high is None:
            return "few"
        if self.low > 0.0:
            return "paid"
        return "cost" if self.high < 0.0 else "even"


@dataclass(frozen=True)
class Advised:
    """What an option asks for: another ball, or boards of feet and eyes (weak side positive)."""

    kind: str
    ball: str = ""
    feet: float = 0.0
    eyes: float = 0.0


# Shares and means


def wilson(made: int, of: int, level: float = LEVEL) -> tuple[float, float]:
    """Return Wilson's interval for a share, ``made`` of ``of`` (E. B. Wilson, JASA 22, 1927)."""
    if of == 0:
        return 0.0, 1.0
    z = float(ndtri(0.5 + level / 2.0))
    share = made / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z / (1 + z * z / of) * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of))
    return max(middle - half, 0.0), min(middle + half, 1.0)


def mean_of(values: Sequence[float], level: float = LEVEL) -> Mean:
    """Return the mean of boards and its interval by Student's t."""
    n = len(values)
    if n < FEWEST_BALLS:
        return Mean(n, None, None, None)
    middle = float(np.mean(values))
    half = _t(n - 1, level) * float(np.std(values, ddof=1)) / math.sqrt(n)
    return Mean(n, middle, middle - half, middle + half)


def _t(df: int, level: float) -> float:
    return float(stdtrit(df, 0.5 + level / 2.0))


# Which balls score


def struck(shot: LoggedShot) -> bool | None:
    """Say whether a first ball struck; ``None`` where the leave was not written down."""
    return None if pins_standing(shot.leave) is None else shot.leave == "X"


def outcome(shots: Sequence[LoggedShot]) -> Outcome:
    """Return what first balls came to; a share counts what was seen of them."""
    strikes = [s for s in map(struck, shots) if s is not None]
    pocket = [p for p in (in_pocket(shot.head_pin) for shot in shots) if p is not None]
    pins = [shot.head_pin for shot in shots if shot.head_pin is not None]
    return Outcome(
        balls=len(shots),
        strikes=Share(sum(strikes), len(strikes)),
        pocket=Share(sum(pocket), len(pocket)),
        head_pin=mean_of(pins),
        until=shots[-1].shot if shots else None,
    )


def scoring_balls(
    log: Sequence[LoggedShot], start: int, stop: int | None = None
) -> list[LoggedShot]:
    """Return the first balls that score what was taken from shot ``start`` on.

    Up to ``MOST_BALLS`` of them, until the next change of ball or line, until ``stop`` (the shot
    from which on other advice was taken), or the end of the log. Fouls count for nothing.
    """
    found: list[LoggedShot] = []
    for shot in _at_full_racks(log):
        if shot.shot < start:
            continue
        if stop is not None and shot.shot >= stop:
            break
        if found and not _same_line(found, shot):
            break
        found.append(shot)
        if len(found) == MOST_BALLS:
            break
    return found


def balls_before(log: Sequence[LoggedShot], start: int | None = None) -> list[LoggedShot]:
    """Return the last first balls before shot ``start`` (before the end), ``MOST_BALLS`` at most,
    back to the last change of ball or line.
    """
    found: list[LoggedShot] = []
    for shot in reversed(_at_full_racks(log)):
        if start is not None and shot.shot >= start:
            continue
        if found and not _same_line(found, shot):
            break
        found.append(shot)
        if len(found) == MOST_BALLS:
            break
    return found[::-1]


def _at_full_racks(log: Sequence[LoggedShot]) -> list[LoggedShot]:
    return [s for s, first in zip(log, first_balls(log), strict=True) if first and not s.foul]


def _same_line(these: Sequence[LoggedShot], shot: LoggedShot) -> bool:
    """Say whether a shot has the ball and the line of these, as far as anybody wrote them down."""
    ball = next((s.ball for s in these if s.ball), "")
    if shot.ball and ball and shot.ball != ball:
        return False
    for name in ("stand", "aim"):
        first = next((v for s in these if (v := getattr(s, name)) is not None), None)
        now = getattr(shot, name)
        if first is not None and now is not None and abs(now - first) > OTHER_LINE_BOARDS:
            return False
    return True


def taken_at(
    log: Sequence[LoggedShot], advised: Advised, before: Sequence[LoggedShot], after: int
) -> int | None:
    """Return the shot from which on the log shows that the advice was taken; ``None`` if it shows
    nothing. A guess by rule, for the coach to confirm.

    ``before`` are first balls on the line that the advice left; only shots later than ``after``
    count. A ball shows by its label, a move by feet or eyes about where they were advised.
    """
    if advised.kind not in ("ball", "move") or not before:
        return None
    run: list[int] = []
    for shot in _at_full_racks(log):
        if shot.shot <= after:
            continue
        if _is_as_advised(shot, advised, before):
            run.append(shot.shot)
            if len(run) == AS_ADVISED_BALLS:
                return run[0]
        else:
            run = []
    return None


def _is_as_advised(shot: LoggedShot, advised: Advised, before: Sequence[LoggedShot]) -> bool:
    ball = next((s.ball for s in reversed(before) if s.ball), "")
    if advised.kind == "ball":
        return bool(ball) and shot.ball == advised.ball != ball
    if shot.ball and ball and shot.ball != ball:
        return False
    moved = False
    for name, boards in (("stand", advised.feet), ("aim", advised.eyes)):
        known = [v for s in before if (v := getattr(s, name)) is not None]
        now = getattr(shot, name)
        if now is None or not known:
            continue
        change = now - float(np.median(known))
        if abs(change - boards) > AS_ADVISED_BOARDS:
            return False
        moved = moved or (abs(boards) > AS_ADVISED_BOARDS and change * boards > 0.0)
    return moved


# Scores over many pieces


def calibration(
    pairs: Iterable[tuple[float | None, Share]], edges: Sequence[float] = EDGES
) -> list[Bin]:
    """Return predicted chances in bins with the share that came true; empty bins are left out."""
    known = [(p, share) for p, share in pairs if p is not None and share.of]
    bins = []
    for low, high in pairwise(edges):
        mine = [(p, s) for p, s in known if low <= p < high or (p == high == edges[-1])]
        if mine:
            balls = sum(s.of for _, s in mine)
            predicted = sum(p * s.of for p, s in mine) / balls
            share = Share(sum(s.made for _, s in mine), balls)
            bins.append(Bin(low, high, len(mine), predicted, share))
    return bins


def brier(pairs: Iterable[tuple[float | None, Share]], seed: int = 1) -> Brier:
    """Return Brier's score of predicted chances, ball by ball, and the skill against the base rate.

    The score is the mean of (predicted - happened)^2 over the balls, for the one event of two as it
    is used now: half of what G. W. Brier summed over both (Monthly Weather Review 78, 1950). The
    base rate that a piece is set against is the share of the balls of all other pieces: one that
    had seen the very balls could not lose to any steady prediction. The skill is 1 less the ratio
    of the two scores; its interval comes from drawing the pieces of advice anew, whole, since the
    balls of one piece are alike.
    """
    known = [(p, share) for p, share in pairs if p is not None and share.of]
    balls = sum(share.of for _, share in known)
    if len(known) < FEWEST_PIECES or balls < FEWEST_BALLS:
        return Brier(len(known), balls)
    p = np.array([p for p, _ in known])
    made = np.array([share.made for _, share in known], dtype=float)
    of = np.array([share.of for _, share in known], dtype=float)
    lost = made * (p - 1.0) ** 2 + (of - made) * p**2
    base = float(made.sum() / of.sum())
    others = (made.sum() - made) / (of.sum() - of)
    lost_by_base = made * (others - 1.0) ** 2 + (of - made) * others**2
    score, reference = float(lost.sum() / balls), float(lost_by_base.sum() / balls)
    if reference == 0.0:
        return Brier(len(known), balls, base, score, reference)
    drawn = np.random.default_rng(seed).integers(0, len(known), (_DRAWS, len(known)))
    ref = lost_by_base[drawn].sum(axis=1)
    some = ref > 0.0
    ratio = lost[drawn].sum(axis=1)[some] / ref[some]
    low, high = np.percentile(1.0 - ratio, (50 * (1 - LEVEL), 50 * (1 + LEVEL)))
    return Brier(
        len(known), balls, base, score, reference, 1.0 - score / reference, float(low), float(high)
    )


def gains(pieces: Iterable[Piece]) -> list[Gain]:
    """Return what each kind of advice gained in strikes, most often taken first.

    Paired: each piece's strike rate after it less the one before, the mean of those with its
    interval by Student's t over the pieces, which holds both that pieces differ and that balls
    scatter. Where the pieces happen to agree better than their few balls could, the interval is as
    wide as the balls alone make it.
    """
    by_kind: dict[str, list[Piece]] = {}
    for piece in pieces:
        by_kind.setdefault(piece.kind, []).append(piece)
    found = [_gain(kind, some) for kind, some in by_kind.items()]
    return sorted(found, key=lambda gain: (-gain.taken, gain.kind))


def _gain(kind: str, pieces: Sequence[Piece]) -> Gain:
    def enough(share: Share) -> bool:
        return share.of >= FEWEST_EACH

    mine = [p for p in pieces if enough(p.before.strikes) and enough(p.after.strikes)]
    before, after = (
        Share(sum(s.made for s in shares), sum(s.of for s in shares))
        for shares in ([p.before.strikes for p in mine], [p.after.strikes for p in mine])
    )
    few = Gain(kind, len(pieces), len(mine), before, after)
    if len(mine) < FEWEST_PIECES:
        return few
    pairs = [(p.before.strikes, p.after.strikes) for p in mine]
    gain, low, high = paired_gain(pairs)
    return Gain(kind, len(pieces), len(mine), before, after, gain, low, high)


def paired_gain(
    pairs: Sequence[tuple[Share, Share]], level: float = LEVEL
) -> tuple[float, float, float]:
    """Return the mean gain of (before, after) pairs and the ends of its interval."""
    n = len(pairs)
    each = np.array([after.made / after.of - before.made / before.of for before, after in pairs])
    balls = sum(_variance(before) + _variance(after) for before, after in pairs) / n**2
    error = math.sqrt(max(float(np.var(each, ddof=1)) / n, balls))
    half = _t(n - 1, level) * error
    gain = float(each.mean())
    return gain, max(gain - half, -1.0), min(gain + half, 1.0)


def _variance(share: Share) -> float:
    """Return the variance of a share by balls alone, by the Beta that one ball each way adds."""
    middle = (share.made + 1.0) / (share.of + 2.0)
    return middle * (1.0 - middle) / (share.of + 3.0)
