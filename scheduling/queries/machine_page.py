"""One machine in the order one walks round it, with what is fitted and when it falls due."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, NamedTuple

from django.db.models import Q, QuerySet

from assemblies.models import Position, Stay
from assemblies.queries.unmatched import unmatched_among
from fleet.models import Counter, Downtime, HourReading, Machine, Person, Usage
from fleet.models.compiled import compiled
from fleet.queries.usage_picture import usages_of
from scheduling.calc.standing import Dates, Standing, standing, what_is_due
from scheduling.models import Due
from scheduling.queries.due_facts import (
    DATES_SHOWN,
    aged_from,
    label_of,
    uncertain_by,
    words_of,
)

_CIRCUITS: Final = dict(Position.Circuit.choices)
_COUNTERS: Final = dict(Counter.choices)


class _Held(NamedTuple):
    """The columns of the hose that is on a position, and since when."""

    position_id: int
    assembly_id: int
    from_earliest_on: dt.date | None
    from_machine_h: Decimal | None
    assembly__tag: str | None
    assembly__owner_mark: str
    assembly__hose_type: str
    assembly__hose__code: str | None
    assembly__size_dn: int | None
    assembly__size_typed: str
    assembly__length_mm: Decimal | None
    assembly__condition: str
    assembly__made_earliest_on: dt.date | None
    assembly__built_earliest_on: dt.date | None
    unmatched: str  # worked out, the last


class _Place(NamedTuple):
    """The columns of a position."""

    id: int
    place: str
    place_no: int
    circuit: str
    consequence: str
    counts: str


@dataclass(frozen=True, slots=True)
class CounterLine:
    """How far one counter has come."""

    counts: str
    words: str
    machine_h: Decimal | None
    as_of_on: dt.date | None
    rate_h_per_day: Decimal
    basis: str


@dataclass(frozen=True, slots=True)
class WalkLine:
    """One position on the walk round, with the hose on it. `hose_id` is None where it is empty."""

    position_id: int
    number: int
    place: str
    circuit: str
    consequence: str
    hose_id: int | None
    hose_label: str
    hose_words: str
    condition: str
    aged_from_on: dt.date | None
    aged_from: str
    uncertain: bool
    hours: Decimal | None
    standing: Standing | None
    due_on: dt.date | None
    due_what: str
    unmatched: str


@dataclass(frozen=True, slots=True)
class DownSpell:
    """A time the machine was down; open while `to_at` is None."""

    from_at: dt.datetime
    to_at: dt.datetime | None
    planned: bool
    reason: str


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """One hour reading, and why it is doubted if it is."""

    reading_id: int
    counts: str
    read_on: dt.date
    reading_h: Decimal
    doubt: str
    left_out: bool


@dataclass(frozen=True, slots=True)
class MachinePage:
    """All that the machine page shows."""

    machine: Machine
    counters: tuple[CounterLine, ...]
    walk: tuple[WalkLine, ...]
    readings: tuple[ReadingLine, ...]
    doubtful: tuple[ReadingLine, ...]
    downtimes: tuple[DownSpell, ...]
    carries: tuple[Machine, ...]
    rides_on: tuple[Machine, ...]

    @property
    def is_down(self) -> bool:
        return any(spell.to_at is None and not spell.planned for spell in self.downtimes)


def machine_page(person: Person, machine_id: int, *, today: dt.date) -> MachinePage | None:
    """The page of a machine that the person may see. The queries do not grow with positions."""
    machine = _machine.first(person, machine_id)
    if machine is None:
        return None
    usages = {usage.counts: usage for usage in usages_of(machine_id)}
    return MachinePage(
        machine=machine,
        counters=tuple(_counter(usages[name]) for name in sorted(usages)),
        walk=_walk(machine_id, usages, today),
        readings=tuple(_reading(*row) for row in _last_read(machine_id)),
        doubtful=tuple(_reading(*row) for row in _doubtful(machine_id)),
        downtimes=tuple(DownSpell(*row) for row in _downtimes(machine_id)),
        carries=tuple(_carried_by(person, machine_id)),
        rides_on=tuple(_carriers_of(person, machine_id)),
    )


@compiled
def _machine(person: Person, machine_id: int) -> "QuerySet[Machine]":
    found = Machine.objects.visible_to(person).filter(pk=machine_id)
    return found.select_related("site", "machine_class")


@compiled
def _carried_by(person: Person, machine_id: int) -> "QuerySet[Machine]":
    """What a machine carries: of the person's sites alone."""
    riding = Q(mounts__carrier=machine_id, mounts__to_on=None)
    return Machine.objects.visible_to(person).filter(riding).order_by("number_key")


@compiled
def _carriers_of(person: Person, machine_id: int) -> "QuerySet[Machine]":
    carrying = Q(carries__part=machine_id, carries__to_on=None)
    return Machine.objects.visible_to(person).filter(carrying).order_by("number_key")


def _counter(usage: Usage) -> CounterLine:
    return CounterLine(
        usage.counts,
        _COUNTERS[usage.counts],
        usage.machine_h,
        usage.as_of_on,
        usage.rate_h_per_day,
        usage.basis,
    )


def _walk(machine_id: int, usages: Mapping[str, Usage], today: dt.date) -> tuple[WalkLine, ...]:
    rows = _held(machine_id)
    unmatched = unmatched_among([row[1] for row in rows])
    held = {row[0]: _Held(*(*row, unmatched.get(row[1], ""))) for row in rows}
    dues = {hose_id: Dates(*dates) for hose_id, *dates in _dues(machine_id)}
    places = (_Place(*row) for row in _places(machine_id))
    return tuple(
        _walk_line(place, number, held.get(place.id), dues, usages.get(place.counts), today)
        for number, place in enumerate(places, start=1)
    )


@compiled
def _places(machine_id: int) -> "QuerySet[Position, Any]":
    current = Position.objects.filter(machine=machine_id, withdrawn_at=None)
    return current.order_by("walk_order", "id").values_list(*_Place._fields)


@compiled
def _held(machine_id: int) -> "QuerySet[Stay, Any]":
    open_stays = Stay.objects.filter(position__machine=machine_id, is_open=True)
    return open_stays.values_list(*_Held._fields[:-1])


@compiled
def _dues(machine_id: int) -> "QuerySet[Due, Any]":
    return Due.objects.filter(machine=machine_id).values_list("assembly_id", *DATES_SHOWN)


def _walk_line(  # noqa: PLR0917  # a row of a page is put together from all that it shows
    place: _Place,
    number: int,
    held: _Held | None,
    dues: Mapping[int, Dates],
    usage: Usage | None,
    today: dt.date,
) -> WalkLine:
    dates = dues.get(held.assembly_id) if held else None
    since, word = _aged_from(held) if held else (None, "")
    return WalkLine(
        position_id=place.id,
        number=number,
        place=Position.named(place.place, place.place_no),
        circuit=_CIRCUITS[place.circuit],
        consequence=place.consequence,
        hose_id=held.assembly_id if held else None,
        hose_label=_label(held) if held else "",
        hose_words=_words(held) if held else "",
        condition=held.assembly__condition if held else "",
        aged_from_on=since,
        aged_from=word,
        uncertain=dates is not None and uncertain_by(dates.flags),
        hours=_hours(held, usage),
        standing=standing(dates, today) if held else None,
        due_on=dates.due_on if dates else None,
        due_what=what_is_due(dates) if dates else "",
        unmatched=held.unmatched if held else "",
    )


def _aged_from(held: _Held) -> tuple[dt.date | None, str]:
    known = held.assembly__built_earliest_on, held.assembly__made_earliest_on
    return aged_from(*known, held.from_earliest_on)


def _label(held: _Held) -> str:
    return label_of(held.assembly_id, held.assembly__tag, held.assembly__owner_mark)


def _words(held: _Held) -> str:
    code = held.assembly__hose_type or held.assembly__hose__code or ""
    size = held.assembly__size_dn, held.assembly__size_typed
    return words_of(code, *size, held.assembly__length_mm)


def _hours(held: _Held | None, usage: Usage | None) -> Decimal | None:
    """Hours run on this fitting, up to the last accepted reading."""
    if held is None or usage is None or usage.machine_h is None or held.from_machine_h is None:
        return None
    run: Decimal = usage.machine_h - held.from_machine_h
    return max(run, Decimal(0))


_READ: Final = ("id", "meter__counts", "read_on", "reading_h", "doubt", "accepted_at")


@compiled
def _last_read(machine_id: int) -> "QuerySet[HourReading, Any]":
    found = HourReading.objects.filter(meter__machine=machine_id, set_aside_at=None)
    return found.order_by("-read_on", "-id").values_list(*_READ)[:8]


@compiled
def _doubtful(machine_id: int) -> "QuerySet[HourReading, Any]":
    found = HourReading.objects.filter(meter__machine=machine_id, set_aside_at=None)
    open_doubts = found.filter(accepted_at=None).exclude(doubt="")
    return open_doubts.order_by("-read_on", "-id").values_list(*_READ)[:20]


def _reading(  # noqa: PLR0917  # a row as it is read
    reading_id: int,
    counts: str,
    read_on: dt.date,
    reading_h: Decimal,
    doubt: str,
    accepted_at: dt.datetime | None,
) -> ReadingLine:
    left_out = bool(doubt) and accepted_at is None
    return ReadingLine(reading_id, _COUNTERS[counts], read_on, reading_h, doubt, left_out)


@compiled
def _downtimes(machine_id: int) -> "QuerySet[Downtime, Any]":
    found = Downtime.objects.filter(machine=machine_id).order_by("-from_at")
    return found.values_list("from_at", "to_at", "planned", "reason")[:8]
