"""Single blows and single pins of the solver against closed forms."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from lanes.motion.geometry import BALL_RADIUS_M, GRAVITY, INCH_M, MPH_MPS
from lanes.pins.impulse import no_bodies, no_contacts, solve
from lanes.pins.rack import SHAPE, SPOTS, Hit, put_ball, set_rack
from lanes.pins.shape import pin
from lanes.pins.solver import LOG_WIDTH, RESULTS, STANDING, WORST_RISE, Materials, run
from lanes.pins.touch import point_to_pin

LB = 0.45359237
NO_LOG = np.zeros((0, LOG_WIDTH))
FRICTIONLESS = Materials()._replace(
    friction_ball_pin=0.0, friction_pin_pin=0.0, friction_pin_deck=0.0, friction_ball_deck=0.0
)


def blow(alpha_deg: float, ball_lb: float, below_cg_in: float, bounce: float, speed: float):
    """Return (deflection in deg, share of speed kept, pin speed share, closing speeds ratio)."""
    body = pin()
    bodies = set_rack(None, body)
    put_ball(bodies, Hit(17.5, 0.0, mass_lb=ball_lb))
    alpha = math.radians(alpha_deg)
    bodies.v[0] = (0.0, speed, 0.0)
    bodies.w[0] = 0.0
    line = np.array([-math.sin(alpha), -math.cos(alpha), 0.0])  # from pin to ball
    contacts = no_contacts()
    contacts.first[0], contacts.second[0] = 0, 1
    contacts.normal[0] = line
    contacts.arm1[0] = -BALL_RADIUS_M * line
    contacts.arm2[0] = 0.06 * line + np.array([0.0, 0.0, -below_cg_in * INCH_M])
    contacts.bounce[0], contacts.friction[0] = bounce, 0.0
    n = len(bodies.r)
    two = [np.zeros((n, 3)) for _ in range(2)]
    solve(
        bodies, contacts, 1, np.zeros(n, bool), *two, np.zeros(128), np.zeros(128),
        np.zeros(n, np.int64),
    )  # fmt: skip
    v, u = bodies.v[0], bodies.v[1]
    touching = u + np.cross(bodies.w[1], contacts.arm2[0])
    parting = float((v - touching) @ line) / (speed * math.cos(alpha))
    deflection = math.degrees(math.atan2(abs(v[0]), v[1]))
    return deflection, float(np.hypot(v[0], v[1])) / speed, float(np.hypot(*u[:2])) / speed, parting


@pytest.mark.parametrize(
    ("ball_lb", "alpha", "bounce", "deflection", "kept", "pin_speed"),
    [
        # Free pin of 3.5 lb at the height of its centre (FACTS section 5).
        (15.0, 23.5, 0.70, 9.16, 0.739, 1.264),
        (16.0, 23.5, 0.70, 8.54, 0.752, 1.279),
        (15.0, 29.5, 0.70, 10.33, 0.769, None),
        (15.0, 23.5, 0.65, 8.80, None, None),
        (15.0, 23.5, 0.75, 9.52, None, None),
    ],
)
def test_a_frictionless_blow_at_the_centre_is_the_closed_form(
    ball_lb, alpha, bounce, deflection, kept, pin_speed
) -> None:
    told, share, pin_share, _ = blow(alpha, ball_lb, 0.0, bounce, 7.3)
    assert told == pytest.approx(deflection, rel=0.01)
    if kept is not None:
        assert share == pytest.approx(kept, rel=0.01)
    if pin_speed is not None:
        assert pin_share == pytest.approx(pin_speed, rel=0.01)


def test_a_blow_below_the_centre_meets_the_effective_mass() -> None:
    # 1.52 in below the centre with rho 3.63 in the pin counts 0.85 of its mass: about 7.7 deg
    # (FACTS section 5; rigid body).
    told = blow(23.5, 15.0, 1.52, 0.70, 7.3)[0]
    pin_lb = 3.5 / (1.0 + (1.52 / 3.63) ** 2)
    share = 1.70 * pin_lb / (15.0 + pin_lb)
    alpha = math.radians(23.5)
    along, across = 1.0 - share * math.cos(alpha) ** 2, share * math.sin(alpha) * math.cos(alpha)
    assert told == pytest.approx(math.degrees(math.atan2(across, along)), rel=0.005)
    assert told == pytest.approx(7.7, rel=0.03)


@pytest.mark.parametrize("speed", [1.0, 4.0, 8.0])
def test_restitution_is_what_was_asked_at_every_speed(speed) -> None:
    assert blow(23.5, 15.0, 1.52, 0.70, speed)[3] == pytest.approx(0.70, abs=1e-9)


def in_the_run(step: float) -> tuple[float, float]:
    """Return deflection and share of speed kept in the first blow of a whole run, no friction."""
    bodies = set_rack(None, pin())
    bodies.r[2:, 0] += 50.0 * INCH_M  # the other nine out of the way
    put_ball(bodies, Hit(17.5, 0.0))
    bodies.w[0] = 0.0
    record = np.zeros((100, 11, 6))
    frames = run(
        bodies, no_contacts(), SHAPE, BALL_RADIUS_M, FRICTIONLESS._replace(bounce_ball_pin=0.70),
        step, 0.06, np.zeros(RESULTS), record, 0.004, False, NO_LOG,
    )  # fmt: skip
    ball = record[:frames, 0, :2]
    before, after = ball[1] - ball[0], ball[-1] - ball[-2]
    deflection = math.degrees(math.atan2(after[0], after[1]))
    return deflection, float(np.hypot(*after) / np.hypot(*before))


def test_the_first_blow_of_a_run_deflects_as_a_rigid_body_does() -> None:
    # The ball's centre is 4.30 in up, the skins meet at 4.46 in and the normal falls by 2.1 deg, so
    # the blow passes 1.25 in under the centre of gravity (with 1.52 in, a level blow, it would be
    # the 7.7 deg of FACTS section 5, checked above).
    normal = np.zeros(3)
    alpha = math.asin(2.660 / (BALL_RADIUS_M / INCH_M + 2.383))
    ball = 6.673 * INCH_M * np.array([math.sin(alpha), -math.cos(alpha), 0.0])
    ball[2] = BALL_RADIUS_M
    place = np.array([0.0, 0.0, pin().cg])
    point_to_pin(ball, place, np.array([0.0, 0.0, 1.0]), SHAPE, normal)
    arm = np.cross(ball - BALL_RADIUS_M * normal - place, normal)
    lever = np.linalg.norm(arm) / pin().rho_across
    pin_lb = 3.5 / (1.0 + lever**2)
    level = np.hypot(normal[0], normal[1])
    push = 1.70 * pin_lb / (15.0 + pin_lb) * level * math.cos(alpha)
    told = math.degrees(
        math.atan2(push * level * math.sin(alpha), 1.0 - push * level * math.cos(alpha))
    )
    deflection, kept = in_the_run(0.001)
    assert deflection == pytest.approx(told, rel=0.01)
    finer, kept_finer = in_the_run(0.000125)
    assert deflection == pytest.approx(finer, rel=0.005)
    assert kept == pytest.approx(kept_finer, rel=0.002)


def lone_pin(lean_deg: float, step: float) -> int:
    """Return the bits standing after one pin was let go at a lean."""
    body = pin()
    bodies = no_bodies(11)
    source = set_rack(None, body)
    for name in ("r", "inv_mass", "inv_across", "inv_more"):
        getattr(bodies, name)[:] = getattr(source, name)
    bodies.r[0] = (0.0, 3.0, 1.0)  # the ball is far behind
    bodies.r[1:, 0] += 50.0 * INCH_M  # the other pins out of the way
    bodies.inv_mass[0] = bodies.inv_across[0] = 1.0
    lean = math.radians(lean_deg)
    bodies.axis[5] = (math.sin(lean), 0.0, math.cos(lean))
    height = body.cg * math.cos(lean) + body.bearing * math.sin(lean)
    bodies.r[5] = (SPOTS[4, 0], SPOTS[4, 1], height)
    out = np.zeros(RESULTS)
    run(
        bodies, no_contacts(), SHAPE, BALL_RADIUS_M, Materials(), step, 3.0, out,
        np.zeros((0, 11, 6)), 0.0, False, NO_LOG,
    )  # fmt: skip
    return int(out[STANDING])


@pytest.mark.parametrize("step", [0.001, 0.00025])
def test_a_lone_pin_tips_at_ten_degrees_and_returns_from_nine_and_a_half(step) -> None:
    # 9.9 deg by statics with a bearing of 2.031 in (FACTS section 1).
    assert lone_pin(9.5, step) == 1023
    assert lone_pin(10.3, step) == 1023 & ~(1 << 4)


def test_a_pin_in_free_flight_keeps_energy_and_angular_momentum() -> None:
    body = pin()
    bodies = set_rack(None, body)
    bodies.r[1:, 2] = 0.147
    bodies.r[0] = (0.0, 3.0, 1.0)
    bodies.inv_mass[0] = bodies.inv_across[0] = 1.0
    bodies.r[1] = (0.0, -0.6, 1.5)
    bodies.v[1], bodies.w[1] = (0.1, 0.2, 0.3), (9.0, 3.0, 14.0)
    record = np.zeros((40, 11, 6))
    out = np.zeros(RESULTS)
    seconds = 0.3
    start = bodies.r[1].copy()
    run(
        bodies, no_contacts(), SHAPE, BALL_RADIUS_M, Materials(), 0.001, seconds, out, record,
        0.01, True, NO_LOG,
    )  # fmt: skip
    fallen = start + seconds * np.array([0.1, 0.2, 0.3])
    fallen[2] -= 0.5 * GRAVITY * seconds**2
    assert bodies.r[1] == pytest.approx(fallen, abs=1e-9)
    assert out[WORST_RISE] < 1e-10
    # A symmetric top turns its axis about its angular momentum at |L| / I (any mechanics text).
    across, about = body.rho_across**2, body.rho_axis**2
    momentum = np.array([9.0 * across, 3.0 * across, 14.0 * about])
    angle = np.linalg.norm(momentum) / across * seconds
    u = momentum / np.linalg.norm(momentum)
    axis = np.array([0.0, 0.0, 1.0])
    turned = (
        axis * math.cos(angle) + np.cross(u, axis) * math.sin(angle)
        + u * (u @ axis) * (1.0 - math.cos(angle))
    )  # fmt: skip
    assert bodies.axis[1] == pytest.approx(turned, abs=1e-9)


def test_a_hit_is_told_in_miles_an_hour_and_boards() -> None:
    bodies = set_rack(None, pin())
    put_ball(bodies, replace(Hit(17.5, 5.0), speed_mph=16.0))
    assert np.hypot(*bodies.v[0, :2]) == pytest.approx(16.0 * MPH_MPS)
    # Board 17.5 is 2.660 in right of the centre (FACTS, trap T2), at the head-pin plane.
    steps = (-6.0 * INCH_M - bodies.r[0, 1]) / bodies.v[0, 1]
    assert (bodies.r[0, 0] + steps * bodies.v[0, 0]) / INCH_M == pytest.approx(2.660, abs=0.001)
