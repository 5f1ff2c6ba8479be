"""Photos as pages show them; the pictures themselves are read one at a time."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from fleet.models import Person, Photo


@dataclass(frozen=True, slots=True)
class PhotoShown:
    """One photo in a row of them: where its picture is, and what is said of it."""

    pk: int
    caption: str
    width: int
    height: int
    kept_at: dt.datetime


def photo_for(person: Person, photo_id: int) -> Photo | None:
    """The photo with its picture, where the person sees its site."""
    return Photo.objects.visible_to(person).filter(pk=photo_id).first()


def shown_photos(person: Person, photo_ids: Iterable[int]) -> tuple[PhotoShown, ...]:
    """Those of the photos that the person may see, the earliest first, in one query."""
    columns = ("pk", "caption", "width", "height", "kept_at")
    found = Photo.objects.visible_to(person).filter(pk__in=list(photo_ids))
    return tuple(PhotoShown(*row) for row in found.order_by("pk").values_list(*columns))
