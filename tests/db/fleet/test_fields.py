import datetime as dt
from decimal import Decimal
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from fleet.models import Machine, MachineClass
from fleet.models.fields import DayField, ScaledField
from tests import factories as make

pytestmark = pytest.mark.django_db


def _raw(row: Any, column: str) -> Any:
    with connection.cursor() as cursor:
        table = row._meta.db_table
        cursor.execute(f'SELECT "{column}" FROM {table} WHERE id = %s', [row.pk])
        return cursor.fetchone()[0]


@pytest.mark.parametrize(
    ("day", "number"),
    [(dt.date(1970, 1, 1), 0), (dt.date(1969, 12, 31), -1), (dt.date(2024, 2, 29), 19782)],
)
def test_a_day_is_a_whole_number_in_the_database(day: dt.date, number: int) -> None:
    machine = make.machine(in_service_from=day)
    assert _raw(machine, "in_service_from") == number
    assert Machine.objects.get(pk=machine.pk).in_service_from == day


def test_a_decimal_is_a_whole_number_in_the_database() -> None:
    kind = make.machine_class(hours_per_day=Decimal("7.125"))
    assert _raw(kind, "hours_per_day") == 7125
    assert MachineClass.objects.get(pk=kind.pk).hours_per_day == Decimal("7.125")


def test_days_compare_in_the_database() -> None:
    early = make.machine(in_service_from=dt.date(2020, 2, 29))
    make.machine(in_service_from=dt.date(2021, 1, 1))
    assert list(Machine.objects.filter(in_service_from__lt=dt.date(2020, 3, 1))) == [early]


@pytest.mark.parametrize("wrong", ["2023-02-29", "next week", dt.datetime(2024, 1, 1)])  # noqa: DTZ001  # a moment is what is refused
def test_refuses_what_is_no_day(wrong: Any) -> None:
    with pytest.raises(ValidationError):
        DayField().to_python(wrong)


@pytest.mark.parametrize("wrong", ["NaN", "Infinity", "twelve", "1e"])
def test_refuses_what_is_no_number(wrong: str) -> None:
    with pytest.raises(ValidationError):
        ScaledField(places=2).to_python(wrong)


def test_keys_are_ordered_by_code_point_on_every_database() -> None:
    site = make.site()
    for number in ("b", "A", "ä", "Z1", "0"):
        make.machine(at=site, fleet_number=number)
    found = Machine.objects.filter(site=site).order_by("number_key")
    keys = [machine.number_key for machine in found]
    assert keys == sorted(keys)
