"""Starting, changing and deleting sessions, and their pages."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from clients.models import Ball, Surface
from lanes import sessions, shots
from lanes.models import Block, Centre, Pattern, Session


@pytest.fixture
def carl(cast, as_user):
    return as_user(cast.carl)


def start(cast, **overrides):
    values = {
        "id": str(uuid.uuid4()),
        "centre": cast.centre.pk,
        "lanes": "7-8",
        "purpose": "practice",
        "balls": [cast.ball.pk],
        "watch": ["arrows", "leave"],
        **overrides,
    }
    return {name: value for name, value in values.items() if value is not None}


def test_three_taps_start_a_session_as_last_time(cast, carl):
    """The first tap is the client, the second the block, the third Start with nothing changed."""
    page = carl.get("/sessions/start/").content.decode()
    assert f'href="?client={cast.sam_client.pk}"' in page
    second = f"/sessions/start/?client={cast.sam_client.pk}"
    assert f"client={cast.sam_client.pk}&amp;block=new" in carl.get(second).content.decode()
    third = carl.get(f"{second}&block=new")
    form, block_form = third.context["form"], third.context["block_form"]
    posted = {
        "id": str(form["id"].value()),
        "balls": form["balls"].value(),
        "watch": form["watch"].value(),
        "centre": block_form["centre"].value(),
        "lanes": block_form["lanes"].value(),
        "purpose": block_form["purpose"].value(),
    }
    answer = carl.post(f"{second}&block=new", posted)
    session = Session.objects.get(pk=posted["id"])
    assert answer["Location"] == f"/sessions/{session.pk}/log/"
    assert session.block.centre == cast.centre
    assert {lane.number for lane in session.block.lanes.all()} == {7, 8}
    assert session.watch == ["arrows", "head_pin", "leave", "throw"]
    assert [ball.label for ball in session.balls.all()] == ["A"]


def test_a_session_keeps_release_and_surface_as_they_were(cast, carl):
    carl.post(f"/sessions/start/?client={cast.sam_client.pk}&block=new", start(cast))
    Surface.objects.create(ball=cast.ball, grit=500)
    cast.sam_client.speed_mph = 19
    cast.sam_client.save()
    session = Session.objects.exclude(pk__in=[cast.session.pk, cast.tess_session.pk]).get()
    ball = session.balls.get()
    assert (session.speed_mph, session.rev_rpm, session.hand) == (17.5, 350, "right")
    assert (ball.ball, ball.cover, ball.grit, ball.rg_in) == (cast.ball, "solid", 2000, 2.52)


def test_a_double_tap_starts_one_session(cast, carl):
    posted = start(cast)
    address = f"/sessions/start/?client={cast.sam_client.pk}&block=new"
    first, again = carl.post(address, posted), carl.post(address, posted)
    assert first["Location"] == again["Location"]
    assert Session.objects.filter(client=cast.sam_client).count() == 2
    assert Block.objects.count() == 2


def test_a_running_block_is_joined(cast, carl):
    address = f"/sessions/start/?client={cast.wendy_client.pk}"
    page = carl.get(address).content.decode()
    assert f"block={cast.block.pk}" in page
    assert f"with {cast.sam_client.name}" in page  # tells two blocks on the same lanes apart
    carl.post(f"{address}&block={cast.block.pk}", start(cast, centre=None, balls=None))
    session = cast.wendy_client.sessions.get()
    assert (session.block, session.hand) == (cast.block, "left")


def test_who_is_in_the_block_already_goes_on_there(cast, carl):
    page = carl.get(f"/sessions/start/?client={cast.sam_client.pk}").content.decode()
    assert f"/sessions/{cast.session.pk}/log/" in page


def test_yesterdays_block_is_not_offered(cast, carl):
    Block.objects.update(starts_at=timezone.now() - timedelta(days=1))
    page = carl.get(f"/sessions/start/?client={cast.wendy_client.pk}").content.decode()
    assert str(cast.block.pk) not in page
    assert "As last time" in page


def test_a_new_centre_and_its_lanes_are_written_down_on_the_way(cast, carl):
    posted = start(cast, centre=None, new_centre="Elm Street", lanes="3 and 4")
    carl.post(f"/sessions/start/?client={cast.sam_client.pk}&block=new", posted)
    centre = Centre.objects.get(name="Elm Street")
    assert list(centre.lanes.values_list("number", flat=True)) == [3, 4]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"centre": None}, "Choose a centre"),
        ({"lanes": "seven"}, "expected lanes such as"),
        ({"lanes": "1-40"}, "at most 8 lanes"),
        ({"watch": None}, "at least one thing to watch"),
        ({"purpose": "party"}, "not one of the available choices"),
    ],
)
def test_a_wrong_start_is_told_at_the_field_and_starts_nothing(cast, carl, changes, words):
    address = f"/sessions/start/?client={cast.sam_client.pk}&block=new"
    answer = carl.post(address, start(cast, **changes))
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert Session.objects.count() == 2


def test_balls_of_somebody_else_cannot_be_at_hand(cast, carl):
    address = f"/sessions/start/?client={cast.sam_client.pk}&block=new"
    answer = carl.post(address, start(cast, balls=[cast.tess_ball.pk]))
    assert answer.status_code == 200
    assert Session.objects.count() == 2


def test_a_ball_is_put_at_hand_in_the_middle(cast, carl):
    ball = Ball.objects.create(client=cast.sam_client, name="B", cover="pearl")
    assert "B</option>" in carl.get(f"/sessions/{cast.session.pk}/edit/").content.decode()
    for _ in range(2):
        carl.post(f"/sessions/{cast.session.pk}/balls/", {"ball": ball.pk})
    assert [b.label for b in cast.session.balls.all()] == ["A", "B"]
    stranger = carl.post(f"/sessions/{cast.session.pk}/balls/", {"ball": cast.tess_ball.pk})
    assert stranger.status_code == 404


def test_watch_and_note_are_changed(cast, carl):
    carl.post(
        f"/sessions/{cast.session.pk}/edit/", {"watch": ["laydown", "leave"], "note": "Tired."}
    )
    cast.session.refresh_from_db()
    assert (cast.session.watch, cast.session.note) == (["laydown", "leave"], "Tired.")
    assert cast.session.version == 2


def test_a_deleted_session_is_gone_from_every_page(cast, carl):
    carl.post(f"/sessions/{cast.session.pk}/delete/")
    assert str(cast.session.pk) not in carl.get("/sessions/").content.decode()
    for part in ("", "log/", "table/", "import/", "edit/", "shots.csv"):
        assert carl.get(f"/sessions/{cast.session.pk}/{part}").status_code == 404


def test_the_list_shows_whose_when_and_how_many(cast, carl):
    shots.log_shot(session=cast.session, by=cast.carl, values={})
    page = carl.get("/sessions/").content.decode()
    assert "1 shot<" in page
    assert str(cast.tess_session.pk) not in page
    mine = carl.get(f"/sessions/?client={cast.wendy_client.pk}").content.decode()
    assert "No session of Wendy yet" in mine
    assert carl.get(f"/sessions/?client={cast.tess_client.pk}").status_code == 404


def test_the_list_takes_the_same_queries_for_one_session_and_for_many(
    cast, carl, django_assert_max_num_queries
):
    for _ in range(5):
        sessions.start_session(by=cast.carl, client=cast.sam_client, block=cast.block)
    carl.get("/sessions/")
    # cookie, user, roles, count, sessions, clients for the filter; roles of the menu
    with django_assert_max_num_queries(8):
        carl.get("/sessions/")


def test_a_session_shows_its_score_by_frames(cast, carl):
    for frame in range(1, 10):
        shots.log_shot(
            session=cast.session,
            by=cast.carl,
            values={"game": 1, "frame": frame, "leave": "X", "ball": "A"},
        )
    for delivery in (1, 2, 3):
        values = {"game": 1, "frame": 10, "delivery": delivery, "leave": "X"}
        shots.log_shot(session=cast.session, by=cast.carl, values=values)
    page = carl.get(f"/sessions/{cast.session.pk}/").content.decode()
    assert "Game 1: 300" in page  # twelve strikes: the perfect game of the published rules


def test_a_pattern_is_named_and_a_house_pattern_said_to_be_assumed(cast, carl):
    page = carl.get(f"/sessions/{cast.session.pk}/").content.decode()
    assert "ordinary house (assumed)" in page
    cast.block.pattern = Pattern.objects.create(name="Gorse", layers=[], volume_ml=20, length_ft=40)
    cast.block.save()
    assert "Gorse" in carl.get(f"/sessions/{cast.session.pk}/").content.decode()


@pytest.mark.parametrize("name", ["nick", "dora", "otto", "sam"])
@pytest.mark.parametrize("part", ["", "log/", "table/", "import/", "edit/", "shots.csv"])
def test_a_stranger_finds_no_session(cast, as_user, name, part):
    browser = as_user(getattr(cast, name))
    assert browser.get(f"/sessions/{cast.session.pk}/{part}").status_code == 404


def test_the_export_is_what_the_import_reads(cast, carl):
    shots.log_shot(
        session=cast.session, by=cast.carl, values={"arrows": 12.5, "leave": "10", "ball": "A"}
    )
    csv = carl.get(f"/sessions/{cast.session.pk}/shots.csv")
    assert csv["Content-Disposition"].endswith('.csv"')
    assert "1,,,1,,A,,,,12.5" in csv.content.decode("utf-8-sig")
    book = carl.get(f"/sessions/{cast.session.pk}/shots.xlsx")
    assert book.content.startswith(b"PK")
    assert carl.get(f"/sessions/{cast.session.pk}/shots.pdf").status_code == 404


@pytest.mark.parametrize("part", ["", "log/", "table/", "shots.csv"])
def test_a_page_takes_the_same_queries_for_one_shot_and_for_many(cast, carl, part):
    def queries():
        with CaptureQueriesContext(connection) as caught:
            carl.get(f"/sessions/{cast.session.pk}/{part}")
        return len(caught)

    shots.log_shot(session=cast.session, by=cast.carl, values={"ball": "A", "leave": "10"})
    queries()
    one = queries()
    for _ in range(5):
        shots.log_shot(session=cast.session, by=cast.carl, values={"ball": "A", "leave": "10"})
    assert queries() == one


def test_start_pressed_again_after_the_session_was_deleted_starts_a_new_one(cast, carl):
    page, form = f"/sessions/start/?client={cast.sam_client.pk}&block=new", start(cast)
    carl.post(page, form)
    carl.post(f"/sessions/{form['id']}/delete/")
    answer = carl.post(page, form)
    assert answer.status_code == 302
    assert form["id"] not in answer["Location"]
    assert carl.get(answer["Location"]).status_code == 200
