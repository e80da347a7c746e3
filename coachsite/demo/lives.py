"""What became of the demo's balls: games elsewhere, cleanings, oil, and what a meter read."""

from __future__ import annotations

import math
from datetime import timedelta

import numpy as np
from django.db import transaction
from django.utils import timezone

from clients import life
from clients.models import AuditEntry, Ball, User
from coachsite.demo.scenario import PETRA
from lanes.motion.friction import SURFACE_LAW

_WRITTEN = "demo.lives_written"
_SEED = 40
_LEAGUE_GAMES = 3  # an evening elsewhere
_METER_SD = 0.1  # of the logarithm


def are_written() -> bool:
    return AuditEntry.objects.filter(action=_WRITTEN).exists()


@transaction.atomic
def write() -> None:
    """Give each ball with a surface a few evenings elsewhere, and every third one a reading."""
    petra = User.objects.filter(email=PETRA.email).first()
    rng = np.random.default_rng(_SEED)
    today = timezone.localdate()
    if petra is None:
        return
    balls = Ball.objects.filter(client__coach__email__endswith="@demo.invalid", retired_at=None)
    for number, ball in enumerate(balls.prefetch_related("surfaces").order_by("pk")):
        surface = ball.surface
        if surface is None or ball.is_spare_ball:
            continue
        days = sorted(rng.integers(0, 60, size=int(rng.integers(1, 6))).tolist(), reverse=True)
        evenings = [today - timedelta(days=day) for day in days]
        for on in dict.fromkeys(on for on in evenings if on >= surface.done_on):
            life.write_down(ball=ball, kind="games", by=petra, on=on, games=_LEAGUE_GAMES)
        life.write_down(ball=ball, kind="cleaned", by=petra, on=evenings[-1])
        if number % 3 == 0 and not surface.polished:
            reading = SURFACE_LAW.number(surface.grit) * math.exp(rng.normal(0.0, _METER_SD))
            # Read as it came off the machine.
            life.add_reading(ball=ball, number=round(reading), by=petra, on=surface.done_on)
    AuditEntry.objects.create(action=_WRITTEN, subject="demo")
