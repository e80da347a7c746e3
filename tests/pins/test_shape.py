"""The pin's numbers against the published ones (FACTS section 1)."""

from __future__ import annotations

import numpy as np
import pytest

from lanes.pins.shape import PROFILE_IN, pin, radius_in

INCH = 0.0254


def test_centre_of_gravity_falls_inside_the_published_window() -> None:
    # 5-40/64 to 5-60/64 in (pin specification in force, 2007); 5.79 by an integral made elsewhere.
    assert 5.625 < pin().cg / INCH < 5.9375
    assert pin().cg / INCH == pytest.approx(5.79, abs=0.02)


def test_radii_of_gyration_and_volume_match_an_integral_made_elsewhere() -> None:
    # Uniform density over the same profile: 3.63 in, 1.387 in, 128.6 in3 (FACTS section 1).
    assert pin().rho_across / INCH == pytest.approx(3.63, abs=0.015)
    assert pin().rho_axis / INCH == pytest.approx(1.387, abs=0.005)
    assert pin().volume / INCH**3 == pytest.approx(128.6, abs=0.3)


def test_the_profile_passes_through_the_published_diameters() -> None:
    for height, diameter in PROFILE_IN:
        assert 2.0 * float(radius_in(np.array(height))) == pytest.approx(diameter, abs=1e-9)


def test_the_envelope_of_spheres_is_the_profile() -> None:
    # Between the lowest sphere's touch and the crown: within a twentieth of a millimetre.
    body = pin()
    height = np.linspace(1.1, 14.9, 500)
    across = body.radius[None, :] ** 2 - (height[:, None] * INCH - body.centre[None, :]) ** 2
    skin = np.sqrt(np.max(np.clip(across, 0.0, None), axis=1)) / INCH
    assert np.max(np.abs(skin - radius_in(height))) * 25.4 < 0.05


def test_a_pin_weighs_what_a_pin_may() -> None:
    assert 3.375 < pin().mass / 0.45359237 < 3.625  # 3 lb 6 oz to 3 lb 10 oz
