"""The lives of a scope are read from stays, failures and readings, in few reads."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.models import Assembly, Position, Stay
from fleet.models import HourReading, Person, Usage
from scheduling.calc.life.installations import Clock, Ended
from scheduling.models import Failure
from scheduling.queries.lifetimes import LifeScope, lifetimes
from tests import factories as make

pytestmark = pytest.mark.django_db
FITTED = dt.date(2024, 3, 9)


def off(hose: Assembly, on: dt.date, hours: int, removal: str) -> Stay:
    stay: Stay = hose.stays.get(is_open=True)
    stay.is_open, stay.to_on, stay.to_machine_h, stay.removal = False, on, Decimal(hours), removal
    stay.save()
    return stay


def hose(place: Position, **facts: Any) -> Assembly:
    fitted = {"stay_from_earliest_on": FITTED, "stay_from_latest_on": FITTED}
    known = {"known_from_on": FITTED, "stay_from_machine_h": Decimal(1000)}
    return make.fitted(on=place, **{**fitted, **known, **facts})


def read(place: Position, on: dt.date, hours: int) -> None:
    meter = place.machine.meters.get()
    HourReading.objects.create(
        meter=meter,
        site=place.machine.site,
        read_at=dt.datetime.combine(on, dt.time(12), dt.UTC),
        read_on=on,
        reading_h=hours,
        machine_h=hours,
        recorded_at=make.NOW,
    )
    Usage.objects.filter(machine=place.machine).update(machine_h=hours, as_of_on=on)


def test_a_failure_a_change_and_one_that_still_runs() -> None:
    place = make.position()
    person = make.person("planner", at=place.machine.site)
    first, second = hose(place), None
    stay = off(first, dt.date(2025, 3, 9), 2500, "failed")
    Failure.objects.create(
        assembly=first,
        stay=stay,
        site=first.site,
        failed_at=make.NOW,
        failed_on=stay.to_on,
        mode="burst",
        cause="abrasion",
    )
    second = hose(place, stay_from_machine_h=Decimal(2500))
    off(second, dt.date(2025, 9, 9), 3000, "due")
    hose(place, stay_from_machine_h=Decimal(3000))
    read(place, make.TODAY, 3400)
    table = lifetimes(person, LifeScope(), Clock.HOURS, today=make.TODAY)
    found = [(row.ended, row.entry, row.age, row.cause) for row in table.rows]
    assert found == [
        (Ended.FAILED, 0, 1500.0, "abrasion"),
        (Ended.CHANGED, 0, 500.0, ""),
        (Ended.RUNNING, 0, 400.0, ""),
    ]


def test_a_hose_known_late_enters_at_the_hours_of_that_day() -> None:
    place = make.position()
    person = make.person("planner", at=place.machine.site)
    hose(place, known_from_on=FITTED + dt.timedelta(100))
    read(place, FITTED, 1000)
    read(place, FITTED + dt.timedelta(200), 2000)
    (row,) = lifetimes(person, LifeScope(), Clock.HOURS, today=make.TODAY).rows
    assert (row.entry, row.age) == (500.0, 1000.0)


def test_a_moved_hose_brings_its_hours_along() -> None:
    place, other = make.position(), make.position()
    person = make.person("planner")
    moved = hose(place)
    off(moved, dt.date(2025, 3, 9), 1600, "moved")
    Stay.objects.create(
        assembly=moved,
        site=other.machine.site,
        place="position",
        position=other,
        from_earliest_on=dt.date(2025, 3, 9),
        from_latest_on=dt.date(2025, 3, 9),
        from_machine_h=Decimal(50),
        recorded_at=make.NOW,
        is_open=False,
        to_on=dt.date(2025, 6, 9),
        to_machine_h=Decimal(450),
        removal="due",
    )
    post = make.person("planner", at=place.machine.site)
    make_everywhere = make.person("planner", at=None)
    rows = lifetimes(make_everywhere, LifeScope(), Clock.HOURS, today=make.TODAY).rows
    assert [(row.entry, row.age) for row in rows] == [(0, 600.0), (600.0, 1000.0)]
    assert len(lifetimes(post, LifeScope(), Clock.HOURS, today=make.TODAY).rows) == 1
    assert not lifetimes(person, LifeScope(site_id=0), Clock.HOURS, today=make.TODAY).rows


def test_a_failure_told_twice_is_one_life() -> None:
    place = make.position()
    person = make.person("planner", at=place.machine.site)
    broken = hose(place)
    stay = off(broken, dt.date(2025, 3, 9), 2500, "failed")
    facts = {"assembly": broken, "stay": stay, "site": broken.site, "failed_at": make.NOW}
    for mode in ("burst", "pinhole"):
        Failure.objects.create(**facts, failed_on=stay.to_on, mode=mode)
    assert len(lifetimes(person, LifeScope(), Clock.DAYS, today=make.TODAY).rows) == 1


@pytest.mark.parametrize(
    ("scope", "found"),
    [
        ({"circuit": "steering"}, 1),
        ({"hose_type": "4SP"}, 1),
        ({"consequence": "hurts"}, 1),
        ({"exposure": "heat"}, 1),
        ({}, 2),
    ],
)
def test_a_scope_names_which_installations(scope: dict[str, str], found: int) -> None:
    machine = make.machine()
    person = make.person("planner", at=machine.site)
    hose(make.position(on=machine, circuit="steering", consequence="hurts"), hose_type="4SP")
    hose(make.position(on=machine, circuit="return", exposure="heat"), hose_type="1SN")
    table = lifetimes(person, LifeScope(**scope), Clock.DAYS, today=make.TODAY)  # type: ignore[arg-type]  # texts all
    assert len(table.rows) == found


def _reads(person: Any) -> int:
    with CaptureQueriesContext(connection) as reads:
        lifetimes(person, LifeScope(), Clock.HOURS, today=make.TODAY)
    return len(reads)


def test_the_reads_do_not_grow_with_the_installations() -> None:
    person = make.person("planner")
    person.postings.update(site=None)
    counted = []
    for _ in range(2):
        for _ in range(3):
            read(place := make.position(), FITTED, 1000)
            hose(place)
        counted.append(_reads(Person.objects.get(pk=person.pk)))
    assert counted[0] == counted[1]
