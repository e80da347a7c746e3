"""Frames and score from the shots, by the published rules of the game.

Strike: ten and the next two balls. Spare: ten and the next ball. The tenth frame has up to three
balls. A foul counts nothing for that ball, and after a foul on a first ball the second is thrown
at a full rack (playing rules, FACTS section 7). What was not recorded leaves the score unknown
from there on; nothing is guessed.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from .leaves import ALL_PINS, is_split, pins_standing
from .shots import LoggedShot

FRAMES = 10
Pins = int | None  # pins felled by one ball, None where not recorded


@dataclass(frozen=True)
class Frame:
    """One frame as a score sheet shows it.

    ``balls`` holds ``X``, ``/``, ``-``, ``F``, a digit, or ``?`` for a ball without its leave;
    ``mark`` is strike, spare, open, or ``None`` while it cannot be told.
    """

    frame: int
    balls: tuple[str, ...]
    cumulative: int | None
    mark: str | None
    split: bool
    foul: bool
    shots: tuple[int, ...]


@dataclass(frozen=True)
class Game:
    """One game's frames, its score if known, and what keeps it from being known."""

    game: int
    frames: tuple[Frame, ...]
    score: int | None
    notes: tuple[str, ...]


def frame_score(balls: Sequence[Pins], following: Sequence[Pins], frame: int) -> int | None:
    """Return what one frame is worth, or ``None`` while that is not known.

    ``balls`` are the frame's own, ``following`` the balls after it (two are enough). The tenth
    frame is worth its own pins, as its fill balls are the bonus.
    """
    if frame == FRAMES or not is_mark(balls):
        counted: list[Pins] = list(balls)
        if not frame_is_over(balls, frame):
            return None
    else:
        bonus = 3 - len(balls)  # two balls after a strike, one after a spare
        if len(following) < bonus:
            return None
        counted = [*balls, *following[:bonus]]
    total = 0
    for pins in counted:
        if pins is None:
            return None
        total += pins
    return total


def is_mark(balls: Sequence[Pins]) -> bool:
    """Say whether the balls begin with a strike or a spare."""
    if not balls or balls[0] is None:
        return False
    if balls[0] == 10:
        return True
    return len(balls) > 1 and balls[1] is not None and balls[0] + balls[1] == 10


def frame_is_over(balls: Sequence[Pins], frame: int) -> bool:
    """Say whether no further ball belongs to this frame, as far as the recorded balls tell."""
    if frame < FRAMES:
        return len(balls) >= 2 or (len(balls) == 1 and balls[0] == 10)
    if len(balls) >= 3:
        return True
    return len(balls) == 2 and None not in balls and not is_mark(balls)


def running_totals(frames: Sequence[Sequence[Pins]]) -> tuple[int | None, ...]:
    """Return a game's total after each frame; ``None`` from where it is not known yet."""
    totals: list[int | None] = []
    total: int | None = 0
    for i, balls in enumerate(frames):
        following = [pins for later in frames[i + 1 :] for pins in later]
        worth = frame_score(balls, following, i + 1)
        total = None if total is None or worth is None else total + worth
        totals.append(total)
    return tuple(totals)


@dataclass(frozen=True)
class _Ball:
    """One ball of a frame: what fell, its sign on the sheet, and whether its rack was fresh."""

    shot: LoggedShot
    pins: Pins
    sign: str
    fresh: bool
    problem: str = ""


def _balls_of(shots: Sequence[LoggedShot]) -> list[_Ball]:
    """Return the balls of one frame; the rack is followed from ball to ball."""
    balls: list[_Ball] = []
    rack: frozenset[int] | None = ALL_PINS
    fresh = True
    for shot in shots:
        after = None if rack is None else pins_standing(shot.leave, rack)
        if shot.foul:
            balls.append(_Ball(shot, 0, "F", fresh))
            # The pins that a foul on a first ball felled are set up again.
            rack, fresh = ALL_PINS, False
        elif rack is None or after is None:
            balls.append(_Ball(shot, None, "?", fresh))
            rack, fresh = None, False
        elif not after <= rack or (fresh and shot.leave == "/"):
            problem = f"shot {shot.shot}: leave {shot.leave} does not fit the pins that stood"
            balls.append(_Ball(shot, None, "?", fresh, problem))
            rack, fresh = None, False
        elif not after:
            balls.append(_Ball(shot, len(rack), "X" if fresh else "/", fresh))
            rack, fresh = ALL_PINS, True
        else:
            fell = len(rack - after)
            balls.append(_Ball(shot, fell, str(fell) if fell else "-", fresh))
            rack, fresh = after, False
    return balls


def game_frames(shots: Sequence[LoggedShot]) -> list[Game]:
    """Return every game in the log with its frames and score.

    Shots without a frame number (practice) belong to no game and get no score. Games keep the
    order and the frames the order in which they were logged.
    """
    games: dict[int, dict[int, list[LoggedShot]]] = {}
    for shot in shots:
        if shot.frame is not None and 1 <= shot.frame <= FRAMES:
            games.setdefault(shot.game or 1, {}).setdefault(shot.frame, []).append(shot)
    return [_score_logged_game(game, frames) for game, frames in games.items()]


def _score_logged_game(number: int, logged: dict[int, list[LoggedShot]]) -> Game:
    notes: list[str] = []
    last = max(logged)
    by_frame: list[list[_Ball]] = []
    pins: list[list[Pins]] = []
    for frame in range(1, last + 1):
        balls = _balls_of(logged.get(frame, []))
        felled = [ball.pins for ball in balls]
        deliveries = [ball.shot.delivery for ball in balls]
        notes.extend(ball.problem for ball in balls if ball.problem)
        limit = 3 if frame == FRAMES else 2
        if not balls:
            notes.append(f"frame {frame} is not recorded")
            felled = [None, None]
        elif deliveries != list(range(1, len(balls) + 1)):
            notes.append(f"frame {frame}: deliveries {deliveries} are not 1, 2, ... in order")
            felled = [None, None]
        elif len(balls) > limit or _over_before_the_end(felled, frame):
            notes.append(f"frame {frame} has more balls than the rules allow")
            felled = [None, None]
        elif not frame_is_over(felled, frame) and frame < last:
            notes.append(f"frame {frame}: the second ball is not recorded")
            felled = [*felled, None]
        elif None in felled:
            notes.append(f"frame {frame}: a leave is not recorded")
        by_frame.append(balls)
        pins.append(felled)
    if last < FRAMES or not frame_is_over(pins[-1], FRAMES):
        notes.append("the game is not finished")
    totals = running_totals(pins)
    frames = tuple(
        Frame(
            frame=i + 1,
            balls=tuple(ball.sign for ball in balls),
            cumulative=totals[i],
            mark=_mark(pins[i], i + 1),
            split=any(b.fresh and not b.shot.foul and is_split(b.shot.leave) for b in balls),
            foul=any(ball.shot.foul for ball in balls),
            shots=tuple(ball.shot.shot for ball in balls),
        )
        for i, balls in enumerate(by_frame)
    )
    score = totals[-1] if last == FRAMES else None
    return Game(number, frames, score, tuple(notes))


def _over_before_the_end(felled: Sequence[Pins], frame: int) -> bool:
    return any(frame_is_over(felled[:n], frame) for n in range(1, len(felled)))


def _mark(felled: Sequence[Pins], frame: int) -> str | None:
    if is_mark(felled):
        return "strike" if felled[0] == 10 else "spare"
    if None in felled or not frame_is_over(felled, frame):
        return None
    return "open"


def spares(shots: Sequence[LoggedShot]) -> tuple[int, int]:
    """Return spares made and tried: balls at what a ball before them in the frame left."""
    made = tried = 0
    for before, shot in itertools.pairwise(shots):
        same = (before.game, before.frame) == (shot.game, shot.frame)
        if shot.delivery > 1 and same and shot.frame is not None and before.leave not in ("X", "/"):
            tried += 1
            made += not shot.foul and shot.leave in ("/", "X")
    return made, tried
