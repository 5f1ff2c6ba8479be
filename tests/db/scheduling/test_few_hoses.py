"""One machine or hose is worked out in a few statements, and as among all others."""

from decimal import Decimal
from itertools import count
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.models import Assembly, Position, Stay
from fleet.models import Machine
from scheduling.actions import due_dates
from scheduling.actions.due_dates import (
    StillChanging,
    refresh_all,
    refresh_assemblies,
    refresh_machines,
)
from scheduling.actions.due_rows import ChangedMeanwhile, write_few
from scheduling.actions.tallies import recount_tallies
from scheduling.models import Due, Exemption, LifeRule
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
D = make.TODAY.replace


def _yard(hoses: int) -> int:
    """A machine with hoses of every kind of place; its id."""
    machine = make.machine()
    kinds = [("hurts", "steering"), ("stops", "travel"), ("unknown", "working")]
    for n in range(hoses):
        consequence, circuit = kinds[n % 3]
        place = make.position(on=machine, consequence=consequence, circuit=circuit)
        day = D(year=2012 + n % 10)
        make.fitted(on=place, built_earliest_on=day, built_latest_on=day)
    return machine.pk


def _rows() -> list[dict[str, Any]]:
    return [dict(row) for row in Due.objects.order_by("assembly_id").values()]


def test_one_machine_is_worked_out_as_among_all() -> None:
    make.life_rule()
    make.life_rule(fitted_months=24, circuit="steering")
    make.life_rule(hours_total=Decimal(500))
    machine = _yard(9)
    refresh_all()
    whole = _rows()
    Due.objects.all().delete()
    assert refresh_machines(machine_ids=[machine]).added == 9
    assert _rows() == whole
    assert refresh_all(check=True).written == 0


def test_one_hose_is_worked_out_as_among_all() -> None:
    make.life_rule()
    _yard(3)
    refresh_all()
    whole = _rows()
    Due.objects.update(due_on=TODAY, fingerprint=1)
    refresh_assemblies(assembly_ids=Assembly.objects.values_list("pk", flat=True))
    assert _rows() == whole


def test_a_rule_that_was_approved_meanwhile_counts_at_once() -> None:
    machine = _yard(1)
    for months in (72, 60, 48):
        rule = make.life_rule(built_months=months)
        refresh_machines(machine_ids=[machine])
        assert Due.objects.get().replace_rule == rule.pk


def test_a_rule_that_speaks_of_a_text_nobody_named_before_counts_at_once() -> None:
    make.life_rule()
    machine = _yard(2)
    refresh_machines(machine_ids=[machine])
    rule = make.life_rule(built_months=1, circuit="steering")
    refresh_machines(machine_ids=[machine])
    found = dict(Due.objects.order_by("pk").values_list("pk", "replace_rule"))
    assert list(found.values()).count(rule.pk) == 1


def test_a_withdrawn_rule_counts_no_more() -> None:
    machine = _yard(1)
    make.life_rule()
    refresh_machines(machine_ids=[machine])
    LifeRule.objects.update(withdrawn_at=NOW)
    refresh_machines(machine_ids=[machine])
    assert Due.objects.get().replace_on is None


def test_an_exemption_counts_at_once_and_ends_at_once() -> None:
    make.life_rule()
    machine = _yard(3)
    refresh_machines(machine_ids=[machine])
    before = _rows()
    hose = Assembly.objects.order_by("pk")[0]
    place = Position.objects.get(stays__assembly=Assembly.objects.order_by("pk")[1])
    told = {"reason": "spare on its way", "granted_by": make.person(), "granted_on": TODAY}
    until = D(year=2031)
    Exemption.objects.create(assembly=hose, until_on=until, **told)
    Exemption.objects.create(position=place, until_on=until, **told)
    refresh_machines(machine_ids=[machine])
    assert [row["replace_on"] == until for row in _rows()] == [True, True, False]
    Exemption.objects.update(ended_at=NOW)
    refresh_machines(machine_ids=[machine])
    assert _rows() == before


def test_asks_as_often_for_many_hoses_as_for_few() -> None:
    make.life_rule()
    asked = []
    for hoses in (2, 30):
        machine = _yard(hoses)
        refresh_machines(machine_ids=[machine])
        Due.objects.update(fingerprint=1)
        with CaptureQueriesContext(connection) as queries:
            refresh_machines(machine_ids=[machine])
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_rows_that_another_changed_meanwhile_are_read_again(monkeypatch: Any) -> None:
    make.life_rule()
    machine = _yard(2)
    refresh_machines(machine_ids=[machine])
    whole, tries = write_few, []

    def meddle(changes: Any) -> None:
        tries.append(changes.size)
        if len(tries) == 1:
            raise ChangedMeanwhile
        whole(changes)

    monkeypatch.setattr(due_dates, "write_few", meddle)
    Due.objects.update(fingerprint=1, due_on=TODAY)
    refresh_machines(machine_ids=[machine])
    assert tries == [2, 2]
    assert refresh_all(check=True).written == 0


def _days_where_another_meddles(monkeypatch: Any) -> set[Any]:
    """The days of nine spoilt dues, of which one is changed again before each writing."""
    make.life_rule()
    machine = _yard(9)
    refresh_machines(machine_ids=[machine])
    Due.objects.update(fingerprint=1, due_on=TODAY)
    recount_tallies()
    whole, others = write_few, count(2)

    def meddle(changes: Any) -> None:
        Due.objects.filter(pk=changes.changed[-1]).update(fingerprint=next(others))
        whole(changes)

    with monkeypatch.context() as patched:
        patched.setattr(due_dates, "write_few", meddle)
        with pytest.raises(StillChanging):
            refresh_machines(machine_ids=[machine])
    return {row["due_on"] for row in _rows()}


def test_nothing_is_written_where_another_changed_one_of_many(monkeypatch: Any) -> None:
    assert _days_where_another_meddles(monkeypatch) == {TODAY}
    assert not recount_tallies()
    assert refresh_all().changed == 9
    assert not recount_tallies()


@pytest.mark.django_db(transaction=True)
def test_nothing_is_written_of_them_outside_a_transaction_either(monkeypatch: Any) -> None:
    assert _days_where_another_meddles(monkeypatch) == {TODAY}
    assert not recount_tallies()
    assert refresh_machines(machine_ids=Machine.objects.values_list("pk", flat=True)).changed == 9
    assert not recount_tallies()


def test_a_hose_that_came_and_one_that_went_are_read_with_the_machine() -> None:
    make.life_rule()
    machine, other = _yard(3), _yard(2)
    refresh_machines(machine_ids=[machine, other])
    gone = Assembly.objects.filter(stays__position__machine=machine).order_by("pk")[0]
    Stay.objects.filter(assembly=gone).update(
        position=make.position(on=Machine.objects.get(pk=other))
    )
    refresh_machines(machine_ids=[machine])
    assert Due.objects.get(pk=gone.pk).machine_id == other
    Due.objects.filter(pk=gone.pk).update(machine=machine, fingerprint=1)
    refresh_machines(machine_ids=[other])
    assert Due.objects.get(pk=gone.pk).machine_id == other
    assert refresh_all(check=True).written == 0


def test_a_machine_that_was_sold_takes_its_hoses_dues_with_it() -> None:
    make.life_rule()
    machine = _yard(3)
    refresh_machines(machine_ids=[machine])
    Machine.objects.filter(pk=machine).update(status=Machine.Status.SOLD)
    assert refresh_machines(machine_ids=[machine]).removed == 3
    assert refresh_all(check=True).written == 0
