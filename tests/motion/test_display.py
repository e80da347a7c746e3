"""What a display shows against the speed at release."""

from __future__ import annotations

import pytest

from lanes.motion import BallSpec, UniformLane, lane_friction, speed_loss
from lanes.motion.display import PLACES

BALL = BallSpec("A", "solid", 2000, False, 2.52, 0.045, 0, 15)
USUAL = (17.5, 350.0, 55.0, 12.0)


def test_at_the_pins_a_usual_throw_has_lost_what_is_published() -> None:
    """2.5 to 3 mph overall, 2 to 2.5 to a reading point (FACTS section 5, coaching magazine and
    another page); held here with a quarter of a mph for the ball and the lane."""
    loss = speed_loss("pins", *USUAL, BALL, lane_friction(None, BALL))
    assert 2.25 <= loss <= 3.25


def test_the_average_over_the_lane_fits_the_time() -> None:
    """Mean mph = 40.91 / t over 60 ft (FACTS section 4A). A ball whose surface runs with it at
    release slips nowhere and loses nothing, so that its average is its speed."""
    around_m = 27.0 * 0.0254  # the circumference of a 27-in ball
    rpm = 7.0 / around_m * 60
    rolling = (7.0 / 0.44704, rpm, 0.0, 0.0)
    assert speed_loss("average", *rolling, BALL, UniformLane(0.1)) == pytest.approx(0.0, abs=0.01)
    assert speed_loss("pins", *rolling, BALL, UniformLane(0.1)) == pytest.approx(0.0, abs=0.01)


def test_further_down_the_lane_more_is_lost() -> None:
    lane = lane_friction(None, BALL)
    losses = [speed_loss(p, *USUAL, BALL, lane) for p in ("release", "midlane", "average", "pins")]
    assert losses == sorted(losses)
    assert losses[0] == 0.0
    assert losses[1] > 0.3


def test_where_it_is_unknown_nothing_is_taken_off_and_another_place_is_refused() -> None:
    assert PLACES[0] == "unknown"
    assert speed_loss("unknown", *USUAL, BALL, lane_friction(None, BALL)) == 0.0
    with pytest.raises(ValueError, match="place: 'roof' given"):
        speed_loss("roof", *USUAL, BALL, lane_friction(None, BALL))
