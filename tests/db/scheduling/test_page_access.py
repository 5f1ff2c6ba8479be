"""Who sees which page: the right person, a stranger of another site, and nobody."""

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db

LISTS = ("today", "find", "machines", "due", "due_csv", "untagged", "doubtful", "rules", "failures")


def pages_of(where: Yard) -> list[str]:
    """Every page that shows or changes something of one site."""
    hose, machine, place = where.hose.pk, where.machine.pk, where.position.pk
    return [
        reverse("scheduling:hose", args=[hose]),
        reverse("scheduling:why", args=[hose]),
        reverse("scheduling:inspect", args=[hose]),
        reverse("scheduling:machine", args=[machine]),
        reverse("scheduling:position", args=[place]),
        reverse("fleet:machine_change", args=[machine]),
        reverse("fleet:reading_add", args=[machine]),
        reverse("assemblies:position_add", args=[machine]),
        reverse("assemblies:position_change", args=[place]),
        reverse("assemblies:fit", args=[place]),
        reverse("assemblies:swap", args=[place]),
        reverse("assemblies:take_off", args=[place]),
        reverse("assemblies:tag", args=[hose]),
    ]


def test_the_planner_of_the_site_sees_every_page(client: Client) -> None:
    where = yard()
    client.force_login(where.planner)
    lists = [reverse(f"scheduling:{name}") for name in LISTS]
    answers = {url: client.get(url).status_code for url in pages_of(where) + lists}
    assert set(answers.values()) == {200}, answers


def test_a_stranger_of_another_site_finds_nothing(client: Client) -> None:
    where = yard()
    client.force_login(factories.person("planner", at=factories.site()))
    answers = {url: client.get(url).status_code for url in pages_of(where)}
    assert set(answers.values()) == {404}, answers


def test_a_stranger_can_change_nothing_either(client: Client) -> None:
    where = yard()
    client.force_login(factories.person("planner", at=factories.site()))
    answers = {url: client.post(url, {}).status_code for url in pages_of(where)}
    assert set(answers.values()) == {404}, answers


def test_nobody_is_sent_to_the_log_in(client: Client) -> None:
    where = yard()
    urls = pages_of(where) + [reverse(f"scheduling:{name}") for name in LISTS]
    urls.append(reverse("scheduling:hose_by_tag", args=["ZZZZZZZZ"]))
    for url in [*urls, reverse("fleet:cautions"), reverse("fleet:machine_add")]:
        answer = client.get(url)
        assert answer.status_code == 302
        assert answer.headers["Location"].startswith("/login/")


def test_a_reader_is_refused_politely_where_a_right_is_missing(client: Client) -> None:
    where = yard()
    client.force_login(factories.person("storeman", at=where.site))
    answer = client.get(reverse("assemblies:swap", args=[where.position.pk]))
    assert answer.status_code == 403
    assert "fit hoses" in answer.content.decode()


def test_a_reader_sees_no_button_that_would_be_refused(client: Client) -> None:
    where = yard()
    client.force_login(factories.person("storeman", at=where.site))
    page = client.get(reverse("scheduling:position", args=[where.position.pk])).content.decode()
    assert "Swap the hose" not in page
    assert "Take the hose off" not in page


def test_the_lists_of_a_stranger_name_nothing_of_the_site(client: Client) -> None:
    where = yard()
    client.force_login(factories.person("planner", at=factories.site()))
    for name in LISTS:
        page = client.get(reverse(f"scheduling:{name}"), {"q": "EX-014"})
        text = b"".join(page).decode()
        assert where.hose.owner_mark not in text
        assert reverse("scheduling:machine", args=[where.machine.pk]) not in text
