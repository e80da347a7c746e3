"""Sam's session with a log of another model, a second ball in the bag, and a plan made by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from clients.models import Ball, Surface
from lanes.models import NewBallPlan, Session, Shot
from tests.reading.simulator import session as simulated


def log_into(session: Session, seed: int = 0, first: int = 40) -> None:
    """Write a simulated log with ball A into a session."""
    ball = session.balls.get(label="A")
    for shot in simulated("nothing", seed)[:first]:
        fields = {k: v for k, v in vars(shot).items() if k not in ("shot", "ball", "lane")}
        Shot.objects.create(session=session, number=shot.shot, ball=ball, lane=7, **fields)


@pytest.fixture
def bag(cast) -> SimpleNamespace:
    """Return the cast with Sam's log, a pearl and a spare ball beside the solid."""
    log_into(cast.session)
    pearl = Ball.objects.create(
        client=cast.sam_client, name="Pearl", cover="pearl", rg_in=2.53, differential_in=0.04
    )
    Surface.objects.create(ball=pearl, grit=4000, polished=True)
    Ball.objects.create(
        client=cast.sam_client, name="S", cover="plastic", is_spare_ball=True, mass_lb=15
    )
    cast.pearl = pearl
    return cast


def gain(mean: float, half: float = 0.05) -> dict[str, float]:
    return {"mean": mean, "low": round(mean - half, 4), "high": round(mean + half, 4)}


def plan_data(ball: Ball, *, clear: bool, in_stock: int = 8) -> dict[str, Any]:
    """Return a plan as the search's JSON has it, made up so that pages can be tested alone."""
    numbers = {"rg_in": 2.49, "differential_in": 0.05, "pin_to_pap_in": 4.5, "used": 4}
    stock = {
        "key": "stock 7",
        "name": "Brick Lantern",
        "price": "185.00",
        "cover": "solid",
        "grit": 1000,
        "polished": False,
        **numbers,
        "gain": gain(0.3 if clear else 0.02),
        "over_resurface": gain(0.2 if clear else -0.01),
        "over_practice": gain(0.18 if clear else -0.06),
        "is_clear": clear,
        "share_of_resurface": {"mean": 0.33, "low": 0.1, "high": 0.6} if clear else None,
    }
    legal = {k: v for k, v in stock.items() if k not in ("key", "name", "price")}
    path = {
        "kind": "now", "name": "A", "grit": 2000, "polished": False, "cover": "solid",
        "feet": 0.0, "eyes": 0.5, "entry_angle_deg": 4.2, "breakpoint": 7.5,
        "points": [[0.0, 20.0], [15.0, 13.0], [40.0, 7.5], [59.5, 17.5]],
    }  # fmt: skip
    return {
        "lessons": [{"name": "House 41", "first_balls": 40}],
        "at_hand": {
            "chance": 0.45,
            "balls": [{"key": str(ball.pk), "name": ball.name, "best_on": ["House 41, early"]}],
        },
        "moments": 2,
        "after_games": 10.0,
        "practice": {
            "gain": gain(0.08), "scatter_boards": 1.1, "better_boards": 0.8, "runs": 8,
        },
        "resurface": [
            {
                "key": str(ball.pk), "name": ball.name, "grit": 1000, "polished": False,
                "gain": gain(0.1), "is_clear": True, "used": 2,
            }
        ],
        "stock": [stock] if in_stock else [],
        "legal": {
            **legal,
            "covers": ["solid", "hybrid"],
            "surfaces": [{"grit": 500, "polished": False}, {"grit": 1000, "polished": False}],
            "alike": 4,
            "looked_at": 20,
            "ranges": {"rg": [2.46, 2.55], "differential": [0.006, 0.06], "pin_to_pap": [1.0, 5.5]},
            "searched": {"rg": [2.46, 2.8], "differential": [0.0, 0.06], "strike_rg": [2.46, 2.6]},
            "limits": "RG 2.460 to 2.800 in, differential up to 0.060 in",
            "path_spread": {
                "surface": 4.4, "cover": 3.1, "rg": 1.2, "differential": 0.1, "pin_to_pap": 0.3,
            },
            "chance_spread": {"surface": 0.04, "rg": 0.02, "differential": 0.0, "pin_to_pap": 0.01},
        },
        "decision": {
            "kind": "buy" if clear else "resurface",
            "key": "stock 7" if clear else str(ball.pk),
            "clear": ["stock 7"] if clear else [],
        },
        "picture": {
            "on": "House 41, early",
            "hand": "right",
            "paths": [
                path,
                {**path, "kind": "resurface", "grit": 1000},
                {**path, "kind": "stock" if in_stock else "legal", "name": "Brick Lantern"},
            ],
        },
        "notes": [],
        "law": "Covers settle by the assumed law.",
        "in_stock": in_stock,
    }  # fmt: skip


@pytest.fixture
def made(bag):
    """Return a function that keeps a made-up plan of Sam's."""

    def make(*, clear: bool, in_stock: int = 8) -> NewBallPlan:
        return NewBallPlan.objects.create(
            client=bag.sam_client,
            version="1",
            input_hash="made up",
            data=plan_data(bag.ball, clear=clear, in_stock=in_stock),
            by=bag.otto,
        )

    return make
