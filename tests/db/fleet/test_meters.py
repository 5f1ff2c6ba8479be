"""Changing a meter, undoing that, its rollover; correcting what was read off it."""

import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from fleet.actions.corrections import correct_reading
from fleet.actions.meters import (
    MeterChange,
    add_meter,
    change_meter,
    set_rollover,
    undo_meter_change,
)
from fleet.actions.readings import accept_reading, record_reading, set_aside_reading
from fleet.actions.refusals import Refused
from fleet.models import HourReading, Machine, Person, TrailEntry, Usage
from fleet.permissions import NotAllowed
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW


@pytest.fixture
def machine() -> Machine:
    return make.machine()


@pytest.fixture
def boss(machine: Machine) -> Person:
    return make.person("planner", at=machine.site)


def on(days_ago: float) -> dt.date:
    return (NOW - dt.timedelta(days=days_ago)).date()


def read(machine: Machine, hours: Any, days_ago: float, **facts: Any) -> HourReading:
    return record_reading(
        machine=machine,
        counts="engine",
        reading_h=Decimal(str(hours)),
        read_at=NOW - dt.timedelta(days=days_ago),
        **{"person": None, "at": NOW, **facts},
    )


def change(machine: Machine, boss: Person, days_ago: float, last: Any, first: Any = 0) -> Any:
    told = MeterChange(on(days_ago), Decimal(str(last)), Decimal(str(first)))
    return change_meter(machine=machine, counts="engine", change=told, person=boss, at=NOW)


def right(reading: HourReading, boss: Person, hours: Any, **facts: Any) -> HourReading:
    given: dict[str, Any] = {"typed": str(hours), "reading_h": Decimal(str(hours)), "at": NOW}
    given |= {"reason": "two figures swapped", "read_at": reading.read_at, **facts}
    return correct_reading(reading=reading, person=boss, **given)


def test_a_correction_keeps_the_wrong_reading_beside_the_right_one(
    machine: Machine, boss: Person
) -> None:
    wrong = read(machine, 1254, 10)
    better = right(wrong, boss, 1245)
    wrong.refresh_from_db()
    assert (better.replaces, better.reading_h, better.typed) == (wrong, Decimal(1245), "1245")
    assert (wrong.reading_h, wrong.set_aside_by) == (Decimal(1254), boss)
    assert wrong.set_aside_reason == "two figures swapped"
    assert Usage.objects.get(machine=machine).machine_h == Decimal(1245)


def test_a_correction_clears_what_was_doubted_because_of_the_wrong_one(
    machine: Machine, boss: Person
) -> None:
    wrong = read(machine, 12540, 10)
    later = read(machine, 1300, 1)
    assert later.doubt
    right(wrong, boss, 1254)
    later.refresh_from_db()
    assert later.doubt == ""


def test_a_correction_may_be_doubtful_itself_and_says_so(machine: Machine, boss: Person) -> None:
    read(machine, 1000, 20)
    assert "doesn't run back" in right(read(machine, 1040, 10), boss, 104).doubt


@pytest.mark.parametrize(
    ("facts", "code"),
    [
        ({"reason": " "}, "reason_missing"),
        ({"reading_h": Decimal(1254)}, "nothing_differs"),
        ({"reading_h": Decimal(-1)}, "not_hours"),
        ({"reading_h": Decimal(10**8)}, "not_hours"),
        ({"reading_h": Decimal(1200)}, "stands_already"),
    ],
)
def test_refuses_a_correction_that_corrects_nothing(
    machine: Machine, boss: Person, facts: dict[str, Any], code: str
) -> None:
    wrong = read(machine, 1254, 10)
    read(machine, 1200, 10)
    with pytest.raises(Refused) as refused:
        right(wrong, boss, 1245, **facts)
    assert refused.value.code == code
    assert HourReading.objects.filter(set_aside_at=None).count() == 2


def test_a_reading_is_corrected_once(machine: Machine, boss: Person) -> None:
    wrong = read(machine, 1254, 10)
    right(wrong, boss, 1245)
    with pytest.raises(Refused, match="set aside before"):
        right(wrong, boss, 1246)


def test_a_stranger_corrects_nothing(machine: Machine) -> None:
    with pytest.raises(NotAllowed):
        right(read(machine, 1254, 10), make.person("planner", at=make.site()), 1245)


def test_what_was_doubted_after_the_change_is_recorded_on_the_new_meter(
    machine: Machine, boss: Person
) -> None:
    read(machine, 5360, 60)
    doubted = read(machine, 12, 3, typed="12,0")
    assert doubted.doubt
    new = change(machine, boss, 5, 5480)
    doubted.refresh_from_db()
    again = HourReading.objects.get(replaces=doubted)
    assert (again.meter, again.machine_h, again.doubt) == (new, Decimal(5492), "")
    assert (again.typed, doubted.set_aside_reason) == ("12,0", "read off the new meter")


def test_a_change_before_a_reading_that_counts_is_refused(machine: Machine, boss: Person) -> None:
    read(machine, 5360, 3)
    with pytest.raises(Refused, match="counts on the present meter, after that day"):
        change(machine, boss, 5, 5350)


def test_a_change_before_the_meter_was_fitted_is_refused(machine: Machine, boss: Person) -> None:
    change(machine, boss, 5, 5350)
    with pytest.raises(Refused) as refused:
        change(machine, boss, 6, 1)
    assert refused.value.code == "day_before_meter"


def test_the_readings_of_a_change_are_not_set_aside_alone(machine: Machine, boss: Person) -> None:
    change(machine, boss, 5, 5350)
    for reading in HourReading.objects.all():
        with pytest.raises(Refused, match="undo the change"):
            set_aside_reading(reading=reading, reason="wrong", person=boss, at=NOW)
        with pytest.raises(Refused, match="undo the change"):
            right(reading, boss, 5351)


def test_a_change_is_undone_and_the_old_meter_goes_on(machine: Machine, boss: Person) -> None:
    read(machine, 5360, 60)
    change(machine, boss, 5, 5480)
    undo_meter_change(machine=machine, counts="engine", reason="other machine", person=boss, at=NOW)
    after = read(machine, 5500, 1)
    assert (after.machine_h, after.doubt) == (Decimal(5500), "")
    assert machine.meters.filter(to_on=None).get() == after.meter
    assert machine.meters.exclude(undone_at=None).get().undone_reason == "other machine"
    assert HourReading.objects.filter(set_aside_at__isnull=False).count() == 2
    assert TrailEntry.objects.filter(deed="undid a change of meter").count() == 1


def test_a_change_can_be_recorded_again_after_it_was_undone(machine: Machine, boss: Person) -> None:
    change(machine, boss, 5, 5480)
    undo_meter_change(machine=machine, counts="engine", reason="mistyped", person=boss, at=NOW)
    change(machine, boss, 5, 5408)
    assert read(machine, 10, 1).machine_h == Decimal(5418)


def test_what_was_doubted_on_an_undone_meter_is_recorded_on_the_old_one(
    machine: Machine, boss: Person
) -> None:
    change(machine, boss, 5, 5480)
    doubted = read(machine, 5490, 1)
    assert doubted.doubt
    undo_meter_change(machine=machine, counts="engine", reason="mistyped", person=boss, at=NOW)
    again = HourReading.objects.get(replaces=doubted)
    assert (again.machine_h, again.doubt) == (Decimal(5490), "")


@pytest.mark.parametrize(
    ("reason", "hours", "code"), [(" ", None, "reason_missing"), ("x", 8, "readings_after")]
)
def test_refuses_to_undo_a_change_that_hours_rest_on(
    machine: Machine, boss: Person, reason: str, hours: int | None, code: str
) -> None:
    change(machine, boss, 5, 5480)
    if hours is not None:
        read(machine, hours, 1)
    with pytest.raises(Refused) as refused:
        undo_meter_change(machine=machine, counts="engine", reason=reason, person=boss, at=NOW)
    assert refused.value.code == code


def test_refuses_to_undo_where_nothing_was_changed(machine: Machine, boss: Person) -> None:
    with pytest.raises(Refused) as refused:
        undo_meter_change(machine=machine, counts="engine", reason="x", person=boss, at=NOW)
    assert refused.value.code == "no_change"


def roll(machine: Machine, boss: Person, hours: Any, counts: str = "engine") -> Any:
    figure = None if hours is None else Decimal(str(hours))
    return set_rollover(machine=machine, counts=counts, rollover_h=figure, person=boss, at=NOW)


def test_a_known_rollover_clears_the_doubt_about_a_drop(machine: Machine, boss: Person) -> None:
    read(machine, 9990, 5)
    dropped = read(machine, 20, 1)
    assert "doesn't run back" in dropped.doubt
    roll(machine, boss, 10_000)
    dropped.refresh_from_db()
    assert (dropped.doubt, dropped.machine_h) == ("", Decimal(10_020))


@pytest.mark.parametrize(
    ("hours", "counts", "code"),
    [
        (0, "engine", "not_hours"),
        (-5, "engine", "not_hours"),
        (10**8, "engine", "not_hours"),
        (9990, "engine", "below_a_reading"),
        (10_000, "hydraulics", "no_meter"),
    ],
)
def test_refuses_a_rollover_that_can_not_be(
    machine: Machine, boss: Person, hours: int, counts: str, code: str
) -> None:
    read(machine, 9990, 5)
    with pytest.raises(Refused) as refused:
        roll(machine, boss, hours, counts)
    assert refused.value.code == code


def test_a_rollover_that_was_passed_stands(machine: Machine, boss: Person) -> None:
    roll(machine, boss, 10_000)
    read(machine, 9990, 5)
    read(machine, 20, 1)
    for figure in (None, 20_000):
        with pytest.raises(Refused, match="past a rollover"):
            roll(machine, boss, figure)


@pytest.mark.parametrize("deed", [change, roll])
def test_a_stranger_changes_no_meter(machine: Machine, deed: Any) -> None:
    for person in (
        make.person("planner", at=make.site()),
        make.person("storeman", at=machine.site),
    ):
        with pytest.raises(NotAllowed):
            deed(machine, person, 5, 1) if deed is change else deed(machine, person, 10_000)


def test_a_further_counter_gets_its_meter_once(machine: Machine, boss: Person) -> None:
    facts: dict[str, Any] = {"machine": machine, "rollover_h": None, "person": boss, "at": NOW}
    add_meter(counts="hydraulics", **facts)
    for counts, code in (("hydraulics", "has_meter"), ("kilometres", "counter_unknown")):
        with pytest.raises(Refused) as refused:
            add_meter(counts=counts, **facts)
        assert refused.value.code == code


def test_a_reading_without_a_zone_stays_doubtful_until_a_person_accepts_it(
    machine: Machine, boss: Person
) -> None:
    reading = read(machine, 100, 5)
    HourReading.objects.filter(pk=reading.pk).update(zone_known=False, doubt="no zone")
    other = read(machine, 50, 6)
    set_aside_reading(reading=other, reason="misread", person=boss, at=NOW)
    reading.refresh_from_db()
    assert "without a zone" in reading.doubt
    assert accept_reading(reading=reading, person=boss, at=NOW).counts_in_forecasts
