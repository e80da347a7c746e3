"""What must hold of every path of the reduced model, whatever the release and the lane.

Where a law needs a lane with one friction everywhere, it says so: on a film, more speed or revs
takes the ball over other oil, and then nothing of the kind is a theorem.
"""

import math

import numpy as np
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from lanes.motion import (
    BallSpec,
    LaneState,
    Layer,
    PatternSheet,
    Release,
    UniformLane,
    checkpoints,
    lane_friction,
    roll,
)
from lanes.motion.balls import COVERS
from lanes.motion.balls import LIMITS as BALL_LIMITS
from lanes.motion.geometry import BALL_RADIUS_M, HEAD_PIN_FT, LANE_WIDTH_M, ft_to_m
from lanes.motion.path import LIMITS, slide, starts_from, trace_launches

quick = settings(max_examples=60, derandomize=True, deadline=None)

releases = st.builds(
    Release, **{name: st.floats(low, high) for name, (low, high) in LIMITS.items()}
)
# An ordinary hook: forward roll, positive side.
hooks = st.builds(
    Release,
    speed_mph=st.floats(14, 22),
    rev_rpm=st.floats(150, 500),
    rotation_deg=st.floats(10, 80),
    tilt_deg=st.floats(0, 30),
    laydown=st.floats(15, 25),
    launch_deg=st.floats(-1, 3),
)
balls = st.builds(
    BallSpec,
    name=st.just("any"),
    cover=st.sampled_from(COVERS),
    grit=st.floats(*BALL_LIMITS["grit"]),
    polished=st.booleans(),
    rg_in=st.floats(*BALL_LIMITS["rg_in"]),
)
states = st.builds(LaneState, *[st.floats(0.2, 2.0)] * 3)
layers = st.builds(
    lambda start, span, first, wide, ml: Layer(
        "1", "forward", start, start + span, first, min(first + wide, 38), ml
    ),
    st.floats(0, 5), st.floats(20, 42), st.integers(2, 15), st.integers(8, 36), st.floats(2, 20),
)  # fmt: skip
films = st.one_of(
    st.none(), st.lists(layers, min_size=1, max_size=3).map(lambda rows: sheet(*rows))
)
frictions = st.floats(0.02, 0.3)
factors = st.floats(1.02, 1.5)


def sheet(*rows):
    return PatternSheet("made up", tuple(rows)).film("right")


def launch_of(release):
    return np.array([[release.laydown, release.launch_deg, release.speed_mph, release.rev_rpm]])


PINS = ft_to_m(HEAD_PIN_FT)
FAR = 400.0  # metres, a lane on which every ball rolls out


def slid(release, ball, lane, distance=PINS):
    start = starts_from(launch_of(release), release.rotation_deg, release.tilt_deg, BALL_RADIUS_M)
    return slide(start[0], ball.k, lane, distance)


def changed(release, **what):
    return Release(**(vars(release) | what))


@quick
@given(releases, balls, films, states, st.floats(0.2, 3))
def test_no_nan_in_all_the_legal_space(release, ball, film, state, scale):
    lane = lane_friction(film, ball, scale=scale, state=state)
    path = roll(release, ball, lane)
    for value in vars(path).values():
        if isinstance(value, float):
            assert math.isfinite(value)
    for values in (path.path_ft, path.path_board, path.path_mph):
        assert np.isfinite(values).all()
    raw = trace_launches(launch_of(release), release.rotation_deg, release.tilt_deg, ball, lane)[0]
    if path.gutter_at_ft is None and path.head_pin_board is not None:
        assert np.isfinite(raw[:7]).all()


@quick
@given(releases, balls, films, states)
def test_a_path_goes_on_and_ends_at_the_pins_or_in_the_gutter(release, ball, film, state):
    lane = lane_friction(film, ball, state=state)
    track = slid(release, ball, lane).track
    time, _, y, s = track.T
    assert np.all(np.diff(time) > 0)
    assert np.all(np.diff(s) >= -1e-12)  # friction takes; it never gives back
    path = roll(release, ball, lane)
    assert np.all(np.diff(path.path_ft) > 0)
    if abs(release.rotation_deg) <= 80:  # beyond, a slow ball with back spin may come back
        assert np.all(np.diff(y) > 0)
        assert (path.head_pin_board is None) == (path.gutter_at_ft is not None)
    if path.breakpoint_ft is not None:
        assert 0 < path.breakpoint_ft <= path.path_ft[-1] + 1e-9
        assert path.breakpoint_board <= path.path_board.min() + 0.01
    if path.hook_start_ft is not None and path.roll_start_ft is not None:
        assert path.hook_start_ft <= path.roll_start_ft + 1e-9


@quick
@given(releases, balls, films, states)
def test_energy_only_falls(release, ball, film, state):
    """Friction does no positive work: of travel and spin together, always; of travel alone where
    the ball's surface drags behind it (the slip points the way it travels)."""
    way = slid(release, ball, lane_friction(film, ball, state=state))
    s = way.track[:, 3, None]
    velocity = way.start[1:3] - way.heading * s
    slip = way.start[3:5] - way.heading * s * (1 + 1 / way.k)
    surface = velocity - slip
    energy = (velocity**2).sum(axis=1) + way.k * (surface**2).sum(axis=1)
    assert np.all(np.diff(energy) <= 1e-9 * energy[0])
    if way.velocity @ way.heading >= 0:
        assert np.all(np.diff(np.hypot(*velocity.T)) <= 1e-12)


@quick
@example(
    Release(
        speed_mph=10.0, rev_rpm=0.0, rotation_deg=0.0, tilt_deg=0.0, laydown=22.5, launch_deg=0.0
    ),
    BallSpec("any", "solid", 100.0, False, rg_in=2.5),
    Layer("1", "forward", 0.0, 20.0, 2, 20, 2.0),
    LaneState(2.0, 1.0, 1.0),
)
@given(releases, balls, layers, states)
def test_left_is_right_in_a_mirror(release, ball, layer, state):
    """The same throw across the lane: place, launch, rotation and oil turned over.

    On the very edge of a board the steps are those of the board beside it, which is the other one
    in a mirror: there a tenth of a micron along the lane (13 nm on the release given below).
    """
    film = sheet(layer)
    here = lane_friction(film, ball, state=state)
    there = lane_friction(film.mirrored(), ball, state=state)
    over = changed(
        release,
        laydown=40 - release.laydown,
        launch_deg=-release.launch_deg,
        rotation_deg=-release.rotation_deg,
    )
    one, other = slid(release, ball, here).track[-1], slid(over, ball, there).track[-1]
    assert math.isclose(one[1] + other[1], LANE_WIDTH_M, abs_tol=1e-7)
    on_edge = (release.laydown - 0.5) % 1.0 == 0.0
    assert math.isclose(one[0], other[0], abs_tol=1e-7 if on_edge else 1e-9)


@quick
@given(hooks, frictions, factors)
def test_more_friction_rolls_sooner_and_hooks_more_on_an_even_lane(release, mu, more):
    """T = k/(1+k) |u0| / (mu g) (4A): the same slip is used up sooner, and the path bends sooner;
    the end is the same, so on an even lane the ball arrives further over."""
    ball = BallSpec("any", rg_in=2.5)
    slow, fast = (slid(release, ball, UniformLane(mu * m), FAR) for m in (1.0, more))
    assert fast.rolling[0] < slow.rolling[0]
    assert fast.rolling[2] < slow.rolling[2]
    one, other = (slid(release, ball, UniformLane(mu * m)).track[-1, 1] for m in (1.0, more))
    assert other > one


@quick
@given(hooks, films, states, factors)
def test_more_friction_rolls_sooner_on_any_film_straight_down_a_board(release, film, state, more):
    """Without side spin the ball stays on its board, so that it meets the same oil at any friction:
    then more of it is sooner for every film."""
    ball = BallSpec("any", rg_in=2.5)
    straight = changed(release, rotation_deg=0.0, launch_deg=0.0)
    lanes = [lane_friction(film, ball, scale=scale, state=state) for scale in (1.0, more)]
    slow, fast = (slid(straight, ball, lane, FAR) for lane in lanes)
    assert fast.rolling[2] <= slow.rolling[2] + 1e-6


@quick
@given(hooks, frictions, factors)
def test_more_speed_rolls_later_on_an_even_lane(release, mu, more):
    """More slip to use up and more way meanwhile; theorem where the surface lags behind the ball,
    that is where the speed exceeds the forward roll."""
    ball = BallSpec("any", rg_in=2.5)
    one = slid(release, ball, UniformLane(mu), FAR)
    assume(one.start[4] > 0)  # along the lane the ball slips forward
    faster = slid(changed(release, speed_mph=release.speed_mph * more), ball, UniformLane(mu), FAR)
    assert faster.rolling[2] > one.rolling[2]


@quick
@given(hooks, factors, films)
def test_more_revs_end_in_more_hook_and_more_speed_once_rolled_out(release, more, film):
    """v_f = v0/(1+k) + s k/(1+k) (row 19 of the facts): revs add to both parts of the end. The
    path's direction gains where the side part gains more than its share, at these rotations."""
    ball = BallSpec("any", rg_in=2.5)
    lane = lane_friction(film, ball, scale=1.5)
    ends = [
        slid(one, ball, lane, FAR).velocity
        for one in (release, changed(release, rev_rpm=release.rev_rpm * more))
    ]
    side = [math.atan2(x, y) + math.radians(release.launch_deg) for x, y in ends]
    assert side[1] > side[0]
    assert np.hypot(*ends[1]) > np.hypot(*ends[0])


@quick
@given(st.lists(releases, min_size=2, max_size=6), films)
def test_a_batch_is_its_paths_one_by_one(many, film):
    ball = BallSpec("any")
    lane = lane_friction(film, ball)
    launches = np.concatenate([launch_of(one) for one in many])
    rotation = np.array([one.rotation_deg for one in many])
    tilt = np.array([one.tilt_deg for one in many])
    together = checkpoints(launches, rotation, tilt, ball, lane)
    for i, one in enumerate(many):
        alone = checkpoints(launch_of(one), one.rotation_deg, one.tilt_deg, ball, lane)[0]
        assert np.array_equal(together[i], alone, equal_nan=True)


def test_a_number_that_is_none_spoils_its_own_path_only():
    ball = BallSpec("any")
    lane = lane_friction(None, ball)
    whole = np.array([[20.0, 2.6, 17.5, 340.0]] * 5)
    launches = whole.copy()
    launches[range(4), range(4)] = math.nan
    seen = checkpoints(launches, 55, 12, ball, lane)
    assert np.isnan(seen[:4]).all()
    assert np.isfinite(seen[4]).all()
