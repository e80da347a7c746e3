"""Pictures of the work: checked by what they hold, made anew, private, and gone when they go."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import reverse
from PIL import Image

from clients import photos, tickets
from clients.models import Ticket, TicketPhoto

PLACE = "Somewhere 51.5 north"
GPS, ORIENTATION, DESCRIPTION = 0x8825, 0x0112, 0x010E  # tags of the EXIF standard


def picture(size: tuple[int, int] = (40, 20), kind: str = "JPEG", **more) -> bytes:
    out = io.BytesIO()
    left_half = Image.new("RGB", size, "blue")
    left_half.paste("red", (0, 0, size[0] // 2, size[1]))
    left_half.save(out, kind, **more)
    return out.getvalue()


def from_a_phone() -> bytes:
    """A JPEG that lies on its side and tells where it was taken, in EXIF, a comment and XMP."""
    exif = Image.Exif()
    exif[ORIENTATION] = 6  # the camera was held upright: turn it a quarter clockwise to show it
    exif[DESCRIPTION] = PLACE
    exif.get_ifd(GPS)[2] = (51.0, 30.0, 0.0)
    return picture(exif=exif, comment=PLACE.encode(), xmp=f"<x>{PLACE}</x>".encode())


@pytest.fixture
def ticket(cast) -> Ticket:
    return tickets.take_in(client=cast.sam_client, ball=cast.ball, kind="plug", by=cast.otto)


@pytest.fixture(autouse=True)
def _own_folder(settings, tmp_path) -> None:
    settings.MEDIA_ROOT = tmp_path


def opened(data: bytes) -> Image.Image:
    return Image.open(io.BytesIO(data))


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_a_picture_is_written_again_as_a_jpeg_of_the_same_pixels(kind):
    kept = opened(photos.cleaned(io.BytesIO(picture(kind=kind))))
    assert (kept.format, kept.size) == ("JPEG", (40, 20))
    pixels = np.asarray(kept, dtype=float)
    assert np.abs(pixels[:, 2:16] - (255, 0, 0)).max() < 12  # what JPEG itself costs
    assert np.abs(pixels[:, 24:38] - (0, 0, 255)).max() < 12


def test_nothing_that_the_phone_wrote_into_it_is_kept():
    sent = from_a_phone()
    assert PLACE.encode() in sent
    assert opened(sent).getexif().get_ifd(GPS)
    data = photos.cleaned(io.BytesIO(sent))
    kept = opened(data)
    assert PLACE.encode() not in data
    assert not kept.getexif()
    assert {"comment", "xmp", "exif", "icc_profile"} & set(kept.info) == set()


def test_a_picture_that_lies_on_its_side_is_stood_up():
    kept = opened(photos.cleaned(io.BytesIO(from_a_phone())))
    assert kept.size == (20, 40)
    top = np.asarray(kept, dtype=float)[2:16].mean(axis=(0, 1))
    assert np.abs(top - (255, 0, 0)).max() < 12  # what lay at the left stands at the top


def test_a_large_picture_is_made_smaller():
    kept = opened(photos.cleaned(io.BytesIO(picture((4000, 3000)))))
    assert kept.size == (1600, 1200)


def test_what_is_see_through_is_white():
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    kept = np.asarray(opened(photos.cleaned(io.BytesIO(out.getvalue()))))
    assert kept.min() > 250


def bomb() -> bytes:
    """A PNG of some hundred bytes that says it is 60 000 pixels each way."""

    def chunk(name: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        )

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 60_000, 60_000, 8, 2, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0")) + chunk(b"IEND", b"")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a page", b"<!doctype html><script>alert(1)</script>"),
        ("a drawing that can hold a script", b'<svg xmlns="http://www.w3.org/2000/svg"/>'),
        ("a page behind a JPEG's first bytes", b"\xff\xd8\xff\xe0<script>alert(1)</script>"),
        ("a program", b"MZ\x90\0" + b"\0" * 200),
        ("another kind of picture", picture(kind="GIF")),
        ("nothing", b""),
        ("a picture cut off", picture((400, 400))[:900]),
        ("a PNG cut off", picture((400, 400), "PNG")[:60]),
        ("a picture of more pixels than memory", bomb()),
    ],
)
def test_what_is_no_picture_is_refused_whatever_it_is_called(ticket, cast, as_user, name, data):
    with pytest.raises(photos.NotAPicture):
        photos.cleaned(io.BytesIO(data))
    page = send(as_user(cast.otto), ticket, data).content.decode()
    assert "No picture is kept." in page
    assert not TicketPhoto.objects.exists()


def test_more_pixels_than_a_phone_makes_are_refused(monkeypatch):
    monkeypatch.setattr(photos, "MAX_PIXELS", 799)
    with pytest.raises(photos.NotAPicture, match="pixels"):
        photos.cleaned(io.BytesIO(picture()))


def test_a_file_that_is_too_large_is_refused_before_it_is_looked_at(monkeypatch):
    monkeypatch.setattr(photos, "MAX_BYTES", 1024 * 1024)
    with pytest.raises(photos.NotAPicture, match="larger than 1 MB"):
        photos.cleaned(io.BytesIO(b"\0" * (1024 * 1024 + 1)))


def send(browser, ticket: Ticket, data: bytes, name: str = "picture.jpg"):
    file = SimpleUploadedFile(name, data, content_type="image/jpeg")
    address = reverse("clients:ticket_photo_add", args=[ticket.pk])
    return browser.post(address, {"picture": file}, follow=True)


def files(folder: Path) -> list[Path]:
    return [path for path in folder.rglob("*") if path.is_file()]


def test_a_picture_is_kept_under_a_name_that_says_nothing(ticket, cast, as_user, tmp_path):
    send(as_user(cast.otto), ticket, from_a_phone(), name="../../Sam Smith.html")
    photo = ticket.photos.get()
    assert photo.taken_by == cast.otto
    [file] = files(tmp_path)
    assert file.suffix == ".jpg"
    assert "sam" not in str(file.relative_to(tmp_path)).lower()


def test_the_same_picture_sent_twice_is_kept_once(ticket, cast, as_user, tmp_path):
    for _ in range(2):
        send(as_user(cast.otto), ticket, picture())
    assert ticket.photos.count() == len(files(tmp_path)) == 1


def test_a_ticket_keeps_so_many_and_no_more(ticket, cast, as_user, monkeypatch):
    monkeypatch.setattr(photos, "PER_TICKET", 2)
    for width in (10, 20, 30):
        page = send(as_user(cast.otto), ticket, picture((width, 10))).content.decode()
    assert ticket.photos.count() == 2
    assert "Take one away first" in page


def test_the_picture_is_served_by_its_page_alone(ticket, cast, as_user, tmp_path):
    """The access walk tells who gets it; here: as what, and that no other address has it."""
    photo = photos.add(ticket, io.BytesIO(picture()), by=cast.otto)
    sam = as_user(cast.sam)
    response = sam.get(reverse("clients:ticket_photo", args=[ticket.pk, photo.pk]))
    assert response["Content-Type"] == "image/jpeg"
    assert "no-store" in response["Cache-Control"]
    assert opened(response.content).size == (40, 20)
    for prefix in ("/", "/media/", "/static/"):
        assert sam.get(prefix + photo.picture.name).status_code == 404


def test_a_file_that_is_gone_from_the_disk_is_not_found(ticket, cast, as_user, tmp_path):
    photo = photos.add(ticket, io.BytesIO(picture()), by=cast.otto)
    files(tmp_path)[0].unlink()
    address = reverse("clients:ticket_photo", args=[ticket.pk, photo.pk])
    assert as_user(cast.otto).get(address).status_code == 404


def test_a_picture_taken_away_takes_its_file_along(
    ticket, cast, tmp_path, django_capture_on_commit_callbacks
):
    photo = photos.add(ticket, io.BytesIO(picture()), by=cast.otto)
    with django_capture_on_commit_callbacks(execute=True):
        photos.remove(photo, by=cast.otto)
    assert not files(tmp_path)
    photos.remove(photo, by=cast.otto)  # a second tap
    assert tickets.history_of(ticket)[0].words == "picture removed"


def test_a_client_who_is_deleted_leaves_no_file_behind(
    ticket, cast, tmp_path, django_capture_on_commit_callbacks
):
    for width in (10, 20):
        photos.add(ticket, io.BytesIO(picture((width, 10))), by=cast.otto)
    assert tickets.facts_of(cast.sam_client)[0]["photos"] == [
        photo.picture.name for photo in ticket.photos.all()
    ]
    assert len(files(tmp_path)) == 2
    with django_capture_on_commit_callbacks(execute=True):
        cast.sam_client.delete()
    assert not Ticket.objects.filter(pk=ticket.pk).exists()
    assert not files(tmp_path)


def test_a_deletion_that_is_undone_leaves_the_file(ticket, cast, tmp_path):
    photo = photos.add(ticket, io.BytesIO(picture()), by=cast.otto)
    with transaction.atomic():
        photos.remove(photo, by=cast.otto)
        transaction.set_rollback(True)
    assert len(files(tmp_path)) == 1
