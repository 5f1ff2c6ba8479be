"""What the register knows of the tags, machines and places that a file names, read in bulk."""

import datetime as dt
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from typing import Any

from django.db import connections
from django.db.models import Q, QuerySet

from assemblies.calc.register.entries import LeftOut, ReadRow, RegisterEntry, RowRefused
from assemblies.calc.register.facts import (
    HOSE_FACTS,
    POSITION_FACTS,
    STAY_FACTS,
    Values,
)
from assemblies.calc.register.keys import own_tag_in, quick_key
from assemblies.calc.register.known import Known, KnownHose, KnownMachine, KnownPosition
from assemblies.models import Position, Stay, Tag
from fleet.models import Counter, HourReading, Machine, Site
from fleet.models.fields import EPOCH

LastInspections = Callable[[Sequence[int]], dict[int, dt.date]]

AT_ONCE = 5_000
_HOSE_COLUMNS = [column for fact in HOSE_FACTS for column in fact.columns]
_STAY_COLUMNS = [column for fact in STAY_FACTS for column in fact.columns]
_POSITION_COLUMNS = [column for fact in POSITION_FACTS for column in fact.columns]
_NAMING = ("assembly_id", "assembly__tag_id", "assembly__owner_mark", "assembly__owner_mark_key")
_WHERE = (
    *("id", "place", "store_place", "position_id", "is_open", "assembly__withdrawn_at"),
    *("position__place", "position__place_no", "position__machine__fleet_number"),
)
_HOSE_PATH = (*_NAMING, *_WHERE, *_STAY_COLUMNS, *(f"assembly__{name}" for name in _HOSE_COLUMNS))


def read_known(*, site: Site, rows: Sequence[ReadRow], last_inspections: LastInspections) -> Known:
    """Read everything that the rows may be set against; the number of queries grows by thousands.

    `last_inspections` gives the last day each of some assemblies was looked at.
    """
    known = Known()
    named = [row for row in rows if not isinstance(row, LeftOut)]
    machine_ids = _machines(known, site, {quick_key(row.machine) for row in named} - {""})
    _positions(known, machine_ids)
    places = {
        position.id: key for key, there in known.positions.items() for position in there.values()
    }
    read = _HoseReader(known, places)
    for ids in _chunks(machine_ids):
        sitting = Stay.objects.filter(is_open=True, position__machine__in=ids)
        read.take(sitting, lambda hose: known.on_position.setdefault(hose.position_id, hose))
    _by_mark(read, site, named)
    if any(row.store for row in named):
        _store(read, site)
    _readings(known, machine_ids, named)
    if any(isinstance(row, RegisterEntry) and row.inspected for row in named):
        read.note_inspections(last_inspections)
    return known


def _machines(known: Known, site: Site, keys: Iterable[str]) -> dict[int, str]:
    """The site's machines with these keys; one that was sold only where no other has its number."""
    ids: dict[int, str] = {}
    columns = ("id", "number_key", "fleet_number", "status")
    facts = ("machine_class__name_key", "machine_class__name", "maker", "model", "serial_number")
    for chunk in _chunks(sorted(keys)):
        found = Machine.objects.filter(site=site, number_key__in=chunk, withdrawn_at=None)
        for row in _raw(found.values_list(*columns, *facts)):
            pk, key, number, status, *rest = row
            sold = status == Machine.Status.SOLD
            if key in known.machines and sold:
                continue
            values: tuple[Values, ...] = (tuple(rest[:2]), *((value,) for value in rest[2:]))
            known.machines[key] = KnownMachine(pk, number, values, sold)
    ids.update({machine.id: key for key, machine in known.machines.items()})
    return ids


def _positions(known: Known, machine_ids: dict[int, str]) -> None:
    for chunk in _chunks(machine_ids):
        closed = Stay.objects.filter(is_open=False, position__machine__in=chunk)
        left = {row[0] for row in _raw(closed.order_by().values_list("position_id").distinct())}
        columns = ("id", "machine_id", "place_key", "place_no", *_POSITION_COLUMNS)
        found = Position.objects.filter(machine__in=chunk, withdrawn_at=None).order_by()
        for pk, machine_id, place_key, place_no, *facts in _raw(found.values_list(*columns)):
            there = known.positions.setdefault((machine_ids[machine_id], place_key), {})
            values = _grouped(facts, POSITION_FACTS)
            there[place_no] = KnownPosition(pk, place_no, values, pk in left)


class _HoseReader:
    """Turns stays into known hoses and files them by tag and mark."""

    def __init__(self, known: Known, places: dict[int, tuple[str, str]]) -> None:
        self.known, self.places = known, places

    def take(self, stays: "QuerySet[Stay]", keep: Callable[[KnownHose], object]) -> None:
        for row in _raw(stays.order_by("id").values_list(*_HOSE_PATH)):
            hose, own_tag, mark_key = self._hose(row)
            keep(hose)
            if own_tag:
                self.known.by_own_tag.setdefault(own_tag, hose)
            if mark_key and (mark_key not in self.known.by_mark or not hose.scrapped):
                self.known.by_mark[mark_key] = hose

    def _hose(self, row: Sequence[Any]) -> tuple[KnownHose, str, str]:
        assembly_id, own_tag, mark, mark_key = row[:4]
        stay_id, place, store_place, position_id, is_open, withdrawn_at = row[4:10]
        scrapped = withdrawn_at is not None
        hose = KnownHose(
            id=assembly_id,
            name=own_tag or mark or "an untagged hose",
            marked=bool(own_tag or mark),
            where=_where(row),
            stay_id=stay_id,
            position_id=position_id or 0,
            place=self.places.get(position_id) if position_id else None,
            store_key=quick_key(store_place) if place == Stay.Place.STORE else None,
            stay_facts=_grouped(row[13 : 13 + len(_STAY_COLUMNS)], STAY_FACTS),
            facts=_grouped(row[13 + len(_STAY_COLUMNS) :], HOSE_FACTS),
            scrapped=scrapped,
            gone=not is_open,
        )
        return hose, own_tag or "", mark_key

    def note_inspections(self, last_inspections: LastInspections) -> None:
        groups: tuple[dict[Any, KnownHose], ...] = (
            *(self.known.on_position, self.known.by_mark, self.known.by_own_tag),
        )
        stored = [hose for hoses in self.known.in_store.values() for hose in hoses]
        ids = {hose.id for group in groups for hose in group.values()} | {h.id for h in stored}
        days: dict[int, dt.date] = {}
        for chunk in _chunks(sorted(ids)):
            days.update(last_inspections(chunk))
        for group in groups:
            for key, hose in group.items():
                group[key] = _inspected(hose, days)
        for key, hoses in self.known.in_store.items():
            self.known.in_store[key] = [_inspected(hose, days) for hose in hoses]


def _inspected(hose: KnownHose, days: dict[int, dt.date]) -> KnownHose:
    return replace(hose, inspected=days[hose.id]) if hose.id in days else hose


def _by_mark(read: _HoseReader, site: Site, rows: Sequence[RegisterEntry | RowRefused]) -> None:
    """Hoses elsewhere at the site, or scrapped, that have one of the rows' tags."""
    known = read.known
    tags = {row.tag for row in rows if row.tag}
    marks = {quick_key(tag) for tag in tags} - known.by_mark.keys()
    known.own_tags = {tag: code for tag in tags if (code := own_tag_in(tag))}
    own = set(known.own_tags.values())
    for chunk in _chunks(sorted(marks)):
        current = Q(assembly__site=site, assembly__owner_mark_key__in=chunk)
        read.take(Stay.objects.filter(current, is_open=True), lambda _hose: None)
    for chunk in _chunks(sorted(own - known.by_own_tag.keys())):
        here = Stay.objects.filter(assembly__site=site, assembly__tag__in=chunk, is_open=True)
        read.take(here, lambda _hose: None)
    for chunk in _chunks(sorted(own)):
        found = Tag.objects.filter(code__in=chunk).values_list(
            "code", "lot__site_id", "spoiled_at", "assembly__id"
        )
        for code, lot_site_id, spoiled_at, assembly_id in found:
            free = lot_site_id == site.pk and spoiled_at is None and assembly_id is None
            (known.free_tags if free else known.other_tags).add(code)


def _store(read: _HoseReader, site: Site) -> None:
    """Every hose that lies or ever lay in the store of the site, in the order it came."""
    lain: dict[int, KnownHose] = {}

    def keep(hose: KnownHose) -> None:
        if hose.id not in lain or lain[hose.id].gone:
            lain[hose.id] = hose

    # The marks of these were looked for already; a closed stay must not stand for its hose.
    stays = Stay.objects.filter(site=site, place=Stay.Place.STORE)
    _HoseReader(Known(), read.places).take(stays, keep)
    for hose in lain.values():
        read.known.in_store.setdefault(hose.store_key or "", []).append(hose)


def _readings(
    known: Known, machine_ids: dict[int, str], rows: Sequence[RegisterEntry | RowRefused]
) -> None:
    days = {row.hours_on for row in rows if isinstance(row, RegisterEntry) and row.hours_on}
    if not days:
        return
    for chunk in _chunks(machine_ids):
        found = HourReading.objects.filter(
            meter__machine__in=chunk,
            meter__counts=Counter.ENGINE,
            set_aside_at=None,
            read_on__gte=min(days),
            read_on__lte=max(days),
        )
        for machine_id, day, tenths in _raw(
            found.order_by().values_list("meter__machine_id", "read_on", "reading_h")
        ):
            on = EPOCH + dt.timedelta(days=day)
            known.readings.setdefault((machine_ids[machine_id], on), set()).add(tenths)


def _where(row: Sequence[Any]) -> str:
    place, store_place, is_open, withdrawn_at = row[5], row[6], row[8], row[9]
    if withdrawn_at is not None:
        return "scrapped"
    if not is_open:
        return "elsewhere"
    if place == Stay.Place.POSITION:
        number = f" ({row[11]})" if row[11] > 1 else ""
        return f"on {row[12]}, {row[10]}{number}"
    if place == Stay.Place.STORE:
        return f"in the store ({store_place})" if store_place else "in the store"
    return str(Stay.Place(place).label)


def _grouped(values: Sequence[Any], facts: Sequence[Any]) -> tuple[Values, ...]:
    """Columns in a row, cut to the values of each fact."""
    found: list[Values] = []
    at = 0
    for fact in facts:
        found.append(tuple(values[at : at + len(fact.columns)]))
        at += len(fact.columns)
    return tuple(found)


def _chunks(values: Iterable[Any]) -> Iterator[list[Any]]:
    waiting = iter(values)
    while chunk := list(islice(waiting, AT_ONCE)):
        yield chunk


def _raw(queryset: "QuerySet[Any, Any]") -> Iterator[tuple[Any, ...]]:
    """Rows as the database keeps them: days and decimals stay whole numbers."""
    sql, params = queryset.query.get_compiler(using=queryset.db).as_sql()
    with connections[queryset.db].cursor() as cursor:
        cursor.execute(sql, params)
        while batch := cursor.fetchmany(AT_ONCE):
            yield from batch
