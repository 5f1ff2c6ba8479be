"""A stay that has ended is sealed: where its reading was wrong, the right hours stand beside it."""

import datetime as dt
from decimal import Decimal
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from assemblies.actions.installations import Moment, fit_assembly, remove_assembly
from assemblies.models import Assembly, Position, Stay
from assemblies.queries.proofs import earlier_hours_add_up
from fleet.actions.corrections import correct_reading
from fleet.actions.readings import accept_reading
from fleet.models import HourReading, Person, TrailEntry
from scheduling.calc.inputs import Flag
from scheduling.calc.life.installations import Clock, LifeTable
from scheduling.models import Due, Failure
from scheduling.queries.lifetimes import LifeScope, lifetimes
from tests import factories as make
from tests.db.fleet.hours_yard import read

pytestmark = pytest.mark.django_db
FITTED, OFF = 100, 10  # days ago


@pytest.fixture
def place() -> Position:
    return make.position(on=make.machine())


@pytest.fixture
def boss(place: Position) -> Person:
    return make.person("planner", at=place.machine.site)


def ago(days: int) -> dt.date:
    return make.TODAY - dt.timedelta(days=days)


def moment(days: int, hours: int) -> Moment:
    at = make.NOW - dt.timedelta(days=days)
    return Moment(on=ago(days), at=at, machine_h=Decimal(hours))


def fitted(place: Position, hours: int, days: int = FITTED, **facts: Any) -> Assembly:
    span = {"stay_from_earliest_on": ago(days), "stay_from_latest_on": ago(days)}
    known = {"known_from_on": ago(days), "stay_from_machine_h": Decimal(hours)}
    return make.fitted(on=place, **{**span, **known, **facts})


def taken_off(hose: Assembly, hours: int, days: int = OFF, removal: str = "due") -> Stay:
    told: dict[str, Any] = {"removal": removal, "to": "store", "when": moment(days, hours)}
    remove_assembly(assembly=hose, **told, person=None, now=make.NOW)
    ended: Stay = hose.stays.get(place="position", is_open=False)
    return ended


def right(reading: HourReading, hours: Any, boss: Person) -> HourReading:
    return correct_reading(
        reading=reading,
        reading_h=Decimal(hours),
        read_at=reading.read_at,
        typed=str(hours),
        reason="misread",
        person=boss,
        at=make.NOW,
    )


def lives(place: Position) -> LifeTable:
    boss = make.person("planner", at=place.machine.site)
    return lifetimes(boss, LifeScope(), Clock.HOURS, today=make.TODAY)


def hours(*whole: int) -> tuple[Decimal, ...]:
    return tuple(map(Decimal, whole))


def in_step(hose: Assembly, earlier: Any) -> None:
    """The hose's earlier hours are these, and the proof finds them to be its stays'."""
    hose.refresh_from_db()
    assert hose.earlier_h == Decimal(earlier)
    assert list(earlier_hours_add_up()) == []


@pytest.fixture
def ended(place: Position) -> Stay:
    """On from 1000 h to 2450 h, which should have been 1450 h."""
    read(place.machine, 1000, FITTED)
    read(place.machine, 2450, OFF)
    return taken_off(fitted(place, 1000), 2450)


def reading_of(hours: int) -> HourReading:
    return HourReading.objects.get(reading_h=hours, set_aside_at=None)


def test_the_hours_at_removal_are_put_right_beside_what_was_noted(
    ended: Stay, boss: Person
) -> None:
    in_step(ended.assembly, 1450)
    right(reading_of(2450), 1450, boss)
    ended.refresh_from_db()
    assert (ended.from_machine_h, ended.to_machine_h) == (Decimal(1000), Decimal(2450))
    assert (ended.began_h, ended.ended_h, ended.run_h) == hours(1000, 1450, 450)
    in_step(ended.assembly, 450)
    deed = TrailEntry.objects.get(deed="corrected the hours of an ended stay")
    assert deed.actor == boss
    assert deed.before == {"machine_h": "2450.0", "ran_h": "1450.0"}
    assert deed.after == {"machine_h": "1450", "ran_h": "450.0"}


def test_the_hours_at_fitting_are_put_right_beside_what_was_noted(
    place: Position, boss: Person
) -> None:
    wrong = read(place.machine, 1000, FITTED)
    ended = taken_off(fitted(place, 1000), 2450)
    right(wrong, 2000, boss)
    ended.refresh_from_db()
    assert (ended.from_machine_h, ended.began_h, ended.run_h) == hours(1000, 2000, 450)
    in_step(ended.assembly, 450)


def test_both_ends_of_one_swap_follow_and_the_new_hose_too(place: Position, boss: Person) -> None:
    wrong = read(place.machine, 1450, OFF)
    old, new = fitted(place, 1000), make.stored(at=place.machine.site)
    ended = taken_off(old, 1450)
    fit_assembly(assembly=new, position=place, when=moment(OFF, 1450), person=None, now=make.NOW)
    right(wrong, 1400, boss)
    ended.refresh_from_db()
    assert (ended.to_machine_h, ended.run_h) == hours(1450, 400)
    here = new.stays.get(is_open=True)
    assert here.from_machine_h == 1400


def test_corrected_twice_and_corrected_back(ended: Stay, boss: Person) -> None:
    again = right(reading_of(2450), 1450, boss)
    back = right(again, 1500, boss)
    ended.refresh_from_db()
    assert (ended.ended_h, ended.run_h) == hours(1500, 500)
    right(back, 2450, boss)
    ended.refresh_from_db()
    assert ended.run_h == 1450
    assert not ended.is_corrected
    in_step(ended.assembly, 1450)


def test_a_doubtful_correction_counts_once_it_is_accepted(place: Position, boss: Person) -> None:
    read(place.machine, 1400, 20)
    wrong = read(place.machine, 1450, OFF)
    ended = taken_off(fitted(place, 1000), 1450)
    open_one = fitted(place, 1450, OFF)
    doubtful = right(wrong, 1350, boss)
    assert doubtful.doubt
    ended.refresh_from_db()
    assert ended.run_h == 450
    accept_reading(reading=doubtful, person=boss, at=make.NOW)
    ended.refresh_from_db()
    assert ended.run_h == 350
    assert open_one.stays.get().from_machine_h == 1350


@pytest.mark.parametrize(
    ("hours", "days", "counts"),
    [(1451, OFF, "engine"), (1450, OFF + 1, "engine"), (1450, OFF, "hydraulics")],
)
def test_hours_that_came_from_elsewhere_stay(
    place: Position, boss: Person, hours: int, days: int, counts: str
) -> None:
    wrong = read(place.machine, 1450, OFF)
    Position.objects.filter(pk=place.pk).update(counts=counts)
    ended = taken_off(fitted(place, 1000), hours, days)
    right(wrong, 1400, boss)
    ended.refresh_from_db()
    assert not ended.is_corrected


def test_hours_that_run_backwards_now_are_not_known(place: Position, boss: Person) -> None:
    make.life_rule(hours_total=Decimal(3000))
    wrong = read(place.machine, 1000, FITTED)
    hose = fitted(place, 1000)
    ended = taken_off(hose, 1450)
    fit_assembly(assembly=hose, position=place, when=moment(5, 1500), person=None, now=make.NOW)
    assert not Flag(Due.objects.get(assembly=hose).flags) & Flag.EARLIER_HOURS_UNKNOWN
    right(wrong, 2500, boss)
    ended.refresh_from_db()
    assert ended.run_h is None
    in_step(hose, 0)
    assert Flag(Due.objects.get(assembly=hose).flags) & Flag.EARLIER_HOURS_UNKNOWN
    assert lives(place).left_out == {
        "it has no age yet, or its hours run backwards": 1,
        "its hours at fitting or at its end are not known": 1,
    }


def test_lives_are_of_the_right_hours(ended: Stay, place: Position, boss: Person) -> None:
    before = lives(place).rows
    right(reading_of(2450), 1450, boss)
    assert [(life.entry, life.age) for life in before] == [(0, 1450)]
    assert [(life.entry, life.age) for life in lives(place).rows] == [(0, 450)]


def test_a_later_life_of_the_hose_begins_at_its_right_age(place: Position, boss: Person) -> None:
    hose = fitted(place, 1000)
    taken_off(hose, 1450, 50)
    fit_assembly(assembly=hose, position=place, when=moment(40, 1450), person=None, now=make.NOW)
    wrong = read(place.machine, 1450, 50)
    read(place.machine, 1500, OFF)
    right(wrong, 1400, boss)
    assert [(life.entry, life.age) for life in lives(place).rows] == [(0, 400), (400, 450)]


def test_the_hours_in_all_of_a_due_follow(place: Position, boss: Person) -> None:
    make.life_rule(hours_total=Decimal(1000))
    wrong = read(place.machine, 1450, 50)
    hose = fitted(place, 1000)
    taken_off(hose, 1450, 50)
    fit_assembly(assembly=hose, position=place, when=moment(40, 1500), person=None, now=make.NOW)
    read(place.machine, 1600, OFF)
    before = Due.objects.get(assembly=hose).replace_on
    right(wrong, 1400, boss)
    after = Due.objects.get(assembly=hose).replace_on
    assert before is not None
    assert after is not None
    assert after > before


def page(who: Person, name: str, *args: Any) -> str:
    client = Client()
    client.force_login(who)
    answer = client.get(reverse(f"scheduling:{name}", args=args))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_the_pages_tell_both_figures_and_lead_to_the_readings(
    ended: Stay, place: Position, boss: Person
) -> None:
    assert "corrected since" not in page(boss, "hose", ended.assembly_id)
    right(reading_of(2450), 1450, boss)
    link = reverse("fleet:readings", args=[place.machine_id])
    for told in (page(boss, "hose", ended.assembly_id), page(boss, "position", place.pk)):
        assert ", 450 h (noted then: 1 000 h to 2 450 h" in told
        assert "a reading was corrected since: 1 000 h to 1 450 h" in told
        assert f'<a class="tap" href="{link}">the hours read</a>' in told


def test_a_failure_told_at_the_wrong_hours_is_told_at_the_right_ones(
    ended: Stay, place: Position, boss: Person
) -> None:
    told = {"stay": ended, "machine": place.machine, "site": ended.site, "mode": "burst"}
    when = {"failed_at": make.NOW, "failed_on": ago(OFF)}
    one = Failure.objects.create(assembly=ended.assembly, machine_h=2450, **told, **when)
    assert "2 450 h" in page(boss, "failure", one.pk)
    right(reading_of(2450), 1450, boss)
    one.refresh_from_db()
    assert (one.machine_h, one.version) == (Decimal(1450), 2)
    assert TrailEntry.objects.filter(deed="corrected the hours of a failure").exists()
    assert "2 450 h" not in page(boss, "failure", one.pk)


def test_a_failure_at_hours_that_were_read_twice_stays(place: Position, boss: Person) -> None:
    read(place.machine, 1450, OFF)
    wrong = read(place.machine, 1450, OFF - 1)
    hose = fitted(place, 1000)
    told = {"stay": hose.stays.get(), "machine": place.machine, "site": hose.site, "mode": "burst"}
    when = {"failed_at": make.NOW, "failed_on": ago(OFF - 1)}
    one = Failure.objects.create(assembly=hose, machine_h=1450, **told, **when)
    right(wrong, 1460, boss)
    one.refresh_from_db()
    assert one.machine_h == 1450


@pytest.mark.parametrize("column", ["from_machine_h", "to_machine_h"])
def test_what_was_noted_of_an_ended_stay_stays_sealed(ended: Stay, column: str) -> None:
    with pytest.raises(DatabaseError), transaction.atomic():
        Stay.objects.filter(pk=ended.pk).update(**{column: 1200})


def test_an_open_stay_has_nothing_beside_it(place: Position) -> None:
    stay = fitted(place, 1000).stays.get()
    with pytest.raises(DatabaseError), transaction.atomic():
        Stay.objects.filter(pk=stay.pk).update(from_corrected_h=1200)


def test_readings_corrected_before_are_followed_by_the_migration(ended: Stay, boss: Person) -> None:
    right(reading_of(2450), 1450, boss)
    Stay.objects.filter(pk=ended.pk).update(to_corrected_h=None)
    Assembly.objects.filter(pk=ended.assembly_id).update(earlier_h=1450)
    step = import_module("assemblies.migrations.0006_follow_readings_corrected_before")
    for _ in range(2):
        step.follow(apps, None)
        ended.refresh_from_db()
        assert ended.run_h == 450
        in_step(ended.assembly, 450)
