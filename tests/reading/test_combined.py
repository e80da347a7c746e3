"""Two changes at once: told where they stand clear of each alone, and nowhere else.

Chances are scripted, so that it is known what is clear; the ranges and cues are those of a session
of ``simulator.py``.
"""

from dataclasses import replace

import numpy as np
import pytest

from lanes.motion import BallSpec
from lanes.reading.client import ClientFacts
from lanes.reading.combined import Cue, CuedRange, combined, cues, on_cue
from lanes.reading.options import LANES_DRAWN
from lanes.reading.session import Reader
from lanes.reading.what_if import Way, what_if
from lanes.reading.words import cue_words, option_title, option_why
from lanes.words import step

from .simulator import session

RIGHT = ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
BALLS = [BallSpec("A", "solid", 2000, False, 2.52, 0.045), BallSpec("B", "pearl", 3000, True)]


@pytest.fixture(scope="module")
def read():
    """A student whose speed falls by 1.2 mph, and so has shown a range of speeds."""
    found = Reader(session("slow student", 1, n=60), RIGHT, BALLS, None, False, 1, None)
    found.read()
    return found


def test_a_cue_lies_within_the_speeds_that_were_thrown(read):
    speeds = read.physics.fit.launches[:, 2]
    found = cues(read.range)
    assert found
    usual = float(np.median(speeds))
    for cue in found:
        low, high = np.percentile(speeds, (10.0, 90.0))
        assert low <= usual + cue.speed_mph <= high
        assert abs(cue.speed_mph) >= 0.3


def test_rotation_is_a_cue_only_where_earlier_sessions_showed_another(read):
    range_ = read.range
    assert all(cue.rotation_deg == 0.0 for cue in cues(range_))
    now = range_.physics.fit.rotation_deg
    shown = CuedRange(range_, Cue())
    shown.physics = replace(range_.physics, rotations=(now - 4.6, now + 1.0))
    assert [c.rotation_deg for c in cues(shown) if c.rotation_deg] == [-4.0]


def test_slower_hooks_earlier_and_arrives_higher(read):
    """A slower ball hooks earlier (common practice): the range on a cue throws it so."""
    stay = next(o for o in read.options if o.kind == "stay")
    slower = on_cue(read.range, replace(stay, speed_mph=-0.5))
    usual = slower.usual(stay.spec, stay.ball, (0.0, 0.0))
    now = read.range.usual(stay.spec, stay.ball, (0.0, 0.0))
    np.testing.assert_allclose(slower.centre[:, 2], read.range.centre[:, 2] - 0.5)
    assert usual.head_pin > now.head_pin
    assert on_cue(read.range, stay) is read.range


def script(monkeypatch, base, chances):
    """Have every range answer these chances by kind and ball; lines are those asked for."""

    def option(self, kind, spec, ball, move, surface=""):
        cued = "cued " if isinstance(self, CuedRange) else ""
        fresh = " fresh" if spec.grit not in (2000, 3000) else ""
        chance = chances[f"{cued}{kind} {spec.name}{fresh}"]
        return replace(
            base, kind=kind, spec=spec, ball=ball, feet=move[0], eyes=move[1], surface=surface,
            strike=chance, chances=np.full(LANES_DRAWN, chance),
        )  # fmt: skip

    monkeypatch.setattr("lanes.reading.options.Range.option", option)
    monkeypatch.setattr("lanes.reading.options.Range.best_of", lambda *a: (1.0, 0.0))
    return option


@pytest.fixture
def singles(read, monkeypatch):
    base = next(o for o in read.options if o.kind == "stay")
    flat = {"stay A": 0.4, "move A": 0.5, "ball B": 0.5, "surface A fresh": 0.5}

    def with_pairs(**pairs):
        chances = flat | {name.replace("_", " "): chance for name, chance in pairs.items()}
        option = script(monkeypatch, base, chances)
        fresh = replace(BALLS[0], grit=1000, polished=False)
        alone = [
            option(read.range, "stay", BALLS[0], 0, (0.0, 0.0)),
            option(read.range, "move", BALLS[0], 0, (2.0, 1.0)),
            option(read.range, "ball", BALLS[1], 1, (1.0, 0.0)),
            option(read.range, "surface", fresh, 0, (0.0, 0.0), "rougher"),
        ]
        return lambda competition=False: combined(
            read.searched, read.range, BALLS, alone, competition
        )

    return with_pairs


def test_what_is_no_better_than_one_change_is_not_told(singles):
    pairs = singles(cued_release_A=0.4, cued_both_A=0.5, cued_both_B=0.5, both_B_fresh=0.5)
    assert pairs() == []


def test_what_stands_clear_of_both_is_told_with_both_named(singles, read):
    pairs = singles(cued_release_A=0.45, cued_both_A=0.6, cued_both_B=0.44, both_B_fresh=0.62)
    release, with_move, with_surface = pairs()
    assert (release.kind, with_move.kind, with_surface.kind) == ("release", "both", "both")
    assert (with_move.spec.name, with_move.surface) == ("A", "")
    assert with_move.speed_mph == release.speed_mph != 0.0
    assert (with_surface.spec.name, with_surface.surface) == ("B", "rougher")
    assert "mph" in option_title(release, "right")
    assert (
        option_title(with_move, "right")
        == f"Ball A, feet 1 left, eyes where they are, {cue_words(with_move)}"
    )
    assert option_title(with_surface, "right").startswith("Ball B, rougher surface, feet 1 left")


def test_better_than_one_of_the_two_is_not_enough(singles):
    pairs = singles(cued_release_A=0.55, cued_both_A=0.53, cued_both_B=0.45, both_B_fresh=0.4)
    assert [option.kind for option in pairs()] == ["release"]


def test_no_surface_is_changed_in_competition(singles):
    pairs = singles(cued_release_A=0.4, cued_both_A=0.4, cued_both_B=0.4, both_B_fresh=0.9)
    assert [option.surface for option in pairs()] == ["rougher"]
    assert pairs(competition=True) == []


def test_a_pair_is_read_out_whole(read):
    """Title, reason, detail, the student's step and a what-if of the same pair."""
    stay = next(o for o in read.options if o.kind == "stay")
    pair = replace(stay, kind="both", feet=2.0, eyes=1.0, speed_mph=-0.4)
    f = read._findings()
    f.options.append(pair)
    assert "each of them alone brings clearly less" in option_why(pair, f)
    f.options.pop()
    detail = {"ball": "A", "feet": 2.0, "eyes": 1.0, "speed_mph": -0.4}
    assert Way.of({"detail": detail}) == Way.of_option(pair)
    asked = step({"kind": "both", "detail": detail}, "right")
    assert "stand 2 boards further left" in asked
    assert "throw about 0.4 mph slower" in asked
    slower = what_if(read.range, read.shots, Way.of_option(pair), 13)
    same_speed = what_if(read.range, read.shots, Way("A", 2.0, 1.0), 13)
    pins = [
        np.mean([shot.asked[1] for shot in told.shots if shot.asked])
        for told in (slower, same_speed)
    ]
    assert pins[0] > pins[1]
