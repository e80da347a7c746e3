"""Looking ahead: against counting rules of statistics, and against the range itself, later.

Sessions are those of ``simulator.py``, whose lane is not the fit's.
"""

import copy
import math

import numpy as np
import pytest
from scipy.stats import binom, norm

from lanes.motion import BallSpec
from lanes.motion.constants import CARRY, COVER_WEAR
from lanes.motion.seen import ReadingError
from lanes.reading import ahead
from lanes.reading.ahead import AHEAD, LESS, Sign, Thrown, forecast, holds, throw_ahead, wears
from lanes.reading.client import ClientFacts
from lanes.reading.options import LANES_DRAWN
from lanes.reading.session import Reader

from .simulator import session

RIGHT = ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
BALLS = [
    BallSpec("A", "solid", 2000, False, 2.52, 0.045),
    BallSpec("U", "urethane", 2000, False, 2.52, 0.045),
]


@pytest.fixture(scope="module")
def burned():
    found = Reader(session("mid burn", 3), RIGHT, BALLS, None, True, 1, None)
    found.read()
    return found


def course(*chances):
    """Return a thrown option with these chances now and later, on two lanes drawn alike."""
    chance = np.repeat(np.array(chances)[:, None], 2, axis=1)
    return Thrown(chance, chance, np.full((len(AHEAD), 2, 3, 7), 17.0))


def test_a_chance_that_falls_evenly_holds_until_it_lost_a_tenth():
    per_ball = 0.0125
    (hold,) = holds([course(*(0.8 - per_ball * AHEAD))])
    assert hold.balls == LESS / per_ball == 8
    assert (hold.low, hold.high, hold.told) == (hold.balls, hold.balls, True)


def test_what_does_not_fall_holds_beyond_and_what_may_do_either_is_not_told():
    (steady,) = holds([course(*np.full(len(AHEAD), 0.7))])
    assert (steady.balls, steady.told) == (None, True)
    assert "beyond" in steady.words()
    either = course(*np.full(len(AHEAD), 0.7))
    either.chance[1:, 1] = 0.2
    (hold,) = holds([either])
    assert not hold.told
    assert "cannot be told" in hold.words()


def test_another_option_that_becomes_better_is_named():
    falling = course(*(0.8 - 0.02 * AHEAD))
    rising = course(*(0.6 + 0.01 * AHEAD))
    first, second = holds([falling, rising])
    assert (first.passed_by, first.passed_after) == (1, 10)  # 0.60 against 0.70
    assert (second.passed_by, second.passed_after) == (None, None)


def test_strikes_ahead_are_binomial_where_the_chance_is_known(monkeypatch):
    """Mean and 90 % interval against scipy's binomial."""
    monkeypatch.setattr(ahead, "PINS_SD", 0.0)
    monkeypatch.setattr(ahead, "_SAMPLES", 4000)
    for row in forecast(course(*np.full(len(AHEAD), 0.6))):
        law = binom(row["balls"], 0.6)
        assert row["strikes"]["mean"] == pytest.approx(law.mean(), abs=0.1)
        assert row["strikes"]["low"] == law.ppf(0.05)
        assert row["strikes"]["high"] == law.ppf(0.95)
        assert row["head_pin"] == {"mean": 17.0, "low": 17.0, "high": 17.0}


def test_later_is_the_range_itself_later(burned):
    """The same misses and lanes, thrown on a range that stands so many balls further on; a line is
    worn where it is thrown, so a change that lies in the track of before is left out."""
    range_, stay = copy.copy(burned.range), next(o for o in burned.options if o.kind == "stay")
    range_.track = None
    thrown = throw_ahead(range_, stay)
    for time in (0, 2, 4):
        later = copy.copy(range_)
        later.order = range_.order + AHEAD[time]
        chance, pocket = later.throw(
            stay.spec, stay.ball, np.zeros((1, 2)), LANES_DRAWN, ahead._THROWS
        )
        np.testing.assert_allclose(thrown.chance[time], chance[0], atol=1e-9)
        np.testing.assert_allclose(thrown.pocket[time], pocket[0], atol=1e-9)


def test_a_lane_that_dries_takes_the_ball_higher_and_a_slower_wear_later(burned):
    """Common practice, no source: as a lane burns, the same line comes in higher."""
    stay = next(o for o in burned.options if o.kind == "stay")
    boards = [
        np.nanmedian(throw_ahead(burned.range, stay, faster).seen[-1, ..., 3])
        for faster in (0.0, 0.5, 1.0)
    ]
    now = np.nanmedian(throw_ahead(burned.range, stay).seen[0, ..., 3])
    assert now < boards[0] + 0.3
    assert boards[0] < boards[1] < boards[2]


def test_a_ball_wears_the_lane_as_its_cover_takes_up_oil(burned):
    """The net of what the covers' own constants take up and lay again, for balls alike but for it.

    In closed form a pass takes uptake times (1 - carry) of what it meets; what is still on the ball
    at the end of the oil, and flare that differs a little, are left.
    """
    stay = next(o for o in burned.options if o.kind == "stay")
    other = next(o for o in burned.options if o.kind == "ball")
    assert wears(burned.range, stay) == 1.0
    net = {cover: up * (1.0 - CARRY * laid) for cover, (up, laid) in COVER_WEAR.items()}
    ratio = wears(burned.range, other)
    assert ratio == pytest.approx(net["urethane"] / net["solid"], rel=0.15)
    assert ratio != pytest.approx(1.0, abs=0.05)


def test_the_shots_it_takes_to_tell_are_those_of_normal_theory(burned):
    """Half way between two means, so many shots err once in twenty on either side."""
    option, stay = (next(o for o in burned.options if o.kind == kind) for kind in ("ball", "stay"))
    thrown = throw_ahead(burned.range, option)
    watched = ("breakpoint", "head_pin")
    sign = ahead.sign(thrown, option, stay, ReadingError(), watched)
    assert sign.name in watched
    assert sign.apart_sd == pytest.approx(abs(sign.right - sign.wrong) / sign.sd)
    assert sign.shots is not None

    def error(shots):
        return norm.sf(0.5 * sign.apart_sd * math.sqrt(shots))

    assert error(sign.shots) <= 0.0501
    assert error(sign.shots - 1) > 0.05


def test_a_sign_that_tells_nothing_says_so():
    sign = Sign("head_pin", 17.4, 17.5, 1.5, 0.07, None)
    assert "too much alike" in sign.words()
    assert Sign("head_pin", 17.4, 21.0, 1.0, 3.6, 1).words() == (
        "Watch the head pin: near board 17.4 if this was right, 21.0 if not."
    )


def test_the_reading_holds_it_all(burned):
    found = burned.read().as_json()
    for option in found["options"]:
        assert option["holds"]["beyond"] == 30
        assert option["holds"]["words"]
        assert option["watch"]["checkpoint"] in ("breakpoint", "breakpoint_ft", "head_pin")
    assert [row["balls"] for row in found["forecast"]] == [10, 20]
    ten, twenty = found["forecast"]
    assert ten["strikes"]["mean"] < twenty["strikes"]["mean"]
    assert ten["strikes"]["low"] <= ten["strikes"]["mean"] <= ten["strikes"]["high"]
