"""Lessons of one release are fitted together, as a reading is with earlier sessions."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lanes.motion.seen import ReadingError, ReleasePrior
from lanes.reading.moments import Lesson, Thing, fitted, fitted_along
from lanes.reading.physics import fit_physics
from lanes.reading.pooling import EarlierSession
from lanes.reading.shots import first_balls

from .bowlers import PLASTIC, SOLID, plastic_only

AT_HAND = [Thing("1", PLASTIC, of="1")]
LESSONS = [replace(plastic_only(seed), place=f"day {seed}") for seed in (1, 2, 3)]


@pytest.fixture(scope="module")
def along():
    return fitted_along(LESSONS, AT_HAND)


def as_a_reading(lesson: Lesson, earlier: list[Lesson]):
    """Fit a lesson the way that its reading would with those earlier sessions."""
    before = [
        EarlierSession(one.name, one.place, list(one.shots), list(one.balls), one.pattern)
        for one in earlier
    ]
    facts = lesson.client
    return fit_physics(
        lesson.shots,
        first_balls(lesson.shots),
        lesson.balls,
        ReleasePrior.known(facts.speed_mph, facts.rev_rpm, facts.rotation_deg, facts.tilt_deg),
        None,
        ReadingError(),
        earlier=before,
        place=lesson.place,
    )


def test_a_lesson_is_fitted_as_its_reading_is(along):
    for n, lesson in enumerate(LESSONS):
        reading = as_a_reading(lesson, [one for one in LESSONS if one is not lesson])
        mine = along[n].physics
        assert mine.index.tolist() == reading.index.tolist()
        # A hundredth of a board and a tenth of a degree: far less than what either is good for.
        assert mine.fit.head_pin == pytest.approx(reading.fit.head_pin, abs=0.01)
        assert mine.fit.rotation_deg == pytest.approx(reading.fit.rotation_deg, abs=0.1)
        assert mine.fit.ball_scale[0] == pytest.approx(reading.fit.ball_scale[0], rel=0.01)


def test_together_they_tell_the_ball_better_than_each_by_itself(along):
    for lesson, fit in zip(LESSONS, along, strict=True):
        alone = fitted(lesson, AT_HAND).physics.fit
        place = fit.place(AT_HAND[0])
        assert fit.physics.fit.ball_scale_sd[place] < alone.ball_scale_sd[0]
        # The friction and the release that were planted are in it.
        scale, sd = fit.physics.fit.ball_scale[place], fit.physics.fit.ball_scale_sd[place]
        assert abs(scale - 1.0) < 3.0 * sd
        assert abs(fit.physics.fit.rotation_deg - 40.0) < 3.0 * fit.physics.fit.rotation_sd


def test_a_ball_that_was_thrown_in_another_lesson_is_known_in_this_one():
    other = replace(
        LESSONS[1],
        shots=[replace(shot, ball="Solid") for shot in LESSONS[1].shots],
        balls=[SOLID],
        owners=["2"],
    )
    at_hand = [*AT_HAND, Thing("2", SOLID, of="2")]
    first, second = fitted_along([LESSONS[0], other], at_hand)
    assert first.fitted_with(at_hand[1]) == SOLID
    assert second.fitted_with(at_hand[0]) == PLASTIC
    assert first.place(at_hand[1]) == second.place(at_hand[1])
    assert first.fitted_with(Thing("new", SOLID)) is None


def test_lessons_of_another_release_are_fitted_by_themselves(along):
    slower = replace(LESSONS[2], client=replace(LESSONS[2].client, speed_mph=18.0))
    found = fitted_along([LESSONS[0], LESSONS[1], slower], AT_HAND)
    alone = fitted(slower, AT_HAND).physics.fit
    assert found[2].physics.fit.rotation_deg == pytest.approx(alone.rotation_deg, abs=1e-9)
    assert found[0].physics.fit.rotation_deg != along[0].physics.fit.rotation_deg
    few = replace(slower, shots=slower.shots[:6])
    assert [fit.lesson for fit in fitted_along([few, LESSONS[0]], AT_HAND)] == [LESSONS[0]]
