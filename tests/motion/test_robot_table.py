"""Trends over the lane against the measured robot table (section 4C of the facts).

Source: authorities/usbc_robot_table.source.txt. Ball, rev rate and oil are not stated, so the
house pattern and a release with the table's mean angle stand in, and signs and rough sizes are
compared. The effect of speed (+0.26 board for 0.5 mph, far inside the table's rms of 1.17) is not.
"""

import csv
from pathlib import Path

import numpy as np
import pytest

from lanes.motion import BallSpec, checkpoints, lane_friction

TABLE = Path(__file__).parent / "authorities" / "usbc_robot_table.csv"
BALL = BallSpec("stand-in", "solid", 2000, False)
REV, ROTATION, TILT = 300, 70, 10  # near the table's mean entry angle and board


def rows():
    with TABLE.open() as file:
        return np.array([[float(v) for v in row.values()] for row in csv.DictReader(file)])


def trends(table, values):
    """Coefficients of 1, laydown/4, trajectory/0.5, speed/0.5 and laydown x trajectory."""
    laydown, launch, speed = (table[:, 0] - 19) / 4, (table[:, 1] + 1.5) / 0.5, table[:, 2] - 18.5
    design = np.column_stack([np.ones(len(table)), laydown, launch, speed / 0.5, laydown * launch])
    return np.linalg.lstsq(design, values, rcond=None)[0]


@pytest.fixture(scope="module")
def model():
    table = rows()
    launches = np.column_stack([table[:, 0], -table[:, 1], table[:, 2], np.full(len(table), REV)])
    return checkpoints(launches, ROTATION, TILT, BALL, lane_friction(None, BALL))


def test_the_table_says_what_is_published_of_it():
    table = rows()
    assert trends(table, table[:, 3])[[0, 1, 2, 4]] == pytest.approx(
        [21.73, 1.02, 3.43, 2.42], abs=0.02
    )
    assert trends(table, table[:, 4])[[0, 2]] == pytest.approx([5.96, 0.73], abs=0.01)


def test_entry_board_follows_launch_and_laydown_as_measured(model):
    table = rows()
    measured, computed = trends(table, table[:, 3]), trends(table, model[:, 3])
    assert computed[2] == pytest.approx(measured[2], rel=0.5)  # 3.43 boards for half a degree
    assert computed[4] == pytest.approx(measured[4], rel=0.5)  # the wall: 2.42
    assert abs(computed[0] - measured[0]) < 3  # the stand-in ball hits the same part of the lane


def test_entry_angle_rises_as_the_launch_closes(model):
    table = rows()
    measured, computed = trends(table, table[:, 4])[2], trends(table, model[:, 4])[2]
    assert model[:, 4].mean() == pytest.approx(table[:, 4].mean(), abs=0.5)
    assert 0.5 * measured < computed < 1.5 * measured  # 0.73 deg for half a degree


@pytest.mark.parametrize(
    ("laydown", "measured", "allowed"), [(15, 0.7, 0.4), (19, 2.3, 0.8), (23, 4.0, 0.4)]
)
def test_forgiveness_across_the_lane(laydown, measured, allowed):
    # Boards at the pins for a board at the arrows, between -2 and -1 deg, as in the table.
    launches = np.array([[laydown, 2.0, 18.5, REV], [laydown, 1.0, 18.5, REV]])
    seen = checkpoints(launches, ROTATION, TILT, BALL, lane_friction(None, BALL))
    forgiveness = (seen[1, 3] - seen[0, 3]) / (seen[1, 0] - seen[0, 0])
    assert forgiveness == pytest.approx(measured, abs=allowed)
