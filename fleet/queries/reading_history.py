"""All readings of a machine: those that count, those in doubt and those set aside, with why."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from fleet.models import HourMeter, HourReading, Machine, Person, Usage
from fleet.queries.keyset import Order, Page, page_of

LATEST = Order("read_on", down=True)
NOON = dt.time(12)


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One reading as it stands in the book of the machine."""

    reading_id: int
    counter: str
    read_at: dt.datetime
    read_on: dt.date
    reading_h: Decimal
    machine_h: Decimal
    typed: str
    source: str
    source_ref: str
    recorded_by: str
    recorded_at: dt.datetime
    doubt: str
    accepted_by: str
    accepted_at: dt.datetime | None
    set_aside_by: str
    set_aside_at: dt.datetime | None
    set_aside_reason: str
    replaced_by_h: Decimal | None
    replaces_h: Decimal | None
    of_a_change: bool

    @property
    def state(self) -> str:
        if self.set_aside_at is not None:
            return "aside"
        return "doubt" if self.doubt and self.accepted_at is None else ""


@dataclass(frozen=True, slots=True)
class MeterLine:
    """One meter of a machine, from its fitting on."""

    meter_id: int
    counts: str
    counter: str
    from_on: dt.date | None
    to_on: dt.date | None
    offset_h: Decimal
    rollover_h: Decimal | None
    undone_reason: str
    changed: bool

    @property
    def present(self) -> bool:
        return self.to_on is None


@dataclass(frozen=True, slots=True)
class CounterRate:
    """How fast a counter runs, and how that is known."""

    counts: str
    counter: str
    machine_h: Decimal | None
    as_of_on: dt.date | None
    low_h_per_day: Decimal
    rate_h_per_day: Decimal
    high_h_per_day: Decimal
    basis: str


def reading_history(
    person: Person, machine: Machine, *, after: tuple[object, ...] | None, size: int
) -> Page[HistoryLine]:
    """A page of a machine's readings, the latest first."""
    found = HourReading.objects.visible_to(person).filter(meter__machine=machine)
    found = found.select_related("meter", "replaces", "recorded_by", "accepted_by", "set_aside_by")
    page = page_of(found, order=LATEST, after=after, size=size)
    ids = [reading.pk for reading in page.rows]
    standing = HourReading.objects.filter(replaces__in=ids).order_by("id")
    replaced = dict(standing.values_list("replaces_id", "reading_h"))
    return Page(
        tuple(_line(reading, replaced.get(reading.pk)) for reading in page.rows), page.after
    )


def meters_of(machine: Machine) -> tuple[MeterLine, ...]:
    """A machine's meters by counter, the present one first."""
    meters = HourMeter.objects.filter(machine=machine).order_by("counts", "-id")
    lines = [
        MeterLine(
            meter.pk,
            meter.counts,
            meter.get_counts_display(),
            meter.from_on,
            meter.to_on,
            meter.offset_h,
            meter.rollover_h,
            meter.undone_reason if meter.undone_at else "",
            meter.from_on is not None and meter.undone_at is None,
        )
        for meter in meters
    ]
    return tuple(sorted(lines, key=lambda line: (line.counts, not line.present)))


def rates_of(machine: Machine) -> tuple[CounterRate, ...]:
    """How fast each counter of a machine runs."""
    usages = Usage.objects.filter(machine=machine).order_by("counts")
    return tuple(
        CounterRate(
            usage.counts,
            usage.get_counts_display(),
            usage.machine_h,
            usage.as_of_on,
            usage.low_h_per_day,
            usage.rate_h_per_day,
            usage.high_h_per_day,
            usage.basis,
        )
        for usage in usages
    )


def told_by(machine: Machine) -> tuple[str, ...]:
    """The sources of telematics that tell this machine's hours."""
    current = Q(source__withdrawn_at=None)
    matches = machine.telematics_matches.filter(current).select_related("source")
    return tuple(f"{match.source} ({match})" for match in matches.order_by("id"))


def _line(reading: HourReading, replaced_by_h: Decimal | None) -> HistoryLine:
    return HistoryLine(
        reading_id=reading.pk,
        counter=reading.meter.get_counts_display(),
        read_at=reading.read_at,
        read_on=reading.read_on,
        reading_h=reading.reading_h,
        machine_h=reading.machine_h,
        typed=reading.typed,
        source=reading.get_source_display(),
        source_ref=reading.source_ref,
        recorded_by=str(reading.recorded_by or ""),
        recorded_at=reading.recorded_at,
        doubt=reading.doubt,
        accepted_by=str(reading.accepted_by or ""),
        accepted_at=reading.accepted_at,
        set_aside_by=str(reading.set_aside_by or ""),
        set_aside_at=reading.set_aside_at,
        set_aside_reason=reading.set_aside_reason,
        replaced_by_h=replaced_by_h,
        replaces_h=reading.replaces.reading_h if reading.replaces else None,
        of_a_change=reading.source == "job" and reading.source_ref == "change of meter",
    )
