"""Two who report, or complete, at the same moment: one failure, one time down, one is told."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest

from assemblies.models import Assembly, Position
from fleet.models import Downtime, Machine, Person, TrailEntry
from scheduling.actions.failures import Report, complete_failure, report_failure
from scheduling.models import Failure, Finding
from tests import factories as make
from tests.faults.test_two_at_a_desk import at_once

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.timeout(300)]
ROUNDS, NOW = 10, make.NOW


@pytest.fixture
def two() -> list[Person]:
    site = make.site()
    return [make.person("fitter", at=site) for _ in range(2)]


def place(person: Person) -> Position:
    return make.position(on=make.machine(at=person.posts[0].site))


def reporting(hose: Assembly, by: Person) -> Callable[[], Any]:
    since = NOW - dt.timedelta(hours=1)

    def report() -> str:
        told = Report("burst", since, since)
        client_id = f"{by.pk}-{hose.pk}"
        report_failure(assembly=hose, report=told, client_id=client_id, person=by, at=NOW)
        return "reported"

    return report


def test_of_two_who_report_one_hose_one_does_and_the_other_is_told(two: list[Person]) -> None:
    for _ in range(ROUNDS):
        hose = make.fitted(on=place(two[0]))
        came_to = at_once(*(reporting(hose, person) for person in two))
        assert sorted(came_to) == ["reported", "told_already"]
    for model in (Failure, Downtime, Finding):
        assert model._default_manager.count() == ROUNDS
    assert TrailEntry.objects.filter(deed="reported a failure").count() == ROUNDS


def test_two_hoses_of_one_machine_share_its_time_down(two: list[Person]) -> None:
    for _ in range(ROUNDS):
        machine: Machine = place(two[0]).machine
        hoses = [make.fitted(on=make.position(on=machine)) for _ in range(2)]
        came_to = at_once(*(reporting(hose, by) for hose, by in zip(hoses, two, strict=True)))
        assert came_to == ["reported", "reported"]
        downs = {failure.downtime_id for failure in Failure.objects.filter(machine=machine)}
        assert downs == {Downtime.objects.get(machine=machine).pk}


def test_of_two_who_complete_one_report_one_is_told(two: list[Person]) -> None:
    for _ in range(ROUNDS):
        hose = make.fitted(on=place(two[0]))
        reporting(hose, two[0])()
        failure = Failure.objects.get(assembly=hose)

        def complete(person: Person, cause: str, failure: Failure = failure) -> str:
            facts = {"cause": cause, "fire": "none"}
            complete_failure(failure=failure, facts=facts, version=1, person=person, at=NOW)
            return cause

        came_to = at_once(lambda: complete(two[0], "age"), lambda: complete(two[1], "abrasion"))
        assert came_to.count("changed_meanwhile") == 1
        failure.refresh_from_db()
        assert failure.cause in came_to
        assert failure.version == 2
