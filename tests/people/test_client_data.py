"""The copy of what is kept of a client, and deletion: nothing forgotten, nothing left behind.

Both are held to the models themselves, walked by their keys, and to the text of every row.
"""

from __future__ import annotations

import csv
import io
import json
import zipfile

import pytest
from django.apps import apps
from django.core.files.storage import default_storage
from django.db import connection, models, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from clients import fits, outbox
from clients.models import (
    AuditEntry,
    AxisPoint,
    Client,
    FitHole,
    FitSheet,
    Guardianship,
    Job,
    Mail,
    User,
)
from coachsite import client_copy, farewell
from coachsite.client_copy import Scope
from coachsite.kept import KEPT, hanging_on
from lanes import shots
from lanes.models import Answer, Block, Receipt, Session, Shot
from lanes.shotlog import parse_rows, read_table

# Words that only one of the parts has, so that it can be looked for in a whole file.
NOTE, SHOP_NOTE, SHOT_NOTE = "keep-it-to-ourselves", "pays-late", "elbow-again"
DRAFT = "not-sent-yet"


@pytest.fixture
def kept(world):
    """The walk's world, with a row of every table for Sam and a name nobody else has."""
    w = world
    w.sam_client.name = "Zebulon Quux"
    w.sam_client.coach_notes = NOTE
    w.sam_client.save()
    User.objects.filter(pk=w.sam.pk).update(name="Zebulon Quux", email="zebulon@example.org")
    Session.objects.filter(client=w.sam_client).update(note=NOTE)
    Shot.objects.filter(pk=w.shot.pk).update(note=SHOT_NOTE, arrows=11.5, leave="10")
    w.ticket.note = SHOP_NOTE
    w.ticket.save()
    w.draft.coach_words = DRAFT
    w.draft.save()
    sheet = FitSheet(client=w.sam_client, bridge_in=0.25)
    fits.add_fit(sheet, [FitHole(finger="thumb", size_in=1.0)], by=w.otto)
    AxisPoint.objects.create(client=w.sam_client, repeats=[[5.0, 0.5]])
    Receipt.objects.create(report=w.sent, user=w.sam)
    Answer.objects.create(report=w.sent, author=w.sam, text="Went well, said Zebulon Quux.")
    # Gina is Sam's guardian too, beside Wendy's; Pam is nobody's but Sam's.
    w.pam = User.objects.create_user(
        name="Pam", email="pam@example.org", password="a lane of boards", roles=["guardian"]
    )
    for guardian in (w.gina, w.pam):
        bond = Guardianship.objects.create(guardian=guardian, client=w.sam_client)
        bond.consents.create(kind="clips", wording="I agree to clips of Zebulon Quux.")
    w.sam_client.invitations.create(
        name="Pat", role="guardian", token_hash="5ecret" * 10, created_by=w.carl,
        expires_at="2030-01-01T00:00Z",
    )  # fmt: skip
    outbox.write(
        key="k", to=w.pam, subject="To Pam", body="about Zebulon Quux", client=w.sam_client
    )
    outbox.write_to_address(
        key="l", address="pat@example.org", subject="Join", body="/join/livelink/",
        client=w.sam_client,
    )  # fmt: skip
    for one in KEPT:
        if not one.rows_of(w.sam_client).exists():
            _a_row(one.table, w)
    return w


def _a_row(table: type[models.Model], w) -> None:
    """Put a row of a table there that hangs on Sam's other rows, with plain values in the rest."""
    sams = {one.table: one for one in KEPT}
    plain = {
        models.CharField: "x",
        models.TextField: "x",
        models.FloatField: 1.0,
        models.IntegerField: 1,
        models.JSONField: {},
        models.DateTimeField: timezone.now(),
        models.DateField: timezone.localdate(),
    }
    values = {}
    for field in table._meta.concrete_fields:
        if field.primary_key or field.has_default() or (field.null and not field.is_relation):
            continue
        if field.related_model is User:
            values[field.name] = w.carl
        elif field.is_relation and field.related_model in sams:
            values[field.name] = sams[field.related_model].rows_of(w.sam_client).last()
        elif field.is_relation and not field.null:
            raise AssertionError(f"give Sam a row of {table._meta.label} by hand: {field.name}")
        elif not field.is_relation:
            kind = next(kind for kind in plain if isinstance(field, kind))
            values[field.name] = field.choices[0][0] if field.choices else plain[kind]
    table._default_manager.create(**values)


def ask(browser, name: str, client: Client, data=None):
    url = reverse(f"clients:{name}", args=[client.pk])
    return browser.post(url, data or {})


def opened(response) -> zipfile.ZipFile:
    assert response["Content-Type"] == "application/zip"
    return zipfile.ZipFile(io.BytesIO(b"".join(response.streaming_content)))


def everything(archive: zipfile.ZipFile) -> dict:
    return json.loads(archive.read("everything.json"))


def all_text(archive: zipfile.ZipFile) -> str:
    return "".join(archive.read(name).decode("utf-8", "replace") for name in archive.namelist())


# No table is forgotten.


def test_every_model_that_hangs_on_a_client_is_named():
    named = {kept.model for kept in KEPT}
    hanging = hanging_on()
    assert not hanging - named, (
        f"{hanging - named} hang on a client: name them in coachsite/kept.py, with the way to the "
        "client and who gets them; and give Sam a row in this file's world"
    )
    assert not named - hanging, f"no such tables any more: {named - hanging}"


def test_the_world_has_a_row_of_each(kept):
    missing = [one.model for one in KEPT if not one.rows_of(kept.sam_client).exists()]
    assert not missing, f"give Sam a row of {missing}, or nothing below tests them"


# The copy.


def test_the_whole_copy_has_every_row_and_file(kept, as_user):
    archive = opened(ask(as_user(kept.carl), "copy", kept.sam_client))
    told = everything(archive)["kept"]
    for one in KEPT:
        rows = one.rows_of(kept.sam_client)
        key = one.table._meta.pk.name
        assert [str(row[key]) for row in told[one.name]] == [str(row.pk) for row in rows], one.model
        # Every column is there, but for hashes of links and raw bytes, which are files.
        columns = {
            f.name for f in one.table._meta.concrete_fields if not isinstance(f, models.BinaryField)
        } - set(one.secret)
        assert columns <= set(told[one.name][0])
    kept.photo.picture.open("rb")
    name = told["ticket photos"][0]["picture"]
    assert archive.read(name) == kept.photo.picture.read()
    kept.photo.picture.close()
    [upload] = [name for name in archive.namelist() if name.startswith("imports/")]
    assert archive.read(upload) == b"shot,arrows\n5,11.5\n"
    text = all_text(archive)
    for word in (NOTE, SHOP_NOTE, SHOT_NOTE, DRAFT, "zebulon@example.org", "To Pam"):
        assert word in text, word
    for word in ("5ecret", "livelink", "argon2", "pbkdf2", kept.sam.password):
        assert word not in text, word
    assert "session.started" in text or "ticket." in text  # who did what
    wrote = AuditEntry.objects.filter(action="client.copied").get()
    assert (wrote.actor, wrote.data) == (kept.carl, {"copy": "whole"})


def test_the_shots_of_the_copy_can_be_imported_again(kept, as_user):
    archive = opened(ask(as_user(kept.carl), "copy", kept.sam_client))
    [log] = [name for name in archive.namelist() if name.startswith("shots/0")]
    parsed = parse_rows(read_table(archive.read(log), log))
    logged = shots.logged_shots(kept.session)
    assert [row.shot for row in parsed.rows] == logged
    table = io.StringIO(archive.read("shots/all-shots.csv").decode("utf-8-sig"))
    rows = list(csv.DictReader(table))
    assert len(rows) == len(logged)
    assert (rows[0]["shot"], rows[0]["arrows"], rows[0]["leave"]) == ("1", "11.5", "10")


def test_the_clients_own_copy_has_no_notes_drafts_or_letters_to_others(kept, as_user):
    archive = opened(ask(as_user(kept.sam), "copy", kept.sam_client))
    told, text = everything(archive), all_text(archive)
    for word in (NOTE, SHOP_NOTE, SHOT_NOTE, DRAFT, "To Pam", "livelink", "5ecret", "imports/1"):
        assert word not in text, word
    assert {row["state"] for row in told["kept"]["reports"]} == {"sent"}
    assert len(told["kept"]["readings"]) == 1
    for name in ("balls", "shots", "answers", "consents", "tickets", "layouts", "fit sheets"):
        assert told["kept"][name], name
    assert "changes" not in told
    assert {letter["to"] for letter in told["kept"]["mails"]} == {"Zebulon Quux"}
    assert "right to" in archive.read("README.txt").decode()
    html = (
        as_user(kept.sam).get(reverse("clients:copy", args=[kept.sam_client.pk])).content.decode()
    )
    assert "notes that coach and shop made for themselves" in html


def test_a_guardians_copy_is_the_wards_with_the_guardians_letters(kept, as_user):
    told = everything(opened(ask(as_user(kept.pam), "copy", kept.sam_client)))
    assert {letter["to"] for letter in told["kept"]["mails"]} == {"Zebulon Quux", "Pam"}
    assert ask(as_user(kept.pam), "copy", kept.wendy_client).status_code == 404


def test_the_shops_copy_is_gear_alone(kept, as_user):
    archive = opened(ask(as_user(kept.otto), "copy", kept.sam_client))
    told, text = everything(archive), all_text(archive)
    gear = {one.name for one in KEPT if one.part == "gear"} | {"clients"}
    assert set(told["kept"]) == gear
    for word in (NOTE, SHOT_NOTE, DRAFT, "zebulon@", "Pam", "I agree", "rev_rpm", "speed_mph"):
        assert word not in text, word
    assert SHOP_NOTE in text


def test_a_copy_asks_as_many_questions_for_ten_shots_as_for_one(kept):
    def questions() -> int:
        with CaptureQueriesContext(connection) as queries:
            client_copy.write_copy(kept.sam_client, Scope.WHOLE, kept.carl, io.BytesIO())
        return len(queries)

    few = questions()
    Shot.objects.bulk_create(Shot(session=kept.session, number=n) for n in range(20, 30))
    assert questions() <= few


def test_a_picture_whose_file_is_gone_is_said_so(kept, as_user):
    default_storage.delete(kept.photo.picture.name)
    archive = opened(ask(as_user(kept.carl), "copy", kept.sam_client))
    assert [name for name in archive.namelist() if name.endswith(".missing.txt")]


# Deletion.


def _texts(needle: str) -> list[str]:
    """Return the rows of the whole database in which a text stands, by their columns."""
    found = []
    for model in apps.get_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, models.CharField | models.TextField | models.JSONField):
                rows = model._default_manager.values_list(field.attname, flat=True)
                if any(needle in str(value) for value in rows):
                    found.append(f"{model._meta.label}.{field.name}")
    return found


def test_deletion_leaves_no_row_no_file_and_no_name(
    kept, as_user, django_capture_on_commit_callbacks
):
    rows = {one: list(one.rows_of(kept.sam_client).values_list("pk", flat=True)) for one in KEPT}
    others = {one.model: one.table._default_manager.count() - len(pks) for one, pks in rows.items()}
    picture = kept.photo.picture.name
    assert default_storage.exists(picture)
    assert "clients.Client.name" in _texts("Zebulon Quux")
    with django_capture_on_commit_callbacks(execute=True):
        response = ask(as_user(kept.olive), "delete", kept.sam_client, {"name": " zebulon  quux "})
    assert response["Location"] == reverse("clients:list")
    for one, pks in rows.items():
        left = one.table._default_manager.filter(pk__in=pks)
        if one.stays:
            assert not one.rows_of(kept.sam_client).exists()
        else:
            assert not left.exists(), one.model
    assert not default_storage.exists(picture)
    assert _texts("Zebulon") == []
    assert _texts("zebulon@") == []
    assert not Job.objects.filter(subject=str(kept.session.pk)).exists()
    # Others keep all of theirs, but for accounts' letters.
    for one in KEPT:
        if one.model not in ("clients.Mail", "clients.Client"):
            assert one.table._default_manager.count() == others[one.model], one.model
    assert Block.objects.filter(pk=kept.block.pk).exists()  # Tess bowled in it too
    # Sam's account and Pam's existed for Sam alone; Gina has Wendy.
    assert not User.objects.filter(pk__in=[kept.sam.pk, kept.pam.pk]).exists()
    assert User.objects.filter(pk=kept.gina.pk).exists()
    entry = AuditEntry.objects.get(action="client.deleted")
    assert entry.actor == kept.olive
    assert entry.data["took"]["balls"] == 1


def test_a_second_tap_finds_nobody_and_says_nothing_bad(kept, as_user):
    browser = as_user(kept.olive)
    for _ in range(2):
        response = ask(browser, "delete", kept.sam_client, {"name": "Zebulon Quux"})
        assert response.status_code == 302
    assert AuditEntry.objects.filter(action="client.deleted").count() == 1


@pytest.mark.parametrize("name", ["", "Zebulon", "Tess"])
def test_another_name_deletes_nothing(kept, as_user, name):
    response = ask(as_user(kept.olive), "delete", kept.sam_client, {"name": name})
    assert response.status_code == 200
    assert 'class="error"' in response.content.decode()
    assert Client.objects.filter(pk=kept.sam_client.pk).exists()


def test_a_block_in_which_nobody_else_bowled_goes_too(kept, cast):
    block = Block.objects.create(centre=kept.centre, created_by=kept.carl)
    Session.objects.create(
        block=block, client=kept.sam_client, hand="right", hook="usual", style="one"
    )
    farewell.delete_client(kept.sam_client, by=kept.olive)
    assert not Block.objects.filter(pk=block.pk).exists()


def test_a_ball_that_was_passed_on_takes_nobody_elses_lessons_along(kept):
    """Sam's ball is in Tess's session: her session keeps its numbers, and she keeps her shots."""
    at_hand = kept.tess_session.balls.create(label="lent", ball=kept.ball, cover="solid", grit=900)
    farewell.delete_client(kept.sam_client, by=kept.olive)
    at_hand.refresh_from_db()
    assert (at_hand.ball, at_hand.label, at_hand.grit) == (None, "lent", 900)


def test_a_deletion_that_fails_halfway_takes_nothing(kept, monkeypatch):
    def broken(*args, **kwargs):
        raise RuntimeError("power cut")

    monkeypatch.setattr(farewell.audit, "record", broken)
    before = {one.model: one.rows_of(kept.sam_client).count() for one in KEPT}
    with pytest.raises(RuntimeError), transaction.atomic():
        farewell.delete_client(kept.sam_client, by=kept.olive)
    assert {one.model: one.rows_of(kept.sam_client).count() for one in KEPT} == before
    assert default_storage.exists(kept.photo.picture.name)


def test_the_page_says_what_goes_and_warns_of_open_work(kept, as_user):
    html = as_user(kept.olive).get(reverse("clients:delete", args=[kept.sam_client.pk]))
    text = html.content.decode()
    assert f"ticket {kept.ticket.number}" in text
    assert "accounts to log in with: 2" in text
    assert "Pam" in text
    assert str(Mail.objects.filter(client=kept.sam_client).count()) in text
