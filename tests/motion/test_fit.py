"""The fit finds what was planted, within the doubt that it states.

Truths are drawn from the fit's own prior and seen through half-board readings with heavy-tailed
errors and gaps, so that the stated intervals can be held to their coverage.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from lanes.motion import ReleasePrior, SeenShot, checkpoints, fit_session
from lanes.motion.path import trace_launches

from .planted import BALLS, ERROR, PRIOR, planted


@pytest.fixture(scope="module")
def many():
    return [
        (truth, fit_session(shots, BALLS, PRIOR, None))
        for truth, shots in (planted(seed) for seed in range(24))
    ]


def coverage(offs):
    """Share of two-sd intervals that hold the truth (95 % if the doubt is honest)."""
    return float(np.mean(np.abs(np.concatenate([np.ravel(off) for off in offs])) < 2.0))


def test_launch_directions_are_found_to_a_fifth_of_a_degree(many):
    offs = [fit.launches[:, 1] - truth.launches[:, 1] for truth, fit in many]
    assert np.std(np.concatenate(offs)) < 0.25
    # A few readings with heavy tails tell a little less than the Laplace approximation says.
    off_by = [off / fit.launches_sd[:, 1] for off, (_, fit) in zip(offs, many, strict=True)]
    assert 0.88 < coverage(off_by) < 0.99


def test_head_pin_boards_are_found_better_than_they_were_read(many):
    offs = [fit.head_pin - truth.head_pin for truth, fit in many]
    assert np.median(np.abs(np.concatenate(offs))) < ERROR.head_pin * 0.6745
    assert coverage(
        [off / fit.head_pin_sd for off, (_, fit) in zip(offs, many, strict=True)]
    ) == pytest.approx(0.95, abs=0.05)


def test_entry_angles_keep_within_their_doubt(many):
    offs = [(fit.entry_angle - truth.angle) / fit.entry_angle_sd for truth, fit in many]
    # Nothing of the model's own misfit is in this made-up truth, so the doubt is on the safe side.
    assert coverage(offs) > 0.9
    within = [
        fit.entry_angle - truth.angle - np.mean(fit.entry_angle - truth.angle)
        for truth, fit in many
    ]
    own = [off / fit.entry_angle_own_sd for off, (_, fit) in zip(within, many, strict=True)]
    assert coverage(own) > 0.85


def test_drift_and_ball_ratio_keep_within_their_doubt(many):
    drift = [(fit.drift - truth.drift) / fit.drift_sd for truth, fit in many]
    assert coverage(drift) > 0.85
    ratios = [
        (fit.ball_ratio(0, 1), math.exp(truth.scale[0] - truth.scale[1])) for truth, fit in many
    ]
    assert coverage([np.array([(ratio - true) / sd]) for (ratio, sd), true in ratios]) > 0.8
    # ... and the shots, not the prior, say so: the prior's doubt of a ratio is 14 %.
    assert np.median([sd / ratio for (ratio, sd), _ in ratios]) < 0.10


def test_every_fit_comes_to_rest(many):
    assert all(fit.converged for _, fit in many)


def test_a_planted_burn_is_seen_in_the_middle_of_the_lane():
    _, shots = planted(101, n=50, drift=[-0.02, -0.15, 0.0])
    fit = fit_session(shots, BALLS, PRIOR, None)
    assert fit.drift[1] < -2 * fit.drift_sd[1]
    assert fit.states[-1, 1] < fit.states[0, 1]


def test_a_quiet_lane_shows_no_drift():
    _, shots = planted(102, n=50, drift=[0.0, 0.0, 0.0])
    fit = fit_session(shots, BALLS, PRIOR, None)
    assert np.all(np.abs(fit.drift) < 2.5 * fit.drift_sd)


def test_one_wild_reading_does_not_move_the_rest():
    _, shots = planted(103)
    calm = fit_session(shots, BALLS, PRIOR, None)
    wild = [replace(shots[0], head_pin=shots[1].head_pin + 15), *shots[1:]]
    moved = fit_session(wild, BALLS, PRIOR, None)
    assert moved.head_pin[1:] == pytest.approx(calm.head_pin[1:], abs=0.35)


def test_draws_agree_with_the_stated_doubt_and_repeat():
    _, shots = planted(104)
    fit = fit_session(shots, BALLS, PRIOR, None)
    draws = fit.draws(4000, seed=5)
    assert draws.launches.mean(axis=0) == pytest.approx(fit.launches, abs=2.0)
    assert draws.launches.std(axis=0) == pytest.approx(fit.launches_sd, rel=0.1)
    assert draws.ball_scale.shape == (4000, 2)
    assert np.median(draws.ball_scale, axis=0) == pytest.approx(fit.ball_scale, rel=0.02)
    factors = draws.factors_at(39, 0)
    lane = fit.lane_at(39, 0)
    assert np.median(factors, axis=0) == pytest.approx(lane.factors, rel=0.03)
    assert np.array_equal(draws.launches, fit.draws(4000, seed=5).launches)
    # They go straight into the path functions.
    seen = checkpoints(
        draws.launches[:, -1], draws.rotation_deg, draws.tilt_deg, BALLS[0], lane, factors
    )
    assert seen.shape == (4000, 6)


def test_the_lane_as_fitted_gives_the_fitted_path():
    _, shots = planted(105)
    fit = fit_session(shots, BALLS, PRIOR, None)
    for i in (0, 7, 39):
        lane = fit.lane_at(shots[i].order, shots[i].ball)
        again = trace_launches(
            fit.launches[i : i + 1], fit.rotation_deg, fit.tilt_deg, BALLS[shots[i].ball], lane
        )[0]
        assert again[4] == pytest.approx(fit.head_pin[i], abs=1e-6)
        assert again[5] == pytest.approx(fit.entry_angle[i], abs=1e-6)


def test_one_ball_and_no_boards_are_said():
    _, shots = planted(106, balls=1)
    fit = fit_session(shots, BALLS, PRIOR, None)
    words = " ".join(fit.notes)
    assert "With one ball thrown" in words
    assert "not thrown" in words
    assert "ordinary house pattern" in words
    bare = [SeenShot(0, i, arrows=12.0) for i in range(6)]
    said = " ".join(fit_session(bare, BALLS, ReleasePrior.known(), None).notes)
    assert "breakpoint" in said
    assert "head pin" in said
    assert "Average release assumed for: speed, rev, rotation, tilt" in said


def test_a_ball_that_was_not_thrown_learns_from_the_lane_only():
    _, shots = planted(107, balls=1)
    fit = fit_session(shots, BALLS, PRIOR, None)
    assert fit.ball_scale_sd[1] / fit.ball_scale[1] > fit.ball_scale_sd[0] / fit.ball_scale[0]


def test_a_shot_with_nothing_seen_and_a_gutter_ball_do_no_harm():
    shots = [SeenShot(0, 0), SeenShot(0, 1, arrows=3.0, breakpoint=0.5), SeenShot(0, 2, 20, 12)]
    fit = fit_session(shots, BALLS, PRIOR, None)
    for values in (fit.launches, fit.launches_sd, fit.entry_angle, fit.entry_angle_sd):
        assert np.isfinite(values).all()


def test_lanes_of_a_pair_may_differ():
    _, shots = planted(108, balls=1, gaps=0.0)
    # The right lane of the pair reads 3 boards earlier at the pins throughout.
    pair = [
        replace(shot, lane=i % 2, head_pin=shot.head_pin + 3 * (i % 2), breakpoint=shot.breakpoint)
        for i, shot in enumerate(shots)
    ]
    fit = fit_session(pair, BALLS, PRIOR, None)
    left, right = (fit.lane_at(20, 0, lane).state.mid for lane in (0, 1))
    assert right < left


def test_no_shots_and_unknown_balls_are_refused():
    with pytest.raises(ValueError, match="at least one shot"):
        fit_session([], BALLS, PRIOR, None)
    with pytest.raises(ValueError, match="not in the list"):
        fit_session([SeenShot(2, 0)], BALLS, PRIOR, None)
