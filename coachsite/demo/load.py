"""Put the demo into the database, once."""

from __future__ import annotations

import json
import os
import secrets
import uuid
from datetime import datetime, timedelta

import numpy as np
from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils import timezone

from clients.models import AuditEntry, Ball, Client, Consent, Guardianship, RoleGrant, Surface, User
from coachsite.demo import fits, history, lives, scenario, stock, tickets
from coachsite.demo.bowling import CHANGES, FULL_WATCH, Plan, bowl
from coachsite.demo.scenario import BOWLERS, KLARA, MODELS, ORLA, SPARE_BALL, STAFF
from lanes.models import Centre, Lane, Pattern, Session, SessionBall, Shot
from lanes.motion import BallSpec, PatternSheet, parse_pattern
from lanes.patterns import import_pattern
from lanes.reading.shots import LoggedShot
from lanes.sessions import BlockFacts, start_session

LOGINS = settings.DATA_DIR / "demo_logins.json"
_WORDS = [
    "maple",
    "arrow",
    "pocket",
    "anchor",
    "basin",
    "cedar",
    "delta",
    "ember",
    "fjord",
    "grove",
    "heron",
    "inlet",
]


_LOADED = "demo.loaded"


def is_loaded() -> bool:
    """Whether the demo is here, whatever was made of it since."""
    marked = AuditEntry.objects.filter(action=_LOADED).exists()
    return marked or User.objects.filter(email=ORLA.email).exists()


def complete(seed: int = 39) -> None:
    """Load the demo where it is not, and write what a start that was cut off left unwritten."""
    if not is_loaded():
        load(seed)
    if not history.is_written():
        history.write()
    if not fits.are_written():
        fits.write()
    if not lives.are_written():
        lives.write()
    if not tickets.are_written():
        tickets.write()
    if not stock.is_written():
        stock.write()


def load(seed: int = 39) -> None:
    """Make the demo's people, gear and sessions from the seed, all or nothing.

    All sessions are bowled before the first write, so that the write lock is short.
    """
    rng = np.random.default_rng(seed)
    sheets = {name: parse_pattern(text, name) for name, text in scenario.PATTERNS.items()}
    shelves = _shelves(rng)
    plans = _plans(rng, sheets, shelves)
    logs = [bowl(plan) for plan, *_ in plans]
    password = _new_password()
    with transaction.atomic():
        users = _people(password)
        clients = _clients(users)
        balls = _gear(clients, shelves, rng)
        centres = _places()
        patterns = _patterns(sheets, users[ORLA.name])
        _sessions(plans, logs, users, clients, balls, centres, patterns)
        # Before the commit: people whose password is nowhere could not log in.
        _write_logins(password)
        AuditEntry.objects.create(action=_LOADED, subject="demo")


def logins() -> list[dict[str, str]]:
    """Return who can log in, with the password that was made for this installation."""
    return json.loads(LOGINS.read_text(encoding="utf-8")) if LOGINS.exists() else []


def session_to_read() -> Session | None:
    """Return the session that a first-time visitor should see read: Juno's last, if still there.

    The demo is there to be played with, so it may have been deleted.
    """
    sessions = Session.objects.filter(client__name=BOWLERS[0].name, deleted_at=None)
    return sessions.order_by("block__starts_at").last()


def _new_password() -> str:
    """Return a password that a thumb can type, made anew for every installation."""
    words = [secrets.choice(_WORDS) for _ in range(4)]
    return "-".join([*words, f"{secrets.randbelow(10000):04}"])


def _write_logins(password: str) -> None:
    rows = [
        {"name": p.name, "role": ", ".join(p.roles), "login": p.email, "password": password}
        for p in (*STAFF, KLARA)
    ]
    rows += [
        {"name": name, "role": "student", "login": email, "password": password}
        for name, email in scenario.STUDENT_EMAILS.items()
    ]
    descriptor = os.open(LOGINS, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    with os.fdopen(descriptor, "w", encoding="utf-8") as file:
        json.dump(rows, file, indent=1)


def _people(password: str) -> dict[str, User]:
    hashed = make_password(password)  # once: hashing is slow on purpose
    people = [(p.name, p.email, p.roles) for p in (*STAFF, KLARA)]
    people += [(name, email, ("student",)) for name, email in scenario.STUDENT_EMAILS.items()]
    users = {}
    for name, email, roles in people:
        user = User.objects.create(name=name, email=email, password=hashed)
        RoleGrant.objects.bulk_create([RoleGrant(user=user, role=role) for role in roles])
        users[name] = user
    return users


def _clients(users: dict[str, User]) -> dict[str, Client]:
    clients = {}
    for b in BOWLERS:
        release = ("speed_mph", "rev_rpm", "rotation_deg", "tilt_deg")
        clients[b.name] = Client.objects.create(
            name=b.name,
            coach=users[b.coach.name] if b.coach else None,
            user=users.get(b.name),
            is_minor=b.minor,
            hand=b.hand,
            hook=b.hook,
            style=b.style,
            pap_over_in=4.9 if b.knows_release else None,
            pap_up_in=0.5 if b.knows_release else None,
            coach_notes=b.notes,
            **({name: getattr(b, name) for name in release} if b.knows_release else {}),
        )
        if b.minor:
            guardianship = Guardianship.objects.create(
                guardian=users[KLARA.name], client=clients[b.name]
            )
            Consent.objects.create(
                guardianship=guardianship,
                kind=Consent.Kind.ACCOUNT,
                wording="Demo: the guardian agreed to an account of the student's own.",
            )
    return clients


def _shelves(rng: np.random.Generator) -> dict[str, list[tuple[str, BallSpec, float]]]:
    """Return each bowler's balls: a main one, a second one, a spare ball, some a third one."""
    shelves: dict[str, list[tuple[str, BallSpec, float]]] = {}
    thirds = scenario.BALLS - 2 * len(BOWLERS) - (len(BOWLERS) - 2)
    for number, bowler in enumerate(BOWLERS):
        strong = MODELS[number % 4]
        weak = MODELS[4 + number % 2]
        models = [strong, weak]
        if number < len(BOWLERS) - 2:
            models.append(SPARE_BALL)
        if number < thirds:
            models.append(MODELS[6])
        shelf = []
        for model in models:
            grit, polished = model.grits[rng.integers(len(model.grits))]
            spec = BallSpec(
                name=model.name,
                cover=model.cover,
                grit=grit,
                polished=polished,
                rg_in=model.rg_in,
                differential_in=model.differential_in,
                intermediate_in=model.intermediate_in,
                mass_lb=12.0 if bowler.minor else 15.0,
                pin_to_pap_in=float(rng.choice([3.5, 4.0, 4.5, 5.0])),
            )
            # A cover is never quite what its number says.
            shelf.append((model.name, spec, float(np.exp(rng.normal(0, 0.05)))))
        shelves[bowler.name] = shelf
    return shelves


def _gear(
    clients: dict[str, Client],
    shelves: dict[str, list[tuple[str, BallSpec, float]]],
    rng: np.random.Generator,
) -> dict[tuple[str, str], Ball]:
    balls = {}
    today = timezone.localdate()
    for name, shelf in shelves.items():
        for label, spec, _ in shelf:
            ball = Ball.objects.create(
                client=clients[name],
                name=label,
                cover=spec.cover,
                mass_lb=spec.mass_lb,
                rg_in=spec.rg_in,
                differential_in=spec.differential_in,
                intermediate_in=spec.intermediate_in,
                pin_to_pap_in=spec.pin_to_pap_in,
                is_spare_ball=label == SPARE_BALL.name,
            )
            days = sorted(rng.integers(10, 260, size=2), reverse=True)
            Surface.objects.bulk_create(
                [
                    Surface(
                        ball=ball, grit=4000, polished=True, note="As it came from the box",
                        done_on=today - timedelta(days=int(days[0]) + 30),
                    ),
                    Surface(
                        ball=ball, grit=spec.grit, polished=spec.polished, note="",
                        done_on=today - timedelta(days=int(days[1])),
                    ),
                ]
            )  # fmt: skip
            balls[name, label] = ball
    return balls


def _places() -> dict[str, Centre]:
    centres = {}
    for name, town, lanes, speed_reading in scenario.CENTRES:
        centre = Centre.objects.create(name=name, town=town, speed_reading=speed_reading)
        Lane.objects.bulk_create([Lane(centre=centre, number=n + 1) for n in range(lanes)])
        centres[name] = centre
    return centres


def _patterns(sheets: dict[str, PatternSheet], by: User) -> dict[str, Pattern]:
    return {name: import_pattern(sheet, by=by)[0] for name, sheet in sheets.items()}


def _plans(
    rng: np.random.Generator,
    sheets: dict[str, PatternSheet],
    shelves: dict[str, list[tuple[str, BallSpec, float]]],
) -> list[tuple[Plan, datetime, str, str, str]]:
    """Return what was bowled: plan, when, centre, pattern's name and purpose, oldest first."""
    coached = [b for b in BOWLERS if b.coach]
    names = list(sheets)
    plans = []
    evening = timezone.localtime().replace(hour=18, minute=0, second=0, microsecond=0)
    for number in range(scenario.SESSIONS):
        # Backwards, so that the first bowler's last session is the newest of all.
        age = scenario.SESSIONS - 1 - number
        bowler = coached[age % len(coached)]
        pattern = names[(age // 2) % len(names)]
        purpose = ("lesson", "lesson", "practice", "league")[(age // len(coached)) % 4]
        games = purpose == "league"
        shelf = shelves[bowler.name]
        film = sheets[pattern].film(bowler.hand)
        plan = Plan(
            bowler=bowler,
            balls=shelf,
            film=film,
            shots=scenario.SHOTS // scenario.SESSIONS,
            seed=int(rng.integers(2**31)),
            change=CHANGES[age // 3 % len(CHANGES)] if age % 3 == 0 else None,
            lanes=(7, 8) if games else (int(rng.integers(1, 15)),),
            games=games,
            spare_ball=SPARE_BALL.name if any(x[0] == SPARE_BALL.name for x in shelf) else "",
            watch=FULL_WATCH if age % 4 == 0 else ("arrows", "head_pin", "deck_exit"),
            move_after=35 if age % 5 == 2 else None,
            ball_after=38 if age % 5 == 4 else None,
        )
        starts = evening - timedelta(days=2 * age + 1, minutes=30 * (age % 3))
        centre = scenario.CENTRES[0 if bowler.coach is ORLA else 1][0]
        plans.append((plan, starts, centre, pattern, purpose))
    return plans


def _sessions(
    plans: list[tuple[Plan, datetime, str, str, str]],
    logs: list[list[LoggedShot]],
    users: dict[str, User],
    clients: dict[str, Client],
    balls: dict[tuple[str, str], Ball],
    centres: dict[str, Centre],
    patterns: dict[str, Pattern],
) -> None:
    for (plan, starts, centre, pattern, purpose), log in zip(plans, logs, strict=True):
        bowler = plan.bowler
        session, _ = start_session(
            by=users[bowler.coach.name],
            client=clients[bowler.name],
            block=BlockFacts(
                centre=centres[centre],
                lanes=plan.lanes,
                purpose=purpose,
                pattern=patterns[pattern],
                starts_at=starts,
            ),
            balls=[balls[bowler.name, label] for label, *_ in plan.balls],
            watch=[*plan.watch, "leave", "throw"],
            key=uuid.UUID(int=plan.seed, version=4),
        )
        at_hand = {ball.label: ball for ball in session.balls.all()}
        Shot.objects.bulk_create([_row(session, shot, at_hand) for shot in log])


def _row(session: Session, shot: LoggedShot, at_hand: dict[str, SessionBall]) -> Shot:
    fields = {k: v for k, v in vars(shot).items() if k not in ("shot", "ball")}
    return Shot(session=session, number=shot.shot, ball=at_hand[shot.ball], **fields)
