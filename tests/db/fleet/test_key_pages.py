"""The page of API keys, and the command."""

import io
import re
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from fleet.models import ApiKey, Person
from tests import factories as make
from tests.api_client import Caller, key_of

pytestmark = pytest.mark.django_db
TEXT = re.compile(r"layline_[a-z0-9]{8}_[A-Za-z0-9]{43}")


def client(person: Person) -> Client:
    made = Client()
    made.force_login(person)
    return made


def made_on_page(who: Client, **facts: Any) -> str:
    typed = {"name": "loader link", "days": "30", **facts}
    return who.post(reverse("fleet:keys"), typed).content.decode()


def test_a_key_is_shown_once_and_opens_the_api() -> None:
    machine = make.machine()
    who = client(make.person("fitter", at=machine.site))
    page = made_on_page(who)
    text = TEXT.search(page)
    assert text is not None
    assert Caller(key=text[0]).get(f"machines/{machine.pk}/").status == 200
    again = who.get(reverse("fleet:keys")).content.decode()
    assert not TEXT.search(again)
    assert ApiKey.objects.get().prefix in again


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"name": ""}, "This field is required"),
        ({"days": "400"}, "less than or equal to 366"),
        ({"days": "soon"}, "whole number"),
    ],
)
def test_a_key_that_can_not_be_comes_back_with_the_reason(
    facts: dict[str, str], words: str
) -> None:
    page = made_on_page(client(make.person("fitter")), **facts)
    assert words in page
    assert ApiKey.objects.count() == 0


def test_a_site_that_is_not_theirs_can_not_be_chosen() -> None:
    page = made_on_page(client(make.person("fitter", at=make.site())), site=make.site().pk)
    assert "Select a valid choice" in page
    assert ApiKey.objects.count() == 0


def test_the_owner_revokes_and_the_key_opens_nothing_any_more() -> None:
    owner = make.person("fitter")
    key, text = key_of(owner)
    client(owner).post(reverse("fleet:key_revoke", args=[key.pk]))
    assert Caller(key=text).get("machines/").code == "key_refused"


def test_a_colleague_finds_no_such_key_and_an_administrator_revokes_it() -> None:
    key, _ = key_of(make.person("fitter"))
    url = reverse("fleet:key_revoke", args=[key.pk])
    assert client(make.person("planner")).post(url).status_code == 404
    assert client(make.person("planner")).get(url).status_code == 405
    administrator = client(make.person("administrator"))
    assert "test" in administrator.get(reverse("fleet:keys")).content.decode()
    administrator.post(url)
    key.refresh_from_db()
    assert key.revoked_at is not None


def test_nobody_and_someone_without_a_role_make_no_keys() -> None:
    assert Client().get(reverse("fleet:keys")).status_code == 302
    assert client(make.person()).get(reverse("fleet:keys")).status_code == 403


def test_what_was_sent_twice_with_another_content_is_shown_to_its_sender() -> None:
    machine = make.machine()
    owner = make.person("fitter", at=machine.site)
    caller = Caller(owner)
    for hours in (100, 200):
        body = {"reading_h": hours, "read_at": "2026-03-09T08:00:00Z", "client_id": "link-00001"}
        caller.post(f"machines/{machine.pk}/readings/", body)
    page = client(owner).get(reverse("fleet:keys")).content.decode()
    assert "reading link-00001" in page
    assert "reading_h 200" in page


def test_the_command_prints_a_key_that_works() -> None:
    machine, out = make.machine(), io.StringIO()
    owner = make.person("fitter", at=machine.site)
    call_command(
        "make_key", "link", "--for", owner.username, "--site", machine.site.code, stdout=out
    )
    text = out.getvalue().strip()
    assert TEXT.fullmatch(text)
    assert Caller(key=text).get("machines/").said["items"][0]["id"] == machine.pk


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--for", "nobody"], "Nobody has the log-in name"),
        (["--for", "fitter", "--site", "NOPE"], "There is no site with the code"),
        (["--for", "fitter", "--days", "0"], "A key lasts 1 to 366 days"),
    ],
)
def test_the_command_says_what_it_can_not_do(arguments: list[str], words: str) -> None:
    make.person("fitter", username="fitter")
    with pytest.raises(CommandError, match=words):
        call_command("make_key", "link", *arguments, stdout=io.StringIO())
