"""Reading a session: what goes in, who may ask for it, and what is kept of it.

The computing is `lanes.reading`; here its inputs are gathered, the same input is read only once,
and the reading that comes out becomes, or renews, the draft of the session's report.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from typing import Any

from django.db import IntegrityError, transaction

from clients import jobs
from clients.jobs import JobProblem, Progress
from clients.models import Job, User
from lanes import reports
from lanes.models import Reading, Report, Session, SessionBall
from lanes.motion import BallSpec, PatternSheet, TapeReadings
from lanes.patterns import sheet_of
from lanes.reading.client import ClientFacts
from lanes.reading.shots import LoggedShot
from lanes.shots import logged_shots

SEED = 1
FEWEST_SHOTS = 3
# What a ball from the other side of the lane wears of a student's line, against one from the same
# side. Assumed: by `motion.wear` nearly nothing on the usual lines, as much on a deep inside one.
OTHER_HAND = 0.25


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

    @property
    def digest(self) -> str:
        """The SHA-256 by which the same input is known again."""
        text = json.dumps(asdict(self), sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()


def ask(session: Session, by: User | None) -> Job:
    """Have the worker read the session; a second tap finds the first one's job."""
    return jobs.enqueue("read_session", session.pk, by=by)


def latest_job(session: Session) -> Job | None:
    """Return the last job that was asked to read this session."""
    return Job.objects.filter(kind="read_session", subject=str(session.pk)).first()


def gather(session: Session) -> Inputs:
    """Return what the reading of a session works on, as it stands in the database now.

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
    )


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
    from lanes.reading.session import READING_VERSION, read_session

    same_input = {"session": session, "version": READING_VERSION, "input_hash": inputs.digest}
    known = Reading.objects.filter(**same_input).first()
    if known is not None:
        return known
    data = read_session(
        inputs.shots,
        inputs.client,
        inputs.balls,
        inputs.pattern,
        competition=inputs.competition,
        display=inputs.display,
        balls_per_shot=inputs.balls_per_shot,
        seed=inputs.seed,
        progress=progress,
    ).as_json()
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
    """Where a session stands: being read, failed, or read, and whether the log changed since."""

    job: Job | None
    report: Report | None
    has_changed: bool


def state(session: Session) -> State:
    """Return where the session's reading stands, for its page."""
    job = latest_job(session)
    report = session.reports.select_related("reading").order_by("-version").first()
    has_changed = False
    if report is not None and not (job and job.is_live):
        try:
            has_changed = gather(session).digest != report.reading.input_hash
        except JobProblem:
            has_changed = True
    if job is not None and job.state == Job.State.DONE:
        job = None
    return State(job, report, has_changed)
