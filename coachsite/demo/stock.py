"""What the demo's shop has to sell. Every name and number is invented."""

from __future__ import annotations

from decimal import Decimal

from django.db import transaction

from clients import stock
from clients.models import AuditEntry, StockBall, User
from coachsite.demo.scenario import PETRA

_WRITTEN = "demo.stock_written"

# name, cover, grit, polished, lb, RG, differential, intermediate, pin-out, price, how many
_ARTICLES = (
    ("Copper Kettle", "solid", 2000, False, 15, 2.490, 0.050, 0.0, 2.5, "204.00", 2),
    ("Iron Thimble", "solid", 1000, False, 15, 2.475, 0.054, 0.018, 3.0, "229.00", 1),
    ("Quiet Harbour", "solid", 3000, False, 15, 2.560, 0.032, 0.0, 2.0, "159.00", 2),
    ("Quiet Harbour", "solid", 3000, False, 12, 2.610, 0.028, 0.0, 2.0, "149.00", 1),
    ("Paper Heron", "hybrid", 4000, False, 15, 2.510, 0.044, 0.0, 3.5, "189.00", 3),
    ("Brass Almanac", "hybrid", 3000, True, 15, 2.535, 0.040, 0.010, 2.5, "199.00", 1),
    ("Glass Ferry", "pearl", 4000, True, 15, 2.530, 0.040, 0.0, 3.0, "184.00", 2),
    ("Velvet Compass", "pearl", 3000, True, 15, 2.485, 0.052, 0.016, 4.0, "219.00", 1),
    ("Velvet Compass", "pearl", 3000, True, 14, 2.500, 0.050, 0.015, 4.0, "219.00", 1),
    ("Chalk Meadow", "urethane", 1000, False, 15, 2.570, 0.022, 0.0, 2.0, "149.00", 2),
    ("Felt Anvil", "urethane", 500, False, 15, 2.650, 0.016, 0.0, 1.5, "139.00", 0),
    ("Plain Button", "plastic", 4000, True, 15, 2.680, 0.008, 0.0, None, "89.00", 4),
)


def is_written() -> bool:
    return AuditEntry.objects.filter(action=_WRITTEN).exists()


@transaction.atomic
def write() -> None:
    """Put the articles into the list in Petra's name."""
    petra = User.objects.filter(email=PETRA.email).first()
    if petra is None:
        return
    names = ("name", "cover", "grit", "polished", "mass_lb", "rg_in", "differential_in")
    names += ("intermediate_in", "pin_out_in", "price", "quantity")
    for number, facts in enumerate(_ARTICLES, 101):
        ball = StockBall(code=f"D-{number}", **dict(zip(names, facts, strict=True)))
        ball.price = Decimal(str(ball.price))
        stock.save_ball(ball, by=petra)
    AuditEntry.objects.create(action=_WRITTEN, subject="demo")
