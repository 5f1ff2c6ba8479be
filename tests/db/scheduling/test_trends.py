"""Failures over hours watched: from when the register knew a hose, in words, class beside."""

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.models import Position
from fleet.models import Machine, Usage
from scheduling.models import Failure
from scheduling.queries.histories import class_histories, machine_history, position_history
from tests import factories as make
from tests.db.scheduling.test_rates import failed, fitted, taken_off
from tests.db.scheduling.test_report import read

pytestmark = pytest.mark.django_db
KNOWN = dt.date(2025, 1, 1)


def watched(place: Position, first: int = 1000, last: int = 2000) -> Machine:
    """A machine read at the day its first hose was known, and last of all."""
    machine = place.machine
    read(machine, KNOWN - dt.timedelta(90), first - 500)
    read(machine, KNOWN, first)
    Usage.objects.filter(machine=machine).update(machine_h=Decimal(last))
    return machine


def failures(place: Position, *hours: int | None) -> None:
    for n, at in enumerate(hours):
        hose = fitted(place, since=KNOWN)
        failure = failed(hose, KNOWN + dt.timedelta(n + 1))
        taken_off(hose, failure.failed_on)
        Failure.objects.filter(pk=failure.pk).update(machine_h=at)


def test_ages_count_from_the_first_reading_after_a_hose_was_known() -> None:
    place = make.position()
    watched(place)
    failures(place, 1500, 1900, 900, None)
    found = machine_history(place.machine)
    assert (found.ages_h, found.until_h, found.left_out) == ((500.0, 900.0), 1000.0, 2)


def test_a_position_has_its_own_failures_alone() -> None:
    place = make.position()
    other = make.position(on=place.machine)
    watched(place)
    failures(place, 1500)
    failures(other, 1700, 1800)
    assert position_history(place).ages_h == (500.0,)
    assert machine_history(place.machine).ages_h == (500.0, 700.0, 800.0)


def test_a_machine_never_read_is_not_watched() -> None:
    place = make.position()
    failures(place, 1500)
    found = machine_history(place.machine)
    assert (found.until_h, found.left_out) == (0.0, 1)


def test_a_class_has_the_machines_of_the_person_s_sites() -> None:
    site, kind = make.site(), make.machine_class()
    here = [make.machine(at=site, machine_class=kind) for _ in range(2)]
    for machine in (*here, make.machine(machine_class=kind), make.machine(at=site)):
        place = make.position(on=machine)
        watched(place)
        failures(place, 1500)
    found = class_histories(make.person("fitter", at=site), here[0])
    assert {one.machine_id for one in found.histories} == {one.pk for one in here}
    assert found.machines == 2


def test_the_page_says_that_they_come_faster(client: Client) -> None:
    place = make.position()
    machine = watched(place)
    failures(place, 1500, 1900, 1960, 1985, 1990)
    client.force_login(make.person("fitter", at=machine.site))
    shown = client.get(reverse("scheduling:machine_trend", args=[machine.pk])).content.decode()
    assert "closer together: it is getting worse" in shown
    assert "This machine: 5 by 1,000 h" in shown
    at_place = client.get(reverse("scheduling:position_trend", args=[place.pk])).content.decode()
    assert "closer together: it is getting worse" in at_place


def test_few_failures_are_refused_in_words(client: Client) -> None:
    place = make.position()
    machine = watched(place)
    client.force_login(make.person("fitter", at=machine.site))
    at_machine = reverse("scheduling:machine_trend", args=[machine.pk])
    at_place = reverse("scheduling:position_trend", args=[place.pk])
    assert "It was not watched yet" in client.get(at_place).content.decode()
    failures(place, 1500, 1900)
    for address in (at_machine, at_place):
        assert "from fewer than 4 no trend can be told" in client.get(address).content.decode()


def test_the_queries_do_not_grow_with_the_class(client: Client) -> None:
    site, kind = make.site(), make.machine_class()
    client.force_login(make.person("fitter", at=site))
    counts = []
    for _ in range(2):
        for _ in range(3):
            place = make.position(on=make.machine(at=site, machine_class=kind))
            watched(place)
            failures(place, 1500)
        address = reverse("scheduling:machine_trend", args=[place.machine_id])
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            client.get(address)
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("name", ["machine_trend", "position_trend"])
def test_who_may_see_it(name: str, client: Client) -> None:
    place = make.position()
    thing = place.pk if name == "position_trend" else place.machine_id
    address = reverse(f"scheduling:{name}", args=[thing])
    assert client.get(address).status_code == 302
    client.force_login(make.person("manager", at=make.site()))
    assert client.get(address).status_code == 404
    for role in ("fitter", "manager"):
        client.force_login(make.person(role, at=place.machine.site))
        assert client.get(address).status_code == 200
    up = "position" if name == "position_trend" else "machine"
    shown = client.get(reverse(f"scheduling:{up}", args=[thing])).content.decode()
    assert (address in shown) is (name == "machine_trend")
