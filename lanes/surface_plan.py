"""The surface plan: which cover is due when, which grit brings the hook where, a week's work.

A cover settles with games and is set by work (`motion.settling`): a pad's number is not the ball's,
and neither cleaning nor drawing oil out sets a surface back. What counts is the hook that a watcher
sees on the reference lane, by the client's own release. Beside it stand three rows of common
practice, which are marked as that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from django.utils import timezone

from clients.models import Ball, BallEvent, Client, Ticket, User
from lanes.arsenal import release_of
from lanes.cover_law import shops_settling
from lanes.games import Games, games_on
from lanes.locker import spec_with
from lanes.motion import BallSpec, Release
from lanes.motion.settling import (
    INTERVAL,
    HookCurve,
    Settling,
    games_until,
    grit_for,
    hook_curve,
    ln_mu_oil,
)
from lanes.try_shot import SEEN_FT

# A surface is due once it has moved the hook by what a watcher at the lane could see (assumed).
MOVED_FT = SEEN_FT
# Common practice, four pro-shop pages: clean each session, refresh at about 30 games, resurface at
# about 60 (60 to 80), draw oil out as needed.
SESSION_GAMES = 3.0  # in a session: an assumption
REFRESH_GAMES, RESURFACE_GAMES = 30.0, 60.0
# "As needed" has no number: from here on the list says to look (our choice), for covers that soak.
LOOK_FOR_OIL_GAMES = 60.0
SOAKING = (Ball.Cover.SOLID, Ball.Cover.HYBRID, Ball.Cover.PEARL)

WEEK = timedelta(days=7)
PACE_WEEKS = 8  # back over which games a week are counted
# Pads that a shop has, by common practice; the plan names the nearest.
PADS = (180, 240, 320, 360, 400, 500, 600, 800, 1000, 1200, 1500, 2000, 3000, 4000, 5000)

Kind = Ticket.Kind


@dataclass(frozen=True)
class Range:
    """A middle and the range of 8 of 10; infinite where it never comes to it."""

    middle: float
    low: float
    high: float

    def less(self, games: float) -> Range:
        return Range(*(max(value - games, 0.0) for value in (self.middle, self.low, self.high)))


@dataclass(frozen=True)
class Work:
    """One piece of work for the list: what, why, and how far past due (1 is just due)."""

    kind: str
    why: str
    urgency: float
    is_practice: bool = False
    grit: int | None = None
    polished: bool = False
    ticket: Ticket | None = None

    @property
    def label(self) -> str:
        return str(Kind(self.kind).label)


@dataclass(frozen=True, eq=False)
class Planned:
    """One ball: its surface's games, its hook, when it is due, and the work of this week."""

    ball: Ball
    games: float | None
    pace: float
    hook_fresh_ft: float | None = None
    hook_now_ft: float | None = None
    due: Range | None = None
    since_cleaned: float = 0.0
    since_oil_out: float = 0.0
    work: tuple[Work, ...] = ()
    problem: str = ""

    @property
    def left(self) -> Range | None:
        """Games until it is due; all zero where it is."""
        return self.due.less(self.games or 0.0) if self.due else None

    @property
    def in_words(self) -> str:
        """Say when the surface is due by the hook."""
        if self.problem:
            return self.problem
        if self.games is None:
            return "No surface written down, so nothing to plan from."
        if self.due is None:
            return "Hardly hooks on the reference lane: not planned by its hook."
        if math.isinf(self.due.middle):
            words = f"Games do not move its hook by {MOVED_FT:g} ft"
            if math.isfinite(self.due.low):
                return f"{words}, or not before {self.due.low:.0f} games."
            return f"{words}."
        high = "or never" if math.isinf(self.due.high) else f"to {self.due.high:.0f}"
        return f"Due at about {self.due.middle:.0f} games ({self.due.low:.0f} {high})."

    @property
    def weeks_left(self) -> float | None:
        """Weeks until it is due at the pace of the last weeks; None where that says nothing."""
        left = self.left
        if left is None or math.isinf(left.middle) or self.pace <= 0.0:
            return None
        return left.middle / self.pace

    @property
    def urgency(self) -> float:
        return max((work.urgency for work in self.work), default=0.0)


@dataclass(frozen=True, eq=False)
class Plan:
    balls: tuple[Planned, ...]
    settling: Settling

    @property
    def week(self) -> list[Planned]:
        """The balls with work, what is most overdue first."""
        due = [one for one in self.balls if one.work]
        return sorted(due, key=lambda one: -one.urgency)

    @property
    def kinds(self) -> list[str]:
        """The kinds of work on the list, for the cautions that belong to it."""
        return list(dict.fromkeys(work.kind for one in self.week for work in one.work))


def plan_for(user: User, *, search: str = "", on: date | None = None) -> Plan:
    """Return the plan of all balls in use whose surfaces the user may change, by client.

    Balls thrown at spares only are left out: their covers do not matter to their path.
    """
    balls = Ball.objects.editable_by(user).filter(retired_at=None, is_spare_ball=False)
    if search:
        balls = balls.filter(client__name__icontains=search)
    listed = list(
        balls.select_related("client").prefetch_related("surfaces").order_by("client__name", "name")
    )
    return _plan(listed, on or timezone.localdate())


def plan_of(ball: Ball, *, on: date | None = None) -> tuple[Planned, Settling]:
    """Return the plan of one ball, and how covers settle here."""
    plan = _plan([ball], on or timezone.localdate())
    return plan.balls[0], plan.settling


def _plan(balls: Sequence[Ball], today: date) -> Plan:
    settling = shops_settling()
    games = games_on(balls)
    last = _last_days(balls)
    tickets = _open_tickets(balls)
    releases = {ball.client_id: _release(ball.client) for ball in balls}
    planned = tuple(
        _planned(
            ball,
            games=games[ball.pk],
            release=releases[ball.client_id],
            last=last,
            tickets=tickets,
            settling=settling,
            today=today,
        )
        for ball in balls
    )
    return Plan(planned, settling)


def _release(client: Client) -> Release | None:
    try:
        return release_of(client).release
    except ValueError:
        return None


def _last_days(balls: Sequence[Ball]) -> dict[tuple[int, str], date]:
    kinds = (BallEvent.Kind.CLEANED, BallEvent.Kind.OIL_OUT)
    events = BallEvent.objects.filter(ball__in=balls, kind__in=kinds).order_by("on")
    return {(pk, kind): on for pk, kind, on in events.values_list("ball_id", "kind", "on")}


def _open_tickets(balls: Sequence[Ball]) -> dict[tuple[int, str], Ticket]:
    waiting = Ticket.objects.filter(
        ball__in=balls, status__in=(Ticket.Status.TAKEN_IN, Ticket.Status.ON_BENCH)
    )
    return {(ticket.ball_id or 0, ticket.kind): ticket for ticket in waiting}


def _planned(
    ball: Ball,
    *,
    games: Games,
    release: Release | None,
    last: dict[tuple[int, str], date],
    tickets: dict[tuple[int, str], Ticket],
    settling: Settling,
    today: date,
) -> Planned:
    surface = ball.surface
    pace = games.since(today - PACE_WEEKS * WEEK) / PACE_WEEKS
    # A ball is cleaned after the games of that day, and made anew before them.
    cleaned = _day_after(last.get((ball.pk, BallEvent.Kind.CLEANED)))
    clean_from = max((day for day in (cleaned, surface and surface.done_on) if day), default=None)
    one = Planned(
        ball=ball,
        games=games.since(surface.done_on) if surface else None,
        pace=pace,
        since_cleaned=games.since(clean_from),
        since_oil_out=games.since(_day_after(last.get((ball.pk, BallEvent.Kind.OIL_OUT)))),
    )
    if surface and release is None:
        one = replace(one, problem=f"{ball.client}'s release is likely mistyped.")
    elif surface and release:
        try:
            one = _with_hook(one, release, settling)
        except ValueError as error:
            one = replace(one, problem=f"One of its numbers is likely mistyped: {error}.")
    return replace(one, work=tuple(_work(one, tickets)))


def _day_after(day: date | None) -> date | None:
    return day + timedelta(days=1) if day else None


def _with_hook(one: Planned, release: Release, settling: Settling) -> Planned:
    spec = spec_with(one.ball, one.games)
    curve = hook_curve(spec, release)
    if curve is None:
        return one
    waits = [games_until(curve, spec, law, MOVED_FT) for law in settling.draws]
    low, high = _quantiles(waits)
    return replace(
        one,
        hook_fresh_ft=curve.at(ln_mu_oil(replace(spec, games=0.0), settling.law)),
        hook_now_ft=curve.at(ln_mu_oil(spec, settling.law)),
        due=Range(games_until(curve, spec, settling.law, MOVED_FT), low, high),
    )


def _quantiles(values: Iterable[float]) -> tuple[float, float]:
    """Return the ends of the range of 8 of 10; some of the values may be infinite."""
    ordered = np.sort(np.array(list(values)))
    low, high = (ordered[round(share * (len(ordered) - 1))] for share in INTERVAL)
    return float(low), float(high)


def _work(one: Planned, tickets: dict[tuple[int, str], Ticket]) -> Iterable[Work]:
    """Return this week's work on a ball: what is due, or will be at its pace."""
    surface, ball = one.ball.surface, one.ball

    def with_ticket(kind: str) -> Ticket | None:
        return tickets.get((ball.pk, kind))

    if surface and one.games is not None:
        kind = Kind.POLISH if surface.polished else Kind.RESURFACE
        again = Work(
            kind,
            why=f"{one.games:.0f} games on it",
            urgency=0.0,
            grit=surface.grit,
            polished=surface.polished,
            ticket=with_ticket(kind) or with_ticket(Kind.RESURFACE),
        )
        by_week = one.games + one.pace
        if one.due and by_week >= one.due.middle:
            way = "later" if (one.hook_now_ft or 0.0) > (one.hook_fresh_ft or 0.0) else "earlier"
            why = f"{again.why}; by {one.due.middle:.0f} its hook is seen {MOVED_FT:g} ft {way}"
            yield replace(again, why=why, urgency=by_week / max(one.due.middle, 1.0))
        elif by_week >= REFRESH_GAMES:
            old = by_week >= RESURFACE_GAMES
            what, at = ("resurface", RESURFACE_GAMES) if old else ("refresh", REFRESH_GAMES)
            why = f"{again.why}; {what} at about {at:.0f}"
            yield replace(again, why=why, urgency=by_week / RESURFACE_GAMES, is_practice=True)
    if one.since_cleaned >= SESSION_GAMES:
        yield Work(
            Kind.CLEAN,
            f"{one.since_cleaned:.0f} games since it was cleaned; clean each session",
            min(one.since_cleaned / SESSION_GAMES, 10.0) / 100.0,
            is_practice=True,
            ticket=with_ticket(Kind.CLEAN),
        )
    if ball.cover in SOAKING and one.since_oil_out >= LOOK_FOR_OIL_GAMES:
        yield Work(
            Kind.OIL_OUT,
            f"{one.since_oil_out:.0f} games since oil was drawn out; look whether it is needed. "
            "It does not set the surface back",
            one.since_oil_out / LOOK_FOR_OIL_GAMES / 10.0,
            is_practice=True,
            ticket=with_ticket(Kind.OIL_OUT),
        )


# Which grit.


@dataclass(frozen=True)
class Wanted:
    """The answer to "hook there, please": a grit with its range, and the pad that is nearest.

    `pad_ft` is where the hook is then seen when fresh; `never` the share of what may be true in
    which no pad of the list brings it there.
    """

    ft: float
    grit: float | None
    low: float | None
    high: float | None
    pad: int | None
    pad_ft: float | None
    never: float

    @property
    def about(self) -> int | None:
        return _two_figures(self.grit)

    @property
    def about_low(self) -> int | None:
        return _two_figures(self.low)

    @property
    def about_high(self) -> int | None:
        return _two_figures(self.high)

    @property
    def never_percent(self) -> int:
        return round(100 * self.never)


def _two_figures(number: float | None) -> int | None:
    """No cover is known to the last figure of its grit."""
    return None if number is None else int(float(f"{number:.2g}"))


@dataclass(frozen=True)
class PadRow:
    """What one pad does: where the hook is seen fresh and after ten games."""

    grit: int
    fresh_ft: float
    after_ft: float


AFTER_GAMES = 10.0


def pads_of(ball: Ball, games: float | None, settling: Settling) -> list[PadRow]:
    """Return what each pad does to the ball's hook, the roughest first; empty without a hook."""
    curve, spec = _curve_of(ball, games)
    if curve is None:
        return []
    rows = []
    for grit in PADS:
        fresh = replace(spec, grit=float(grit), polished=False, games=0.0)
        after = replace(fresh, games=AFTER_GAMES)
        at = (curve.at(ln_mu_oil(one, settling.law)) for one in (fresh, after))
        rows.append(PadRow(grit, *at))
    return rows


def grit_wanted(ball: Ball, games: float | None, settling: Settling, ft: float) -> Wanted | None:
    """Return which fresh surface brings the hook to `ft`; None for a ball with hardly a hook.

    The range takes the move from where the hook is now as what is wanted, since that is what a
    coach sees; under each draw the move starts from that draw's own place.
    """
    curve, spec = _curve_of(ball, games)
    if curve is None:
        return None
    move = ft - curve.at(ln_mu_oil(spec, settling.law))
    grit = grit_for(curve, spec, settling.law, ft)
    within = grit is not None and PADS[0] <= grit <= PADS[-1]
    found = []
    for law in settling.draws:
        one = grit_for(curve, spec, law, curve.at(ln_mu_oil(spec, law)) + move)
        found.append(one if one is not None and PADS[0] <= one <= PADS[-1] else None)
    known = [one for one in found if one is not None]
    never = 1.0 - len(known) / len(found)
    if not within or grit is None or not known:
        return Wanted(ft, None, None, None, None, None, never)
    low, high = _quantiles(known)
    pad = min(PADS, key=lambda one: abs(math.log(one / grit)))
    fresh = replace(spec, grit=float(pad), polished=False, games=0.0)
    pad_ft = curve.at(ln_mu_oil(fresh, settling.law))
    return Wanted(ft, grit, low, high, pad, pad_ft, never)


def _curve_of(ball: Ball, games: float | None) -> tuple[HookCurve | None, BallSpec]:
    spec = spec_with(ball, games)
    return hook_curve(spec, release_of(ball.client).release), spec
