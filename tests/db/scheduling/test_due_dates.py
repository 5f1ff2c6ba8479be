import datetime as dt
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from assemblies.actions.installations import Moment, fit_assembly, remove_assembly
from assemblies.models import ConditionalRelease, Position, Stay
from fleet.actions.readings import record_reading
from fleet.models import Usage
from scheduling.actions import due_dates, postgresql_rows, sqlite_rows
from scheduling.actions.due_dates import refresh_all, refresh_machines
from scheduling.actions.due_rows import changes_between, write_changes
from scheduling.calc.inputs import NONE, Flag, Trigger
from scheduling.models import Due, Exemption, Finding, Inspection
from scheduling.queries.due_columns import STORED, Some, stored_dues
from tests import factories as make

pytestmark = pytest.mark.django_db
NOW, TODAY = make.NOW, make.TODAY
D = dt.date


def _due(hose: Any) -> Due:
    return Due.objects.get(assembly=hose)


def _place(hose: Any) -> Position:
    return Position.objects.get(stays__assembly=hose, stays__is_open=True)


def _finding(hose: Any, verdict: str, **facts: Any) -> Finding:
    return Finding.objects.create(
        **{"assembly": hose, "site": hose.site, "what": "leak", "verdict": verdict, **facts},
        found_on=D(2026, 3, 1),
    )


def test_keeps_a_due_for_every_hose_that_lives() -> None:
    make.life_rule(built_months=72)
    fitted = make.fitted(built_earliest_on=D(2021, 5, 31), built_latest_on=D(2021, 5, 31))
    stored = make.stored()
    make.stored(withdrawn_at=NOW)
    found = refresh_all()
    assert (found.seen, found.added) == (2, 2)
    assert _due(fitted).replace_on == D(2027, 5, 31)
    assert _due(fitted).due_on == D(2027, 5, 31)
    assert _due(stored).inspect_on == TODAY  # of unknown age: due since it is known
    assert Flag.UNKNOWN_AGE in Flag(_due(stored).flags)


def test_writes_nothing_the_second_time() -> None:
    make.life_rule()
    make.fitted(built_earliest_on=D(2021, 5, 31), built_latest_on=D(2021, 5, 31))
    refresh_all()
    assert refresh_all().written == 0


def test_check_says_what_would_change_and_changes_nothing() -> None:
    make.fitted()
    found = refresh_all(check=True)
    assert (found.added, found.examples) == (1, [Stay.objects.get().assembly_id])
    assert not Due.objects.exists()


def test_names_site_machine_rule_and_trigger() -> None:
    rule = make.life_rule(fitted_months=24)
    hose = make.fitted(stay_from_earliest_on=D(2025, 1, 31), stay_from_latest_on=D(2025, 1, 31))
    refresh_all()
    due = _due(hose)
    assert (due.site_id, due.machine_id) == (hose.site_id, _place(hose).machine_id)
    assert (due.replace_trigger, due.replace_rule) == (Trigger.FITTED, rule.pk)


def test_a_rule_is_narrowed_by_everything_it_names() -> None:
    place = make.position(circuit="steering", consequence="hurts", exposure="rocks")
    hose = make.fitted(on=place, hose_type="2SN", built_earliest_on=D(2024, 1, 1))
    machine = place.machine
    scopes: list[dict[str, Any]] = [
        {"site": machine.site},
        {"machine": machine},
        {"machine_class": machine.machine_class},
        {"circuit": "steering"},
        {"hose_type": "2SN"},
        {"consequence": "hurts"},
        {"exposure": "rocks"},
    ]
    for months, scope in enumerate(scopes, start=20):
        made = make.life_rule(built_months=30 - months, **scope)
        refresh_all()
        assert _due(hose).replace_rule == made.pk, scope
    others: list[dict[str, Any]] = [
        {"site": make.site()},
        {"circuit": "pilot"},
        {"hose_type": "4SP"},
        {"exposure": "heat"},
    ]
    for scope in others:
        make.life_rule(built_months=1, **scope)
    assert refresh_all().written == 0


def test_a_withdrawn_or_draft_rule_counts_for_nothing() -> None:
    hose = make.fitted(built_earliest_on=D(2024, 1, 1), built_latest_on=D(2024, 1, 1))
    make.life_rule(state="draft", approved_at=None, approved_by=None)
    make.life_rule().header.__class__.objects.update(withdrawn_at=NOW)
    refresh_all()
    assert Flag.NO_RULE in Flag(_due(hose).flags)


def test_hours_count_by_the_positions_counter() -> None:
    make.life_rule(hours_fitting=Decimal(2000))
    place = make.position(counts="hydraulics")
    Usage.objects.create(
        machine=place.machine,
        counts="hydraulics",
        as_of_on=D(2026, 3, 1),
        machine_h=Decimal("11750.0"),
        rate_h_per_day=Decimal(8),
        low_h_per_day=Decimal(5),
        high_h_per_day=Decimal(10),
    )
    day = D(2024, 1, 1)
    hose = make.fitted(
        on=place,
        stay_from_earliest_on=day,
        stay_from_latest_on=day,
        stay_from_machine_h=Decimal(10_000),
    )
    refresh_all()
    due = _due(hose)
    assert (due.replace_early_on, due.replace_on) == (D(2026, 3, 26), D(2026, 4, 1))
    assert due.replace_late_on == D(2026, 4, 20)


def test_the_last_inspection_that_saw_the_hose_counts() -> None:
    make.life_rule(inspect_months=12)
    hose = make.fitted(built_earliest_on=D(2024, 1, 1), built_latest_on=D(2024, 1, 1))
    facts = {"assembly": hose, "site": hose.site, "recorded_at": NOW}
    for day, not_seen in ((D(2025, 3, 31), False), (D(2025, 1, 1), False), (TODAY, True)):
        Inspection.objects.create(inspected_on=day, not_seen=not_seen, **facts)
    refresh_all()
    assert _due(hose).inspect_on == D(2026, 3, 31)


def test_hours_since_the_last_inspection_count_from_its_reading() -> None:
    make.life_rule(inspect_hours=Decimal(500))
    day = D(2025, 1, 1)
    hose = make.fitted(
        built_earliest_on=day,
        built_latest_on=day,
        stay_from_earliest_on=day,
        stay_from_latest_on=day,
    )
    Usage.objects.update(as_of_on=D(2026, 3, 1), machine_h=Decimal(1100))
    Inspection.objects.create(
        assembly=hose,
        site=hose.site,
        recorded_at=NOW,
        inspected_on=D(2026, 2, 1),
        machine_h=Decimal(1000),
    )
    refresh_all()
    assert _due(hose).inspect_on == D(2026, 4, 20)  # 400 h left at 8 h a day


def test_open_findings_count_until_they_are_dealt_with() -> None:
    make.life_rule()
    hose = make.fitted(built_earliest_on=TODAY, built_latest_on=TODAY)
    _finding(hose, "keep")
    _finding(hose, "recheck", by_on=D(2026, 6, 1))
    _finding(hose, "replace", by_on=D(2026, 9, 1))
    out = _finding(hose, "out_now")
    refresh_all()
    assert (_due(hose).replace_on, _due(hose).inspect_on) == (D(2026, 3, 1), D(2026, 6, 1))
    assert Flag.TAKE_OUT_NOW in Flag(_due(hose).flags)
    Finding.objects.filter(pk=out.pk).update(dealt_with_at=NOW)
    refresh_all()
    assert _due(hose).replace_on == D(2026, 9, 1)


def test_the_latest_conditional_release_counts() -> None:
    hose = make.fitted(built_earliest_on=TODAY, built_latest_on=TODAY)
    for day in (D(2026, 4, 1), D(2026, 5, 1)):
        ConditionalRelease.objects.create(
            assembly=hose,
            authority=make.person(),
            released_at=NOW,
            reason="breakdown",
            limits="tipping only",
            replace_by_on=day,
        )
    refresh_all()
    assert _due(hose).replace_on == D(2026, 5, 1)
    assert _due(hose).replace_trigger == Trigger.RELEASE


def test_an_exemption_counts_until_it_is_ended() -> None:
    make.life_rule(built_months=12)
    hose = make.fitted(built_earliest_on=D(2024, 1, 1), built_latest_on=D(2024, 1, 1))
    granted = Exemption.objects.create(
        position=Stay.objects.get().position,
        triggers=["built"],
        reason="part on order",
        granted_by=make.person(),
        granted_on=TODAY,
        until_on=D(2026, 6, 1),
    )
    refresh_all()
    assert _due(hose).replace_on == D(2026, 6, 1)
    Exemption.objects.filter(pk=granted.pk).update(ended_at=NOW)
    refresh_all()
    assert _due(hose).replace_on == D(2025, 1, 1)


def test_earlier_stays_without_hours_are_said_where_hours_in_all_count() -> None:
    make.life_rule(hours_total=Decimal(2000))
    hose = make.fitted(earlier_h=Decimal(1500))
    facts = {"site": hose.site, "recorded_at": NOW, "to_on": TODAY, "is_open": False}
    Stay.objects.create(assembly=hose, place="position", position=make.position(), **facts)
    refresh_all()
    assert Flag.EARLIER_HOURS_UNKNOWN in Flag(_due(hose).flags)


def test_the_hoses_of_a_sold_machine_have_no_due() -> None:
    hose = make.fitted()
    refresh_all()
    machine = _place(hose).machine
    machine.status = "sold"
    machine.save()
    assert refresh_all().removed == 1
    assert not Due.objects.filter(assembly=hose).exists()


def test_chunks_give_what_one_run_gives() -> None:
    make.life_rule()
    for number in range(7):
        make.fitted(built_earliest_on=D(2020 + number, 1, 1), built_latest_on=D(2026, 1, 1))
    refresh_all()
    whole = list(Due.objects.order_by("pk").values())
    Due.objects.all().delete()
    told: list[tuple[int, int]] = []
    refresh_all(chunk=2, progress=lambda done, total: told.append((done, total)))
    assert list(Due.objects.order_by("pk").values()) == whole
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_one_machine_is_refreshed_alone() -> None:
    make.life_rule()
    mine, other = make.fitted(), make.fitted()
    refresh_machines(machine_ids=[_place(mine).machine_id])
    assert list(Due.objects.values_list("assembly_id", flat=True)) == [mine.pk]
    assert not Due.objects.filter(assembly=other).exists()


def test_a_reading_a_fitting_and_a_removal_are_in_the_dues_at_once() -> None:
    make.life_rule(hours_fitting=Decimal(400))
    hose, place = make.stored(built_earliest_on=TODAY, built_latest_on=TODAY), make.position()
    when = Moment(D(2026, 1, 1), NOW - dt.timedelta(days=67), Decimal(0))
    fit_assembly(assembly=hose, position=place, when=when, person=None, now=NOW)
    assert _due(hose).replace_on == D(2026, 2, 20)  # 50 days of 8 h
    record_reading(
        machine=place.machine,
        counts="engine",
        reading_h=Decimal(200),
        read_at=NOW,
        person=None,
        at=NOW,
    )
    assert _due(hose).replace_on == D(2026, 4, 3)  # 200 h left on 9 March
    off = Moment(TODAY, NOW, Decimal(200))
    remove_assembly(assembly=hose, removal="moved", to="store", when=off, person=None, now=NOW)
    assert (_due(hose).replace_on, _due(hose).machine_id) == (None, None)


def test_a_row_that_another_changed_meanwhile_is_left_alone() -> None:
    make.life_rule()
    hose = make.fitted(built_earliest_on=D(2024, 1, 1), built_latest_on=D(2024, 1, 1))
    refresh_all()
    ids, values = stored_dues(Some(ids=(hose.pk,)))
    newer = values.copy()
    newer[:, STORED.index("due_on")] += 5
    Due.objects.update(fingerprint=1)
    assert not write_changes(changes_between(ids, newer, ids, values))
    assert _due(hose).due_on == D(2030, 1, 1)


def test_a_row_changed_meanwhile_is_worked_out_again(monkeypatch: Any) -> None:
    make.life_rule()
    hose = make.fitted(built_earliest_on=D(2024, 1, 1), built_latest_on=D(2024, 1, 1))
    refresh_all()
    hose.built_earliest_on = D(2023, 1, 1)
    hose.save()
    tries = []

    def meddle(changes: Any) -> bool:
        tries.append(changes.size)
        if len(tries) == 1:
            Due.objects.update(fingerprint=1)
        return write_changes(changes)

    monkeypatch.setattr(due_dates, "write_changes", meddle)
    refresh_all()
    assert tries == [1, 1]
    assert _due(hose).replace_on == D(2029, 1, 1)


def test_every_stored_column_comes_back_as_it_was_written() -> None:
    hose = make.fitted()
    row = np.array([[hose.site_id, NONE, 1, *range(20_000, 20_005), 3, 77, 11, 78, 5, -(2**62)]])
    none = np.array([], dtype=np.int64)
    blank = np.zeros((0, len(STORED)), dtype=np.int64)
    ids = np.array([hose.pk])
    assert write_changes(changes_between(ids, row, none, blank))
    back_ids, back = stored_dues(Some(ids=(hose.pk,)))
    assert (back_ids.tolist(), back.tolist()) == (ids.tolist(), row.tolist())


def test_no_hoses_and_no_rules_are_no_trouble() -> None:
    assert refresh_all().seen == 0
    make.stored()
    assert refresh_all().seen == 1


def test_many_rows_are_written_as_few_are(monkeypatch: Any) -> None:
    make.life_rule()
    for year in range(2015, 2021):
        make.fitted(built_earliest_on=D(year, 1, 1), built_latest_on=D(year, 6, 1))
    refresh_all()
    make.life_rule(built_months=24)
    for module in (postgresql_rows, sqlite_rows):
        monkeypatch.setattr(module, "MANY", 2)
    found = refresh_all()
    assert found.changed == 6
    assert refresh_all(check=True).written == 0
    assert Due.objects.order_by("replace_on")[0].replace_on == D(2017, 1, 1)
    assert Due.objects.filter(inspect_on__isnull=True).count() == 6
