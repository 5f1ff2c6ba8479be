"""One machine in the order one walks round it, with what is fitted and when it falls due."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from django.db.models import Q

from assemblies.models import Assembly, Position, Stay
from assemblies.queries.unmatched import unmatched_among
from fleet.models import Downtime, HourReading, Machine, Person, Usage
from scheduling.calc.standing import Standing, standing, what_is_due
from scheduling.models import Due
from scheduling.queries.due_facts import (
    DATES_SHOWN,
    HOSE_SHOWN,
    age_start,
    dates_of,
    hose_label,
    hose_words,
    still_uncertain,
)

_PLACE_SHOWN = ("place", "place_no", "circuit", "consequence", "counts")
_STAY_SHOWN = (
    *("position", "from_earliest_on", "from_machine_h"),
    *(f"assembly__{name}" for name in HOSE_SHOWN),
)


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
    found = Machine.objects.visible_to(person).select_related("site", "machine_class")
    machine = found.filter(pk=machine_id).first()
    if machine is None:
        return None
    usages = {usage.counts: usage for usage in Usage.objects.filter(machine=machine)}
    readings = _readings(machine)
    return MachinePage(
        machine=machine,
        counters=tuple(_counter(usages[name]) for name in sorted(usages)),
        walk=_walk(machine, usages, today),
        readings=tuple(_reading(r) for r in readings[:8]),
        doubtful=tuple(_reading(r) for r in _doubtful(machine)),
        downtimes=_downtimes(machine),
        carries=_mounted(person, Q(mounts__carrier=machine, mounts__to_on=None)),
        rides_on=_mounted(person, Q(carries__part=machine, carries__to_on=None)),
    )


def _mounted(person: Person, how: Q) -> tuple[Machine, ...]:
    """What a machine carries, or what carries it: of the person's sites alone."""
    return tuple(Machine.objects.visible_to(person).filter(how).order_by("number_key"))


def _counter(usage: Usage) -> CounterLine:
    return CounterLine(
        usage.counts,
        usage.get_counts_display(),
        usage.machine_h,
        usage.as_of_on,
        usage.rate_h_per_day,
        usage.basis,
    )


def _walk(machine: Machine, usages: Mapping[str, Usage], today: dt.date) -> tuple[WalkLine, ...]:
    positions = Position.objects.filter(machine=machine, withdrawn_at=None).only(*_PLACE_SHOWN)
    stays = Stay.objects.filter(position__machine=machine, is_open=True)
    stays = stays.select_related("assembly__hose").only(*_STAY_SHOWN)
    held = {stay.position_id: stay for stay in stays}
    dues = Due.objects.filter(machine=machine).only(*DATES_SHOWN)
    kept = {due.assembly_id: due for due in dues}
    lines = [
        _walk_line(place, number, held.get(place.pk), kept, usages.get(place.counts), today)
        for number, place in enumerate(positions.order_by("walk_order", "id"), start=1)
    ]
    unmatched = unmatched_among([line.hose_id for line in lines if line.hose_id is not None])
    return tuple(replace(line, unmatched=unmatched.get(line.hose_id or 0, "")) for line in lines)


def _walk_line(  # noqa: PLR0917  # a row of a page is put together from all that it shows
    place: Position,
    number: int,
    stay: Stay | None,
    dues: Mapping[int, Due],
    usage: Usage | None,
    today: dt.date,
) -> WalkLine:
    hose: Assembly | None = stay.assembly if stay else None
    due = dues.get(hose.pk) if hose else None
    dates = dates_of(due)
    since, word = age_start(hose, stay) if hose else (None, "")
    return WalkLine(
        position_id=place.pk,
        number=number,
        place=str(place),
        circuit=place.get_circuit_display(),
        consequence=place.consequence,
        hose_id=hose.pk if hose else None,
        hose_label=hose_label(hose) if hose else "",
        hose_words=hose_words(hose) if hose else "",
        condition=hose.condition if hose else "",
        aged_from_on=since,
        aged_from=word,
        uncertain=still_uncertain(due),
        hours=_hours(stay, usage),
        standing=standing(dates, today) if hose else None,
        due_on=dates.due_on if dates else None,
        due_what=what_is_due(dates) if dates else "",
        unmatched="",
    )


def _hours(stay: Stay | None, usage: Usage | None) -> Decimal | None:
    """Hours run on this fitting, up to the last accepted reading."""
    if stay is None or usage is None or usage.machine_h is None or stay.from_machine_h is None:
        return None
    run: Decimal = usage.machine_h - stay.from_machine_h
    return max(run, Decimal(0))


def _readings(machine: Machine) -> list[HourReading]:
    found = HourReading.objects.filter(meter__machine=machine, set_aside_at=None)
    return list(found.select_related("meter").order_by("-read_on", "-id")[:8])


def _doubtful(machine: Machine) -> list[HourReading]:
    found = HourReading.objects.filter(meter__machine=machine, set_aside_at=None, accepted_at=None)
    return list(found.exclude(doubt="").select_related("meter").order_by("-read_on", "-id")[:20])


def _reading(reading: HourReading) -> ReadingLine:
    return ReadingLine(
        reading.pk,
        reading.meter.get_counts_display(),
        reading.read_on,
        reading.reading_h,
        reading.doubt,
        not reading.counts_in_forecasts,
    )


def _downtimes(machine: Machine) -> tuple[DownSpell, ...]:
    found = Downtime.objects.filter(machine=machine).order_by("-from_at")[:8]
    return tuple(DownSpell(d.from_at, d.to_at, d.planned, d.reason) for d in found)
