"""Keeping photos: drawn anew, never as they were sent."""

import datetime as dt
import hashlib
from collections.abc import Sequence
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.photos import MOST_BYTES, Drawn, PhotoTooLarge, PhotoUnreadable, drawn_anew
from fleet.models import Person, Photo, Site
from fleet.permissions import READ, require

FIELD = "photos"
LONGEST_CAPTION = 200


@transaction.atomic
def keep_photo(
    *,
    site: Site,
    sent: "UploadedFile[Any]",
    caption: str = "",
    client_id: str = "",
    person: Person,
    at: dt.datetime,
) -> Photo:
    """Keep one photo at a site. Atomic; sent twice with one `client_id`, it is still one photo.

    What is kept is a fresh JPEG of 1600 dots at most: the place it was taken, the camera and
    all else that a file can hide is gone. The caller asks for the right to what it is kept for.

    Refuses: photo_too_large, photo_unreadable, photo_elsewhere. Needs to read the site.
    """
    require(person, READ, site)
    kept = _kept_before(site, client_id, person)
    if kept is not None:
        return kept
    drawn = _drawn(sent)
    photo = Photo(
        **{"site": site, "caption": caption.strip()[:LONGEST_CAPTION], "client_id": client_id},
        **{"content": drawn.content, "width": drawn.width, "height": drawn.height},
        **{"digest": hashlib.sha256(drawn.content).hexdigest(), "kept_at": at, "kept_by": person},
    )
    try:
        with transaction.atomic():
            photo.save(force_insert=True)
    except IntegrityError:
        kept = _kept_before(site, client_id, person)
        if kept is None:
            raise
        return kept
    after = {"digest": photo.digest, "caption": photo.caption}
    audit.record(audit.Deed("kept a photo", photo, site, {}, after), actor=person, at=at)
    return photo


def keep_photos(
    *,
    site: Site,
    sent: "Sequence[UploadedFile[Any]]",
    caption: str = "",
    client_id: str = "",
    person: Person,
    at: dt.datetime,
) -> list[Photo]:
    """Keep several photos that were sent together, each under the form's `client_id` and its
    place among them. Refuses what `keep_photo` refuses; call inside the transaction of what the
    photos show, so that one refused photo leaves nothing half done."""
    return [
        keep_photo(
            site=site,
            sent=one,
            caption=caption,
            client_id=f"{client_id}-{place}" if client_id else "",
            person=person,
            at=at,
        )
        for place, one in enumerate(sent, start=1)
    ]


def _kept_before(site: Site, client_id: str, person: Person) -> Photo | None:
    if not client_id:
        return None
    kept = Photo.objects.filter(kept_by=person, client_id=client_id).defer("content").first()
    if kept is not None and kept.site_id != site.pk:
        raise Refused(
            "photo_elsewhere", "This photo was sent for another site already.", field=FIELD
        )
    return kept


def _drawn(sent: "UploadedFile[Any]") -> Drawn:
    name = _shown_name(sent)
    if (sent.size or 0) > MOST_BYTES:
        raise _too_large(name, f"It has {(sent.size or 0) / 2**20:.0f} MB")
    try:
        return drawn_anew(sent.read())
    except PhotoTooLarge as error:
        raise _too_large(name, str(error)) from error
    except PhotoUnreadable as error:
        raise Refused(
            "photo_unreadable",
            f"“{name}” can’t be read as a photo: it is damaged, cut short or of another kind. "
            "Send a JPEG, PNG or WebP, or take it again.",
            field=FIELD,
        ) from error


def _too_large(name: str, why: str) -> Refused:
    return Refused(
        "photo_too_large",
        f"“{name}” is too large. {why}; up to {MOST_BYTES // 2**20} MB and 50 million dots "
        "(25 million, but for a plain JPEG) are read. Send a smaller one.",
        field=FIELD,
    )


def _shown_name(sent: "UploadedFile[Any]") -> str:
    """The file's name for a sentence: only what can be printed, and not too much of it."""
    name = "".join(sign for sign in (sent.name or "photo") if sign.isprintable())
    return name if len(name) <= 60 else f"{name[:57]}…"
