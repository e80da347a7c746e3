"""Blows that last, against closed forms and against scipy; and where rigid blows part from them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lanes.motion.geometry import BALL_RADIUS_M, INCH_M
from lanes.pins.blows import MICRO, press
from lanes.pins.impulse import Bodies, Contacts, kinetic, no_contacts, solve
from lanes.pins.rack import Hit, put_ball, set_rack
from lanes.pins.shape import pin
from lanes.pins.solver import MATERIALS

UP = np.array([0.0, 0.0, 1.0])


def pressed(bodies: Bodies, contacts: Contacts, count: int, stiff: list[float], micro=MICRO):
    n = len(bodies.r)
    full = np.zeros(128)
    full[: len(stiff)] = stiff
    press(
        bodies, contacts, count, np.zeros(n, bool), np.zeros((n, 3)), np.zeros((n, 3)), full,
        np.zeros(128), micro,
    )  # fmt: skip


def head_on(bounce: float, friction: float, below_in: float, spin: float, speed: float = 7.3):
    """Return bodies and contacts of a ball square on the head pin: normal level, spin forward."""
    bodies = set_rack(None, pin())
    put_ball(bodies, Hit(20.0, 0.0))
    bodies.v[0], bodies.w[0] = (0.0, speed, 0.0), (-spin, 0.0, 0.0)
    line = np.array([0.0, -1.0, 0.0])
    contacts = no_contacts()
    contacts.first[0], contacts.second[0] = 0, 1
    contacts.normal[0] = line
    contacts.arm1[0] = -BALL_RADIUS_M * line
    contacts.arm2[0] = 0.06 * line - below_in * INCH_M * UP
    contacts.bounce[0], contacts.friction[0] = bounce, friction
    return bodies, contacts


@pytest.mark.parametrize("bounce", [0.41, 0.66, 0.78])
def test_without_friction_a_blow_returns_the_restitution_asked_for(bounce) -> None:
    # Work given back is e^2 of the work put in; without friction that is Newton's e, however
    # eccentric the blow (Stronge, Impact Mechanics, 2000). The pin counts m / (1 + d^2/rho^2)
    # (FACTS section 5), so both speeds after follow from momentum.
    bodies, contacts = head_on(bounce, 0.0, 1.52, 0.0)
    ball = 1.0 / bodies.inv_mass[0]
    pin_counts = pin().mass / (1.0 + (1.52 * INCH_M / pin().rho_across) ** 2)
    push = (1.0 + bounce) * 7.3 * ball * pin_counts / (ball + pin_counts)
    pressed(bodies, contacts, 1, [MATERIALS.stiff_ball_pin])
    assert contacts.push[0] == pytest.approx(push, rel=0.004)
    assert bodies.v[0, 1] == pytest.approx(7.3 - push / ball, rel=0.004)
    assert bodies.v[1, 1] == pytest.approx(push / pin().mass, rel=0.004)


def planar(bounce: float, friction: float, below_in: float, spin: float):
    """Return (push, drag) of a head-on blow in the plane, piece by piece (Stronge 2000, ch. 5).

    The slip ``s`` (ball's skin over the pin's, upward) and the opening ``u`` are linear in the
    normal impulse while slip keeps its direction; once it stops it stays stopped, if the friction
    that takes is below Coulomb's. Restitution by energy: the work of the normal impulse on the way
    out is ``-e^2`` times that on the way in.
    """
    ball, rg = 15.0 * 0.45359237, 2.55 * INCH_M
    body, below, fat = pin().mass, below_in * INCH_M, 0.06
    inertia = body * pin().rho_across ** 2
    # Impulse (push along -y on the ball, drag along z on it); the pin gets the opposite. How one
    # unit changes (u, s): symmetric.
    uu = 1.0 / ball + 1.0 / body + below**2 / inertia
    ss = 1.0 / ball + BALL_RADIUS_M**2 / (ball * rg**2) + 1.0 / body + fat**2 / inertia
    # A push along +y at (-fat, -below) turns the pin about x by below * push; its skin there then
    # rises by -fat * turn, so the ball's slip over it grows by fat * below / inertia.
    us = fat * below / inertia
    u, s = -7.3, -spin * BALL_RADIUS_M
    way = -math.copysign(1.0, s)  # friction on the ball is against its slip
    du, ds = uu + us * way * friction, us + ss * way * friction
    stop = -s / ds if s * ds < 0.0 else math.inf
    stuck = -us / ss
    assert abs(stuck) < friction
    pieces = [(stop, du, way * friction), (math.inf, uu + us * stuck, stuck)]
    put_in, push, drag = 0.0, 0.0, 0.0
    going_in = True
    got_out = 0.0
    for length, slope, per_push in pieces:
        left = length
        if going_in:
            part = min(left, -u / slope)
            put_in += u * part + 0.5 * slope * part**2
            u += slope * part
            push, drag, left = push + part, drag + per_push * part, left - part
            going_in = u < -1e-12
            if going_in:
                continue
        want = -(bounce**2) * put_in - got_out
        part = min(left, (-u + math.sqrt(u * u + 2.0 * slope * want)) / slope)
        got_out += u * part + 0.5 * slope * part**2
        u += slope * part
        push, drag = push + part, drag + per_push * part
        if part < left:
            break
    return push, drag


@pytest.mark.parametrize("spin", [5.0, 25.0, 67.0])
@pytest.mark.parametrize("friction", [0.12, 0.29])
def test_a_rolling_ball_on_a_free_pin_is_the_closed_form_with_friction(spin, friction) -> None:
    push, drag = planar(0.70, friction, 1.25, spin)
    bodies, contacts = head_on(0.70, friction, 1.25, spin)
    pressed(bodies, contacts, 1, [MATERIALS.stiff_ball_pin])
    assert contacts.push[0] == pytest.approx(push, rel=0.006)
    assert contacts.drag[0, 2] == pytest.approx(drag, rel=0.006, abs=0.01)


def with_the_deck(stiff_deck: float):
    """Return a rolling ball on the head pin with ring and ball on the deck, and stiffnesses."""
    bodies, contacts = head_on(0.70, 0.29, 1.25, 67.0)
    alpha = math.radians(16.0)
    line = np.array([math.sin(alpha), -math.cos(alpha), 0.02])
    line /= np.linalg.norm(line)
    contacts.normal[0] = line
    contacts.arm1[0] = -BALL_RADIUS_M * line
    contacts.arm2[0] = 0.06 * line - 1.25 * INCH_M * UP
    ring = pin().bearing * np.array([(1, 0, 0), (0, 1, 0), (-1, 0, 0), (0, -1, 0)])
    for k in range(5):
        c = 1 + k
        contacts.first[c], contacts.second[c] = (1, -1) if k < 4 else (0, -1)
        contacts.normal[c] = UP
        contacts.arm1[c] = ring[k] - pin().cg * UP if k < 4 else -BALL_RADIUS_M * UP
        contacts.bounce[c], contacts.friction[c] = (0.30, 0.30) if k < 4 else (0.20, 0.20)
    return bodies, contacts, [MATERIALS.stiff_ball_pin] + 5 * [stiff_deck]


def by_scipy(bodies: Bodies, contacts: Contacts, stiff: list[float], seconds: float):
    """Return velocities and spins (2 bodies) after a time, by a method with error control.

    The same springs and friction as an ordinary differential equation: bodies' twelve numbers, each
    contact's depth and its deepest. Coulomb's step at no slip is smoothed over 2 mm/s.
    """
    count = len(stiff)
    mass, ease = 1.0 / bodies.inv_mass, []
    for i in range(2):
        axis = bodies.axis[i]
        ease.append(bodies.inv_across[i] * np.eye(3) + bodies.inv_more[i] * np.outer(axis, axis))

    def rates(_t, x):
        v, w = x[:6].reshape(2, 3), x[6:12].reshape(2, 3)
        depth, deepest = x[12 : 12 + count], x[12 + count :]
        dv, dw = np.zeros((2, 3)), np.zeros((2, 3))
        into, deeper = np.zeros(count), np.zeros(count)
        for c in range(count):
            i, j, n = contacts.first[c], contacts.second[c], contacts.normal[c]
            slip = v[i] + np.cross(w[i], contacts.arm1[c])
            if j >= 0:
                slip = slip - v[j] - np.cross(w[j], contacts.arm2[c])
            into[c] = -slip @ n
            most = max(deepest[c], depth[c])
            deeper[c] = max(into[c], 0.0) if depth[c] >= deepest[c] - 1e-9 else 0.0
            k, e = stiff[c], contacts.bounce[c]
            force = max(min(k * depth[c], k * most - k / e**2 * (most - depth[c])), 0.0)
            slip = slip + into[c] * n
            total = force * (n - contacts.friction[c] * slip / math.hypot(*slip, 0.002))
            dv[i] += total / mass[i]
            dw[i] += ease[i] @ np.cross(contacts.arm1[c], total)
            if j >= 0:
                dv[j] -= total / mass[j]
                dw[j] -= ease[j] @ np.cross(contacts.arm2[c], total)
        return np.concatenate([dv.ravel(), dw.ravel(), into, deeper])

    x0 = np.concatenate([bodies.v[:2].ravel(), bodies.w[:2].ravel(), np.zeros(2 * count)])
    found = solve_ivp(
        rates, (0.0, seconds), x0, method="LSODA", rtol=1e-6, atol=1e-8, max_step=2e-6
    )
    return found.y[:6, -1].reshape(2, 3), found.y[6:12, -1].reshape(2, 3)


@pytest.mark.parametrize("stiff_deck", [3e6, 1e7, 3e7])
def test_ball_pin_and_deck_together_are_what_scipy_integrates(stiff_deck) -> None:
    bodies, contacts, stiff = with_the_deck(stiff_deck)
    v, w = by_scipy(bodies, contacts, stiff, 0.0025)
    pressed(bodies, contacts, 6, stiff)
    assert np.max(np.abs(bodies.v[:2] - v)) < 0.02 * 7.3
    assert np.max(np.abs(bodies.w[:2] - w)) < 0.02 * 67.0


def test_a_finer_step_within_the_blow_changes_little() -> None:
    coarse, fine = with_the_deck(1e7), with_the_deck(1e7)
    pressed(coarse[0], coarse[1], 6, coarse[2])
    pressed(fine[0], fine[1], 6, fine[2], MICRO / 20.0)
    assert np.max(np.abs(coarse[0].v - fine[0].v)) < 0.01 * 7.3
    assert np.max(np.abs(coarse[0].w - fine[0].w)) < 0.01 * 67.0


def test_a_blow_never_adds_energy() -> None:
    rng = np.random.default_rng(8)
    for _ in range(200):
        bodies, contacts, stiff = with_the_deck(10.0 ** rng.uniform(6.0, 7.5))
        bodies.v[:2], bodies.w[:2] = rng.normal(0.0, 4.0, (2, 3)), rng.normal(0.0, 40.0, (2, 3))
        before = kinetic(bodies, 0) + kinetic(bodies, 1)
        pressed(bodies, contacts, 6, stiff)
        # Half a micro step's work of the stiffest spring is what the stepping may be off by.
        assert kinetic(bodies, 0) + kinetic(bodies, 1) < before * 1.002


def test_a_rigid_blow_before_the_decks_answer_throws_the_pin_down() -> None:
    # Where the two ways to compute part first: the ball's roll pushes the pin down. A rigid blow
    # ends with the pin on its way into the deck at 2 m/s; together they send it up at about 1 m/s,
    # and the ball keeps pushing on a pin that cannot give way.
    bodies, contacts, stiff = with_the_deck(1e7)
    n = len(bodies.r)
    solve(
        bodies, contacts, 1, np.zeros(n, bool), np.zeros((n, 3)), np.zeros((n, 3)), np.zeros(128),
        np.zeros(128), np.zeros(n, np.int64),
    )  # fmt: skip
    rigid_push, rigid_up = contacts.push[0], bodies.v[1, 2]
    bodies, contacts, stiff = with_the_deck(1e7)
    v, _ = by_scipy(bodies, contacts, stiff, 0.0025)
    pressed(bodies, contacts, 6, stiff)
    assert rigid_up < -1.5
    assert v[1, 2] > 0.5
    assert bodies.v[1, 2] == pytest.approx(v[1, 2], abs=0.1)
    assert contacts.push[0] > 1.01 * rigid_push
