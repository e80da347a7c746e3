"""Fit, axis point and layout of two clients of the demo, one of either hand."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from clients import axis_points, drilling, fits, layouts
from clients.models import AuditEntry, AxisPoint, Ball, FitHole, FitSheet, Layout, User
from coachsite.demo.scenario import PETRA


@dataclass(frozen=True)
class _Bench:
    client: str
    ball: int  # which of the client's, by name
    spans: tuple[tuple[float, float], ...]  # middle and ring, oldest sheet first
    repeats: tuple[tuple[float, float], ...]  # of the axis point
    drilled: bool


_BENCH = (
    _Bench("Juno Abelard", 0, ((4.375, 4.5), (4.4375, 4.5)),
           ((4.875, 0.5), (5.0, 0.375), (4.8125, 0.625)), drilled=True),
    # Before the tickets: the one that waits for the drill takes this plan.
    _Bench("Teodor Plimsoll", 1, ((4.25, 4.375),), ((4.75, 0.25),), drilled=False),
)  # fmt: skip

_WRITTEN = "demo.fits_written"


def are_written() -> bool:
    return AuditEntry.objects.filter(action=_WRITTEN).exists()


@transaction.atomic
def write() -> None:
    """Write them down as the shop would have; what is not there is left out."""
    petra = User.objects.filter(email=PETRA.email).first()
    for bench in _BENCH:
        balls = Ball.objects.filter(client__name=bench.client).select_related("client")
        ball = balls.order_by("name")[bench.ball : bench.ball + 1].first()
        if petra and ball:
            _write(bench, ball, petra)
    AuditEntry.objects.create(action=_WRITTEN, subject="demo")


def _write(bench: _Bench, ball: Ball, by: User) -> None:
    today = timezone.localdate()
    out = 1.0 if ball.client.hand == "right" else -1.0  # away from each other for either hand
    for number, (middle, ring) in enumerate(bench.spans):
        days = 40 * (len(bench.spans) - number)
        fit = fits.add_fit(
            FitSheet(client=ball.client, bridge_in=0.3125, made_on=today - timedelta(days=days)),
            [
                FitHole(finger="thumb", size_in=1.03125, depth_in=2.75, forward_in=-0.125),
                FitHole(finger="middle", size_in=0.96875, depth_in=1.25, span_in=middle,
                        lateral_in=-0.375 * out, insert="oval, black"),
                FitHole(finger="ring", size_in=0.9375, depth_in=1.25, span_in=ring,
                        lateral_in=0.375 * out, insert="oval, black"),
            ],
            by=by,
        )  # fmt: skip
    axis_points.add_axis_point(
        AxisPoint(
            client=ball.client,
            repeats=[list(pair) for pair in bench.repeats],
            measured_on=today - timedelta(days=30),
        ),
        by=by,
    )
    ball.client.refresh_from_db()
    pap = drilling.Place(ball.client.pap_over_in, ball.client.pap_up_in)
    # What the demo's sessions are bowled with stays true: the ball's own distance, usual angles.
    at_pin = 90.0 if ball.intermediate_in else None
    told = drilling.Layout.from_angles(pap, ball.pin_to_pap_in or 4.5, at_pin, 45.0)
    bias = told.mass_bias
    layout = layouts.save_layout(
        Layout(
            ball=ball,
            fit=fit,
            pap_over_in=pap.over_in,
            pap_up_in=pap.up_in,
            pin_over_in=told.pin.over_in,
            pin_up_in=told.pin.up_in,
            mb_over_in=bias.over_in if bias else None,
            mb_up_in=bias.up_in if bias else None,
            cg_over_in=0.75,
            cg_up_in=0.25,
            top_weight_oz=2.75,
            made_on=today - timedelta(days=29),
        ),
        by=by,
    )
    if bench.drilled:
        layouts.was_drilled(layout, on=today - timedelta(days=28), by=by)
