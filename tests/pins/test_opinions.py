"""Two other ways to compute pins, held to plain physics before they judge the solver.

The general rigid-body engine is an extra (`tables`); without it its part is skipped.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from lanes.motion.geometry import BALL_RADIUS_M, GRAVITY
from lanes.pins.impulse import Bodies, no_contacts
from lanes.pins.rack import SHAPE, Hit, put_ball, set_rack
from lanes.pins.shape import pin
from lanes.pins.solver import LOG_WIDTH, MATERIALS, RESULTS, run
from tests.studies import compliant

SECONDS = 0.02
SLIDES = 10.0  # m/s; about what a struck pin leaves with
# Dry friction takes mu g t off a pin that slides upright, and a deck does not lift what slides on
# it (any mechanics text). It starts to lean, for mu times the height of the centre of gravity is
# more than the ring's radius: that lifts the centre by less than a fifth of a millimetre here.
LEFT = SLIDES - MATERIALS.friction_pin_deck * GRAVITY * SECONDS
LEAN_MM = 0.2


def sliding() -> Bodies:
    """Return the bodies with pin 5 sliding along the middle of the deck, the rest away."""
    bodies = set_rack(None, pin())
    bodies.r[0] = (0.0, 3.0, 1.0)
    bodies.r[1:, 0] += 2.0
    bodies.r[5], bodies.v[5] = (0.0, -0.5, pin().cg), (0.0, SLIDES, 0.0)
    return bodies


def in_the_solver() -> tuple[float, float]:
    bodies, record = sliding(), np.zeros((60, 11, 6))
    frames = run(
        bodies, no_contacts(), SHAPE, BALL_RADIUS_M, MATERIALS, 0.001, SECONDS, np.zeros(RESULTS),
        record, 0.001, False, np.zeros((0, LOG_WIDTH)),
    )  # fmt: skip
    return float(bodies.v[5, 1]), 1e3 * float(record[:frames, 5, 2].max() - pin().cg)


def in_springs() -> tuple[float, float]:
    bodies = sliding()
    compliant.run(
        bodies, SHAPE, BALL_RADIUS_M, MATERIALS, compliant.SPRINGS, compliant.STEP_S, SECONDS,
        np.zeros((11, 11)), np.zeros((0, 21)),
    )  # fmt: skip
    return float(bodies.v[5, 1]), 1e3 * float(bodies.r[5, 2] - pin().cg)


def in_the_general_engine(own_friction: bool) -> tuple[float, float]:
    mujoco = pytest.importorskip("mujoco")
    from tests.studies import general_engine

    mj = general_engine.model(MATERIALS, general_engine.STEP_S, own_friction)
    data = mujoco.MjData(mj)
    still = general_engine.fixed(mj)
    start = sliding()
    for i in range(11):
        data.qpos[7 * i : 7 * i + 3] = start.r[i]
        data.qpos[7 * i + 3] = 1.0
    rise = []
    for k in range(400 + int(SECONDS / mj.opt.timestep)):
        if k == 400:  # it has settled into the deck's softness
            data.qvel[6 * 5 + 1] = SLIDES
        mujoco.mj_step(mj, data)
        if not own_friction:
            general_engine.rub(still, data)
        rise.append(1e3 * (data.qpos[7 * 5 + 2] - pin().cg))
    return float(data.qvel[6 * 5 + 1]), max(rise[400:])


def test_a_pin_that_slides_upright_stays_on_the_deck() -> None:
    for told in (in_the_solver(), in_springs()):
        assert told[0] == pytest.approx(LEFT, abs=0.005)
        assert told[1] < LEAN_MM


def test_the_general_engine_keeps_it_on_the_deck_only_without_its_own_friction() -> None:
    speed, rise = in_the_general_engine(own_friction=False)
    assert speed == pytest.approx(LEFT, abs=0.005)
    assert rise < LEAN_MM
    # Why its own friction is not used, and why its first verdict on high hits did not hold.
    _, thrown = in_the_general_engine(own_friction=True)
    assert thrown > 5.0


def test_the_general_engine_returns_the_restitution_it_is_asked_for() -> None:
    pytest.importorskip("mujoco")
    from tests.studies import general_engine as engine

    for bounce in (0.15, 0.41, 0.70):  # the closed form against its own equation of motion
        damping = float(engine.contact(bounce).split()[1])
        found = solve_ivp(
            lambda _t, x, z=damping: (x[1], -2.0 * z * x[1] - x[0]), (0.0, 10.0), (0.0, 1.0),
            events=lambda _t, x, z=damping: 2.0 * z * x[1] + x[0] if _t > 1e-6 else 1.0,
            rtol=1e-9, atol=1e-12,
        )  # fmt: skip
        assert -found.y_events[0][0][1] == pytest.approx(bounce, abs=1e-4)
    asked = engine.trimmed(MATERIALS, engine.STEP_S)
    assert engine.tried(asked, engine.STEP_S, 0) == pytest.approx(
        MATERIALS.bounce_ball_pin, abs=0.01
    )
    assert engine.tried(asked, engine.STEP_S, 1) == pytest.approx(
        MATERIALS.bounce_pin_pin, abs=0.01
    )


def first_blow(log: np.ndarray, first: int, second: int) -> np.ndarray:
    rows = log[(log[:, 1] == first) & (log[:, 2] == second)]
    return np.asarray(rows[np.argmin(rows[:, 0])])


@pytest.mark.parametrize(("board", "angle"), [(16.5, 5.0), (17.5, 6.0), (18.25, 5.0), (20.0, 0.0)])
def test_the_first_blow_of_a_rack_is_that_of_springs_throughout(board, angle) -> None:
    # The same start in the third way to compute, where nothing is frozen during a blow: velocities
    # within 5 % and spins within 10 % of the largest there is (pin 9 m/s, ball 67 rad/s).
    hit = Hit(board, angle)
    _, _, _, springs = compliant.rack(hit, None, MATERIALS, limit=0.03, log=10)
    bodies = set_rack(None, pin())
    put_ball(bodies, hit)
    log, out = np.zeros((200, LOG_WIDTH)), np.zeros(RESULTS)
    run(
        bodies, no_contacts(), SHAPE, BALL_RADIUS_M, MATERIALS, 0.001, 0.03, out,
        np.zeros((0, 11, 6)), 0.0, False, log,
    )  # fmt: skip
    mine, theirs = first_blow(log, 0, 1), first_blow(springs, 0, 1)
    for at, most in ((9, 0.45), (15, 0.45), (12, 6.7), (18, 6.7)):
        assert np.max(np.abs(mine[at : at + 3] - theirs[at : at + 3])) < most
