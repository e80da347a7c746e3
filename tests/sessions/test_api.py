"""The shot log's JSON side: what the phone and the table rely on."""

import json
import uuid

import pytest
from django.test import Client as Browser

from lanes.models import Shot


@pytest.fixture
def carl(cast, as_user):
    return as_user(cast.carl)


@pytest.fixture
def address(cast):
    return f"/api/sessions/{cast.session.pk}/shots"


def send(browser, method, address, body=None):
    return getattr(browser, method)(address, data=json.dumps(body), content_type="application/json")


def test_a_shot_is_logged_and_answered_with_number_and_version(carl, address):
    key = str(uuid.uuid4())
    answer = send(carl, "post", address, {"id": key, "arrows": 12.5, "leave": "x", "ball": "A"})
    assert answer.status_code == 201
    row = answer.json()
    assert (row["id"], row["version"], row["shot"], row["leave"]) == (key, 1, 1, "X")
    assert carl.get(address).json() == {"shots": [row]}


def test_sent_twice_it_is_logged_once(carl, address):
    shot = {"id": str(uuid.uuid4()), "arrows": 12.5}
    first, again = (send(carl, "post", address, shot) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert Shot.objects.count() == 1


def test_a_number_that_was_taken_comes_back_as_the_next_free_one(carl, address):
    send(carl, "post", address, {"shot": 4})
    assert send(carl, "post", address, {"shot": 4}).json()["shot"] == 5


@pytest.mark.parametrize(
    ("body", "column"),
    [
        ({"arrows": 55}, "arrows"),
        ({"head_pin": "wide"}, "head_pin"),
        ({"leave": "3-3"}, "leave"),
        ({"ball": "unknown"}, "ball"),
        ({"id": "7"}, "id"),
        ({"colour": "red"}, "colour"),
        ([1, 2], "detail"),
        ("text", "detail"),
    ],
)
def test_what_cannot_be_is_answered_400_by_column(carl, address, body, column):
    answer = send(carl, "post", address, body)
    assert answer.status_code == 400
    assert list(answer.json()) == [column]
    assert not Shot.objects.exists()


def test_no_json_is_answered_400(carl, address):
    answer = carl.post(address, data="{", content_type="application/json")
    assert answer.status_code == 400


def test_a_change_needs_the_version_that_was_seen(carl, address):
    row = send(carl, "post", address, {"arrows": 12}).json()
    one = f"/api/shots/{row['id']}"
    assert send(carl, "patch", one, {"arrows": 13}).status_code == 400
    changed = send(carl, "patch", one, {"version": 1, "arrows": 13})
    assert (changed.status_code, changed.json()["version"]) == (200, 2)
    stale = send(carl, "patch", one, {"version": 1, "arrows": 14})
    assert stale.status_code == 409
    assert stale.json()["current"] == changed.json()


def test_a_shot_is_deleted_once_and_a_stale_delete_is_refused(carl, address):
    row = send(carl, "post", address, {}).json()
    one = f"/api/shots/{row['id']}"
    assert carl.delete(f"{one}?version=7").status_code == 409
    assert carl.delete(f"{one}?version=1").status_code == 204
    assert carl.delete(f"{one}?version=1").status_code == 204
    assert carl.get(address).json() == {"shots": []}
    gone = send(carl, "patch", one, {"version": 2, "arrows": 12})
    assert (gone.status_code, gone.json()["current"]["deleted"]) == (409, True)


@pytest.mark.parametrize("name", ["nick", "dora", "otto", "sam", "gina"])
def test_for_everybody_else_there_is_nothing(cast, as_user, carl, address, name):
    row = send(carl, "post", address, {}).json()
    browser = as_user(getattr(cast, name))
    assert browser.get(address).status_code == 404
    assert send(browser, "post", address, {"arrows": 12}).status_code == 404
    assert send(browser, "patch", f"/api/shots/{row['id']}", {"version": 1}).status_code == 404
    assert browser.delete(f"/api/shots/{row['id']}?version=1").status_code == 404
    assert Shot.objects.live().count() == 1


def test_shots_of_a_deleted_session_are_gone(cast, carl, address):
    row = send(carl, "post", address, {}).json()
    carl.post(f"/sessions/{cast.session.pk}/delete/")
    assert carl.get(address).status_code == 404
    assert send(carl, "patch", f"/api/shots/{row['id']}", {"version": 1}).status_code == 404


def test_without_log_in_or_token_nothing_is_written(cast, address):
    assert send(Browser(), "post", address, {}).status_code == 403
    strict = Browser(enforce_csrf_checks=True)
    strict.force_login(cast.carl, backend="clients.auth.EmailOrNameBackend")
    assert send(strict, "post", address, {}).status_code == 403
    assert not Shot.objects.exists()


def test_the_list_takes_the_same_queries_for_one_shot_and_for_many(
    carl, address, django_assert_num_queries
):
    send(carl, "post", address, {"ball": "A"})
    carl.get(address)
    with django_assert_num_queries(6):  # cookie, user, consent, roles, session, shots with balls
        carl.get(address)
    for _ in range(5):
        send(carl, "post", address, {"ball": "A"})
    with django_assert_num_queries(6):
        carl.get(address)


def test_the_schema_names_the_columns_of_the_shot_log(carl):
    answer = carl.get("/api/schema?format=json")
    assert answer.status_code == 200
    text = answer.content.decode()
    for name in ("neighbour_pin", "breakpoint_ft", "shots_log", "shots_change", "shots_delete"):
        assert name in text


def test_a_version_beyond_all_numbers_is_refused(cast, carl, address):
    send(carl, "post", address, {"arrows": 12})
    shot = Shot.objects.get()
    for body in ('{"version": 1e999}', '{"version": "x"}', "{}"):
        answer = carl.patch(f"/api/shots/{shot.pk}", body, content_type="application/json")
        assert answer.status_code == 400


@pytest.mark.parametrize("body", ['{"a\\ud800": 1}', '{"a":' * 5000, "[]", "null"])
def test_what_is_no_object_with_names_is_refused(carl, address, body):
    assert carl.post(address, body, content_type="application/json").status_code == 400
