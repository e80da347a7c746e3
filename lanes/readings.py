"""Reading a session: what goes in, who may ask for it, and what is kept of it.

The computing is `lanes.reading`; here its inputs are gathered, the same input is read only once,
and the reading that comes out becomes, or renews, the draft of the session's report.
"""

from __future__ import annotations

import hashlib
import json
import math
from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone

from clients import jobs
from clients.jobs import JobProblem, Progress
from clients.models import Job, User
from lanes import overrulings, reports, rereadings
from lanes.cover_law import shops_settling
from lanes.models import Reading, Report, Session, SessionBall
from lanes.motion import BallSpec, PatternSheet, ReadingError, TapeReadings
from lanes.motion.friction import SURFACE_LAW, SurfaceLaw, ball_friction
from lanes.patterns import sheet_of
from lanes.reading.client import ClientFacts
from lanes.reading.overruled import Ruling
from lanes.reading.pooling import FEWEST_DOWN_LANE, MOST_POOLED, EarlierSession
from lanes.reading.shots import LoggedShot, first_balls
from lanes.reading.version import READING_VERSION
from lanes.shots import live_shots_of_sessions, logged_shot, logged_shots

SEED = 1
FEWEST_SHOTS = 3
# What a ball from the other side of the lane wears of a student's line, against one from the same
# side. Assumed: by `motion.wear` nearly nothing on the usual lines, as much on a deep inside one.
OTHER_HAND = 0.25
# Of a ball's friction, by which a law that changed tells on a reading: a third of the doubt of one
# ball against another (`motion.seen.LanePrior.ball`); assumed.
_LAW_TELLS = 0.03
_LOOKED_AT = 4 * MOST_POOLED  # earlier sessions that are looked at for those worth pooling
# Sessions are pooled where the student's hand, hook and release were taken to be the same.
_SAME_FACTS = ("hand", "hook", "speed_mph", "rev_rpm", "rotation_deg", "tilt_deg")


@dataclass(frozen=True)
class Inputs:
    """Everything that a reading depends on; two sessions with equal inputs read alike."""

    shots: list[LoggedShot]
    client: ClientFacts
    balls: list[BallSpec]
    pattern: PatternSheet | TapeReadings | None
    competition: bool
    display: str
    balls_per_shot: float = 1.0
    seed: int = SEED
    place: str = ""
    earlier: list[EarlierSession] = field(default_factory=list)
    reading_error: ReadingError = field(default_factory=ReadingError)
    own_error: tuple[str, ...] = ()
    law: SurfaceLaw = SURFACE_LAW
    said: tuple[Ruling, ...] = ()

    @property
    def digest(self) -> str:
        """The SHA-256 by which the same input is known again."""
        text = json.dumps(asdict(self), sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()

    def as_arguments(self) -> dict[str, Any]:
        """Return what any reader of `lanes.reading` takes: its arguments have the fields' names."""
        return {one.name: getattr(self, one.name) for one in fields(self)}


def ask(session: Session, by: User | None) -> Job:
    """Have the worker read the session; a second tap finds the first one's job."""
    return jobs.enqueue("read_session", session.pk, by=by)


def latest_job(session: Session) -> Job | None:
    """Return the last job that was asked to read this session."""
    return Job.objects.filter(kind="read_session", subject=str(session.pk)).first()


def gather(session: Session, earlier: list[EarlierSession] | None = None) -> Inputs:
    """Return what the reading of a session works on, as it stands in the database now.

    ``earlier`` are the sessions to fit along where they have been looked up before.
    Raises `JobProblem` where there is too little for any reading, saying what is missing.
    """
    shots = logged_shots(session)
    first = [shot for shot in shots if shot.is_first_ball]
    if len(first) < FEWEST_SHOTS:
        raise JobProblem(
            f"There {'is' if len(first) == 1 else 'are'} {len(first) or 'no'} first "
            f"ball{'' if len(first) == 1 else 's'} in the shot log; a reading needs at least "
            f"{FEWEST_SHOTS}. Log or import more shots, then read again."
        )
    if not any(_says_something(shot) for shot in first):
        raise JobProblem(
            "The shots have numbers, but nothing was seen: no board, no leave. "
            "Add what you watched, arrows and leave to begin with, then read again."
        )
    pattern = session.block.pattern
    reading_error, own_error = rereadings.error_of(session.coach)
    return Inputs(
        shots=shots,
        client=ClientFacts(
            hand=session.hand,
            hook=session.hook,
            speed_mph=session.speed_mph,
            rev_rpm=session.rev_rpm,
            rotation_deg=session.rotation_deg,
            tilt_deg=session.tilt_deg,
        ),
        balls=ball_specs(session),
        pattern=sheet_of(pattern) if pattern else None,
        competition=session.block.is_competition,
        display=session.block.centre.speed_reading,
        balls_per_shot=_balls_per_shot(session),
        place=_place(session),
        earlier=_earlier(session) if earlier is None else earlier,
        reading_error=reading_error,
        own_error=own_error,
        law=shops_settling().law,
        said=overrulings.of_shots(session),
    )


def _earlier(session: Session) -> list[EarlierSession]:
    """Return the latest sessions before this one that are worth fitting along, the latest first."""
    if session.hook == "backup":  # no path is fitted to a back-up ball
        return []
    before = Q(block__starts_at__lt=session.block.starts_at) | Q(
        block__starts_at=session.block.starts_at, created_at__lt=session.created_at
    )
    alike = {name: getattr(session, name) for name in _SAME_FACTS}
    candidates = (
        Session.objects.filter(before, client=session.client_id, deleted_at=None, **alike)
        .exclude(pk=session.pk)
        .select_related("block__pattern", "block__centre", "coach")
        .prefetch_related("balls", "block__lanes", live_shots_of_sessions())
        .order_by("-block__starts_at", "-created_at")[:_LOOKED_AT]
    )
    found: list[EarlierSession] = []
    for candidate in candidates:
        shots = [logged_shot(shot) for shot in candidate.live_shots]  # type: ignore[attr-defined]
        first = zip(shots, first_balls(shots), strict=True)
        if sum(is_first and shot.head_pin is not None for shot, is_first in first) < (
            FEWEST_DOWN_LANE
        ):
            continue
        pattern = candidate.block.pattern
        found.append(
            EarlierSession(
                on=timezone.localdate(candidate.block.starts_at).isoformat(),
                place=_place(candidate),
                shots=shots,
                balls=ball_specs(candidate),
                pattern=sheet_of(pattern) if pattern else None,
                display=candidate.block.centre.speed_reading,
                balls_per_shot=_balls_per_shot(candidate),
                reading_error=rereadings.error_of(candidate.coach)[0],
            )
        )
        if len(found) == MOST_POOLED:
            break
    return found


def _place(session: Session) -> str:
    """Return a name that two sessions share on the same lanes, with the same oil, on one day."""
    block = session.block
    lanes = "+".join(str(number) for number in sorted(lane.number for lane in block.lanes.all()))
    day = timezone.localdate(block.starts_at).isoformat()
    # Nobody wrote the lanes down: then nobody knows that they were the same.
    where = f"{block.centre_id}/{lanes}" if lanes else f"session {session.pk}"
    return f"{day} {where} {block.pattern_id or 'house'}"


def _balls_per_shot(session: Session) -> float:
    """Return how many balls wear the student's line for each of their own.

    The others throw as often as the student (assumed). Bowlers of the other hand count in part.
    """
    right, left = session.block.others_right or 0, session.block.others_left or 0
    same, other = (right, left) if session.hand == "right" else (left, right)
    return 1.0 + same + OTHER_HAND * other


def ball_specs(session: Session) -> list[BallSpec]:
    """Return the balls at hand as the numeric core knows them; their names are the labels.

    Those for spares only are among them: they wear the lane like any other.
    """
    return [_ball_spec(ball) for ball in session.balls.all()]


def _ball_spec(ball: SessionBall) -> BallSpec:
    """Return one ball as it was on the day of the session."""
    return BallSpec(
        name=ball.label,
        cover=ball.cover or None,
        grit=ball.grit,
        polished=ball.polished,
        rg_in=ball.rg_in,
        differential_in=ball.differential_in,
        intermediate_in=ball.intermediate_in,
        mass_lb=ball.mass_lb,
        pin_to_pap_in=ball.pin_to_pap_in,
        angle_at_pin_deg=ball.angle_at_pin_deg,
        angle_at_pap_deg=ball.angle_at_pap_deg,
        games=ball.games,
    )


def _says_something(shot: LoggedShot) -> bool:
    boards = (shot.laydown, shot.arrows, shot.breakpoint, shot.head_pin, shot.deck_exit)
    return bool(shot.leave) or any(board is not None for board in boards)


def read_for_job(job: Job, progress: Progress) -> dict[str, Any]:
    """Do a `read_session` job; safe to repeat. Return the reading's and its report's keys."""
    session = (
        Session.objects.filter(pk=job.subject, deleted_at=None)
        .select_related("block__pattern", "block__centre", "client")
        .first()
    )
    if session is None:
        raise JobProblem("The session has been deleted.")
    reading = read(session, progress, job=job)
    report = reports.draft_from(reading)
    return {"reading": reading.pk, "report": report.pk}


def read(session: Session, progress: Progress, *, job: Job | None = None) -> Reading:
    """Return the reading of the session as it stands, computed unless the same input was read."""
    progress(0.02, "Looking through the shots")
    inputs = gather(session)
    # Here and not above: what is compiled is loaded in the worker's child, after the fork.
    from lanes.reading import session as reader

    same_input = {
        "session": session,
        "version": reader.READING_VERSION,
        "input_hash": inputs.digest,
    }
    known = Reading.objects.filter(**same_input).first()
    if known is not None:
        return known
    data = reader.read_session(**inputs.as_arguments(), progress=progress).as_json()
    progress(0.97, "Writing the draft")
    if job is not None and Reading.objects.filter(job=job).exists():
        job = None  # an earlier try of this job read what the log was then; that reading keeps it
    try:
        with transaction.atomic():
            return Reading.objects.create(**same_input, data=_plain(data), job=job)
    except IntegrityError:  # another worker was faster: its reading is the same
        return Reading.objects.get(**same_input)


def _plain(data: dict[str, Any]) -> dict[str, Any]:
    """Return the reading as plain JSON; a number that is none must not reach the database."""
    return json.loads(json.dumps(data, allow_nan=False))


@dataclass(frozen=True)
class State:
    """Where a session stands: being read, failed, or read, and whether that is out of date.

    ``is_older`` where an earlier version of the reader read it.
    """

    job: Job | None
    report: Report | None
    has_changed: bool
    is_older: bool = False


def state(session: Session) -> State:
    """Return where the session's reading stands, for its page."""
    job = latest_job(session)
    report = session.reports.select_related("reading").order_by("-version").first()
    has_changed = is_older = False
    if report is not None and not (job and job.is_live):
        is_older = report.reading.version != READING_VERSION
        try:
            has_changed = is_older or _has_changed(gather(session), report.reading)
        except JobProblem:
            has_changed = True
    if job is not None and job.state == Job.State.DONE:
        job = None
    return State(job, report, has_changed, is_older)


def _has_changed(inputs: Inputs, reading: Reading) -> bool:
    """Say whether there is something to read anew.

    Each reading of the shop's meter moves the law a little; that alone asks for nothing until it
    tells on a ball of the session.
    """
    then = SurfaceLaw(**reading.data["fit"].get("law", {}))
    if replace(inputs, law=then).digest != reading.input_hash:
        return True
    return any(
        abs(math.log(now / before)) > _LAW_TELLS
        for ball in inputs.balls
        for now, before in zip(
            ball_friction(ball, inputs.law), ball_friction(ball, then), strict=True
        )
    )
