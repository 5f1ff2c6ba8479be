"""A plan written: machines, positions, hoses, stays, looks, readings and the trail, at once."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import models
from django.db.models import F, Max

from assemblies.calc.register.facts import HOSE_FACTS, STAY_FACTS, Change, Fact, Values
from assemblies.calc.register.known import MachineKey
from assemblies.calc.register.plans import RegisterPlan, RowPlan
from assemblies.models import Assembly, Position, Stay
from assemblies.signals import assembly_changed, installation_changed, position_changed
from fleet.actions.readings import ReadingGiven, record_readings
from fleet.models import Counter, HourReading, Machine, Person, Site
from fleet.models.batches import insert_rows, json_text, moment_value, reserve_ids, update_rows
from fleet.signals import machine_changed

from .days import day_value, noon_at
from .inspection_book import Looked, record_looks
from .new_machines import write_machines
from .trail import Noted, write_trail

WALK_STEP = 10
_AT_ONCE = 5_000
_POSITION_COLUMNS = (
    *("id", "machine_id", "place", "place_key", "place_no", "walk_order", "circuit"),
    *("consequence", "note"),
)
_HOSE_HEAD = ("id", "site_id", "tag_id", "owner_mark", "owner_mark_key", "origin", "known_from_on")
_CONFIRMED = ("made_confirmed_by_id", "built_confirmed_by_id")
_HOSE_NOTHING = [fact.nothing for fact in HOSE_FACTS]
_STAY_NOTHING = [fact.nothing for fact in STAY_FACTS]
_STAY_HEAD = (*("assembly_id", "place", "position_id", "site_id", "recorded_by_id", "recorded_at"),)


@dataclass(frozen=True, slots=True)
class Import:
    """Who imports what into which site, and when."""

    site: Site
    person: Person | None
    at: dt.datetime
    today: dt.date
    source: str


def write_plan(plan: RegisterPlan, into: Import) -> None:
    """Write the rows of a plan that are new or changed. Call inside a transaction.

    All tables in bulk: the time is that of their indexes. Sends `machine_changed`,
    `position_changed`, `installation_changed`, `assembly_changed` and `reading_recorded`, each
    once at most. Constraints of the database may still refuse: then nothing is written.
    """
    writer = _Writer(plan, into)
    writer.write()


class _Writer:
    def __init__(self, plan: RegisterPlan, into: Import) -> None:
        self.plan, self.into = plan, into
        self.new = [row for row in plan.rows if row.outcome == "new"]
        self.changed = [row for row in plan.rows if row.outcome == "changed"]
        self.machine_ids: dict[MachineKey, int] = {}
        self.position_ids: dict[int, int] = {}  # by row number
        self.hose_ids: dict[int, int] = {}  # by row number
        self.noted: list[Noted] = []
        self.words: dict[tuple[str, Values], str] = {}

    def write(self) -> None:
        into = self.into
        self.machine_ids, noted = write_machines(
            self.plan.machines, site=into.site, person=into.person, today=into.today
        )
        self.noted += noted
        self._positions()
        self._hoses()
        self._stays()
        self._change()
        self._looks()
        write_trail(self.noted, site=into.site, person=into.person, at=into.at, reason=into.source)
        self._readings()
        self._tell()

    def _positions(self) -> None:
        rows = [row for row in self.new if row.machine_key and row.position is None]
        ids = reserve_ids(Position, len(rows))
        self.position_ids = {row.row_number: pk for row, pk in zip(rows, ids, strict=True)}
        self.position_ids.update(
            {r.row_number: r.position.id for r in (*self.new, *self.changed) if r.position}
        )
        orders = self._walk_orders()
        insert_rows(Position, _POSITION_COLUMNS, self._position_rows(rows, orders))

    def _position_rows(
        self, rows: Sequence[RowPlan], orders: dict[MachineKey, int]
    ) -> Iterator[tuple[Any, ...]]:
        for row in rows:
            entry = row.entry
            assert entry is not None
            orders[row.machine_key] += WALK_STEP
            pk, order = self.position_ids[row.row_number], orders[row.machine_key]
            circuit, consequence = entry.circuit or "other", entry.consequence or "unknown"
            note = f"circuit: {entry.circuit_typed}" if entry.circuit_typed else ""
            machine_id = self.machine_ids[row.machine_key]
            label = entry.place if row.place_no < 2 else f"{entry.place} ({row.place_no})"
            after = (
                f'{{"machine": {json_text(entry.machine)}, "circuit": {json_text(circuit)}, '
                f'"consequence": {json_text(consequence)}}}'
            )
            self.noted.append(Noted("added a position", Position, pk, label, after))
            yield (
                *(pk, machine_id, entry.place, row.place_key, row.place_no, order),
                *(circuit, consequence, note),
            )

    def _walk_orders(self) -> "defaultdict[MachineKey, int]":
        """The last number of the walk round each machine that has positions already."""
        keys = {m.known.id: key for key, m in self.plan.machines.items() if m.known and m.needed}
        orders: defaultdict[MachineKey, int] = defaultdict(int)
        for ids in _chunks(list(keys)):
            last = Position.objects.filter(machine__in=ids).values("machine_id")
            for found in last.annotate(last=Max("walk_order")).order_by():
                orders[keys[found["machine_id"]]] = found["last"]
        return orders

    def _hoses(self) -> None:
        ids = reserve_ids(Assembly, len(self.new))
        self.hose_ids = {row.row_number: pk for row, pk in zip(self.new, ids, strict=True)}
        columns = (*_HOSE_HEAD, *_columns(HOSE_FACTS), *_CONFIRMED)
        insert_rows(Assembly, columns, (self._hose_row(row) for row in self.new))

    def _hose_row(self, row: RowPlan) -> tuple[Any, ...]:
        entry, into = row.entry, self.into
        assert entry is not None
        pk = self.hose_ids[row.row_number]
        mark = "" if row.own_tag else entry.tag
        who = into.person.pk if into.person else None
        values = [fact.of(entry) for fact in HOSE_FACTS]
        self.noted.append(self._registered(row, pk, values))
        return (
            *(pk, into.site.pk, row.own_tag or None, mark, row.mark_key if mark else ""),
            *(Assembly.Origin.UNKNOWN.value, day_value(into.today)),
            *_flat(_HOSE_NOTHING, values),
            *(who if entry.made else None, who if entry.built else None),
        )

    def _registered(self, row: RowPlan, pk: int, values: Sequence[Values | None]) -> Noted:
        entry = row.entry
        assert entry is not None
        where = f"{entry.machine}, {entry.place}" if entry.machine else entry.store
        said = [
            self._in_words(fact, found)
            for fact, found in zip(HOSE_FACTS, values, strict=True)
            if found is not None
        ]
        said.append(f'"row": {row.row_number}, "where": {json_text(where)}')
        label = row.own_tag or entry.tag or f"untagged no. {pk}"
        return Noted("registered a hose", Assembly, pk, label, f"{{{', '.join(said)}}}")

    def _in_words(self, fact: Fact, values: Values) -> str:
        """A fact in words, as JSON takes it; most hoses share theirs with others."""
        words = self.words.get((fact.label, values))
        if words is None:
            words = f"{json_text(fact.label)}: {json_text(fact.show(values))}"
            self.words[fact.label, values] = words
        return words

    def _stays(self) -> None:
        columns = (*_STAY_HEAD, *_columns(STAY_FACTS))
        moment = moment_value(Stay, self.into.at)
        insert_rows(Stay, columns, (self._stay_row(row, moment) for row in self.new))

    def _stay_row(self, row: RowPlan, moment: Any) -> tuple[Any, ...]:
        entry, into = row.entry, self.into
        assert entry is not None
        position_id = self.position_ids.get(row.row_number)
        place = Stay.Place.POSITION if position_id else Stay.Place.STORE
        who = into.person.pk if into.person else None
        return (
            *(self.hose_ids[row.row_number], place.value, position_id, into.site.pk),
            *(who, moment),
            *_flat(_STAY_NOTHING, [fact.of(entry) for fact in STAY_FACTS]),
        )

    def _change(self) -> None:
        """Change what the rows state otherwise. Silent cells change nothing."""
        _update(Assembly, ((row.hose.id, row.hose_changes) for row in self.changed if row.hose))
        _update(Stay, ((row.hose.stay_id, row.stay_changes) for row in self.changed if row.hose))
        seated = [row for row in (*self.new, *self.changed) if row.position is not None]
        _update(Position, ((r.position.id, r.position_changes) for r in seated if r.position))
        hoses = [row.hose.id for row in self.changed if row.hose and row.hose_changes]
        _raise_version(Assembly, hoses)
        _raise_version(
            Position, [r.position.id for r in seated if r.position and r.position_changes]
        )
        for row in self.changed:
            assert row.hose is not None
            words = [change.in_words() for change in (*row.hose_changes, *row.stay_changes)]
            if words:
                self.noted.append(_changed(Assembly, row.hose.id, row.hose.name, row, words))
        for row in seated:
            assert row.position is not None
            words = [change.in_words() for change in row.position_changes]
            if words:
                self.noted.append(_changed(Position, row.position.id, row.label, row, words))

    def _looks(self) -> None:
        looked = [
            Looked(self._hose_id(row), self._position_id(row), row.inspected)
            for row in (*self.new, *self.changed)
            if row.inspected is not None
        ]
        record_looks(looked, site=self.into.site, person=self.into.person, at=self.into.at)

    def _hose_id(self, row: RowPlan) -> int:
        return row.hose.id if row.hose else self.hose_ids[row.row_number]

    def _position_id(self, row: RowPlan) -> int | None:
        if row.hose is not None:
            return row.hose.position_id or None
        return self.position_ids.get(row.row_number)

    def _readings(self) -> None:
        """Record the hours that rows bring; a doubtful one is kept and marked, as ever."""
        found = self.plan.readings.values()
        if not found:
            return
        ids = {self.machine_ids[reading.machine_key] for reading in found}
        machines = Machine.objects.select_related("site").in_bulk(ids)
        zone = ZoneInfo(self.into.site.time_zone)
        given = [
            ReadingGiven(
                machines[self.machine_ids[reading.machine_key]],
                Counter.ENGINE.value,
                Decimal(reading.tenths).scaleb(-1),
                noon_at(reading.on, zone),
                reading.typed,
                HourReading.Source.IMPORTED,
                self.into.source,
            )
            for reading in found
        ]
        record_readings(readings=given, person=self.into.person, at=self.into.at)

    def _tell(self) -> None:
        at = self.into.at
        touched = {row.machine_key for row in (*self.new, *self.changed) if row.machine_key}
        machine_ids = sorted(self.machine_ids[key] for key in touched)
        changed = [
            m for m in self.plan.machines.values() if m.needed and (m.changes or not m.known)
        ]
        if changed:
            ids = sorted(self.machine_ids[machine.key] for machine in changed)
            machine_changed.send(sender=Machine, machine_ids=ids, at=at)
        if machine_ids:
            position_changed.send(sender=Position, machine_ids=machine_ids, at=at)
        if self.new:
            new_ids = list(self.hose_ids.values())
            installation_changed.send(
                sender=Stay, assembly_ids=new_ids, machine_ids=machine_ids, at=at
            )
        if self.changed:
            ids = [row.hose.id for row in self.changed if row.hose]
            assembly_changed.send(sender=Assembly, assembly_ids=ids, at=at)


def _columns(facts: Sequence[Fact]) -> list[str]:
    return [column for fact in facts for column in fact.columns]


def _flat(nothing: Sequence[Values], values: Sequence[Values | None]) -> list[Any]:
    """The values of all columns in order; those of a silent row's facts as nothing."""
    found: list[Any] = []
    for silent, said in zip(nothing, values, strict=True):
        found += silent if said is None else said
    return found


def _update(model: type[models.Model], changed: Iterable[tuple[int, Sequence[Change]]]) -> None:
    """Update rows, those that change the same columns together."""
    groups: dict[tuple[str, ...], list[tuple[Any, ...]]] = defaultdict(list)
    for pk, found in changed:
        if found:
            columns = tuple(column for change in found for column in change.fact.columns)
            values = [value for change in found for value in change.after]
            groups[columns].append((*values, pk))
    for columns, rows in groups.items():
        update_rows(model, columns, rows)


def _raise_version(model: type[Assembly] | type[Position], ids: Sequence[int]) -> None:
    for chunk in _chunks(ids):
        model.objects.filter(pk__in=chunk).update(version=F("version") + 1)


def _changed(
    model: type[models.Model],
    pk: int,
    label: str,
    row: RowPlan,
    words: Sequence[tuple[str, str, str]],
) -> Noted:
    before: Mapping[str, Any] = {name: old for name, old, _ in words}
    after: Mapping[str, Any] = {name: new for name, _, new in words} | {"row": row.row_number}
    deed = "changed a hose" if model is Assembly else "changed a position"
    return Noted(deed, model, pk, label, after, before)


def _chunks(values: Sequence[Any]) -> Iterator[Sequence[Any]]:
    for start in range(0, len(values), _AT_ONCE):
        yield values[start : start + _AT_ONCE]
