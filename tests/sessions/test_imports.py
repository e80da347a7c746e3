"""A log file on its way into a session: nothing counts before the yes, nothing is doubled."""

import json
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from clients.models import AuditEntry, Ball
from lanes import shots
from lanes.models import ImportDraft, Session, Shot

LOG = """shot,ball,arrows,head_pin,leave,throw,weather
1,A,12.5,17.5,X,good,dry
2,A,13,16,10,,
3,B,"12,5",18,3-10,off,
"""
BAD = """shot,arrows,leave
1,12,X
2,55,10
3,twelve,11
"""


@pytest.fixture
def carl(cast, as_user):
    return as_user(cast.carl)


def upload(browser, session, text, name="log.csv"):
    data = text if isinstance(text, bytes) else text.encode()
    return browser.post(f"/sessions/{session.pk}/import/", {"file": SimpleUploadedFile(name, data)})


def test_a_file_is_looked_at_before_it_counts(cast, carl):
    address = upload(carl, cast.session, LOG)["Location"]
    page = carl.get(address)
    assert not Shot.objects.exists()
    text = page.content.decode()
    assert "Import 3 shots" in text
    assert "weather" in text
    assert "“B” in the file" in text
    carl.post(address, {"choice": "take"})
    logged = shots.logged_shots(cast.session)
    assert [shot.leave for shot in logged] == ["X", "10", "3-10"]
    assert logged[2].arrows == 12.5
    assert Shot.objects.get(number=1).extra == {"weather": "dry"}
    assert [ball.label for ball in cast.session.balls.all()] == ["A", "B"]
    assert AuditEntry.objects.get(action="log.imported").data["new"] == 3


def test_a_repeated_import_doubles_nothing(cast, carl):
    first = upload(carl, cast.session, LOG)["Location"]
    carl.post(first, {"choice": "take"})
    carl.post(first, {"choice": "take"})  # a second tap
    assert bytes(ImportDraft.objects.get().data) == b""  # the file has done its work
    again = upload(carl, cast.session, LOG)["Location"]
    found = carl.get(again).context["found"]
    assert (len(found.new), len(found.same), len(found.changed)) == (0, 3, 0)
    carl.post(again, {"choice": "take"})
    assert Shot.objects.count() == 3


def test_bad_cells_are_shown_and_the_good_rows_taken(cast, carl):
    address = upload(carl, cast.session, BAD)["Location"]
    text = carl.get(address).content.decode()
    for words in ("55", "Board 55 is out of range", "twelve", "There is no pin 11", "2 rows stay"):
        assert words.lower() in text.lower()
    assert "Import the 1 good row<" in text
    carl.post(address, {"choice": "take"})
    assert [shot.shot for shot in shots.logged_shots(cast.session)] == [1]


def test_or_nothing_at_all_is_taken(cast, carl):
    address = upload(carl, cast.session, BAD)["Location"]
    carl.post(address, {"choice": "discard"})
    assert not Shot.objects.exists()
    assert not ImportDraft.objects.exists()
    assert Session.objects.visible_to(cast.carl).filter(pk=cast.session.pk).exists()


def test_changed_shots_change_only_on_the_coachs_yes(cast, carl):
    carl.post(upload(carl, cast.session, LOG)["Location"], {"choice": "take"})
    other = LOG.replace("13,16,10", "14,16,10")
    first = upload(carl, cast.session, other)["Location"]
    found = carl.get(first).context["found"]
    assert [d.column for d in found.changed[0].differences] == ["arrows"]
    page = carl.get(first).content.decode()
    # Where the file brings nothing but changes, the button is the coach's yes.
    assert '<input type="hidden" name="update" value="1">' in page
    assert "Change 1 shot</button>" in page
    carl.post(first, {"choice": "take"})
    assert Shot.objects.get(number=2).arrows == 13
    longer = carl.get(upload(carl, cast.session, other + "9,A,12,16,X,good,\n")["Location"])
    assert '<input type="checkbox" id="update"' in longer.content.decode()
    second = upload(carl, cast.session, other)["Location"]
    carl.post(second, {"choice": "take", "update": "1"})
    shot = Shot.objects.get(number=2)
    assert (shot.arrows, shot.version) == (14, 2)


def test_the_list_says_where_a_file_waits(cast, carl):
    address = upload(carl, cast.session, LOG)["Location"]
    assert "a file waits" in carl.get("/sessions/").content.decode()
    carl.post(address, {"choice": "take"})
    assert "a file waits" not in carl.get("/sessions/").content.decode()


def test_a_column_that_the_file_lacks_changes_nothing(cast, carl):
    carl.post(upload(carl, cast.session, LOG)["Location"], {"choice": "take"})
    address = upload(carl, cast.session, "shot,head_pin\n1,17\n")["Location"]
    carl.post(address, {"choice": "take", "update": "1"})
    shot = Shot.objects.get(number=1)
    assert (shot.head_pin, shot.arrows, shot.leave) == (17, 12.5, "X")


@pytest.mark.parametrize(("answer", "label"), [("is:A", "A"), ("none", None), ("add", "B")])
def test_a_label_that_is_not_at_hand_is_the_coachs_to_say(cast, carl, answer, label):
    address = upload(carl, cast.session, LOG)["Location"]
    carl.post(address, {"choice": "take", "ball:B": answer})
    ball = Shot.objects.get(number=3).ball
    assert (ball and ball.label) == label


def test_an_added_label_takes_the_facts_of_the_clients_ball(cast, carl):
    Ball.objects.create(client=cast.sam_client, name="B", cover="pearl", rg_in=2.55)
    carl.post(upload(carl, cast.session, LOG)["Location"], {"choice": "take"})
    ball = cast.session.balls.get(label="B")
    assert (ball.cover, ball.rg_in) == ("pearl", 2.55)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "The file is empty"),
        (b"shot,arrows\n\n", "no shot below it"),
        (b"a,b\n1,2\n", "no column &quot;shot&quot;"),
        (b"\x00\x01\x02\xff" * 50, "binary data"),
        (b"shot\n" + b"1\n" * 2_600_000, "too large"),
    ],
)
def test_a_file_that_is_no_log_gets_one_message_and_leaves_nothing(cast, carl, data, words):
    answer = upload(carl, cast.session, data)
    assert answer.status_code == 200
    assert words in answer.content.decode()
    assert not ImportDraft.objects.exists()


def new_session(cast, text=LOG, **overrides):
    values = {
        "id": str(uuid.uuid4()),
        "client": cast.sam_client.pk,
        "starts_at": "2026-03-04T18:30",
        "centre": cast.centre.pk,
        "lanes": "7, 8",
        "purpose": "league",
        "file": SimpleUploadedFile("night.csv", text.encode()),
        **overrides,
    }
    return {name: value for name, value in values.items() if value is not None}


def test_a_log_becomes_a_session_of_its_own(cast, carl):
    answer = carl.post("/sessions/import/", new_session(cast))
    draft = ImportDraft.objects.get()
    assert answer["Location"] == f"/imports/{draft.pk}/?new=1"
    assert draft.session.block.is_competition
    assert draft.session.watch == ["arrows", "head_pin", "leave", "throw"]
    assert (
        "A file waits for your yes" in carl.get(f"/sessions/{draft.session.pk}/").content.decode()
    )
    carl.post(answer["Location"], {"choice": "take"})
    assert draft.session.shots.count() == 3


def test_a_session_made_for_a_file_goes_with_it(cast, carl):
    address = carl.post("/sessions/import/", new_session(cast))["Location"]
    carl.post(address, {"choice": "discard", "new": "1"})
    assert Session.objects.visible_to(cast.carl).count() == 1


@pytest.mark.parametrize("day", ["0001-01-01T00:00", "9999-12-31T23:59", "2206-03-04T18:30"])
def test_a_day_that_no_session_had_is_a_slip_of_the_keyboard(cast, carl, day):
    answer = carl.post("/sessions/import/", new_session(cast, starts_at=day))
    assert "from 1950 to next year" in answer.content.decode()
    assert not ImportDraft.objects.exists()


def test_a_bad_file_starts_no_session(cast, carl):
    answer = carl.post("/sessions/import/", new_session(cast, text="nothing,here\n1,2\n"))
    assert "no column" in answer.content.decode()
    assert Session.objects.count() == 2


def test_a_log_for_somebody_elses_client_is_refused(cast, carl):
    answer = carl.post("/sessions/import/", new_session(cast, client=cast.tess_client.pk))
    assert answer.status_code == 200
    assert Session.objects.count() == 2


@pytest.mark.parametrize("name", ["nick", "dora", "otto", "sam"])
def test_a_stranger_finds_no_preview(cast, carl, as_user, name):
    address = upload(carl, cast.session, LOG)["Location"]
    browser = as_user(getattr(cast, name))
    assert browser.get(address).status_code == 404
    assert browser.post(address, {"choice": "take"}).status_code == 404
    assert not Shot.objects.exists()


def test_a_client_file_says_how_release_and_balls_were_that_day(cast, carl):
    told = {
        "hand": "left",
        "speed_mph": 18.5,
        "balls": [{"name": "A", "cover": "pearl", "grit": 500}, {"name": "B", "rg_in": 2.6}],
    }
    file = SimpleUploadedFile("sam.client.json", json.dumps(told).encode())
    carl.post("/sessions/import/", new_session(cast, values=file))
    session = ImportDraft.objects.get().session
    assert (session.hand, session.speed_mph, session.rev_rpm) == ("left", 18.5, 350)
    first, second = session.balls.all()
    assert (first.label, first.ball, first.cover, first.grit) == ("A", cast.ball, "pearl", 500)
    assert (second.label, second.ball, second.rg_in) == ("B", None, 2.6)


@pytest.mark.parametrize(
    ("data", "words"),
    [(b"{", "not JSON"), (b"{}", "hand: missing"), (b'{"hand": "both"}', "one of right, left")],
)
def test_a_client_file_that_cannot_be_is_told_at_its_field(cast, carl, data, words):
    file = SimpleUploadedFile("sam.client.json", data)
    answer = carl.post("/sessions/import/", new_session(cast, values=file))
    assert words in answer.context["form"].errors["values"][0]
    assert Session.objects.count() == 2


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_an_export_comes_back_the_same(cast, carl, kind):
    """Also 6-10, of which a spreadsheet would make a date, and the columns we do not know."""
    carl.post(
        upload(carl, cast.session, LOG.replace(",10,,", ",6-10,,"))["Location"], {"choice": "take"}
    )
    file = carl.get(f"/sessions/{cast.session.pk}/shots.{kind}").content
    found = carl.get(upload(carl, cast.session, file, f"shots.{kind}")["Location"]).context["found"]
    assert (len(found.new), len(found.same), len(found.changed)) == (0, 3, 0)
    assert found.parsed.unknown_columns == ("weather",)
