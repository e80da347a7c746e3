"""The model against the measured robot table (section 4C of the facts).

Source: authorities/usbc_robot_table.source.txt. Ball, rev rate and oil are not stated. So the fit
has six unknowns (tests/benchmarks/robot_table.py tells which and prints the whole comparison), and
the default lane is asked with a stand-in: an ordinary release with the table's mean entry angle.

What the model does not do: half a mph more speed moves the robot's ball 0.26 board to the weak side
and the model's 1.3 to 1.7 boards to the strong side. Nothing that was tried mends that (eleven free
unknowns leave 1.0 board); it is the one trend that is not checked on the default lane.
"""

from functools import cache

import numpy as np
import pytest
import statsmodels.api as sm

from lanes.motion import BallSpec, Release, checkpoints, lane_friction, launch_for_target, roll
from tests.benchmarks.robot_table import (
    BALL,
    HIGH,
    LOW,
    TILT,
    WEIGHTS,
    by_row,
    by_setting,
    design,
    fit,
    left_out,
    mean_left_out,
    predict,
    regression_left_out,
    rms,
    rows,
    trends,
    without_speed,
)

REV, ROTATION = 350, 60  # the stand-in: at 18.5 mph it enters at 5.9 deg, the table's mean


@pytest.fixture(scope="module")
def default():
    table = rows()
    launches = np.column_stack([table[:, 0], -table[:, 1], table[:, 2], np.full(len(table), REV)])
    return checkpoints(launches, ROTATION, TILT, BALL, lane_friction(None, BALL))


@cache
def fitted():
    return fit(rows())


def test_the_table_says_what_is_published_of_it():
    table = rows()
    assert trends(table, table[:, 3])[[0, 1, 2, 4]] == pytest.approx(
        [21.73, 1.02, 3.43, 2.42], abs=0.02
    )
    assert trends(table, table[:, 4])[[0, 2]] == pytest.approx([5.96, 0.73], abs=0.01)
    assert len(table) == 18
    assert len(np.unique(by_setting(table))) == 15


@pytest.mark.parametrize(("column", "terms"), [(0, 5), (1, 4)])
def test_left_out_regression_is_that_of_the_hat_matrix(column, terms):
    # statsmodels has the residual of each row left out in closed form.
    table = rows()
    ols = sm.OLS(table[:, 3 + column], design(table)[:, :terms]).fit()
    expected = ols.get_influence().resid_press
    found = regression_left_out(table, by_row(table))[:, column]
    assert -found == pytest.approx(expected, abs=1e-9)


def test_six_unknowns_bring_the_model_near_the_table():
    table = rows()
    assert len(fitted()) == 6
    left = predict(fitted(), table) - table[:, 3:]
    board, angle = rms(left)
    assert board < 1.8
    assert angle < 0.51  # no worse than the robot repeats itself
    # The wrong trend of speed is all that stands between the model and the regression, which
    # leaves 1.17 boards with five coefficients (published).
    assert rms(without_speed(table, left))[0] < 1.17
    measured = trends(table, table[:, 3])
    computed = trends(table, predict(fitted(), table)[:, 0])
    assert computed[[2, 4]] == pytest.approx(measured[[2, 4]], rel=0.12)
    assert computed[1] == pytest.approx(measured[1], abs=0.5)
    assert np.all((fitted() >= LOW) & (fitted() <= HIGH))


def test_settings_left_out_are_foretold():
    # Leaving out a setting means both of its repeats. The other settings' mean is off by 3.8 boards
    # and 0.78 deg, regression by 1.46 and 0.41, the model by 2.1 and 0.5.
    table = rows()
    group = by_setting(table)
    board, angle = rms(left_out(table, group, fitted(), WEIGHTS))
    plain_board, plain_angle = rms(mean_left_out(table, group))
    assert board < 2.5 < 0.7 * plain_board
    assert angle < 0.6 < 0.8 * plain_angle


def test_entry_board_follows_launch_and_laydown_as_measured(default):
    table = rows()
    measured, computed = trends(table, table[:, 3]), trends(table, default[:, 3])
    assert computed[2] == pytest.approx(measured[2], rel=0.1)  # 3.43 boards for half a degree
    assert computed[4] == pytest.approx(measured[4], rel=0.1)  # the wall: 2.42
    assert computed[1] == pytest.approx(measured[1], abs=0.3)  # 1.02 for four boards of laydown
    assert abs(computed[0] - measured[0]) < 1.5  # the stand-in hits the same part of the lane


def test_entry_angle_rises_as_the_launch_closes(default):
    table = rows()
    measured, computed = trends(table, table[:, 4])[2], trends(table, default[:, 4])[2]
    assert default[:, 4].mean() == pytest.approx(table[:, 4].mean(), abs=0.2)
    # 0.73 deg for half a degree, standard error 0.11; a ball that rolls has 0.5.
    assert computed == pytest.approx(measured, abs=0.3)


@pytest.mark.parametrize(
    ("laydown", "measured", "allowed"), [(15, 0.7, 0.25), (19, 2.3, 0.4), (23, 4.0, 0.25)]
)
def test_forgiveness_across_the_lane(laydown, measured, allowed):
    # Boards at the pins for a board at the arrows, between -2 and -1 deg, as in the table.
    launches = np.array([[laydown, 2.0, 18.5, REV], [laydown, 1.0, 18.5, REV]])
    seen = checkpoints(launches, ROTATION, TILT, BALL, lane_friction(None, BALL))
    forgiveness = (seen[1, 3] - seen[0, 3]) / (seen[1, 0] - seen[0, 0])
    assert forgiveness == pytest.approx(measured, abs=allowed)


def test_an_ordinary_line_ends_in_the_pocket_on_the_default_lane():
    # Common practice, no source: 20 at the foul line over 12, out to 5 or so at 40 ft, pocket 16.5
    # to 18.5, for an average ball and an average release.
    ball = BallSpec("average", "hybrid")
    line = Release(17, 350, 55, 12, 20, launch_for_target(20, 12))
    path = roll(line, ball, lane_friction(None, ball))
    assert 5 <= path.breakpoint_board <= 9
    assert 38 <= path.breakpoint_ft <= 44
    assert 16.5 <= path.head_pin_board <= 18.5
