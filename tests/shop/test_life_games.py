"""Games on a ball: counted by hand from small logs, entered ones, and where they go from there."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from clients import life
from clients.models import Ball, Surface
from lanes import readings, sessions
from lanes.games import games_on, on_each_surface, on_surface_now
from lanes.locker import spec_of
from lanes.models import SessionBall, Shot
from lanes.sessions import BlockFacts

TODAY = timezone.localdate


def game(session, number: int | None, thrown: list[tuple[SessionBall | None, int]]) -> None:
    """Log one game: which ball, which delivery."""
    start = session.shots.count()
    Shot.objects.bulk_create(
        Shot(session=session, number=start + n, game=number, ball=ball, delivery=delivery)
        for n, (ball, delivery) in enumerate(thrown, start=1)
    )


@pytest.fixture
def spare(cast) -> SessionBall:
    ball = Ball.objects.create(client=cast.sam_client, name="S", cover="plastic")
    return SessionBall.objects.create(session=cast.session, label="S", ball=ball, cover="plastic")


def test_a_whole_game_with_one_ball_is_a_game_on_it(cast):
    a = cast.session_ball
    game(cast.session, 1, [(a, 1)] * 10 + [(a, 2)] * 6)
    assert games_on([cast.ball])[cast.ball.pk].between().logged == pytest.approx(1.0)


def test_a_spare_ball_gets_its_share_and_both_add_up_to_the_games(cast, spare):
    a = cast.session_ball
    for number in (1, 2, 3):
        game(cast.session, number, [(a, 1)] * 10 + [(spare, 2)] * 5)
    games = games_on([cast.ball, spare.ball])
    assert games[cast.ball.pk].between().logged == pytest.approx(3 * 10 / 15)
    assert games[spare.ball.pk].between().logged == pytest.approx(3 * 5 / 15)


def test_half_a_game_is_half_and_fill_balls_make_no_more_of_it(cast):
    a = cast.session_ball
    game(cast.session, 1, [(a, 1)] * 5)
    game(cast.session, 2, [(a, 1)] * 12)
    assert games_on([cast.ball])[cast.ball.pk].between().logged == pytest.approx(1.5)


def test_practice_without_games_counts_ten_first_balls_to_a_game(cast):
    game(cast.session, None, [(cast.session_ball, 1)] * 25)
    assert games_on([cast.ball])[cast.ball.pk].between().logged == pytest.approx(2.5)


def test_deliveries_without_a_ball_are_the_only_ones_or_nobodys(cast, spare):
    game(cast.session, 1, [(None, 1)] * 10)
    assert games_on([cast.ball])[cast.ball.pk].between().all == 0.0
    spare.delete()
    assert games_on([cast.ball])[cast.ball.pk].between().logged == pytest.approx(1.0)


def test_deleted_shots_and_sessions_do_not_count(cast):
    game(cast.session, 1, [(cast.session_ball, 1)] * 10)
    Shot.objects.filter(number__gt=5).update(deleted_at=timezone.now())
    assert games_on([cast.ball])[cast.ball.pk].between().logged == pytest.approx(0.5)
    sessions.delete_session(session=cast.session, by=cast.carl)
    assert games_on([cast.ball])[cast.ball.pk].between().all == 0.0


def test_each_surface_has_the_games_from_its_day_on(cast):
    Surface.objects.filter(ball=cast.ball).update(done_on=TODAY() - timedelta(days=30))
    for days, games in ((40, 4), (30, 3), (12, 5), (0, 2)):
        life.write_down(
            ball=cast.ball,
            kind="games",
            by=cast.otto,
            on=TODAY() - timedelta(days=days),
            games=games,
        )
    assert on_surface_now([cast.ball]) == {cast.ball.pk: 10.0}
    Surface.objects.create(ball=cast.ball, grit=500, done_on=TODAY() - timedelta(days=12))
    newest, old = cast.ball.surfaces.all()
    tallies = on_each_surface(cast.ball, games_on([cast.ball])[cast.ball.pk])
    assert (tallies[newest.pk].all, tallies[old.pk].all) == (7.0, 3.0)


def test_drawing_oil_out_and_cleaning_do_not_make_the_surface_new(cast):
    life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=TODAY(), games=12)
    for kind in ("oil_out", "cleaned"):
        life.write_down(ball=cast.ball, kind=kind, by=cast.otto, on=TODAY())
    assert on_surface_now([cast.ball]) == {cast.ball.pk: 12.0}


def test_a_ball_without_a_surface_has_no_games_on_it(cast):
    life.write_down(ball=cast.tess_ball, kind="games", by=cast.otto, on=TODAY(), games=12)
    assert on_surface_now([cast.tess_ball]) == {cast.tess_ball.pk: None}
    assert spec_of(cast.tess_ball).games is None


def test_the_games_reach_the_core_and_a_new_sessions_snapshot(cast):
    life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=TODAY(), games=12)
    game(cast.session, 1, [(cast.session_ball, 1)] * 10)
    assert spec_of(cast.ball).games == pytest.approx(13.0)
    session, _ = sessions.start_session(
        by=cast.carl, client=cast.sam_client, block=BlockFacts(cast.centre), balls=[cast.ball]
    )
    assert session.balls.get().games == pytest.approx(13.0)
    assert readings.ball_specs(session)[0].games == pytest.approx(13.0)
    # A session that was logged before the count was kept reads as it did.
    assert readings.ball_specs(cast.session)[0].games is None


def test_a_session_of_an_earlier_day_has_the_games_of_that_day(cast):
    Surface.objects.filter(ball=cast.ball).update(done_on=TODAY() - timedelta(days=30))
    for days, games in ((20, 6), (2, 9)):
        on = TODAY() - timedelta(days=days)
        life.write_down(ball=cast.ball, kind="games", by=cast.otto, on=on, games=games)
    facts = BlockFacts(cast.centre, starts_at=timezone.now() - timedelta(days=10))
    session, _ = sessions.start_session(
        by=cast.carl, client=cast.sam_client, block=facts, balls=[cast.ball]
    )
    assert session.balls.get().games == pytest.approx(6.0)


def test_counting_asks_three_questions_for_any_number_of_balls(cast, django_assert_num_queries):
    balls = [cast.ball, cast.tess_ball]
    for number in range(10):
        ball = Ball.objects.create(client=cast.sam_client, name=f"B{number}", cover="pearl")
        at_hand = SessionBall.objects.create(session=cast.session, label=ball.name, ball=ball)
        game(cast.session, number + 1, [(at_hand, 1)] * 10)
        balls.append(ball)
    with django_assert_num_queries(3):
        games = games_on(balls)
    assert sum(one.between().logged for one in games.values()) == pytest.approx(10.0)
