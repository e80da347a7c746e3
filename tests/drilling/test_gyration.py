"""RG about a tilted axis, against published values and scipy's rotations."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from clients.drilling import Layout, Place, rg_about_axis_in

PAP = Place(5.0, 0.5)


@pytest.mark.parametrize(("degrees", "rg"), [(45, 2.52512), (30, 2.51259)])
def test_a_symmetric_ball_against_the_tensor(degrees, rg):
    """Shared facts, section 6: RG^2 = lo^2 cos^2 t + hi^2 sin^2 t with lo 2.50, hi 2.55."""
    layout = Layout.from_angles(PAP, degrees * 27 / 360, None, 45)
    assert rg_about_axis_in(layout, 2.50, 0.05) == pytest.approx(rg, abs=5e-6)


def test_an_asymmetric_ball_against_a_turned_tensor():
    layout = Layout.from_angles(PAP, 4.25, 55, 35)
    # In the ball's own axes: mass bias x, third y, pin z.
    tensor = np.diag([2.55**2, (2.55 - 0.02) ** 2, 2.50**2])
    axis = _axis(4.25, 55)
    assert rg_about_axis_in(layout, 2.50, 0.05, 0.02) == pytest.approx(
        math.sqrt(axis @ tensor @ axis), abs=1e-9
    )


def _axis(pin_to_pap: float, at_pin: float) -> np.ndarray:
    """From the pin, so many inches along the way that lies at_pin degrees from the mass bias."""
    away = Rotation.from_rotvec(np.radians(at_pin) * np.array([0.0, 0.0, 1.0])).apply([1, 0, 0])
    lean = pin_to_pap / 27 * 2 * math.pi
    return Rotation.from_rotvec(lean * np.cross([0.0, 0.0, 1.0], away)).apply([0, 0, 1])


def test_without_its_mass_bias_an_asymmetric_ball_is_not_told():
    assert rg_about_axis_in(Layout.from_angles(PAP, 4, None, 45), 2.5, 0.05, 0.02) is None
