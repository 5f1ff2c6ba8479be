"""Photos are drawn anew, kept once, and shown to those who see their site."""

import io
from collections.abc import Callable
from contextlib import AbstractContextManager

import pytest
from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpRequest
from django.test import Client
from django.urls import reverse
from django.utils.datastructures import MultiValueDict
from PIL import Image

from fleet.actions.photos import keep_photo, keep_photos
from fleet.actions.refusals import Refused
from fleet.calc.photos import MOST_BYTES
from fleet.forms.photos import MOST_AT_ONCE, PhotosBox, upload_stopped
from fleet.models import Person, Photo, Site, TrailEntry
from fleet.permissions import NotAllowed
from fleet.queries.photos import shown_photos
from tests import factories as make
from tests.db.fleet.photo_files import (
    HTML,
    SVG,
    bomb_of_dots,
    from_a_phone,
    many_scans,
    picture,
    sent,
)

pytestmark = pytest.mark.django_db


def keep(
    content: bytes, *, person: Person, site: Site, client_id: str = "", name: str = "hose.jpg"
) -> Photo:
    return keep_photo(
        site=site, sent=sent(content, name), client_id=client_id, person=person, at=make.NOW
    )


@pytest.fixture
def place() -> Site:
    return make.site()


@pytest.fixture
def fitter(place: Site) -> Person:
    return make.person("fitter", at=place)


def opened(photo: Photo) -> Image.Image:
    return Image.open(io.BytesIO(bytes(photo.content)))


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_each_known_form_is_kept_as_a_jpeg(form: str, place: Site, fitter: Person) -> None:
    photo = keep(picture(form), person=fitter, site=place)
    assert (photo.media_type, opened(photo).format) == ("image/jpeg", "JPEG")
    assert (photo.width, photo.height) == (80, 40)


def test_nothing_the_phone_said_is_kept(place: Site, fitter: Person) -> None:
    content = from_a_phone()
    assert b"Gate code 4711" in content
    assert Image.open(io.BytesIO(content)).getexif().get_ifd(0x8825)
    photo = keep(content, person=fitter, site=place)
    assert dict(opened(photo).getexif()) == {}
    assert not {"exif", "comment", "icc_profile"} & set(opened(photo).info)
    assert b"4711" not in bytes(photo.content)
    assert b"Maker of phones" not in bytes(photo.content)


def test_a_photo_taken_sideways_stands_upright(place: Site, fitter: Person) -> None:
    photo = keep(from_a_phone(orientation=6), person=fitter, site=place)
    assert (photo.width, photo.height) == (40, 80)
    grey = opened(photo).convert("L")
    top, bottom = grey.getpixel((20, 10)), grey.getpixel((20, 70))
    assert isinstance(top, int)
    assert isinstance(bottom, int)
    assert (top < 60, bottom > 200) == (True, True)


def test_a_large_photo_is_kept_small(place: Site, fitter: Person) -> None:
    photo = keep(picture(size=(4000, 3000)), person=fitter, site=place)
    assert (photo.width, photo.height) == (1600, 1200)


def test_what_is_clear_is_drawn_on_white(place: Site, fitter: Person) -> None:
    out = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(out, "PNG")
    photo = keep(out.getvalue(), person=fitter, site=place)
    assert opened(photo).getpixel((10, 10)) == (255, 255, 255)


HOSTILE = {
    "an SVG with a script": (SVG, "photo_unreadable", "can’t be read as a photo"),
    "a page under a photo's name": (HTML, "photo_unreadable", "can’t be read as a photo"),
    "a JPEG cut short": (picture()[:-200], "photo_unreadable", "cut short"),
    "only the head of a JPEG": (picture()[:120], "photo_unreadable", "cut short"),
    "nothing at all": (b"", "photo_unreadable", "can’t be read"),
    "a GIF": (picture("GIF"), "photo_unreadable", "Send a JPEG, PNG or WebP"),
    "a JPEG of a hundred scans": (many_scans(), "photo_unreadable", "can’t be read"),
    "a bomb of 900 million dots": (bomb_of_dots(), "photo_too_large", "is too large"),
    "a PNG of 36 million dots": (bomb_of_dots(6000, 6000), "photo_too_large", "6000 × 6000 dots"),
    "a file of 20 MB": (picture() + bytes(20 * 2**20), "photo_too_large", "It has 20 MB"),
}


@pytest.mark.parametrize("what", HOSTILE)
def test_refuses_what_is_no_honest_photo(what: str, place: Site, fitter: Person) -> None:
    content, code, words = HOSTILE[what]
    with pytest.raises(Refused, match=words) as refused:
        keep(content, person=fitter, site=place)
    assert (refused.value.code, refused.value.field) == (code, "photos")
    assert Photo.objects.count() == 0


def test_a_refusal_names_the_file_without_its_tricks(place: Site, fitter: Person) -> None:
    with pytest.raises(Refused) as refused:
        keep(SVG, person=fitter, site=place, name="a\u202eb\x00" + "c" * 90 + ".jpg")
    assert "“ab" + "c" * 55 + "…”" in refused.value.sentence


def test_sent_twice_it_is_one_photo(place: Site, fitter: Person) -> None:
    first = keep(picture(), person=fitter, site=place, client_id="from-phone-1")
    again = keep(picture(size=(10, 10)), person=fitter, site=place, client_id="from-phone-1")
    assert (first.pk, Photo.objects.count()) == (again.pk, 1)
    other = keep(
        picture(), person=make.person("fitter", at=place), site=place, client_id="from-phone-1"
    )
    assert other.pk != first.pk


def test_refuses_a_photo_sent_for_another_site_before(place: Site) -> None:
    roamer = make.person("fitter")
    keep(picture(), person=roamer, site=place, client_id="from-phone-1")
    with pytest.raises(Refused, match="sent for another site already"):
        keep(picture(), person=roamer, site=make.site(), client_id="from-phone-1")


def test_several_are_kept_each_under_its_place(place: Site, fitter: Person) -> None:
    files = [sent(picture()), sent(picture("PNG"))]
    kept = keep_photos(site=place, sent=files, client_id="form-1", person=fitter, at=make.NOW)
    assert [photo.client_id for photo in kept] == ["form-1-1", "form-1-2"]


def test_keeping_is_in_the_trail(place: Site, fitter: Person) -> None:
    photo = keep(picture(), person=fitter, site=place)
    entry = TrailEntry.objects.get(deed="kept a photo")
    assert (entry.subject_id, entry.after["digest"]) == (str(photo.pk), photo.digest)


def test_a_stranger_keeps_nothing(place: Site) -> None:
    with pytest.raises(NotAllowed):
        keep(picture(), person=make.person("fitter", at=make.site()), site=place)


def test_a_photo_is_answered_as_a_picture_and_nothing_else(place: Site, fitter: Person) -> None:
    photo = keep(picture(), person=fitter, site=place)
    who = Client()
    who.force_login(fitter)
    answer = who.get(reverse("fleet:photo", args=[photo.pk]))
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/jpeg")
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"] == "private, max-age=3600, immutable"
    assert answer["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert answer.content == bytes(photo.content)
    assert who.post(reverse("fleet:photo", args=[photo.pk])).status_code == 405


def test_others_find_no_such_photo_and_nobody_is_asked_to_log_in(
    place: Site, fitter: Person
) -> None:
    url = reverse("fleet:photo", args=[keep(picture(), person=fitter, site=place).pk])
    colleague, stranger = Client(), Client()
    colleague.force_login(make.person("storeman", at=place))
    stranger.force_login(make.person("planner", at=make.site()))
    assert colleague.get(url).status_code == 200
    assert stranger.get(url).status_code == 404
    assert Client().get(url)["Location"].startswith("/login/")


def test_a_row_of_photos_is_one_query_without_the_pictures(
    place: Site,
    fitter: Person,
    django_assert_num_queries: Callable[..., AbstractContextManager[None]],
) -> None:
    kept = [keep(picture(), person=fitter, site=place) for _ in range(3)]
    stranger = make.person("fitter", at=make.site())
    ids = [photo.pk for photo in kept]
    shown_photos(fitter, ids)
    with django_assert_num_queries(1):
        assert [photo.pk for photo in shown_photos(fitter, ids)] == ids
    assert shown_photos(stranger, ids) == ()


class ShowingForm(forms.Form):
    photos = PhotosBox()


def test_the_box_takes_several_and_none() -> None:
    form = ShowingForm({}, MultiValueDict({"photos": [sent(picture()), sent(picture())]}))
    assert form.is_valid()
    assert len(form.cleaned_data["photos"]) == 2
    none = ShowingForm({}, MultiValueDict())
    assert none.is_valid()
    assert none.cleaned_data["photos"] == []


def test_the_box_refuses_too_many_and_none_where_one_is_needed() -> None:
    many = [SimpleUploadedFile("x.jpg", b"x")] * (MOST_AT_ONCE + 1)
    with pytest.raises(ValidationError, match=f"9 photos are more than {MOST_AT_ONCE}"):
        PhotosBox().clean(many)
    with pytest.raises(ValidationError, match="required"):
        PhotosBox(required=True).clean([])


def test_the_bound_of_bytes_lies_below_what_the_server_takes() -> None:
    assert settings.UPLOAD_LIMIT_BYTES > MOST_BYTES


def test_what_the_server_stopped_for_its_size_is_told_on_the_form() -> None:
    form, request = ShowingForm({}, MultiValueDict()), HttpRequest()
    assert not upload_stopped(form, request)
    request.upload_refusal = "The file is larger than 20 MB."  # type: ignore[attr-defined]  # set by the upload handler
    assert upload_stopped(form, request)
    assert form.errors["photos"] == ["The file is larger than 20 MB."]
