"""The read at the lane as the phone asks for it."""

import pytest
from django.core.cache import cache

from lanes import live
from tests.reading.simulator import session as simulated
from tests.sessions.simulated import log


@pytest.fixture(autouse=True)
def nothing_kept():
    cache.clear()


@pytest.fixture
def address(cast):
    return f"/api/sessions/{cast.session.pk}/live"


def test_a_read_follows_the_last_shot(cast, as_user, address):
    carl = as_user(cast.carl)
    log(cast, simulated("nothing", 4)[:20])
    answer = carl.get(address)
    assert answer.status_code == 200
    assert answer["Cache-Control"] == "no-store"
    read = answer.json()
    assert (read["as_of_shot"], read["provisional"]) == (20, True)
    assert read["options"][0]["strike_interval"][0] < read["options"][0]["strike"]
    log(cast, simulated("nothing", 4)[20:21])
    assert carl.get(address).json()["as_of_shot"] == 21


def test_what_stands_in_the_cache_changes_no_answer(cast, address, as_user):
    carl = as_user(cast.carl)
    log(cast, simulated("nothing", 4)[:20])
    first, again = (carl.get(address).json() for _ in range(2))
    cache.clear()
    afresh = carl.get(address).json()
    assert afresh == first
    for read in (again, afresh):
        stay = next(o for o in read["options"] if o["kind"] == "stay")
        assert stay == next(o for o in first["options"] if o["kind"] == "stay")


def test_too_little_is_said_and_is_no_error(cast, as_user, address):
    read = as_user(cast.carl).get(address).json()
    assert read["as_of_shot"] is None
    assert read["options"] == []
    assert "at least 3" in read["missing"][0]


def test_earlier_sessions_are_looked_up_once(cast, django_assert_num_queries):
    log(cast, simulated("nothing", 4)[:12])
    with django_assert_num_queries(7):
        live.read(cast.session)
    with django_assert_num_queries(6):  # all but the earlier sessions
        live.read(cast.session)
