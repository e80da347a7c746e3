"""What moved the hit: slopes and shares against planted ones, and against plain least squares."""

from dataclasses import replace

import numpy as np
import pytest

from lanes.motion.geometry import DEG_PER_BOARD
from lanes.motion.seen import ReadingError
from lanes.reading.movers import find_movers
from lanes.reading.series import ROUGH_SENSITIVITY, Sensitivity
from lanes.reading.shots import LoggedShot
from lanes.reading.summary import summary

from .simulator import session
from .test_session import read

EXACT = ReadingError(laydown=1e-3, arrows=1e-3, speed_mph=1e-3)
VAGUE = Sensitivity(ROUGH_SENSITIVITY.mean, dict.fromkeys(ROUGH_SENSITIVITY.sd, 100.0))


def thrown(seed, n=60, launch=3.0, speed=-1.5, misread=0.0, noise=0.8, launch_sd=0.3):
    """Return shots with hits linear in laydown, launch (boards for half a degree) and speed."""
    rng = np.random.default_rng(seed)
    laid = 20.0 + 0.4 * rng.standard_normal(n)
    inward = launch_sd * rng.standard_normal(n)  # degrees off the usual
    fast = 17.0 + 0.25 * rng.standard_normal(n)
    hit = 17.5 + launch * inward / 0.5 + speed * (fast - 17.0) + noise * rng.standard_normal(n)
    arrows = laid - 8.0 + inward / DEG_PER_BOARD
    off = misread * rng.standard_normal((2, n))
    return [
        LoggedShot(
            i + 1, ball="A", stand=26.0, aim=12.0, laydown=float(laid[i] + off[0, i]),
            arrows=float(arrows[i] + off[1, i]), speed_mph=float(fast[i]), head_pin=float(hit[i]),
        )
        for i in range(n)
    ]  # fmt: skip


def found(shots, error=EXACT, sensitivity=VAGUE):
    return find_movers(shots, np.ones(len(shots), dtype=bool), [], sensitivity, error)


def part(movers, what):
    return next(p for p in movers.parts if p.what == what)


def test_without_misreading_and_prior_the_slopes_are_those_of_least_squares():
    # numpy's own least squares in laydown, launch and speed; Huber's weights move them a little.
    shots = thrown(1)
    laid, arrows, fast, hit = (
        np.array([getattr(s, name) for s in shots])
        for name in ("laydown", "arrows", "speed_mph", "head_pin")
    )
    half_degrees = (arrows - laid) * DEG_PER_BOARD / 0.5
    order = np.arange(len(shots))
    design = np.column_stack([np.ones(len(shots)), laid, half_degrees, fast, order])
    plain = np.linalg.lstsq(design, hit, rcond=None)[0][1:4]
    told = found(shots)
    for what, slope in zip(("laydown", "launch", "speed"), plain, strict=True):
        assert part(told, what).boards[0] == pytest.approx(slope, abs=0.15)


def test_the_launch_is_named_with_its_slope_and_its_share():
    # Planted: 3 boards for half a degree at 0.3 deg, 1.5 for a mph at 0.25 mph, 0.8 left over.
    told = [found(thrown(seed)) for seed in range(40)]
    variance = np.array([1.8**2, 0.375**2, 0.8**2])
    share = variance[0] / variance.sum()
    assert all(m.first == "launch" for m in told)
    slopes = [part(m, "launch").boards for m in told]
    shares = [part(m, "launch").share for m in told]
    assert np.mean([b[1] <= 3.0 <= b[2] for b in slopes]) > 0.85
    assert np.mean([s[1] <= share <= s[2] for s in shares]) > 0.8
    assert np.mean([s[0] for s in shares]) == pytest.approx(share, abs=0.03)
    whole = sum(p.share[0] for p in told[0].parts)
    assert whole == pytest.approx(1.0, abs=0.02)  # one that works against the others has none
    assert "The launch moved the hit most: 2.9 boards for half a degree further in" in told[0].words


def test_misread_boards_do_not_make_the_launch_small():
    # Half a board of misreading at both ends makes a slope on the readings too flat by a third.
    error = ReadingError(laydown=0.5, arrows=0.5, speed_mph=1e-3)
    told = [found(thrown(seed, misread=0.5), error) for seed in range(40)]
    naive = [found(thrown(seed, misread=0.5)) for seed in range(40)]
    assert np.mean([part(m, "launch").boards[0] for m in naive]) < 2.3
    assert np.mean([part(m, "launch").boards[0] for m in told]) == pytest.approx(3.0, abs=0.4)
    assert np.mean([part(m, "launch").boards[1] <= 3.0 for m in told]) > 0.85
    assert np.mean([part(m, "launch").boards[2] >= 3.0 for m in told]) > 0.85


def test_two_that_move_the_hit_alike_are_not_told_apart():
    told = [found(thrown(s, n=30, launch=1.2, speed=-2.9, launch_sd=0.3)) for s in range(20)]
    assert np.mean([m.first is None for m in told]) > 0.4
    undecided = next(m for m in told if m.first is None)
    assert undecided.words.startswith("What moved the hit most cannot be told. Likeliest: ")


def test_what_was_not_read_is_said_and_few_shots_tell_nothing():
    without = [replace(s, laydown=None) for s in thrown(2)]
    told = found(without)
    assert told.parts[0].what == "arrows"
    assert "Too seldom read to count: laydown." in told.words
    assert found(
        [replace(s, arrows=None, laydown=None, speed_mph=None) for s in without]
    ).words == (
        "Too little to say what moved the hit: 60 first balls with a board at the head pin and "
        "their throw (too seldom read: arrows, laydown, speed)."
    )
    few = found(thrown(3, n=9))
    assert few.parts == ()
    assert few.first is None
    assert few.words.startswith("Too little to say what moved the hit: 9 first balls")
    assert found([LoggedShot(1, head_pin=17.0)]).as_json()["parts"] == []
    assert found([LoggedShot(1)]).as_json()["n"] == 0


def test_the_readings_json_and_text_hold_it():
    told = read(session("nothing", 3))
    movers = told["movers"]
    assert {p["what"] for p in movers["parts"]} >= {"launch", "laydown", "speed", "lane", "rest"}
    assert sum(p["share"] for p in movers["parts"]) == pytest.approx(1.0, abs=0.05)
    assert movers["words"] in summary(told)
