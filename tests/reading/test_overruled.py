"""What the coach says of single shots counts in the reading: as marks, and as the causes shown."""

import pytest

from lanes.motion import BallSpec
from lanes.reading.client import ClientFacts
from lanes.reading.live import read_live
from lanes.reading.overruled import Ruling, marks, said_words
from lanes.reading.session import Reader
from lanes.reading.shots import LoggedShot

from .simulator import session

RIGHT = ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
BALLS = [BallSpec("A", "solid", 2000)]
SHOTS = session("nothing", 4)[:30]


def read(*said):
    reader = Reader(SHOTS, RIGHT, BALLS, None, True, said=said)
    return reader, reader.read().as_json()


@pytest.fixture(scope="module")
def plain():
    return read()


def test_a_shot_that_was_the_throw_leaves_what_the_lane_is_read_from(plain):
    reader, reading = plain
    good = max(s.shot for s, use in zip(SHOTS, reader.usable, strict=True) if use)
    told, after = read(Ruling("cause", "throw", good))
    assert reader.usable[good - 1]
    assert not told.usable[good - 1]
    shot = after["shots"][good - 1]
    assert shot["throw"]["verdict"] == "off"
    assert shot["throw"]["why"] == "the coach says that it was the throw"
    assert shot["cause"] == {"throw": 1.0, "lane": 0.0, "ball": 0.0, "chance": 0.0}
    assert shot["said"]["cause"] == "throw"
    for one, found in ((reader, reading), (told, after)):
        there = [use and s.arrows is not None for s, use in zip(SHOTS, one.usable, strict=True)]
        assert found["transition"]["drift"]["arrows"]["n"] == sum(there)
    assert told.usable.sum() < reader.usable.sum()
    assert after["said"] == (
        f"As the coach says, shot {good} counts as a missed throw, since it was the throw."
    )


@pytest.mark.parametrize("cause", ["lane", "ball", "chance"])
def test_a_miss_that_was_not_the_throw_enters_it(plain, cause):
    reader, reading = plain
    missed = next(s["shot"] for s in reading["shots"] if s["throw"]["verdict"] == "off")
    told, after = read(Ruling("cause", cause, missed))
    assert told.usable.sum() == reader.usable.sum() + 1
    shot = after["shots"][missed - 1]
    assert shot["throw"]["verdict"] == "good"
    assert shot["cause"][cause] == 1.0
    assert shot["said"]["computed"] is None or sum(shot["said"]["computed"].values()) == (
        pytest.approx(1.0)
    )


def test_nothing_said_is_as_before(plain):
    _, reading = plain
    assert reading["said"] == ""
    assert all(shot["said"] is None for shot in reading["shots"])
    _, of_no_shot_here = read(Ruling("cause", "throw", 99))
    assert [s["throw"] for s in of_no_shot_here["shots"]] == [s["throw"] for s in reading["shots"]]


def test_the_live_read_counts_it_too():
    last = read_live(SHOTS, RIGHT, BALLS, None, said=[Ruling("cause", "throw", 30)]).data
    assert last["last"]["throw"]["verdict"] == "off"
    assert "shot 30 counts as a missed throw" in last["said"]


def test_the_word_on_the_throw_comes_before_what_the_cause_says_of_it():
    rulings = [Ruling("cause", "lane", 3), Ruling("throw", "off", 3), Ruling("cause", "throw", 5)]
    assert marks(rulings) == {3: "off", 5: "off"}
    assert said_words(rulings) == (
        "As the coach says, shot 3 counts as a missed throw, since it was the lane; shot 5 counts "
        "as a missed throw, since it was the throw."
    )


def test_shots_of_one_kind_are_told_together():
    rulings = [Ruling("throw", "good", n) for n in (9, 2, 4)]
    assert said_words(rulings) == "As the coach says, shots 2, 4 and 9 count as good throws."
    assert said_words([Ruling("lane", "no")]) == ""


def test_the_mark_in_the_log_gives_way():
    shots = [LoggedShot(n, arrows=11.0, throw="good") for n in range(1, 13)]
    reader = Reader(shots, RIGHT, BALLS, None, said=[Ruling("cause", "throw", 6)])
    reader.look()
    assert [throw.verdict for throw in reader.throws.verdicts].count("off") == 1
