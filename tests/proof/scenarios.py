"""Which sessions are simulated: a table drawn by rule, kept in the tree with its hash.

Row ``n`` is drawn from a seed that is the start of SHA-256 of "lane proof, session n", so nobody
can choose a seed; the kinds come round in a fixed order, so any first N rows are a fair sample.
``scenarios.jsonl`` holds the rows and ``scenarios.sha256`` its hash. Both were committed before the
reading met any of these sessions. Other seeds (``rehearsal``) are for building the harness.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path

import numpy as np

TABLE = Path(__file__).with_name("scenarios.jsonl")
HASH = Path(__file__).with_name("scenarios.sha256")
ROWS = 532
KINDS = ("nothing", "burn", "carrydown", "slowing", "target", "surface")
# Fourteen in turn: four with nothing planted, two of each cause.
ROUND = (
    "nothing", "burn", "carrydown", "slowing", "nothing", "target", "surface",
    "nothing", "burn", "carrydown", "slowing", "nothing", "target", "surface",
)  # fmt: skip
HABITS = ("four columns", "four and speed", "breakpoint and speed", "lapses")


@dataclass(frozen=True)
class Scenario:
    """One session before anything is thrown. Boards in the bowler's count; mph, rpm, degrees.

    ``plant_boards`` is the wanted size at the end: at the breakpoint for a burn, at the head pin
    for the others, signed where either way is possible. ``onset`` is the index of the first shot
    that it touches. What the lane made of it is computed, not wished.
    """

    number: int
    seed: int
    kind: str
    shots: int
    onset: int
    plant_boards: float
    hand: str
    pair: bool
    second_ball: bool
    second_every: int
    follows_after: int  # planned moves after a burn began; 0 for a student who stays
    laydown: float
    speed_mph: float
    rev_rpm: float
    rotation_deg: float
    tilt_deg: float
    arrows_sd: float
    laydown_sd: float
    speed_sd: float
    rev_sd: float
    length_ft: float
    volume_ml: float
    sheet_known: bool
    film_factor: float
    wear: float
    carry_logit: float
    differential_in: float
    pin_to_pap_in: float
    revs_read: bool
    habit: str
    release_known: bool


def seed_of(number: int, series: str = "lane proof") -> int:
    """Return the seed of a row: nobody's choice."""
    digest = hashlib.sha256(f"{series}, session {number}".encode()).digest()
    return int.from_bytes(digest[:6], "big")


def draw(number: int, series: str = "lane proof") -> Scenario:
    """Return row ``number`` (from 0) as the rule draws it."""
    seed = seed_of(number, series)
    rng = np.random.default_rng([seed, 1])
    kind = ROUND[number % len(ROUND)]
    shots = int(rng.integers(44, 61))
    onset = int(rng.integers(shots // 4, shots // 2 + 1))
    size = float(rng.uniform(1.5, 4.0))
    either = 1.0 if rng.random() < 0.5 else -1.0
    if kind == "nothing":
        size = 0.0
    elif kind == "carrydown":
        size = -size
    elif kind in ("target", "surface"):
        size *= either
    follows = int(rng.integers(8, 15)) if rng.random() < 0.3 else 0
    second = bool(rng.random() < 0.5)

    def between(low: float, high: float, digits: int = 2) -> float:
        return round(float(rng.uniform(low, high)), digits)

    return Scenario(
        number=number,
        seed=seed,
        kind=kind,
        shots=shots,
        onset=onset,
        plant_boards=round(size, 2),
        hand="left" if rng.random() < 0.2 else "right",
        pair=bool(rng.random() < 0.25),
        second_ball=second,
        second_every=int(rng.integers(3, 6)),
        follows_after=follows if kind == "burn" else 0,
        laydown=between(17.0, 25.0, 1),
        speed_mph=between(16.2, 18.8),
        rev_rpm=between(280.0, 430.0, 0),
        rotation_deg=between(42.0, 68.0, 1),
        tilt_deg=between(5.0, 17.0, 1),
        arrows_sd=between(0.45, 1.0),
        laydown_sd=between(0.25, 0.5),
        speed_sd=between(0.12, 0.3),
        rev_sd=between(5.0, 13.0, 1),
        length_ft=between(37.0, 43.0, 1),
        volume_ml=between(22.0, 29.0, 1),
        sheet_known=bool(rng.random() < 0.5),
        film_factor=round(float(np.exp(0.08 * rng.standard_normal())), 3),
        wear=between(0.3, 1.0),
        carry_logit=round(float(0.35 * rng.standard_normal()), 2),
        differential_in=between(0.025, 0.055, 3),
        pin_to_pap_in=between(2.5, 5.5, 1),
        revs_read=bool(rng.random() < 0.5),
        habit=HABITS[int(rng.integers(len(HABITS)))],
        release_known=bool(rng.random() < 0.5),
    )


def written() -> bytes:
    """Return the whole table as the rule draws it, one JSON object a line."""
    lines = (json.dumps(asdict(draw(n)), separators=(",", ":")) for n in range(ROWS))
    return ("\n".join(lines) + "\n").encode()


def committed() -> list[Scenario]:
    """Return the table in the tree; raises ``ValueError`` where its hash does not hold."""
    data = TABLE.read_bytes()
    if hashlib.sha256(data).hexdigest() != hash_of_table():
        raise ValueError(f"{TABLE.name}: not the table whose hash was committed")
    return [Scenario(**json.loads(line)) for line in data.decode().splitlines()]


def hash_of_table() -> str:
    """Return the committed hash."""
    return HASH.read_text().split()[0]
