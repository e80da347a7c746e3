"""One layout, two codes: the shop's places and the motion core's orientation mean the same ball."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from clients.drilling import Layout, Place
from clients.drilling.sphere import up_from
from lanes.motion.orientation import Orientation

paps = st.builds(Place, st.floats(0, 8), st.floats(-3, 3))


@given(paps, st.floats(0.001, 13.4), st.floats(-179, 179), st.floats(-179, 179))
def test_places_and_orientation_agree_up_to_a_turn_of_the_body_frame(
    pap: Place, pin_to_pap: float, at_pin: float, at_pap: float
) -> None:
    """Turned so that the PAP is x and up along the VAL is y, pin and mass bias are the same."""
    layout = Layout.from_angles(pap, pin_to_pap, at_pin, at_pap)
    assert layout.mass_bias is not None
    axis = pap.vector()
    up = up_from(axis)
    assert up is not None
    turn = np.array([axis, up, np.cross(axis, up)])  # a rotation: its determinant is 1
    assert np.linalg.det(turn) == pytest.approx(1.0, abs=1e-12)
    orientation = Orientation.from_angles(pin_to_pap, at_pin, at_pap)
    assert turn @ axis == pytest.approx(orientation.pap, abs=1e-12)
    assert turn @ layout.pin.vector() == pytest.approx(orientation.pin, abs=1e-12)
    # The arc that turns the mass bias gets short near the PAP, and holds fewer digits.
    assert turn @ layout.mass_bias.vector() == pytest.approx(
        orientation.mass_bias, abs=1e-12 / min(1.0, pin_to_pap / 4)
    )
