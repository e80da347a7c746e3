"""Find the launches and the friction that explain a session's seen boards.

Each shot has its own launch (laydown, launch direction, speed, rev rate); the session shares the
release's level, the usual line, each ball's friction, and the lane's state with its drift. Sessions
of the same student are pooled: release and balls are the same but for a little, and so is part of
the lane where they were on the same oil. Readings have heavy-tailed errors (Student t), anything
may be missing, and no ball is cut off at the gutter inside the fit. How the answer and its doubt
are found is told in ``search.py``; the cost grows with the number of shots only.

What can be told, and what cannot: **only the product of ball and lane friction is seen**. The
split between them, and the friction's level, rest on the prior; ratios between balls thrown on the
same lane are surer. The doubts are those of a normal approximation; ``fit_coverage`` among the
benchmarks prints how often they hold the truth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri
from scipy.stats import qmc

from .balls import BallSpec
from .friction import SURFACE_LAW, Lane, LaneState, SurfaceLaw, lane_friction
from .oil import Film
from .posterior import LOCAL, PATH_INPUTS, Draws, Layout, Posterior, joint_prior
from .problem import Problem
from .search import Found, Search
from .seen import SEEN, SHAPE, LanePrior, ReadingError, ReleasePrior, SeenSession, SeenShot

Array = NDArray[np.float64]

STATES = ("front", "mid", "back")

# What the reduced model itself leaves out. Unequal moments move the entry angle of all shots of a
# session by 0.06 deg (root mean square over layouts at a differential of 0.050 in, on the rigid
# ball); rolling resistance, the lane's own tilt and a friction law that is not the lane's are left:
# two versions of our own law, fitted to the same logs, part by 0.2 deg as a rule, 0.5 at most.
# Taken as a doubt that all shots of a session share; the larger one (assumed) where the shape of
# the path was not read (``SHAPE``).
MODEL_ANGLE_SD, _MODEL_ANGLE_SD_UNSEEN = 0.2, 0.4
# ... and by how much they move it from shot to shot, degrees for an inch of differential: a ball of
# unequal moments sways as it turns, and how far it has turned by the pins cannot be known. Computed
# on the rigid ball, over layouts and one bowler's throws (tests/motion/test_rigid.py).
SWAY_DEG_PER_IN = 3.1


@dataclass(frozen=True, eq=False)
class SessionFit:
    """The fitted session. ``n`` shots in the order given.

    - ``launches`` (n, 4) and ``launches_sd``: laydown board, launch in degrees outward, mph, rpm.
    - ``ball_scale`` and ``ball_scale_sd`` (balls,): friction against the prior for that ball.
    - ``states`` and ``states_sd`` (n, 3): front, mid, back at each shot (see ``LaneState``).
    - ``drift`` and ``drift_sd`` (3,): their relative change over ten shots.
    - ``predicted`` (n, 4): arrows, breakpoint, breakpoint ft, head pin of the fitted path.
    - ``entry_angle`` and ``entry_angle_sd`` (n,), degrees; ``entry_angle_own_sd`` is the doubt
      that the shots do not share, for comparing one shot of the session with another.
    - ``head_pin`` and ``head_pin_sd`` (n,), boards; ``slip`` (n,) contact slip at the pins, m/s.
    - ``residual_sd``: robust size of what the fit leaves over, by check-point.
    """

    balls: tuple[BallSpec, ...]
    launches: Array
    launches_sd: Array
    rotation_deg: float
    rotation_sd: float
    tilt_deg: float
    ball_scale: Array
    ball_scale_sd: Array
    states: Array
    states_sd: Array
    drift: Array
    drift_sd: Array
    predicted: Array
    entry_angle: Array
    entry_angle_sd: Array
    entry_angle_own_sd: Array
    head_pin: Array
    head_pin_sd: Array
    slip: Array
    residual_sd: dict[str, float]
    notes: list[str]
    converged: bool
    _globals: Array = field(repr=False)
    _posterior: Posterior = field(repr=False)
    _layout: Layout = field(repr=False)

    @cached_property
    def _lanes(self) -> dict[int, Lane]:
        film, law = self._layout.film, self._layout.law
        return {i: lane_friction(film, ball, law=law) for i, ball in enumerate(self.balls)}

    def lane_at(self, order: float, ball: int, lane: int = 0) -> Lane:
        """Return the lane as ball number ``ball`` would meet it after ``order`` balls."""
        factors = np.exp(self._layout.design(ball, order, lane)[5:PATH_INPUTS] @ self._globals)
        scale, front, mid, back = (float(value) for value in factors)
        return self._lanes[ball].with_state(LaneState(front, mid, back), scale)

    @property
    def release(self) -> dict[str, tuple[float, float]]:
        """The level of this session's release, each with its sd: degrees, mph, rpm."""
        places = {
            "rotation_deg": self._layout.ROTATION,
            "speed_mph": self._layout.SPEED,
            "rev_rpm": self._layout.REV,
        }
        spread = np.sqrt(np.diag(self._posterior.shared))
        return {name: (float(self._globals[at]), float(spread[at])) for name, at in places.items()}

    def ball_ratio(self, one: int, other: int) -> tuple[float, float]:
        """Return the friction of ball ``one`` against ``other``, both over their priors, and sd."""
        a, b = self._layout.ball(one), self._layout.ball(other)
        covariance = self._posterior.shared
        variance = covariance[a, a] + covariance[b, b] - 2.0 * covariance[a, b]
        ratio = math.exp(self._globals[a] - self._globals[b])
        return ratio, ratio * math.sqrt(max(variance, 0.0))

    def friction(self, ball: int, order: float, lane: int = 0) -> tuple[float, float]:
        """Return ball times lane friction beyond the oil against the tables, and its sd.

        That product is what the shots tell; ``ball_scale`` and ``states`` split it by the prior.
        """
        design = self._layout.design(ball, order, lane)
        gradient = design[5] + design[8]
        product = math.exp(gradient @ self._globals)
        return product, product * math.sqrt(gradient @ self._posterior.shared @ gradient)

    def draws(self, m: int, seed: int) -> Draws:
        """Return ``m`` draws from the posterior; the same seed gives the same draws.

        What all shots share (release, lane, balls) is drawn evenly over its normal (Sobol points),
        so that a few draws already have its mean and its spread.
        """
        rng = np.random.default_rng(seed)
        layout, posterior = self._layout, self._posterior
        root = np.linalg.cholesky(posterior.shared)
        even = qmc.Sobol(len(self._globals), rng=np.random.default_rng(seed))
        off = ndtri(even.random_base2(math.ceil(math.log2(m)))[:m]) @ root.T
        shared = self._globals + off
        n = len(self.launches)
        own_root = np.linalg.cholesky(posterior.own)
        own = np.einsum("nij,mnj->mni", own_root, rng.standard_normal((m, n, LOCAL)))
        moved = off @ posterior.reach[:, :LOCAL].reshape(n * LOCAL, -1).T
        launches = self.launches + own + moved.reshape(m, n, LOCAL)
        return Draws(
            launches=launches,
            rotation_deg=shared[:, layout.ROTATION],
            tilt_deg=self.tilt_deg,
            speed_mph=shared[:, layout.SPEED],
            rev_rpm=shared[:, layout.REV],
            ball_scale=np.exp(shared[:, layout.ball(0) : layout.ball(len(self.balls))]),
            _globals=shared,
            _layout=layout,
        )


def fit_session(
    shots: Sequence[SeenShot],
    balls: Sequence[BallSpec],
    release: ReleasePrior,
    film: Film | None,
    reading_error: ReadingError | None = None,
    lane_prior: LanePrior | None = None,
    balls_per_shot: float = 1.0,
    law: SurfaceLaw = SURFACE_LAW,
) -> SessionFit:
    """Fit one session: ``fit_sessions`` for one alone."""
    session = SeenSession(shots, film, balls_per_shot=balls_per_shot, law=law)
    return fit_sessions([session], balls, release, reading_error, lane_prior)[0]


def fit_sessions(
    sessions: Sequence[SeenSession],
    balls: Sequence[BallSpec],
    release: ReleasePrior,
    reading_error: ReadingError | None = None,
    lane_prior: LanePrior | None = None,
) -> list[SessionFit]:
    """Fit sessions of one student together, and return a fit for each, in their order.

    ``balls`` are all balls at hand in any of them, which the shots of all count alike (a ball that
    was not thrown keeps its prior, moved by what the others say of the lane). Raises ``ValueError``
    without shots, for a ball index out of range, or where a session's own list of balls is not as
    long.
    """
    if not sessions or any(not session.shots for session in sessions):
        raise ValueError("shots: at least one shot expected")
    if any(not 0 <= shot.ball < len(balls) for session in sessions for shot in session.shots):
        raise ValueError("shots: a ball that is not in the list of balls")
    if any(session.balls and len(session.balls) != len(balls) for session in sessions):
        raise ValueError("balls: each session's list as long as the fit's expected")
    error, lane = reading_error or ReadingError(), lane_prior or LanePrior()
    problems = [
        Problem(session, session.balls or balls, release, session.error or error, len(sessions) > 1)
        for session in sessions
    ]
    mean, covariance = joint_prior([problem.layout for problem in problems], release, lane)
    found = _search(problems, mean, covariance)
    prior_sd = np.split(
        np.sqrt(np.diag(covariance)), np.cumsum([p.layout.size for p in problems])[:-1]
    )
    return [_result(i, problems, found, prior_sd[i]) for i in range(len(problems))]


@dataclass(frozen=True, eq=False)
class Earlier:
    """Sessions of a student that are fitted and done, for the next one to start from.

    Holds what they say together of the shared unknowns of them all: ``shared`` (g,) and
    ``covariance`` (g, g), one session after the other. What the next session is thought to be
    before a ball of it is thrown follows in closed form (``prior``): yesterday's posterior is
    today's prior, as in any sequential estimate.
    """

    balls: tuple[BallSpec, ...]
    release: ReleasePrior
    lane: LanePrior
    layouts: tuple[Layout, ...]
    shared: Array
    covariance: Array

    def prior(self, layout: Layout) -> tuple[Array, Array]:
        """Return mean (g,) and covariance (g, g) of the unknowns of a session with this layout.

        The conditional of a joint normal on what is known of its other part, with that part's own
        doubt put back (the smoother's gain of Rauch, Tung and Striebel, AIAA Journal 3, 1965).
        """
        mean, joint = joint_prior([*self.layouts, layout], self.release, self.lane)
        known = len(self.shared)
        gain = np.linalg.solve(joint[:known, :known], joint[:known, known:]).T
        told = joint[:known, :known] - self.covariance
        covariance = joint[known:, known:] - gain @ told @ gain.T
        return (
            mean[known:] + gain @ (self.shared - mean[:known]),
            np.asarray(0.5 * (covariance + covariance.T)),
        )


def fit_earlier(
    sessions: Sequence[SeenSession],
    balls: Sequence[BallSpec],
    release: ReleasePrior,
    lane_prior: LanePrior | None = None,
) -> Earlier:
    """Fit sessions together for one that follows; arguments as for ``fit_sessions``."""
    lane = lane_prior or LanePrior()
    problems = [
        Problem(session, session.balls or balls, release, session.error or ReadingError(), True)
        for session in sessions
    ]
    found = _search(problems, *joint_prior([p.layout for p in problems], release, lane))
    layouts = tuple(problem.layout for problem in problems)
    shared = np.concatenate(found.shared)
    return Earlier(tuple(balls), release, lane, layouts, shared, found.covariance)


def fit_next(earlier: Earlier, session: SeenSession) -> SessionFit:
    """Fit one session that follows others, from what they left.

    Near to what ``fit_sessions`` says of it, at the price of one session alone: the earlier ones
    are not looked at again in the light of this one.
    """
    problem = Problem(
        session, session.balls or earlier.balls, earlier.release, session.error or ReadingError(),
        pooled=True,
    )  # fmt: skip
    mean, covariance = earlier.prior(problem.layout)
    found = _search([problem], mean, covariance)
    return _result(0, [problem], found, np.sqrt(np.diag(covariance)))


def _search(problems: Sequence[Problem], mean: Array, covariance: Array) -> Found:
    bounds = [problem.layout.bounds(problem.balls) for problem in problems]
    low, high = (np.concatenate(ends) for ends in zip(*bounds, strict=True))
    return Search(problems, mean, covariance, low, high).run()


def _result(at: int, problems: Sequence[Problem], found: Found, prior_sd: Array) -> SessionFit:
    """Return what the search found for session number ``at``."""
    problem, shared, view = problems[at], found.shared[at], found.views[at]
    posterior, paths = found.posteriors[at], found.paths[at]
    layout = problem.layout
    inputs = problem.inputs(found.own[at], shared)
    spread = np.sqrt(np.diag(posterior.shared))
    inputs_sd = np.sqrt(np.diagonal(posterior.inputs(), axis1=1, axis2=2))
    states = np.exp(inputs[:, 6:PATH_INPUTS])
    # The fit has one rotation for all shots; a throw that had another moves them as it would the
    # fit, each shot's own launch answering as its readings ask.
    turned = posterior.reach[:, :PATH_INPUTS, layout.ROTATION] * problem.release.rotation_spread
    angle_sd, angle_own_sd = _doubt(view.path_slopes[:, 4], posterior, turned)
    sway = SWAY_DEG_PER_IN * np.array([ball.filled().differential_in for ball in problem.balls])
    angle_own_sd = np.hypot(angle_own_sd, sway[problem.ball])
    shape = [SEEN.index(name) for name in SHAPE]
    shape_seen = (problem.weight[:, shape] > 0).any(axis=0).all()
    model_sd = MODEL_ANGLE_SD if shape_seen else _MODEL_ANGLE_SD_UNSEEN
    angle_sd = np.sqrt(angle_sd**2 + sway[problem.ball] ** 2 + model_sd**2)
    pin_sd, _ = _doubt(view.path_slopes[:, 3], posterior, turned)
    these = slice(layout.ball(0), layout.ball(len(problem.balls)))
    scale = np.exp(shared[these])
    drift = slice(layout.DRIFT, layout.DRIFT + 3)
    return SessionFit(
        balls=problem.balls,
        launches=inputs[:, :LOCAL],
        launches_sd=inputs_sd[:, :LOCAL],
        rotation_deg=float(shared[layout.ROTATION]),
        rotation_sd=float(spread[layout.ROTATION]),
        tilt_deg=problem.release.tilt_deg,
        ball_scale=scale,
        ball_scale_sd=scale * spread[these],
        states=states,
        states_sd=states * inputs_sd[:, 6:PATH_INPUTS],
        drift=shared[drift],
        drift_sd=spread[drift],
        predicted=paths[:, :4],
        entry_angle=paths[:, 4],
        entry_angle_sd=angle_sd,
        entry_angle_own_sd=angle_own_sd,
        head_pin=paths[:, 3],
        head_pin_sd=pin_sd,
        slip=np.maximum(paths[:, 5], 0.0),
        residual_sd=_left_over(problem, inputs, paths),
        notes=_notes(at, problems, found, prior_sd, float(np.median(angle_sd))),
        converged=found.converged,
        _globals=shared,
        _posterior=posterior,
        _layout=layout,
    )


def _doubt(gradient: Array, posterior: Posterior, unseen: Array) -> tuple[Array, Array]:
    """Return the sd of something with these slopes (n, 9), in all and with shared ones held.

    ``unseen`` (n, 9) is one sd of what moves a shot's inputs and is not in the fit.
    """
    mine = gradient[:, :LOCAL]
    common = np.einsum("ni,nig->ng", gradient, posterior.reach[:, :PATH_INPUTS])
    alone = np.einsum("ni,nij,nj->n", mine, posterior.own, mine)
    alone += np.einsum("ni,ni->n", gradient, unseen) ** 2
    together = np.einsum("ng,ng->n", common @ posterior.shared, common)
    return np.sqrt(alone + together), np.sqrt(alone)


def _left_over(problem: Problem, inputs: Array, paths: Array) -> dict[str, float]:
    """Robust standard deviation of the residuals in the readings' units."""
    residuals = problem.residuals(problem.shown(inputs, paths))
    sizes = {}
    for column, name in enumerate(SEEN):
        read = problem.weight[:, column] > 0
        if read.sum() >= 5:
            off = float(np.median(np.abs(residuals[read, column])))
            sizes[name] = 1.4826 * off * float(problem.sd[column])
    return sizes


def _notes(
    at: int, problems: Sequence[Problem], found: Found, prior_sd: Array, angle_sd: float
) -> list[str]:
    """Say what rests on what, and what the log cannot tell."""
    problem, layout, release = problems[at], problems[at].layout, problems[at].release
    spread = np.sqrt(np.diag(found.posteriors[at].shared))
    notes = []
    if not found.converged:
        notes.append("The fit did not settle: the readings disagree too much.")
    thrown = set().union(*(p.ball.tolist() for p in problems))
    if len(thrown) == 1:
        notes.append(
            "Only ball times lane friction is seen. With one ball thrown, the split between "
            "ball and lane rests on the prior."
        )
    else:
        notes.append(
            "Only ball times lane friction is seen. Ratios between the balls come from the "
            "shots; the level rests on the prior."
        )
    if len(thrown) < len(problem.balls):
        notes.append("A ball that was not thrown keeps its assumed friction.")
    notes += _at_bounds(problem, found.held[at])
    if layout.film is None:
        notes.append("No pattern sheet: an ordinary house pattern is assumed.")
    if release.assumed:
        names = ", ".join(name.rsplit("_", 1)[0] for name in release.assumed)
        notes.append(f"Average release assumed for: {names}.")
    notes.append(
        f"Entry angles carry a doubt of about {angle_sd:.1f} deg, most of it shared by all "
        "shots through what is known of the release."
    )
    for i, name in enumerate(STATES):
        if spread[layout.DRIFT + i] > 0.9 * prior_sd[layout.DRIFT + i]:
            notes.append(f"The log cannot tell how the {name} of the lane changed.")
    read = (problem.weight > 0).sum(axis=0)
    for column, words in ((1, "at the arrows"), (2, "at the breakpoint"), (4, "at the head pin")):
        if read[column] < min(5, problem.n):
            notes.append(f"Too few boards read {words} to lean on.")
    return notes


def _at_bounds(problem: Problem, held: NDArray[np.bool_]) -> list[str]:
    """Name the frictions that ran into the bounds of the calibration."""
    layout = problem.layout
    names = [b.name for i, b in enumerate(problem.balls) if held[layout.ball(i)]]
    names += [f"the lane's {name}" for i, name in enumerate(STATES) if held[layout.STATE + i]]
    if not names:
        return []
    return [
        "The friction stands at the bound of what is thought possible for: "
        f"{', '.join(names)}. Look at the readings, the pattern and the ball's surface first."
    ]
