"""The demo's register as it is laid out in memory: the same each time, and believable."""

import datetime as dt
import hashlib
from collections import defaultdict
from collections.abc import Iterable
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

from assemblies.models import (
    Assembly,
    BuildEnd,
    BuildRecord,
    FittingRevision,
    HoseRevision,
    SpecEnd,
    Stay,
    StockItem,
    StockMovement,
)
from fleet.models import Downtime, HourReading, Machine
from scheduling.exchange.demo.days import Days, is_shut, months_after
from scheduling.exchange.demo.load import lay_register
from scheduling.exchange.demo.register import ORDER, Register
from scheduling.exchange.demo.tables import tables
from scheduling.models import Failure, Inspection

TODAY = dt.date(2026, 6, 15)


@pytest.fixture(scope="module")
def register() -> Register:
    return lay_register(Days(1, TODAY), hash_passwords=False)


def digest(register: Register) -> str:
    """All columns of all rows that point at no other row and are not drawn as a row is made."""
    told = hashlib.sha256()
    for table in ORDER:
        fields = [f for f in table._meta.concrete_fields if f.name != "client_id"]
        names = [f.attname for f in fields if not f.is_relation]
        for row in register.of(table):
            told.update(repr([getattr(row, name) for name in names]).encode())
    return told.hexdigest()


def grouped(rows: Iterable[Any], key: Any) -> dict[Any, list[Any]]:
    found = defaultdict(list)
    for row in rows:
        found[key(row)].append(row)
    return found


def test_the_same_seed_and_day_give_the_same_register(register: Register) -> None:
    assert digest(lay_register(Days(1, TODAY), hash_passwords=False)) == digest(register)


def test_another_seed_gives_another(register: Register) -> None:
    assert digest(lay_register(Days(2, TODAY), hash_passwords=False)) != digest(register)


def test_tails_fit_their_hose(register: Register) -> None:
    sizes = {hose.header.code: hose.size_dn for hose in register.of(HoseRevision)}
    tails = {fitting.header.code: fitting.tail_dn for fitting in register.of(FittingRevision)}
    ends = register.of(SpecEnd)
    assert len(ends) > 400
    assert [e for e in ends if tails[e.fitting.code] != sizes[e.spec.hose.code]] == []


def test_a_hose_is_in_one_place_at_a_time(register: Register) -> None:
    for stays in grouped(register.of(Stay), lambda stay: id(stay.assembly)).values():
        assert [stay.is_open for stay in stays] == [*[False] * (len(stays) - 1), True]
        for earlier, later in pairwise(stays):
            assert earlier.to_at == later.from_at


def test_a_position_never_holds_two(register: Register) -> None:
    on_machines = [stay for stay in register.of(Stay) if stay.position is not None]
    for stays in grouped(on_machines, lambda stay: id(stay.position)).values():
        ordered = sorted(stays, key=lambda stay: (stay.to_on or dt.date.max, stay.is_open))
        for earlier, later in pairwise(ordered):
            began = later.from_at or earlier.to_at
            assert earlier.to_at is not None
            assert earlier.to_at <= began


def test_hours_never_run_back_while_a_hose_is_on(register: Register) -> None:
    timed = [s for s in register.of(Stay) if s.to_machine_h and s.from_machine_h is not None]
    assert len(timed) > 300
    assert [stay for stay in timed if stay.to_machine_h < stay.from_machine_h] == []


def test_the_hours_of_earlier_stays_are_their_sum(register: Register) -> None:
    for stays in grouped(register.of(Stay), lambda stay: id(stay.assembly)).values():
        ran = [
            stay.to_machine_h - stay.from_machine_h
            for stay in stays
            if stay.from_machine_h is not None and stay.to_machine_h is not None
        ]
        assert stays[0].assembly.earlier_h == sum(ran, Decimal(0))


def test_readings_that_count_never_run_back(register: Register) -> None:
    counted = [r for r in register.of(HourReading) if not r.doubt]
    lines = grouped(counted, lambda r: (r.meter.machine.fleet_number, r.meter.counts))
    assert len(lines) == 44
    for readings in lines.values():
        ordered = sorted(readings, key=lambda r: r.read_at)
        assert all(a.machine_h <= b.machine_h for a, b in pairwise(ordered))


def test_one_meter_was_changed_and_one_rolled_over(register: Register) -> None:
    readings = register.of(HourReading)
    changed = {r.meter.machine.fleet_number for r in readings if r.meter.offset_h}
    rolled = {
        r.meter.machine.fleet_number
        for r in readings
        if r.meter.rollover_h and r.machine_h > r.meter.rollover_h
    }
    assert (changed, rolled) == ({"EX-02"}, {"AD-02"})


def test_stock_is_the_sum_of_its_movements_and_never_below_zero(register: Register) -> None:
    moves = grouped(register.of(StockMovement), lambda move: id(move.item))
    for item in register.of(StockItem):
        balance = Decimal(0)
        for move in moves[id(item)]:
            balance += move.quantity
            assert balance >= 0
        assert item.balance == balance


def test_builds_are_cut_from_a_reel_of_their_hose_that_was_there(register: Register) -> None:
    builds = register.of(BuildRecord)
    assert len(builds) > 900
    for build in builds:
        assert build.reel is not None
        assert build.reel.hose is build.spec.hose
        assert build.reel.made_latest_on < build.reel.received_on <= build.built_on


def test_no_reel_is_too_old_at_build_save_the_planted_ones(register: Register) -> None:
    old = [b for b in register.of(BuildRecord) if _limit_of(b) < b.built_on]
    planted = [fault for fault in tables().faults if fault.kind == "reel_too_old"]
    assert len(old) == len(planted)


def _limit_of(build: BuildRecord) -> dt.date:
    assert build.reel is not None
    return months_after(build.reel.made_earliest_on, 48)


def test_crimps_are_within_their_recipes_tolerance(register: Register) -> None:
    for end in register.of(BuildEnd):
        recipe = end.recipe
        assert recipe is not None
        low = recipe.crimp_od_mm - Decimal(str(recipe.tolerance_minus_mm))
        high = recipe.crimp_od_mm + Decimal(str(recipe.tolerance_plus_mm))
        assert low <= end.crimp_od_mm <= high
        assert end.ovality_mm <= Decimal(str(recipe.ovality_max_mm))


def test_the_pin_answers_as_the_recipe_says(register: Register) -> None:
    answers = {(e.recipe.basis, e.pin) for e in register.of(BuildEnd) if e.recipe is not None}
    assert answers == {("published", "enters"), ("trial", "refuses")}


def test_nobody_looks_at_hoses_in_the_shut_down(register: Register) -> None:
    looks = register.of(Inspection)
    assert len(looks) > 8000
    assert [look for look in looks if is_shut(look.inspected_on)] == []


def test_failures_fall_into_the_downtime_that_they_caused(register: Register) -> None:
    failures = register.of(Failure)
    assert 100 < len(failures) < 300
    for failure in failures:
        assert failure.downtime is not None
        assert failure.downtime.from_at == failure.failed_at
        assert failure.downtime.machine is failure.machine


def test_one_machine_is_down_now(register: Register) -> None:
    down = [d.machine.fleet_number for d in register.of(Downtime) if d.to_at is None]
    assert down == ["AD-05"]


def test_nothing_happens_after_today(register: Register) -> None:
    moments = [stay.from_at for stay in register.of(Stay) if stay.from_at]
    moments += [reading.read_at for reading in register.of(HourReading)]
    moments += [told.at for told in register.told]
    assert max(moments) < dt.datetime.combine(TODAY, dt.time(), tzinfo=dt.UTC)


def test_marks_and_numbers_stand_once_at_a_site(register: Register) -> None:
    current = [a for a in register.of(Assembly) if a.owner_mark and a.withdrawn_at is None]
    marks = [(hose.site.code, hose.owner_mark) for hose in current]
    numbers = [(m.site.code, m.fleet_number) for m in register.of(Machine)]
    assert len(set(marks)) == len(marks) > 5
    assert len(set(numbers)) == len(numbers) == 43
