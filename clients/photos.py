"""Pictures that people send in: looked at by what they hold, and made anew before they are kept.

What a phone calls a picture can be anything, and a true one carries the place where it was taken.
So every picture is decoded, turned upright, made smaller and written again as a JPEG of nothing but
its pixels; the file that was sent is thrown away. Kept files lie under MEDIA_ROOT, which no address
serves: a page hands them out to whoever may see what they belong to.
"""

from __future__ import annotations

import hashlib
import io
import logging
from typing import IO

from django.core.files.base import ContentFile
from django.db import transaction
from PIL import Image, ImageOps, UnidentifiedImageError

from clients import audit
from clients.models import Ticket, TicketPhoto, User

logger = logging.getLogger(__name__)

MAX_BYTES = 15 * 1024 * 1024  # a large phone picture is some 12 MB
MAX_PIXELS = 64_000_000  # decoded that is under 200 MB; a phone's largest is some 50 megapixels
LONGEST_SIDE_PX = 1600  # enough to read a serial number on a ball
QUALITY = 82
PER_TICKET = 12
KINDS = ("JPEG", "PNG", "WEBP")


class NotAPicture(ValueError):
    """What was sent is no picture that can be kept; the text says why, for the field."""


class TooManyPictures(ValueError):
    def __str__(self) -> str:
        return f"A ticket keeps {PER_TICKET} pictures. Take one away first."


def cleaned(file: IO[bytes]) -> bytes:
    """Return the picture as a JPEG without anything but its pixels. Raises NotAPicture."""
    data = file.read(MAX_BYTES + 1)
    if len(data) > MAX_BYTES:
        raise NotAPicture(f"This file is larger than {MAX_BYTES // 1024 // 1024} MB.")
    try:
        with Image.open(io.BytesIO(data), formats=KINDS) as picture:
            if picture.width * picture.height > MAX_PIXELS:
                raise NotAPicture(
                    f"This picture has more than {MAX_PIXELS // 1_000_000} million pixels."
                )
            picture.draft("RGB", (LONGEST_SIDE_PX, LONGEST_SIDE_PX))  # a large JPEG decodes small
            upright = ImageOps.exif_transpose(picture)
            upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
            pixels = _on_white(upright)
    except (
        UnidentifiedImageError,
        Image.DecompressionBombError,
        Image.DecompressionBombWarning,
        OSError,  # cut off in the middle
        SyntaxError,  # how a broken PNG is told
        ValueError,
        EOFError,
    ) as error:
        if isinstance(error, NotAPicture):
            raise
        raise NotAPicture("This is no picture that can be read: JPEG, PNG or WebP, whole.") from (
            error
        )
    out = io.BytesIO()
    pixels.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def _on_white(picture: Image.Image) -> Image.Image:
    """Return a new picture with these pixels, what was see-through on white: no EXIF, no comment,
    no colour profile comes along."""
    fresh = Image.new("RGB", picture.size, "white")
    if picture.has_transparency_data:
        picture = picture.convert("RGBA")
        fresh.paste(picture, mask=picture)
    else:
        fresh.paste(picture.convert("RGB"))
    return fresh


def add(ticket: Ticket, file: IO[bytes], *, by: User) -> TicketPhoto:
    """Keep a picture of the ticket's work; the same one sent twice is kept once.

    Raises NotAPicture and TooManyPictures. It is decoded before the transaction begins.
    """
    data = cleaned(file)
    name = f"{ticket.pk.hex}-{hashlib.sha256(data).hexdigest()[:32]}.jpg"
    with transaction.atomic():
        Ticket.objects.select_for_update().get(pk=ticket.pk)
        twin = ticket.photos.filter(picture__endswith=f"/{name}").first()
        if twin:
            return twin
        if ticket.photos.count() >= PER_TICKET:
            raise TooManyPictures
        photo = TicketPhoto(ticket=ticket, taken_by=by)
        photo.picture.save(name, ContentFile(data), save=False)
        photo.save()
        audit.record(by, "ticket.photo_added", ticket, photo=photo.pk)
    return photo


def remove(photo: TicketPhoto, *, by: User) -> None:
    """Take a picture away, and its file with it."""
    with transaction.atomic():
        found, _ = TicketPhoto.objects.filter(pk=photo.pk).delete()
        if found:
            audit.record(by, "ticket.photo_removed", photo.ticket, photo=photo.pk)


def forget_file(sender: type[TicketPhoto], instance: TicketPhoto, **kwargs: object) -> None:
    """Delete the file of a picture whose row is gone, once that is certain.

    Hung on the row's deletion (clients/apps.py), because a client who is deleted takes tickets and
    pictures along in one stroke, and no file may stay behind.
    """
    storage, name = instance.picture.storage, instance.picture.name or ""

    def delete() -> None:
        try:
            storage.delete(name)
        except OSError:  # the row is gone and cannot come back; somebody has to look at the disk
            logger.exception("could not delete the file %s", name)

    transaction.on_commit(delete)
