"""Earlier sessions of a student read along: what they may share, and what they do to the doubt.

The logs are the invented bowler's of ``simulator.py``, whose paths are not the fit's own.
"""

from dataclasses import replace

import numpy as np
import pytest

from lanes.motion import BallSpec
from lanes.reading.client import ClientFacts
from lanes.reading.pooling import EarlierSession, joined_balls, same_ball
from lanes.reading.session import read_session
from lanes.reading.summary import summary
from tests.reading.simulator import session

RIGHT = ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
BALLS = [BallSpec("A", "solid", 2000), BallSpec("B", "pearl", 3000, True)]


def earlier(number, balls=BALLS, shots=None, **facts):
    shots = session("nothing", 10 + number) if shots is None else shots
    return EarlierSession(
        on=f"2026-01-{20 - number:02}",
        place=f"day {number}",
        shots=shots,
        balls=list(balls),
        pattern=None,
        **facts,
    )


@pytest.fixture(scope="module")
def log():
    return session("nothing", 1)


@pytest.fixture(scope="module")
def pooled(log):
    others = [earlier(n) for n in range(3)]
    return read_session(log, RIGHT, BALLS, None, earlier=others, place="today").as_json()


def test_it_says_with_how_many_sessions_and_what_that_did_to_the_release(pooled):
    told = pooled["pooled"]
    assert told["sessions"] == ["2026-01-20", "2026-01-19", "2026-01-18"]
    assert told["shots"] > 60
    assert list(told["release"]) == ["rotation_deg", "speed_mph", "rev_rpm"]
    assert [ball["name"] for ball in told["balls"]] == ["A"]  # the one that was thrown
    for ball in told["balls"]:
        assert ball["together_sd"] < 0.97 * ball["alone_sd"]
    assert "the friction of ball" in told["words"]
    assert "3 earlier sessions" in told["words"]
    assert told["words"] in summary(pooled)


def test_today_shows_its_own_balls_alone(pooled):
    assert [ball["name"] for ball in pooled["fit"]["balls"]] == ["A", "B"]


def test_alone_it_reads_as_without_any(log):
    alone = read_session(log, RIGHT, BALLS, None).as_json()
    too_little = earlier(0, shots=session("nothing", 9)[:4])
    with_nothing = read_session(log, RIGHT, BALLS, None, earlier=[too_little]).as_json()
    assert with_nothing == alone
    assert alone["pooled"] == {"sessions": [], "shots": 0, "release": {}, "balls": [], "words": ""}


def test_a_ball_counts_as_the_same_with_more_games_and_not_with_another_surface():
    ball = replace(BALLS[0], games=3.0)
    assert same_ball(ball, replace(ball, games=30.0))
    assert not same_ball(ball, replace(ball, grit=500))
    assert not same_ball(ball, replace(ball, name="another"))
    joined, places = joined_balls([ball], [[replace(ball, games=1.0), BALLS[1]], [BALLS[1]]])
    assert joined == [ball, BALLS[1]]
    assert places == [[0, 1], [1]]


def test_a_ball_without_a_name_is_another_one_in_each_session(log, monkeypatch):
    given = []

    def watched(sessions, balls, *args):
        given.append([ball.name for ball in balls])
        return fit_sessions(sessions, balls, *args)

    from lanes.motion.fit import fit_sessions

    monkeypatch.setattr("lanes.reading.physics.fit_sessions", watched)
    nameless = [replace(shot, ball="") for shot in log]
    other = earlier(0, balls=[], shots=[replace(s, ball="") for s in session("nothing", 10)])
    read_session(nameless, RIGHT, [], None, earlier=[other], place="today")
    assert given == [["ball", "ball, session 1 before"]]


def test_lanes_share_what_is_not_known_of_them_on_the_same_place_only(log):
    there = earlier(0)
    here = [
        read_session(log, RIGHT, BALLS, None, earlier=[there], place=place).as_json()
        for place in ("day 0", "elsewhere")
    ]
    widths = [
        np.mean([ball["high"] - ball["low"] for ball in reading["fit"]["balls"]])
        for reading in here
    ]
    assert here[0]["fit"] != here[1]["fit"]
    assert widths[0] < widths[1]  # what is known of the lane tells ball and lane apart
