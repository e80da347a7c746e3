"""The reference lane: laws and signs from outside, and the figures of this version held fast."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from lanes.motion import BallSpec
from lanes.motion.balls import LIMITS
from lanes.motion.orientation import Orientation
from lanes.motion.reference import (
    MIDDLE,
    NAMES,
    REFERENCE_FILM,
    REFERENCE_VERSION,
    RELEASES,
    on_reference_lane,
    reaction,
)

COVERS_BY_STRENGTH = ("solid", "hybrid", "pearl", "plastic")


def ball(cover: str = "hybrid", grit: float = 2000, **facts: float) -> BallSpec:
    return BallSpec("ball", cover, grit, False, **facts)


def values(spec: BallSpec) -> dict[str, float | None]:
    told = reaction(spec)
    return {name: getattr(told, name).value for name in NAMES}


def test_the_lane_is_the_one_that_is_published():
    """30 units to 18 ft, 9 at 33 ft, none from 45 ft, the same on every board."""
    units = REFERENCE_FILM.units
    assert units.shape == (39, 60)
    assert np.ptp(units, axis=0) == pytest.approx(np.zeros(60), abs=1e-12)
    assert units[0, :18] == pytest.approx(np.full(18, 30.0))
    assert units[0, 25] == pytest.approx((30 + 9) / 2)  # half way, at 25.5 ft
    assert units[0, 45:] == pytest.approx(np.zeros(15))
    assert len(RELEASES) == 18
    with pytest.raises(ValueError, match="read-only"):
        REFERENCE_FILM.um[0, 0] = 0.0


def test_the_line_does_not_matter():
    """The same throw four boards further in: the same figures, on any of the boards."""
    for spec in (ball("solid", 100), ball("plastic", 10000)):
        one = on_reference_lane(spec, MIDDLE)
        other = on_reference_lane(spec, replace(MIDDLE, laydown=MIDDLE.laydown + 4))
        assert other.path_board - one.path_board == pytest.approx(
            np.full(len(one.path_board), 4.0), abs=1e-6
        )
        assert other.entry_angle_deg == pytest.approx(one.entry_angle_deg, abs=1e-6)
        assert other.hook_start_ft == pytest.approx(one.hook_start_ft, abs=1e-6)
        assert other.flare_in == pytest.approx(one.flare_in, abs=1e-6)


def test_flare_goes_as_the_sine_of_twice_the_pins_distance():
    """Torque-free precession (section 6 of the facts): sin 2t, most at 3-3/8 in, none at the ends.

    The law is that of small differentials, and of an axis that stays level: with tilt the rings
    also shrink as the tilt goes, which has nothing to do with the pin. Friction itself tips the
    axis by a tenth of a degree as the roll begins, some hundredths of an inch.
    """
    level = replace(MIDDLE, tilt_deg=0.0)

    def flare(pin_to_pap: float) -> float:
        spec = ball(rg_in=2.50, differential_in=0.01, pin_to_pap_in=pin_to_pap)
        return on_reference_lane(spec, level).flare_in

    most = flare(3.375)
    for pin_to_pap in (0, 1.6875, 2.25, 3, 4, 4.5, 5.0625, 6, 6.75):
        law = math.sin(2 * math.pi * pin_to_pap / 13.5)
        assert flare(pin_to_pap) == pytest.approx(most * law, abs=0.04), pin_to_pap  # of 1.4 in


def test_more_differential_flares_more():
    flares = [values(ball(differential_in=d))["flare_in"] for d in (0.0, 0.02, 0.04, 0.06)]
    assert flares == sorted(flares)
    assert flares[-1] > flares[0] + 5.0  # inches; several inches are seen on real balls


def test_stronger_covers_roll_sooner_and_cover_more_boards():
    """Cover and surface lead everything else (Ball Motion Study 2008); order is common practice."""
    told = [values(ball(cover)) for cover in COVERS_BY_STRENGTH]
    boards = [one["last_20ft_boards"] for one in told]
    assert boards == sorted(boards, reverse=True)
    rolls = [one["roll_start_ft"] or 99.0 for one in told]
    assert rolls == sorted(rolls)
    hooks = [one["hook_start_ft"] for one in told]
    assert hooks == sorted(hooks)


def test_a_rougher_surface_rolls_sooner_and_covers_more_boards():
    told = [values(ball("solid", grit)) for grit in (360, 500, 1000, 2000, 3000, 4000)]
    assert np.all(np.diff([one["last_20ft_boards"] for one in told]) < 0)
    assert np.all(np.diff([one["roll_start_ft"] for one in told]) > 0)


def test_surface_moves_a_ball_more_than_rg_and_differential():
    """Ball Motion Study (2008): surface texture first, RG and differential less."""
    base = ball("solid", 2000, rg_in=2.55, differential_in=0.045)

    def boards(**changed: float) -> float:
        return values(replace(base, **changed))["last_20ft_boards"]

    surface = boards(grit=500) - boards(grit=4000)
    radius = boards(rg_in=2.46) - boards(rg_in=2.65)
    shape = boards(differential_in=0.060) - boards(differential_in=0.020)
    assert abs(surface) > abs(radius)
    assert abs(surface) > abs(shape)


def test_where_the_pin_lies_moves_the_path_little():
    """A robot demonstration (section 4D): pin 3, 4 and 5 in from the PAP, nearly one path."""
    told = [
        values(ball("solid", 2000, differential_in=0.05, pin_to_pap_in=p)) for p in (3.0, 4.0, 5.0)
    ]
    assert np.ptp([one["last_20ft_boards"] for one in told]) < 0.5
    assert np.ptp([one["entry_angle_deg"] for one in told]) < 0.5


def test_every_ball_that_there_can_be_stays_on_the_lane():
    """So that no figure is missing but that of the roll: the corners of the legal input."""
    rgs, masses = LIMITS["rg_in"], LIMITS["mass_lb"]
    for cover, grit in (("solid", 100), ("urethane", 100), ("pearl", 10000), ("plastic", 10000)):
        for rg, mass in zip(rgs, masses, strict=True):
            for differential in LIMITS["differential_in"]:
                told = reaction(
                    ball(cover, grit, rg_in=rg, mass_lb=mass, differential_in=differential)
                )
                for name in ("hook_start_ft", "last_20ft_boards", "entry_angle_deg", "flare_in"):
                    figure = getattr(told, name)
                    assert figure.value is not None
                    assert figure.high is not None
                    assert figure.low <= figure.value <= figure.high


def test_a_ball_that_does_not_roll_before_the_pins_says_so():
    told = reaction(ball("plastic", 10000))
    assert told.roll_start_ft.value is None
    assert told.roll_start_ft.high is None
    assert told.last_20ft_boards.value is not None


def test_places_on_the_ball_count_before_the_layouts_angles():
    spec = ball(differential_in=0.05, pin_to_pap_in=4.5)
    drilled = Orientation.from_angles(0.5, 90, 45)
    assert reaction(spec, drilled).flare_in.value < reaction(spec).flare_in.value - 2.0
    same = Orientation.of(spec)
    assert reaction(spec, same) == reaction(spec)


# What each version gives at the middle release: hook and roll start in ft, boards in the last
# 20 ft, entry angle in deg, flare in in. Not from outside: held so that a figure that a shop has
# written down does not move in silence. New constants or a new lane: raise the version.
HELD = {
    1: {
        "solid": (31.06, 54.84, 13.85, 6.09, 5.77),
        "hybrid": (31.98, 55.83, 12.88, 6.27, 5.89),
        "pearl": (33.20, 56.73, 11.80, 6.14, 5.96),
        "urethane": (29.96, 58.97, 10.99, 6.00, 5.83),
        "plastic": (38.27, None, 3.68, 2.92, 5.33),
    }
}


@pytest.mark.parametrize("cover", HELD[REFERENCE_VERSION])
def test_the_figures_of_this_version(cover: str):
    told = values(ball(cover, rg_in=2.52, differential_in=0.045, pin_to_pap_in=4.5))
    expected = HELD[REFERENCE_VERSION][cover]
    for name, value, slack in zip(NAMES, expected, (0.1, 0.1, 0.05, 0.02, 0.02), strict=True):
        if value is None:
            assert told[name] is None
        else:
            assert told[name] == pytest.approx(value, abs=slack), name
