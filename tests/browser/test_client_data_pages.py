"""The copy of what is kept of a client and the deletion, on a phone and at a desk."""

from __future__ import annotations

import zipfile

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from clients import tickets
from clients.models import Client

pytestmark = pytest.mark.browser


@pytest.fixture
def people(transactional_db, cast):
    tickets.take_in(client=cast.sam_client, ball=cast.ball, kind="clean", by=cast.otto)
    return cast


@pytest.mark.parametrize("device", ["phone", "desk"])
def test_the_pages_are_accessible(request, device, people, log_in, axe, shoot):
    page = request.getfixturevalue(device)
    copy = reverse("clients:copy", args=[people.sam_client.pk])
    for who, address in {
        "olive": copy,
        "otto": copy,
        "sam": copy,
        "gina": reverse("clients:copy", args=[people.wendy_client.pk]),
    }.items():
        log_in(page, getattr(people, who))
        page.goto(address)
        axe(page)
        shoot(page, f"copy_{who}")
    log_in(page, people.olive)
    page.goto(reverse("clients:delete", args=[people.sam_client.pk]))
    axe(page)
    shoot(page, "delete")


def test_a_student_takes_their_copy_home(people, phone, log_in):
    log_in(phone, people.sam)
    phone.goto(reverse("account"))
    phone.get_by_role("link", name="Get a copy").tap()
    with phone.expect_download() as waiting:
        phone.get_by_role("button", name="Make the copy").tap()
    assert waiting.value.suggested_filename.startswith("sam-")
    names = zipfile.ZipFile(waiting.value.path()).namelist()
    assert {"README.txt", "everything.json", "client-file.json"} <= set(names)


def test_the_owner_deletes_a_client_by_typing_the_name(people, phone, log_in):
    log_in(phone, people.olive)
    phone.goto(reverse("clients:detail", args=[people.sam_client.pk]))
    phone.get_by_role("link", name="Copy of everything kept, and deletion").tap()
    phone.get_by_role("link", name="Delete Sam with everything that is kept").tap()
    phone.get_by_label("Type the name, Sam").fill("Tess")
    phone.get_by_role("button", name="Delete everything of Sam").tap()
    expect(phone.get_by_text("Expected the client's name: Sam.")).to_be_visible()
    assert Client.objects.filter(pk=people.sam_client.pk).exists()
    phone.get_by_label("Type the name, Sam").fill("sam")
    phone.get_by_role("button", name="Delete everything of Sam").tap()
    expect(phone.get_by_text("Sam and everything kept of them is deleted.")).to_be_visible()
    assert not Client.objects.filter(pk=people.sam_client.pk).exists()
