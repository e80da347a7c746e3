"""The new-ball plan of a client: what goes in, who asked, and what is kept of it.

The search is `lanes.reading.shelf`; here the last lessons, the balls at hand, the shop's stock and
the published limits are gathered, and the same input is worked out only once. A plan holds gear
numbers: the shop sees it, and nothing of the lessons behind it.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, Any

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from clients import audit, jobs
from clients.drilling.rules import CHECKED, Rule, rules
from clients.jobs import JobProblem, Progress
from clients.models import Ball, Client, Job, StockBall, User
from lanes import readings
from lanes.cover_law import law_words, shops_settling
from lanes.locker import specs_of
from lanes.models import NewBallPlan, Session
from lanes.motion import BallSpec
from lanes.motion.orientation import moments as moments_of
from lanes.reading.shots import first_balls
from lanes.shots import live_shots_of_sessions, logged_shot

if TYPE_CHECKING:
    from lanes.reading.shelf import Limits

# 2: hits are worth what the computed table of the pins says. 3: a line of its own on each drawn
# lane; balls in stock in other finishes than the box's; lessons of one release fitted together.
VERSION = "3"
KIND = "new_ball_plan"
LESSONS = 3  # the student's last patterns
LOOKED_AT = 8  # sessions back from today in which they are looked for
FEWEST = 10  # first balls with a board read at the head pin
MOST_BALLS = 6  # at hand; the search goes over each on every lane
MOST_STOCK = 40
SAME_WEIGHT_LB = 0.5
SEED = 1


@dataclass(frozen=True)
class Inputs:
    """Everything that a plan depends on; two plans with equal inputs are the same."""

    lessons: list[tuple[str, readings.Inputs, list[str | None]]]
    at_hand: list[tuple[str, BallSpec]]
    stock: list[tuple[str, BallSpec, str]]
    mass_lb: float | None
    notes: list[str]
    law: str

    @property
    def digest(self) -> str:
        """The SHA-256 by which the same input is known again."""
        parts = {
            "lessons": [(name, one.digest, owners) for name, one, owners in self.lessons],
            "at_hand": [(key, asdict(spec)) for key, spec in self.at_hand],
            "stock": [(key, asdict(spec), price) for key, spec, price in self.stock],
            "mass_lb": self.mass_lb,
            "law": self.law,
            "limits": [limit.key for limit in _limits_in_force(self.mass_lb)],
        }
        text = json.dumps(parts, sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()


def ask(client: Client, by: User | None) -> Job:
    """Have the worker make the plan; a second tap finds the first one's job."""
    return jobs.enqueue(KIND, client.pk, by=by)


def latest_job(client: Client) -> Job | None:
    return Job.objects.filter(kind=KIND, subject=str(client.pk)).first()


# What goes in


def gather(client: Client) -> Inputs:
    """Return what the plan of a client works on, as it stands in the database now.

    Raises `JobProblem` where there is too little, saying what is missing.
    """
    at_hand, notes = _at_hand(client)
    if not at_hand:
        raise JobProblem(
            f"No strike ball of {client} is on file. A plan starts from what is at hand: write the "
            "balls down first."
        )
    if client.hook == Client.Hook.BACKUP:
        raise JobProblem("A back-up ball's path is not modelled yet, so no ball can be chosen.")
    lessons = _lessons(client)
    if not lessons:
        raise JobProblem(
            f"No session of {client} has {FEWEST} first balls with a board at the head pin. The "
            "plan rests on how this student throws on real lanes: log one session with arrows and "
            "head pin."
        )
    masses = [spec.mass_lb for _, spec in at_hand if spec.mass_lb]
    mass_lb = max(set(masses), key=masses.count) if masses else None
    stock, of_another_weight = _stock(mass_lb)
    if of_another_weight:
        notes.append(f"Left out of the stock list for their weight: {of_another_weight}.")
    return Inputs(lessons, at_hand, stock, mass_lb, notes, law_words(shops_settling()))


def _at_hand(client: Client) -> tuple[list[tuple[str, BallSpec]], list[str]]:
    """Return the strike balls in use as they are today, and what had to be left out."""
    in_use = client.balls.filter(retired_at=None).prefetch_related("surfaces").order_by("name")
    balls = [ball for ball in in_use if not ball.is_spare_ball] or list(in_use)
    usable, notes = [], []
    for ball, spec in zip(balls, specs_of(balls), strict=True):
        problem = _impossible(spec)
        if problem:
            notes.append(f"{ball} is left out, one of its numbers is likely mistyped: {problem}.")
        else:
            usable.append((str(ball.pk), spec))
    if len(usable) > MOST_BALLS:
        left = ", ".join(spec.name for _, spec in usable[MOST_BALLS:])
        notes.append(f"Only {MOST_BALLS} balls at hand are looked at; left out: {left}.")
    return usable[:MOST_BALLS], notes


def _impossible(spec: BallSpec) -> str:
    try:
        moments_of(spec)
    except ValueError as error:
        return str(error)
    return ""


def _lessons(client: Client) -> list[tuple[str, readings.Inputs, list[str | None]]]:
    """Return the last sessions with enough in them, on different patterns where there are."""
    sessions = (
        Session.objects.filter(client=client, deleted_at=None)
        .select_related("block__pattern", "block__centre", "client")
        .prefetch_related("balls", live_shots_of_sessions())
        .order_by("-block__starts_at", "-created_at")[:LOOKED_AT]
    )
    found = [session for session in sessions if _has_enough(session)]
    newest: dict[int | None, int] = {}
    for place, session in enumerate(found):
        newest.setdefault(session.block.pattern_id, place)
    others = [place for place in range(len(found)) if place not in newest.values()]
    chosen = sorted([*newest.values(), *others][:LESSONS])
    return [_lesson(found[place], readings.gather(found[place])) for place in chosen]


def _has_enough(session: Session) -> bool:
    """Whether a session can be fitted; a back-up ball's cannot."""
    if session.hook == Client.Hook.BACKUP:
        return False
    shots = [logged_shot(shot) for shot in session.live_shots]  # type: ignore[attr-defined]
    names = {ball.label for ball in session.balls.all()}
    read = [
        shot
        for shot, counts in zip(shots, first_balls(shots), strict=True)
        if counts and shot.head_pin is not None and shot.ball in names
    ]
    return len(read) >= FEWEST


def _lesson(
    session: Session, inputs: readings.Inputs
) -> tuple[str, readings.Inputs, list[str | None]]:
    owners = [str(ball.ball_id) if ball.ball_id else None for ball in session.balls.all()]
    pattern = session.block.pattern
    return str(pattern) if pattern else "ordinary house oil", inputs, owners


def _stock(mass_lb: float | None) -> tuple[list[tuple[str, BallSpec, str]], int]:
    """Return what the shop has for strikes in the student's weight, as it comes from the box, with
    its price in words; and how many were of another weight."""
    found, others = [], 0
    for ball in stock_on_hand():
        if mass_lb and ball.mass_lb and abs(ball.mass_lb - mass_lb) > SAME_WEIGHT_LB:
            others += 1
            continue
        spec = BallSpec(
            name=ball.name,
            cover=ball.cover,
            grit=ball.grit,
            polished=ball.polished if ball.grit or ball.polished else None,
            rg_in=ball.rg_in,
            differential_in=ball.differential_in,
            intermediate_in=ball.intermediate_in,
            mass_lb=ball.mass_lb,
        )
        if not _impossible(spec):
            found.append((str(ball.pk), spec, "" if ball.price is None else str(ball.price)))
    return found[:MOST_STOCK], others


def stock_on_hand() -> QuerySet[StockBall]:
    """Return the shop's balls that could be sold today; one for spares is none of the search's."""
    on_hand = StockBall.objects.filter(quantity__gt=0).exclude(cover=Ball.Cover.PLASTIC)
    return on_hand.order_by("name", "pk")


def _limits_in_force(mass_lb: float | None) -> list[Rule]:
    """Return the published limits on RG and differential for such a ball today."""
    today = timezone.localdate()
    return [
        rule
        for quantity in ("rg", "differential")
        for rule in rules()
        if rule.quantity == quantity
        and rule.strength in CHECKED
        and rule.is_for(mass_lb, None, today)
    ]


def limits_for(mass_lb: float | None) -> Limits:
    """Return the window that the search goes through: what is published, or that of heavier balls.

    The intermediate differential has no published limit at hand, so symmetric balls are searched.
    """
    from lanes.reading.shelf import Limits

    own = _limits_in_force(mass_lb)
    found = {rule.quantity: rule for rule in own or _limits_in_force(None)}
    rg, differential = found["rg"], found["differential"]
    words = f"RG {rg.limit}, differential {differential.limit}"
    if not own:
        words += ": the limits of heavier balls, since none for this weight are at hand"
    assert rg.low is not None
    assert rg.high is not None
    assert differential.high is not None
    return Limits((rg.low, rg.high), (0.0, differential.high), mass_lb, words)


# Making it


def plan_for_job(job: Job, progress: Progress) -> dict[str, Any]:
    """Do a `new_ball_plan` job; safe to repeat. Return the plan's key."""
    client = Client.objects.filter(pk=job.subject).first()
    if client is None:
        raise JobProblem("The client has been deleted.")
    return {"plan": make(client, progress, job=job).pk}


def make(client: Client, progress: Progress, *, job: Job | None = None) -> NewBallPlan:
    """Return the plan on the input as it stands, worked out unless the same input was before."""
    progress(0.02, "Looking through lessons and gear")
    inputs = gather(client)
    same_input = {"client": client, "version": VERSION, "input_hash": inputs.digest}
    known = NewBallPlan.objects.filter(**same_input).first()
    if known is not None:
        return known
    data = work_out(inputs, progress)
    if job is not None and NewBallPlan.objects.filter(job=job).exists():
        job = None
    by = job.created_by if job else None
    try:
        with transaction.atomic():
            plan = NewBallPlan.objects.create(**same_input, data=data, job=job, by=by)
            audit.record(by, "new_ball_plan.made", plan)
            return plan
    except IntegrityError:  # another worker was faster: its plan is the same
        return NewBallPlan.objects.get(**same_input)


def work_out(inputs: Inputs, progress: Progress | None = None) -> dict[str, Any]:
    """Return the plan as plain JSON; raises `JobProblem` where no lesson can be fitted."""
    # Here and not above: what is compiled is loaded in the worker's child, after the fork.
    from lanes.reading.moments import Lesson, Thing
    from lanes.reading.shelf import AFTER_GAMES, search
    from lanes.reading.shelf_output import plan_json

    limits = limits_for(inputs.mass_lb)
    settling = shops_settling()
    at_hand = [Thing(key, spec, of=key) for key, spec in inputs.at_hand]
    # From the box, and met some games on, as a fresh surface of a ball at hand is.
    stock = [
        Thing(f"stock {key}", _settled(spec, AFTER_GAMES, inputs.mass_lb))
        for key, spec, _ in inputs.stock
    ]
    found = search(
        [
            Lesson(
                name,
                one.shots,
                one.client,
                one.balls,
                owners,
                one.pattern,
                one.display,
                one.balls_per_shot,
                one.reading_error,
                one.place,
            )
            for name, one, owners in inputs.lessons
        ],
        at_hand,
        stock,
        limits,
        settling,
        seed=SEED,
        progress=progress,
    )
    if found is None:
        raise JobProblem("The last sessions could not be fitted: too little was read in them.")
    data = plan_json(found, limits, {f"stock {key}": price for key, _, price in inputs.stock})
    data |= {"notes": inputs.notes, "law": inputs.law, "in_stock": len(inputs.stock)}
    plain: dict[str, Any] = json.loads(json.dumps(data, allow_nan=False))
    return plain


def _settled(spec: BallSpec, games: float, mass_lb: float | None) -> BallSpec:
    return replace(spec, games=games, mass_lb=spec.mass_lb or mass_lb)


# Where it stands


@dataclass(frozen=True)
class State:
    """The newest plan, the job on its way or failed, whether the input changed since, and what is
    missing for a plan."""

    plan: NewBallPlan | None
    job: Job | None
    has_changed: bool
    missing: str


def state(client: Client, plans: QuerySet[NewBallPlan]) -> State:
    """Return where a client's plan stands, for its page; ``plans`` are those the user may see."""
    plan = plans.filter(client=client).select_related("by").first()
    job = latest_job(client)
    if job is not None and job.state == Job.State.DONE:
        job = None
    try:
        digest, missing = gather(client).digest, ""
    except JobProblem as problem:
        digest, missing = "", str(problem)
    has_changed = plan is not None and (plan.input_hash, plan.version) != (digest, VERSION)
    return State(plan, job, has_changed, missing)
