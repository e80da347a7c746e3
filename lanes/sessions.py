"""Sessions: whose they are, how one is started, changed and deleted."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from clients import audit
from clients.models import Ball, Client, User
from lanes.games import Games, games_on
from lanes.models import Block, Centre, Lane, Pattern, Session, SessionBall
from lanes.models.sessions import default_watch
from lanes.motion import BallSpec
from lanes.reading.client import ClientFacts

# What a coach may choose to watch, in the order in which a shot shows it.
WATCHABLE = {
    "laydown": "Laydown",
    "arrows": "Arrows",
    "breakpoint": "Breakpoint and its distance",
    "head_pin": "Head pin",
    "deck_exit": "Deck exit",
    "leave": "Leave",
    "throw": "Throw",
    "speed_mph": "Speed",
    "rev_rpm": "Rev rate",
}
# A block that began this long ago is still running, and one may be opened a little early.
_RUNS_FOR = timedelta(hours=8)
_OPENS_BEFORE = timedelta(hours=2)
_SNAPSHOT = ("hand", "hook", "style", "speed_mph", "rev_rpm", "rotation_deg", "tilt_deg")
_BALL_FACTS = (
    "cover",
    "mass_lb",
    "rg_in",
    "differential_in",
    "intermediate_in",
    "pin_to_pap_in",
    "angle_at_pin_deg",
    "angle_at_pap_deg",
    "is_spare_ball",
)


@dataclass(frozen=True)
class BlockFacts:
    """What a new block is: where, on which lanes, on what oil, for what."""

    centre: Centre | None = None
    new_centre: str = ""
    lanes: tuple[int, ...] = ()
    purpose: str = Block.Purpose.LESSON
    pattern: Pattern | None = None
    others: str = ""
    others_right: int | None = None
    others_left: int | None = None
    starts_at: datetime = field(default_factory=timezone.now)

    @property
    def words(self) -> str:
        """Say it in one line, as the start page offers it."""
        lanes = lane_words(self.lanes)
        pattern = self.pattern.name if self.pattern else "ordinary house"
        parts = [str(self.centre or self.new_centre), lanes, self.purpose, pattern]
        return ", ".join(part for part in parts if part)


def lane_words(numbers: Iterable[int]) -> str:
    """Return "lane 7", "lanes 7 and 8" or nothing."""
    each = [str(number) for number in sorted(numbers)]
    if not each:
        return ""
    return f"lane {each[0]}" if len(each) == 1 else f"lanes {', '.join(each[:-1])} and {each[-1]}"


def running_blocks(user: User) -> list[Block]:
    """Return the blocks that somebody may join now, the latest first."""
    now = timezone.now()
    return list(
        Block.objects.visible_to(user)
        .filter(starts_at__gt=now - _RUNS_FOR, starts_at__lt=now + _OPENS_BEFORE)
        .select_related("centre", "pattern")
        .prefetch_related("lanes")
        .order_by("-starts_at")
    )


def last_facts(user: User) -> BlockFacts:
    """Return the facts of the last block that this coach opened, for a new one now."""
    block = (
        Block.objects.visible_to(user)
        .filter(created_by=user)
        .select_related("centre", "pattern")
        .prefetch_related("lanes")
        .order_by("-starts_at")
        .first()
    )
    if block is None:
        return BlockFacts(centre=Centre.objects.visible_to(user).first())
    return BlockFacts(
        centre=block.centre,
        lanes=tuple(lane.number for lane in block.lanes.all()),
        purpose=block.purpose,
        pattern=block.pattern,
    )


def last_watch(client: Client) -> list[str]:
    """Return what was watched in the client's last session."""
    last = client.sessions.filter(deleted_at=None).order_by("-block__starts_at").first()
    return list(last.watch) if last else default_watch()


def start_session(
    *,
    by: User,
    client: Client,
    block: Block | BlockFacts,
    balls: Iterable[Ball] = (),
    watch: Iterable[str] = (),
    key: uuid.UUID | None = None,
    told: tuple[ClientFacts, list[BallSpec]] | None = None,
) -> tuple[Session, bool]:
    """Start a session with a snapshot of the release and the balls; a second tap finds the first.

    ``told`` is what a client file says of the release and the balls of that day; it goes before
    what the client's page says now. Return the session and whether it is new.
    """
    key = key or uuid.uuid4()
    known = Session.objects.visible_to(by).filter(pk=key).first()
    if known is not None:
        return known, False
    if Session.objects.filter(pk=key).exists():
        key = uuid.uuid4()  # "back" to the form of a session that was deleted, and once more Start
    try:
        with transaction.atomic():
            session = Session.objects.create(
                id=key,
                block=open_block(block, by=by) if isinstance(block, BlockFacts) else block,
                client=client,
                coach=by,
                watch=[name for name in WATCHABLE if name in set(watch)] or default_watch(),
                **_release(client, told[0] if told else None),
            )
            if told:
                _put_told_balls(session, told[1])
            else:
                balls = list(balls)
                games = games_on(balls)
                for position, ball in enumerate(balls):
                    _snapshot(session, ball, position, games[ball.pk])
            audit.record(by, "session.started", session, client=client.pk)
    except IntegrityError:
        known = Session.objects.visible_to(by).filter(pk=key).first()
        if known is None:
            raise
        return known, False
    return session, True


def open_block(facts: BlockFacts, *, by: User) -> Block:
    """Make a block; its centre and lanes are written down on the way where they are new."""
    centre = facts.centre
    if facts.new_centre:
        centre, _ = Centre.objects.get_or_create(name=facts.new_centre)
    block = Block.objects.create(
        centre=centre,
        pattern=facts.pattern,
        purpose=facts.purpose,
        others=facts.others,
        others_right=facts.others_right,
        others_left=facts.others_left,
        starts_at=facts.starts_at,
        created_by=by,
    )
    block.lanes.set(
        Lane.objects.get_or_create(centre=centre, number=number)[0] for number in facts.lanes
    )
    return block


def balls_to_offer(session: Session) -> list[Ball]:
    """Return the client's balls that are not at hand in this session yet."""
    at_hand = session.balls.values("ball")
    labels = session.balls.values("label")
    return list(
        session.client.balls.filter(retired_at=None)
        .exclude(pk__in=at_hand.filter(ball__isnull=False))
        .exclude(name__in=labels)
        .prefetch_related("surfaces")
    )


def add_ball(*, session: Session, ball: Ball, by: User) -> SessionBall:
    """Put one more of the client's balls at hand, as it is now; once more does no harm."""
    with transaction.atomic():
        known = session.balls.filter(label=ball.name).first()
        if known is not None:
            return known
        added = _snapshot(session, ball, session.balls.count(), games_on([ball])[ball.pk])
        audit.record(by, "session.ball_added", session, ball=ball.pk)
    return added


def change_session(
    *,
    session: Session,
    by: User,
    watch: Iterable[str],
    note: str,
    others_right: int | None = None,
    others_left: int | None = None,
) -> None:
    """Change what is watched and the coach's note, and for the whole block who else bowls."""
    chosen = set(watch)
    session.watch = [name for name in WATCHABLE if name in chosen]
    session.note = note
    with transaction.atomic():
        Session.objects.filter(pk=session.pk).update(
            watch=session.watch, note=note, version=F("version") + 1
        )
        audit.record(by, "session.changed", session)
        block = session.block
        if (others_right, others_left) != (block.others_right, block.others_left):
            block.others_right, block.others_left = others_right, others_left
            block.save(update_fields=["others_right", "others_left"])
            audit.record(by, "block.changed", block, right=others_right, left=others_left)


def delete_session(*, session: Session, by: User) -> None:
    """Delete a session for everybody's eyes; its shots and reports go with it."""
    with transaction.atomic():
        Session.objects.filter(pk=session.pk, deleted_at=None).update(
            deleted_at=timezone.now(), version=F("version") + 1
        )
        audit.record(by, "session.deleted", session)


def _release(client: Client, told: ClientFacts | None) -> dict[str, Any]:
    release = {name: getattr(client, name) for name in _SNAPSHOT}
    if told is None:
        return release
    return release | {name: value for name, value in asdict(told).items() if value is not None}


def _put_told_balls(session: Session, specs: Iterable[BallSpec]) -> None:
    """Put the balls of a client file at hand, tied to the client's own where the names agree."""
    own = {ball.name: ball for ball in session.client.balls.all()}
    for position, spec in enumerate(specs):
        facts = {name: value for name, value in asdict(spec).items() if value is not None}
        label = facts.pop("name")
        ball = own.get(label)
        SessionBall.objects.create(
            session=session,
            label=label,
            position=position,
            ball=ball,
            is_spare_ball=bool(ball and ball.is_spare_ball),
            **facts,
        )


def _snapshot(session: Session, ball: Ball, position: int, games: Games) -> SessionBall:
    surface = ball.surface
    day_after = timezone.localdate(session.block.starts_at) + timedelta(days=1)
    return SessionBall.objects.create(
        session=session,
        label=ball.name,
        position=position,
        ball=ball,
        grit=surface.grit if surface else None,
        polished=surface.polished if surface else None,
        games=games.between(surface.done_on, day_after).all if surface else None,
        **{name: getattr(ball, name) for name in _BALL_FACTS},
    )
