"""Games on a ball: counted from the logged sessions, and those that somebody entered.

A ball's share of a logged game is its share of that game's deliveries, and a game that is not
finished counts by its first balls, ten to a game. So a game with one ball is one game on it, a
spare ball gets the part that it threw, and ten practice balls are a game. Deliveries without a ball
in the log are those of the only ball at hand, or nobody's. A surface was made before the games of
its day (assumed: work is done at the shop, and then one bowls).
"""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Q
from django.utils import timezone

from clients.models import Ball, BallEvent
from lanes.models import SessionBall, Shot

FIRST_BALLS = 10.0  # in a game: one a frame, fill balls left out


@dataclass(frozen=True)
class Bowled:
    """Some games on one ball on one day; `logged` is false for those entered by hand."""

    on: date
    games: float
    logged: bool


@dataclass(frozen=True)
class Tally:
    """How many games, from logged sessions and entered."""

    logged: float
    entered: float

    @property
    def all(self) -> float:
        return self.logged + self.entered

    def __str__(self) -> str:
        if not self.all:
            return "no games on it yet"
        words = _games(self.all)
        if not self.entered:
            return f"{words} on it, from logged sessions"
        if not self.logged:
            return f"{words} on it, entered"
        return f"{words} on it: {self.logged:.0f} from logged sessions, {self.entered:.0f} entered"


def _games(number: float) -> str:
    if number < 0.5:
        return "less than a game"
    return f"{number:.0f} game{'' if round(number) == 1 else 's'}"


@dataclass(frozen=True)
class Games:
    """All games on one ball."""

    bowled: tuple[Bowled, ...] = ()

    def between(self, first: date | None = None, until: date | None = None) -> Tally:
        """Count from the day `first`, with it, to the day `until`, without it."""
        counted = [
            one
            for one in self.bowled
            if (first is None or one.on >= first) and (until is None or one.on < until)
        ]
        logged = sum(one.games for one in counted if one.logged)
        return Tally(logged, sum(one.games for one in counted if not one.logged))

    def since(self, first: date | None) -> float:
        return self.between(first).all


def games_on(balls: Iterable[Ball]) -> dict[int, Games]:
    """Return the games on each ball by its key, in three queries for all of them."""
    keys = {ball.pk for ball in balls}
    bowled: dict[int, list[Bowled]] = defaultdict(list)
    for pk, on, games in _logged(keys):
        bowled[pk].append(Bowled(on, games, logged=True))
    entered = BallEvent.objects.filter(ball__in=keys, kind=BallEvent.Kind.GAMES)
    for pk, on, number in entered.values_list("ball_id", "on", "games"):
        bowled[pk].append(Bowled(on, float(number or 0), logged=False))
    return {pk: Games(tuple(bowled[pk])) for pk in keys}


def on_surface_now(balls: Iterable[Ball]) -> dict[int, float | None]:
    """Return the games on each ball's surface by the ball's key; None where none is written down.

    The balls' surfaces should be prefetched.
    """
    balls = list(balls)
    every = games_on(balls)
    return {
        ball.pk: every[ball.pk].since(ball.surface.done_on) if ball.surface else None
        for ball in balls
    }


def on_each_surface(ball: Ball, games: Games) -> dict[int, Tally]:
    """Return the games on each of the ball's surfaces by the surface's key."""
    tallies = {}
    until = None
    for surface in ball.surfaces.all():  # the newest first
        tallies[surface.pk] = games.between(surface.done_on, until)
        until = surface.done_on
    return tallies


@dataclass(frozen=True)
class _Part:
    """What one ball at hand, or none that was named, threw of one game."""

    ball: int | None
    thrown: int
    first: int


def _logged(keys: set[int]) -> Iterable[tuple[int, date, float]]:
    at_hand = SessionBall.objects.filter(session__balls__ball__in=keys, session__deleted_at=None)
    in_session: dict[uuid.UUID, dict[int, int | None]] = defaultdict(dict)
    for session, pk, ball in at_hand.values_list("session", "pk", "ball").order_by().distinct():
        in_session[session][pk] = ball
    rows = (
        Shot.objects.live()
        .filter(session__in=in_session)
        .values_list("session", "session__block__starts_at", "game", "ball")
        .annotate(thrown=Count("pk"), first=Count("pk", filter=Q(delivery=1)))
        .order_by("session", "game", "ball")
    )
    games: dict[tuple[uuid.UUID, datetime, int | None], list[_Part]] = defaultdict(list)
    for session, at, game, ball, thrown, first in rows:
        games[session, at, game].append(_Part(ball, thrown, first))
    for (session, at, game), parts in games.items():
        played = sum(part.first for part in parts) / FIRST_BALLS
        if game is not None:
            played = min(played, 1.0)
        thrown = sum(part.thrown for part in parts)
        balls = in_session[session]
        only = next(iter(balls)) if len(balls) == 1 else None
        for part in parts:
            threw = only if part.ball is None else part.ball
            bowled = None if threw is None else balls.get(threw)
            if bowled in keys and played:
                yield bowled, timezone.localdate(at), played * part.thrown / thrown
