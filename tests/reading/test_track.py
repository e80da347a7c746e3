"""Where a lane's change lies: against the closed form of two normals, and plain geometry."""

import numpy as np
import pytest

from lanes.motion.geometry import DEG_PER_BOARD
from lanes.reading.track import _MOST, _WIDTH, Track

RNG = np.random.default_rng(3)


def launches(laydown, arrows, n, sd):
    """Straight launches (n, 4) over both boards, all parallel, that scatter sideways."""
    found = np.zeros((n, 4))
    found[:, 0] = laydown + sd * RNG.standard_normal(n)
    found[:, 1] = (laydown - arrows) * DEG_PER_BOARD
    found[:, 2:] = (17.0, 350.0)
    return found


@pytest.mark.parametrize("aside", [1.0, 2.0, -3.0])
def test_beside_the_track_the_change_fades_as_two_normals_do(aside):
    """Paths of sd s seen with a width w have the density of a normal of variance s^2 + w^2 (any
    text on probability); against that of the usual throw, here one without scatter."""
    sd = 1.0
    thrown = launches(20.0, 12.0, 40_000, sd)
    usual = launches(20.0, 12.0, 1, 0.0)
    there = launches(20.0 + aside, 12.0 + aside, 1, 0.0)
    share = Track(thrown, usual).share(there[None, None].repeat(2, axis=1))
    fades = np.exp(-0.5 * aside**2 / (sd**2 + _WIDTH**2))
    assert share[0, 0, 0] == pytest.approx(np.full(3, fades), abs=0.02)
    assert share[0, 1, 0] == pytest.approx(np.ones(3))  # where others dried the boards beside it


def test_on_the_line_itself_all_of_it_is_met_and_never_much_more():
    thrown = launches(20.0, 12.0, 60, 1.0)
    share = Track(thrown, thrown).share(np.stack([thrown, thrown])[None])
    assert share.mean(axis=(0, 2)) == pytest.approx(np.ones((2, 3)), abs=0.1)
    assert share.max() <= _MOST


def test_a_line_that_crosses_the_track_meets_it_only_where_it_crosses():
    """Feet four boards in and eyes as they were: at the arrows on the track, beyond outside it."""
    thrown = launches(20.0, 12.0, 2000, 0.5)
    usual = launches(20.0, 12.0, 1, 0.0)
    crossing = launches(24.0, 12.0, 1, 0.0)
    front, mid, back = Track(thrown, usual).share(crossing[None, None])[0, 0, 0]
    assert front > 0.95
    assert mid < 0.05
    assert back < 0.01
