"""A rigid ball on a lane by scipy's DOP853: written apart from the core, as its judge.

Euler's equations in the body's axes with the rotation matrix as the attitude, and five unknowns
(three of the spin's change, two of the force) solved for at once where the ball rolls. None of the
kernel's devices are used: no angular momentum about the contact, no quaternion.
"""

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import RectBivariateSpline
from scipy.spatial.transform import Rotation

G = 9.80665
BOARD, FOOT, RADIUS = 41.5 / 39 * 0.0254, 0.3048, 27 * 0.0254 / (2 * math.pi)
PINS = 59.5 * FOOT
LAST = 0.01  # m/s; from here on the ball is said to roll (see RigidPath)
TOUCH = 1e-5  # m/s; slip at which it is asked whether the ball rolls


def held_at_release(rotation_deg, tilt_deg, launch_deg, pap, pin, mass_bias):
    """Rotation matrix from principal axes to space, by the words of the rigid module: the PAP on
    the axis, the grip's side (body z) square to it along the horizontal."""
    # Degrees about the vertical and about the line of travel, from an axis that points left.
    to_space = Rotation.from_euler("z", rotation_deg - launch_deg, degrees=True) * (
        Rotation.from_euler("y", tilt_deg, degrees=True)
    )
    grip = np.array([0.0, 0.0, 1.0]) - pap[2] * pap
    grip /= np.linalg.norm(grip)
    left, back = np.array([-1.0, 0.0, 0.0]), np.array([0.0, -1.0, 0.0])
    body_to_space = to_space * Rotation.align_vectors([left, back], [pap, grip])[0]
    return body_to_space.as_matrix() @ np.column_stack([pin, mass_bias, np.cross(pin, mass_bias)])


def friction_of(lane):
    """The lane's friction with an interpolation of its own; X is toward the strong side."""
    boards = (np.arange(39) + 0.5) * BOARD
    feet = (np.arange(lane.film.shape[1]) + 0.5) * FOOT
    film = RectBivariateSpline(boards, feet, lane.film, kx=1, ky=1)

    def friction(x, y):
        ft = y / FOOT
        front = min(max((25.0 - ft) / 10.0, 0.0), 1.0)
        back = min(max((ft - lane.length_ft) / 4.0, 0.0), 1.0)
        oil = film.ev(np.clip(-x, boards[0], boards[-1]), np.clip(y, feet[0], feet[-1]))
        oil = float(oil) * (lane.state.front * front + lane.state.mid * (1 - front))
        dry = lane.mu_dry * (1 + back * (lane.state.back - 1))
        return lane.scale * (dry - (dry - lane.mu_oil) * (1 - math.exp(-oil / lane.soak)))

    return friction


class Ball:
    """State: x, y, vx, vy, spin in principal axes (3), rotation matrix (9), then integrals of the
    spin's size, of the spin in principal axes (3) and of its upright part, for the rings."""

    def __init__(self, inertia, friction, resistance=0.0):
        self.inertia, self.friction, self.resistance = np.asarray(inertia), friction, resistance
        self.arm = np.array([0.0, 0.0, -RADIUS])

    def parts(self, state):
        return state[:2], state[2:4], state[4:7], state[7:16].reshape(3, 3)

    def slip(self, state):
        _, v, w, turn = self.parts(state)
        return v + np.cross(turn @ w, self.arm)[:2]

    def rolling(self, state):
        """Change of spin in principal axes (3) and force over mass (2) of a ball that rolls."""
        _, v, w, turn = self.parts(state)
        # The normal force ahead of the contact by c R along the travel.
        ahead = self.resistance * RADIUS * np.array([v[0], v[1], 0.0]) / np.hypot(*v)
        couple = np.cross(ahead, [0.0, 0.0, G])
        a = np.zeros((5, 5))
        a[:3, :3] = np.diag(self.inertia)
        for n, way in enumerate(np.eye(3)[:2]):
            a[:3, 3 + n] = -turn.T @ np.cross(self.arm, way)
            a[3 + n, 3 + n] = 1.0
        for n in range(3):  # d(slip)/dt = force + (turn dw/dt) x arm
            a[3:, n] = np.cross(turn[:, n], self.arm)[:2]
        b = np.zeros(5)
        b[:3] = turn.T @ couple - np.cross(w, self.inertia * w)
        found = np.linalg.solve(a, b)
        return found[:3], found[3:]

    def slope(self, state, rolls, push=None):
        place, v, w, turn = self.parts(state)
        spin = turn @ w
        if rolls:
            dw, force = self.rolling(state)
        else:
            u = self.slip(state)
            size = np.hypot(*u)
            way = u / size if size > 1e-9 or push is None else -push
            force = -self.friction(*place) * G * way
            torque = np.cross(self.arm, [*force, 0.0])
            dw = (turn.T @ torque - np.cross(w, self.inertia * w)) / self.inertia
        dturn = np.cross(spin, turn.T).T
        return np.concatenate([v, force, dw, dturn.ravel(), [np.linalg.norm(w)], w, spin[2:]])

    def hold(self, state):
        return self.friction(*state[:2]) * G - np.hypot(*self.rolling(state)[1])

    def run(self, state, rtol=1e-10, max_step=0.02):
        """Integrate to the pins; return the last state, where it first rolled, and the pieces."""
        state = np.concatenate([state, np.zeros(5)])
        rolls, roll_y, t, pieces, push = False, None, 0.0, [], None
        while True:

            def arrives(_, s):
                return s[1] - PINS

            def ends(_, s, rolls=rolls):
                return self.hold(s) if rolls else np.hypot(*self.slip(s)) - TOUCH

            def slow(_, s):
                return np.hypot(*self.slip(s)) - LAST

            arrives.terminal = ends.terminal = True
            ends.direction = slow.direction = -1
            out = solve_ivp(
                lambda _, s, rolls=rolls, push=push: self.slope(s, rolls, push), (t, t + 20), state,
                method="DOP853", rtol=rtol, atol=1e-12, events=[arrives, ends, slow],
                max_step=max_step, dense_output=True,
            )  # fmt: skip
            pieces.append((rolls, out))
            if roll_y is None and len(out.t_events[2]):  # from where the rest would be gone
                at = out.y_events[2][0]
                step = 1e-6 * self.slope(at, False)
                change = (self.slip(at + step) - self.slip(at)) / 1e-6
                roll_y = at[1] + at[3] * LAST / np.hypot(*change)
            t, state = out.t[-1], out.y[:, -1]
            if len(out.t_events[0]):
                return state, roll_y, pieces
            push = self.rolling(state)[1]
            push = push / np.hypot(*push)
            if not rolls and self.hold(state) > 0.0:
                rolls = True
                state = state.copy()
                state[2:4] -= self.slip(state)  # the last hundredth of a millimetre a second
            else:  # against the force that was wanting, from just above the touch
                rolls = False
                state = state.copy()
                state[2:4] -= self.slip(state) + 2 * TOUCH * push


def rings(pieces, until_y):
    """Mean axis of each whole revolution (principal axes), ring radius in degrees, middle y."""
    end = pieces[-1][1].t[-1]

    def at(t):
        out = next(out for _, out in pieces if t <= out.t[-1] + 1e-15)
        return out.sol(min(t, out.t[-1]))

    times = np.linspace(0.0, end, 4000)
    turned = np.array([at(t)[16] for t in times])
    marks = np.interp(np.arange(0.0, turned[-1], 2 * math.pi), turned, times)
    states = np.array([at(t) for t in marks])
    mean = np.diff(states[:, 17:20], axis=0)
    size = np.linalg.norm(mean, axis=1)
    radius = 90 + np.degrees(np.arcsin(np.diff(states[:, 20]) / size))
    middle = (states[1:, 1] + states[:-1, 1]) / 2
    return mean / size[:, None], radius, middle
