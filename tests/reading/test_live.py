"""The read during a session: the same as a whole reading says, and no more false alarms over all.

Sessions are those of ``simulator.py``, whose lane is not the fit's.
"""

import pytest

from lanes.motion import BallSpec
from lanes.reading.client import ClientFacts
from lanes.reading.live import Kept, read_live
from lanes.reading.pooling import EarlierSession
from lanes.reading.session import read_session

from .simulator import session

RIGHT = ClientFacts("right", "usual", 17.6, 350.0, 55.0, 12.0)
BALLS = [BallSpec("A", "solid", 2000), BallSpec("B", "pearl", 3000, True)]
EARLIER = [
    EarlierSession(f"2026-0{n}-01", f"place {n}", list(session("nothing", 10 + n)), BALLS, None)
    for n in (1, 2, 3)
]


def lived(shots, earlier=(), until=None):
    """Return the live reads of a competition from its first shot on, as a phone asks for them."""
    kept, reads = None, []
    for length in range(1, (until or len(shots)) + 1):
        live = read_live(shots[:length], RIGHT, BALLS, None, True, earlier=earlier, kept=kept)
        kept = live.kept
        reads.append(live.data)
    return reads


@pytest.fixture(scope="module", params=["alone", "with earlier sessions"])
def both(request):
    """A session read live from its beginning, and whole at some lengths."""
    earlier = EARLIER if request.param != "alone" else []
    shots = session("nothing", 4)
    whole = {
        n: read_session(shots[:n], RIGHT, BALLS, None, True, earlier=earlier).as_json()
        for n in (12, 24, 36, 48)
    }
    return lived(shots, earlier), whole


def option(read, kind):
    return next(o for o in read["options"] if o["kind"] == kind)


def test_a_live_read_says_what_the_whole_reading_says(both):
    """Chances within 4 points, boards at the head pin within 0.3; the angle within 0.2 deg."""
    reads, whole = both
    for n, full in whole.items():
        live = reads[n - 1]
        assert live["as_of_shot"] == n
        assert live["provisional"] is True
        assert live["verdict"]["kind"] == full["verdict"]["kind"]
        stay, there = option(live, "stay"), option(full, "stay")
        assert stay["strike"] == pytest.approx(there["strike"], abs=0.04)
        assert stay["head_pin"] == pytest.approx(there["head_pin"], abs=0.3)
        for end in (0, 1):
            assert stay["strike_interval"][end] == pytest.approx(
                there["strike_interval"][end], abs=0.06
            )
        angle = full["shots"][n - 1]["entry_angle_deg"]
        assert live["last"]["entry_angle_deg"] == pytest.approx(angle, abs=0.2)


def test_a_line_of_a_few_balls_ago_is_as_good_as_one_looked_for_now(both):
    reads, whole = both
    for n, full in whole.items():
        for kind in ("move", "ball"):
            chance = option(reads[n - 1], kind)["strike"]
            assert chance == pytest.approx(option(full, kind)["strike"], abs=0.12)
        first, there = reads[n - 1]["options"][0], full["options"][0]
        assert first["kind"] == there["kind"]
        assert first["strike"] == pytest.approx(there["strike"], abs=0.06)


def test_what_is_kept_may_be_lost(both):
    reads, _ = both
    shots = session("nothing", 4)
    earlier = EARLIER if reads[-1]["options"] and both[1][48]["pooled"]["sessions"] else []
    afresh = read_live(shots, RIGHT, BALLS, None, True, earlier=earlier).data
    assert afresh["verdict"]["kind"] == reads[-1]["verdict"]["kind"]
    assert option(afresh, "stay") == option(reads[-1], "stay")


def test_the_first_shots_say_what_is_missing():
    reads = lived(session("nothing", 4), until=4)
    assert all(read["options"] == [] for read in reads)
    assert all(read["verdict"]["kind"] == "unknown" for read in reads)
    with pytest.raises(ValueError, match="at least one shot"):
        read_live([], RIGHT, BALLS, None)


def test_the_first_option_says_how_long_it_holds_and_what_to_watch(both):
    """As the whole reading says it of the same option: the sign within half a board."""
    reads, whole = both
    same = 0
    for n, full in whole.items():
        first, *others = reads[n - 1]["options"]
        assert first["holds"]["beyond"] == 30
        assert first["watch"]["words"]
        assert all(one["holds"] is None and one["watch"] is None for one in others)
        there = full["options"][0]
        if (first["kind"], first["detail"]) == (there["kind"], there["detail"]):
            same += 1
            assert first["watch"]["checkpoint"] == there["watch"]["checkpoint"]
            assert first["watch"]["right"] == pytest.approx(there["watch"]["right"], abs=0.5)
    assert same


def test_a_surface_is_an_option_out_of_competition_alone_and_the_rule_stands_beside_it():
    shots = session("mid burn", 1)[:30]
    practice, match = (
        read_live(shots, RIGHT, BALLS, None, competition).data for competition in (False, True)
    )
    assert "surface" not in {one["kind"] for one in match["options"]}
    assert not any("surface" in one["detail"] for one in match["options"])
    new = option(practice, "surface")["detail"]
    assert "during competition" in new["rule"]
    assert new["grit_from"] != new["grit_to"]


def test_a_burn_is_told_while_it_happens():
    """Of eight sessions whose mid lane burns, at least six are told before they end."""
    told = []
    for seed in range(8):
        shots = session("mid burn", seed)
        kept, at = Kept(), None
        for length in range(15, 49, 3):
            live = read_live(shots[:length], RIGHT, BALLS, None, kept=kept)
            kept = live.kept
            if live.data["transition"]["changes"]:
                at = length
                break
        told.append(at)
    assert sum(at is not None for at in told) >= 6
