import datetime as dt
from decimal import Decimal
from typing import Any

import pytest

from fleet.actions.meters import MeterChange, change_meter
from fleet.actions.readings import (
    ReadingGiven,
    accept_reading,
    record_reading,
    record_readings,
    set_aside_reading,
)
from fleet.actions.refusals import Refused
from fleet.models import HourReading, Machine, Mount, TrailEntry, Usage
from fleet.permissions import NotAllowed
from fleet.signals import reading_recorded
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW = make.NOW


def _read(machine: Machine, hours: Any, days_ago: float = 0, **facts: Any) -> HourReading:
    return record_reading(
        machine=machine,
        counts="engine",
        reading_h=Decimal(str(hours)),
        read_at=NOW - dt.timedelta(days=days_ago),
        **{"person": None, "at": NOW, **facts},
    )


def _given(machine: Machine, hours: Any, days_ago: float) -> ReadingGiven:
    return ReadingGiven(machine, "engine", Decimal(hours), NOW - dt.timedelta(days=days_ago))


def test_records_an_accepted_reading_with_its_machine_hours_and_trail() -> None:
    machine = make.machine()
    reading = _read(machine, "100.5", typed="100,5 h")
    assert (reading.doubt, reading.machine_h) == ("", Decimal("100.5"))
    assert reading.read_on == NOW.date()
    assert TrailEntry.objects.filter(deed="recorded a reading").count() == 1


def test_refuses_no_reading_below_the_last_one_but_doubts_it() -> None:
    machine = make.machine()
    _read(machine, 100, 10)
    assert "doesn't run back" in _read(machine, 90).doubt
    assert Usage.objects.get(machine=machine).machine_h == Decimal(100)


def test_the_same_reading_twice_stands_once() -> None:
    machine = make.machine()
    assert _read(machine, 100).pk == _read(machine, 100).pk


def test_a_reading_at_noon_is_of_the_whole_day() -> None:
    machine = make.machine()
    noon = dt.datetime(2026, 3, 1, 12, tzinfo=dt.UTC)
    for hours in (100, 108):
        assert not _read(machine, hours, (NOW - noon) / dt.timedelta(days=1)).doubt


def test_keeps_usage_from_the_readings() -> None:
    machine = make.machine()
    for day in range(5):
        _read(machine, 1000 + 80 * day, 50 - 10 * day)
    usage = Usage.objects.get(machine=machine)
    assert (usage.rate_h_per_day, usage.machine_h) == (Decimal(8), Decimal(1320))
    assert usage.basis.startswith("measured from 4 intervals")


def test_tells_which_machine_was_read() -> None:
    machine, heard = make.machine(), []
    reading_recorded.connect(lambda machine_ids, **_: heard.extend(machine_ids), weak=False)
    _read(machine, 5)
    assert heard == [machine.pk]


def test_an_attachment_counts_its_carriers_hours_while_it_rides() -> None:
    carrier = make.machine()
    breaker = make.machine(at=carrier.site, kind="attachment")
    Mount.objects.create(
        part=breaker, carrier=carrier, from_on=dt.date(2026, 2, 1), uses_carrier_hours=True
    )
    for days_ago, hours in ((60, 100), (30, 300), (20, 380), (10, 460), (1, 500)):
        _read(carrier, hours, days_ago)
    usage = Usage.objects.get(machine=breaker)
    # On 1 February the carrier had come from 100 h (8 Jan) 24 of 30 days towards 300 h: 260 h.
    assert usage.machine_h == Decimal(500 - 260)


def test_accepting_lets_a_doubtful_reading_count() -> None:
    machine, boss = make.machine(), make.person("planner")
    _read(machine, 100, 10)
    doubtful = _read(machine, 90)
    accept_reading(reading=doubtful, person=boss, at=NOW)
    assert Usage.objects.get(machine=machine).machine_h == Decimal(90)
    with pytest.raises(Refused, match="counts already"):
        accept_reading(reading=doubtful, person=boss, at=NOW)


def test_setting_a_wrong_reading_aside_clears_those_doubted_because_of_it() -> None:
    machine, boss = make.machine(), make.person("planner")
    wrong = _read(machine, 200, 30)
    right = _read(machine, 110, 20)
    assert right.doubt
    set_aside_reading(reading=wrong, reason="two figures swapped", person=boss, at=NOW)
    right.refresh_from_db()
    assert right.doubt == ""
    assert Usage.objects.get(machine=machine).machine_h == Decimal(110)
    assert HourReading.objects.filter(pk=wrong.pk).exists()


def test_many_readings_are_judged_as_they_would_be_one_by_one() -> None:
    one, other = make.machine(), make.machine()
    figures = [("100", 40), ("340", 30), ("330", 29), ("9000", 20), ("500", 10), ("500", 10)]
    for hours, days_ago in figures:
        _read(one, hours, days_ago)
    given = [_given(other, *f) for f in figures]
    made = record_readings(readings=given[::-1], person=None, at=NOW)
    assert len(made) == 5
    for field in ("doubt", "machine_h", "read_on"):
        ours = HourReading.objects.filter(meter__machine=other).order_by("read_at")
        theirs = HourReading.objects.filter(meter__machine=one).order_by("read_at")
        assert list(ours.values_list(field)) == list(theirs.values_list(field))
    assert record_readings(readings=given, person=None, at=NOW) == []


def test_many_readings_cost_no_more_queries_than_few(
    django_assert_max_num_queries: Any,
) -> None:
    machine = make.machine()
    with django_assert_max_num_queries(40):
        record_readings(
            readings=[_given(machine, 100 + day, 300 - day) for day in range(200)],
            person=None,
            at=NOW,
        )


def test_stamps_the_site_of_that_day() -> None:
    machine, before = make.machine(), make.site()
    machine.site_spells.update(from_on=dt.date(2026, 3, 1))
    machine.site_spells.create(site=before, from_on=dt.date(2025, 1, 1), to_on=dt.date(2026, 3, 1))
    assert _read(machine, 10, 30).site == before
    assert _read(machine, 20).site == machine.site


def test_a_change_of_meter_goes_on_counting() -> None:
    machine = make.machine()
    _read(machine, 5360, 60)
    change = MeterChange(on=(NOW - dt.timedelta(days=40)).date(), old_last_h=Decimal(5480))
    change_meter(machine=machine, counts="engine", change=change, person=None, at=NOW)
    assert _read(machine, 160, 20).machine_h == Decimal(5640)
    assert _read(machine, 320, 0).machine_h == Decimal(5800)
    assert Usage.objects.get(machine=machine).machine_h == Decimal(5800)


def test_a_change_of_meter_with_an_unbelievable_last_reading_is_refused() -> None:
    machine = make.machine()
    _read(machine, 5360, 60)
    change = MeterChange(on=NOW.date(), old_last_h=Decimal(5000))
    with pytest.raises(Refused, match="doesn't run back"):
        change_meter(machine=machine, counts="engine", change=change, person=None, at=NOW)
    assert machine.meters.count() == 1


def test_refuses_a_counter_without_a_meter_and_what_is_no_reading() -> None:
    machine = make.machine()
    with pytest.raises(Refused, match="no meter that counts hydraulics hours"):
        record_reading(
            machine=machine,
            counts="hydraulics",
            reading_h=Decimal(1),
            read_at=NOW,
            person=None,
            at=NOW,
        )
    with pytest.raises(Refused, match="not an hour reading"):
        _read(machine, -1)
    with pytest.raises(Refused, match="not an hour reading"):
        _read(machine, "NaN")


def test_a_stranger_may_not_record() -> None:
    machine = make.machine()
    _read(machine, 1, 1, person=make.person("fitter", at=machine.site))
    with pytest.raises(NotAllowed):
        _read(machine, 2, person=make.person("fitter", at=make.site()))
    with pytest.raises(NotAllowed):
        _read(machine, 2, person=make.person("storeman", at=machine.site))
