"""What a phone is told of the pages of rounds: by its worker, and by the pages themselves."""

import re

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from fleet.config.middleware import CONTENT_POLICY
from fleet.models import Person
from scheduling.actions.rounds import begin_round, finish_round
from scheduling.models import Round
from tests import factories as make
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db


@pytest.fixture
def where() -> Yard:
    return yard()


@pytest.fixture
def fitter(where: Yard) -> Person:
    return make.person("fitter", at=where.site)


def begun(where: Yard, purpose: Round.Purpose = Round.Purpose.INSPECT) -> Round:
    return begin_round(
        machine=where.machine, purpose=purpose, person=where.planner, today=make.TODAY, at=make.NOW
    )


@pytest.mark.parametrize("logged_in", [False, True])
def test_the_worker_comes_from_the_root_anew_and_for_rounds_alone(
    client: Client, where: Yard, logged_in: bool
) -> None:
    if logged_in:
        client.force_login(where.planner)
    address = reverse("scheduling:rounds_worker")
    answer = client.get(address)
    assert (answer.status_code, address.count("/")) == (200, 1)
    assert answer["Content-Type"] == "text/javascript; charset=utf-8"
    assert answer["Cache-Control"] == "no-cache"
    assert answer["Service-Worker-Allowed"] == "/rounds/"
    assert answer["Content-Security-Policy"] == CONTENT_POLICY
    assert "Set-Cookie" not in answer
    assert client.post(address).status_code == 405


def test_the_worker_knows_the_addresses_of_rounds_and_files(client: Client, where: Yard) -> None:
    script = client.get(reverse("scheduling:rounds_worker")).content.decode()
    written = re.search(r"const ROUND = /(.+)/;", script)
    assert written
    round_address = re.compile(written[1].replace("\\/", "/"))
    held = begun(where)
    assert round_address.search(reverse("scheduling:round", args=[held.pk]))
    assert not round_address.search(reverse("scheduling:rounds"))
    assert not round_address.search(reverse("scheduling:round_finish", args=[held.pk]))
    assert f'const FILES = "{settings.STATIC_URL}";' in script
    assert 'href|src)="(\\/static\\/' in script


@pytest.mark.parametrize("purpose", list(Round.Purpose))
def test_a_page_says_for_whom_it_may_be_kept(
    client: Client, where: Yard, fitter: Person, purpose: Round.Purpose
) -> None:
    held = begun(where, purpose)
    page = reverse("scheduling:round", args=[held.pk])
    client.force_login(fitter)
    answer = client.get(page)
    assert answer["Round-Page"] == f"{fitter.pk} open"
    assert answer["Cache-Control"] == "no-store"
    finish_round(round_=held, person=where.planner, at=make.NOW)
    answer = client.get(page)
    assert answer["Round-Page"] == f"{fitter.pk} finished"
    assert "scheduling/round.js" in answer.content.decode()  # what waits on the phone still goes


def test_nothing_may_be_kept_by_who_only_reads(client: Client, where: Yard) -> None:
    client.force_login(make.person("storeman", at=where.site))
    answer = client.get(reverse("scheduling:round", args=[begun(where).pk]))
    assert answer.status_code == 200
    assert "Round-Page" not in answer


@pytest.mark.parametrize("name", ["rounds", "today", "machines"])
def test_no_other_page_may_be_kept(client: Client, where: Yard, name: str) -> None:
    client.force_login(where.planner)
    assert "Round-Page" not in client.get(reverse(f"scheduling:{name}"))
