"""Other bowlers on the lanes, as numbers: written down with a block, shown, and reckoned with."""

from __future__ import annotations

import uuid

import numpy as np
import pytest
from django.urls import reverse

from clients.models import AuditEntry
from lanes import readings, shots
from lanes.models import Session
from lanes.motion import (
    HOUSE,
    BallSpec,
    ReadingError,
    Release,
    ReleasePrior,
    lane_friction,
    roll_rigid,
)
from lanes.motion import launch_for_target as launch_for
from lanes.motion.wear import after, others
from lanes.reading.physics import fit_physics
from lanes.reading.shots import first_balls
from tests.reading.simulator import session as simulated


@pytest.fixture
def carl(cast, as_user):
    return as_user(cast.carl)


def started(cast, carl, **more) -> object:
    address = f"{reverse('lanes:session_start')}?client={cast.sam_client.pk}&block=new"
    key = str(uuid.uuid4())
    facts = {"id": key, "centre": cast.centre.pk, "purpose": "league", "watch": ["arrows"]}
    answer = carl.post(address, facts | more)
    return Session.objects.filter(pk=key).first() or answer


def log_three(session: Session, by) -> None:
    for number in range(1, 4):
        shots.log_shot(session=session, by=by, values={"shot": number, "arrows": 12})


def test_a_block_keeps_how_many_others_bowl_and_its_page_says_so(cast, carl):
    session = started(cast, carl, others_right="4", others_left="1")
    assert (session.block.others_right, session.block.others_left) == (4, 1)
    html = carl.get(reverse("lanes:session", args=[session.pk])).content.decode()
    assert "4 right-handers and 1 left-hander" in html


def test_nobody_counted_is_not_nobody(cast, carl):
    session = started(cast, carl, others_right="", others_left="0")
    assert (session.block.others_right, session.block.others_left) == (None, 0)
    html = carl.get(reverse("lanes:session", args=[session.pk])).content.decode()
    assert "Also on the lanes" not in html


@pytest.mark.parametrize(
    ("typed", "message"),
    [("-1", "Expected 0 to 60 bowlers."), ("61", "Expected 0 to 60"), ("some", "a whole number")],
)
def test_what_is_no_number_of_bowlers_is_told_at_its_field(cast, carl, typed, message):
    answer = started(cast, carl, others_right=typed, others="the Tuesday league")
    errors = answer.context["block_form"].errors
    assert list(errors) == ["others_right"]
    assert message in errors["others_right"][0]
    html = answer.content.decode()
    assert f'value="{typed}"' in html
    assert "the Tuesday league" in html


def test_the_numbers_are_mended_later_for_the_whole_block(cast, carl):
    address = reverse("lanes:session_edit", args=[cast.session.pk])
    posted = {"watch": ["arrows"], "note": "Calm.", "others_right": "2", "others_left": ""}
    carl.post(address, posted)
    cast.block.refresh_from_db()
    assert (cast.block.others_right, cast.block.others_left) == (2, None)
    assert 'value="2"' in carl.get(address).content.decode()
    carl.post(address, posted)
    assert AuditEntry.objects.filter(action="block.changed").count() == 1  # the same is no change


def test_bowlers_of_the_students_hand_wear_the_line_more_than_those_of_the_other(cast, carl):
    session = started(cast, carl, others_right="4", others_left="1")
    log_three(session, cast.carl)
    assert readings.gather(session).balls_per_shot == 5.25  # one's own, four, a quarter
    Session.objects.filter(pk=session.pk).update(hand="left")
    session.refresh_from_db()
    assert readings.gather(session).balls_per_shot == 3.0
    digest = readings.gather(session).digest
    session.block.others_left = 3
    assert readings.gather(session).digest != digest  # another reading


def test_without_numbers_a_shot_is_a_ball(cast):
    log_three(cast.session, cast.carl)
    assert readings.gather(cast.session).balls_per_shot == 1.0


def test_the_share_of_the_other_hand_lies_between_a_usual_and_a_deep_line():
    """Against the wear model: what forty left-handers move a right-hander's head pin by, as a share
    of what forty right-handers do."""
    film, ball = HOUSE.film(), BallSpec("a", "solid")

    def share(laydown: float, target: float) -> float:
        release = Release(17.5, 350.0, 55.0, 12.0, laydown, launch_for(laydown, target))
        lanes = [film, *(after(film, others(*who)) for who in ((40, 0), (0, 40)))]
        boards = [roll_rigid(release, ball, lane_friction(f, ball)).head_pin_board for f in lanes]
        return abs(boards[2] - boards[0]) / abs(boards[1] - boards[0])

    assert share(20.0, 12.5) < readings.OTHER_HAND < share(26.0, 17.0)


def test_a_lane_that_many_wear_may_change_faster():
    log = simulated("nothing", 3, n=12)
    release = ReleasePrior.known(17.6, 350.0, 55.0, 12.0)
    balls = [BallSpec("A", "solid", 2000), BallSpec("B", "pearl", 3000, True)]

    def drift_sd(balls_per_shot: float) -> np.ndarray:
        physics = fit_physics(
            log, first_balls(log), balls, release, None, ReadingError(), "unknown", balls_per_shot
        )
        return physics.fit.drift_sd

    assert (drift_sd(6.0) > 1.5 * drift_sd(1.0)).all()
