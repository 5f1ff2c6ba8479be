"""A hose fitted at wrong hours is at the right ones once the reading is put right."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from assemblies.models import Assembly, Position, Stay
from fleet.actions.corrections import correct_reading
from fleet.models import HourReading, Person, TrailEntry
from scheduling.models import StaleMark
from tests import factories as make
from tests.db.fleet.hours_yard import read

pytestmark = pytest.mark.django_db


@pytest.fixture
def place() -> Position:
    return make.position(on=make.machine())


@pytest.fixture
def boss(place: Position) -> Person:
    return make.person("planner", at=place.machine.site)


def fitted(place: Position, hours: Any, days_ago: int, **facts: Any) -> Assembly:
    on = make.TODAY - dt.timedelta(days=days_ago)
    days = {"stay_from_earliest_on": on, "stay_from_latest_on": on}
    return make.fitted(on=place, **{**days, "stay_from_machine_h": Decimal(hours), **facts})


def right(reading: HourReading, hours: Any, boss: Person, **facts: Any) -> HourReading:
    return correct_reading(
        reading=reading,
        reading_h=Decimal(hours),
        read_at=reading.read_at,
        typed=str(hours),
        reason="misread",
        person=boss,
        at=make.NOW,
    )


def hours_of(hose: Assembly) -> Decimal | None:
    hours: Decimal | None = Stay.objects.get(assembly=hose).from_machine_h
    return hours


def test_the_hours_at_fitting_follow_the_reading(place: Position, boss: Person) -> None:
    wrong = read(place.machine, 12450, 10)
    hose = fitted(place, 12450, 10)
    right(wrong, 11450, boss)
    assert hours_of(hose) == Decimal(11450)
    deed = TrailEntry.objects.get(deed="corrected the hours at fitting")
    assert (deed.actor, deed.before) == (boss, {"machine_h": "12450.0"})
    assert StaleMark.objects.filter(subject="assembly", subject_id=hose.pk).exists()


@pytest.mark.parametrize(
    ("hours", "days_ago", "counts"),
    [(12449, 10, "engine"), (12450, 9, "engine"), (12450, 10, "hydraulics")],
)
def test_hours_that_came_from_elsewhere_stay(
    place: Position, boss: Person, hours: int, days_ago: int, counts: str
) -> None:
    wrong = read(place.machine, 12450, 10)
    Position.objects.filter(pk=place.pk).update(counts=counts)
    place.refresh_from_db()
    hose = fitted(place, hours, days_ago)
    right(wrong, 11450, boss)
    assert hours_of(hose) == Decimal(hours)


def test_a_correction_that_is_doubtful_itself_moves_nothing(place: Position, boss: Person) -> None:
    read(place.machine, 12400, 20)
    wrong = read(place.machine, 12450, 10)
    hose = fitted(place, 12450, 10)
    assert right(wrong, 11450, boss).doubt
    assert hours_of(hose) == Decimal(12450)
