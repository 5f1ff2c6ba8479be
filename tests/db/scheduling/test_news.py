import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.positions import change_position
from assemblies.models import Assembly, Position
from fleet.actions.machines import add_machine, change_machine, move_machine
from fleet.actions.readings import record_reading
from fleet.models import Errand, Usage
from fleet.signals import machine_changed
from scheduling.calc.inputs import Flag
from scheduling.models import Due, StaleMark
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
DAY = dt.date(2026, 1, 1)


@pytest.fixture
def hose() -> Assembly:
    make.life_rule(hours_fitting=Decimal(800))
    facts: dict[str, Any] = {"stay_from_earliest_on": DAY, "stay_from_latest_on": DAY}
    return make.fitted(**facts, stay_from_machine_h=Decimal(0))


def _place(hose: Assembly) -> Position:
    return Position.objects.get(stays__assembly=hose)


def _change(hose: Assembly, **facts: Any) -> Due:
    machine, planner = _place(hose).machine, make.person("planner")
    change_machine(machine=machine, facts=facts, version=machine.version, person=planner, at=NOW)
    return Due.objects.get(assembly=hose)


def test_a_machine_put_to_stand_has_no_hours_date(hose: Assembly) -> None:
    reading: dict[str, Any] = {"reading_h": Decimal(10), "read_at": NOW, "person": None, "at": NOW}
    record_reading(machine=_place(hose).machine, counts="engine", **reading)
    assert Due.objects.get(assembly=hose).replace_on is not None
    due = _change(hose, status="standing")
    assert Usage.objects.get().basis.startswith("marked as standing")
    assert due.replace_on is None
    assert Flag.STANDING in Flag(due.flags)


def test_another_class_is_in_the_dues_at_once(hose: Assembly) -> None:
    slow = make.machine_class(hours_per_day=Decimal(4))
    assert _change(hose, machine_class=slow).replace_on == DAY + dt.timedelta(days=200)


def test_dues_move_with_their_machine(hose: Assembly) -> None:
    there, planner = make.site(), make.person("planner")
    machine = _place(hose).machine
    move_machine(machine=machine, to=there, on=TODAY, person=planner, at=NOW, reason="hired out")
    assert Due.objects.get(assembly=hose).site == there


def test_a_position_that_changes_its_circuit_takes_other_rules(hose: Assembly) -> None:
    make.life_rule(fitted_months=1, circuit="steering")
    place = _place(hose)
    change_position(
        position=place,
        facts={"circuit": "steering"},
        version=place.version,
        person=make.person("planner"),
        at=NOW,
    )
    assert Due.objects.get(assembly=hose).replace_on == dt.date(2026, 2, 1)


def test_a_new_machine_has_wide_bounds_on_its_class_rate() -> None:
    facts = {"fleet_number": "L-1", "machine_class": make.machine_class(hours_per_day=Decimal(8))}
    machine = add_machine(site=make.site(), facts=facts, person=None, at=NOW, today=TODAY)
    usage = Usage.objects.get(machine=machine)
    assert (usage.low_h_per_day, usage.high_h_per_day) == (Decimal(4), Decimal(12))


def test_news_of_many_machines_is_marked_and_left_to_an_errand() -> None:
    machines = [make.machine().pk for _ in range(6)]
    machine_changed.send(sender=None, machine_ids=machines, at=NOW)
    assert StaleMark.objects.filter(subject="machine", done_generation=0).count() == 6
    assert Errand.objects.get().kind == "stale dues"
