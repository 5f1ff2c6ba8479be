"""Hour readings as facts, for programs that ask."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleet.models import HourReading, Person
from fleet.queries.keyset import Order, Page, page_of

NEWEST = Order("id", down=True)


@dataclass(frozen=True, slots=True)
class ReadingFacts:
    """What a meter showed, and what was made of it."""

    id: int
    machine_id: int
    site: str
    counts: str
    read_at: dt.datetime
    read_on: dt.date
    reading_h: Decimal
    machine_h: Decimal
    typed: str
    origin: str
    reference: str
    doubt: str
    counts_in_forecasts: bool
    set_aside_reason: str
    recorded_at: dt.datetime


def readings(
    person: Person, machine_id: int, *, counts: str, after: tuple[object, ...] | None, size: int
) -> Page[ReadingFacts]:
    """A page of a machine's readings that the person may see, the last recorded first."""
    found = HourReading.objects.visible_to(person).filter(meter__machine_id=machine_id)
    if counts:
        found = found.filter(meter__counts=counts)
    found = found.select_related("meter", "site")
    page = page_of(found, order=NEWEST, after=after, size=size)
    return Page(tuple(_facts(reading) for reading in page.rows), page.after)


def all_readings(
    person: Person,
    *,
    site_id: int | None,
    counts: str,
    after: tuple[object, ...] | None,
    size: int,
) -> Page[ReadingFacts]:
    """A page of the readings of all machines that the person may see, the last recorded first."""
    found = HourReading.objects.visible_to(person)
    if site_id is not None:
        found = found.filter(site=site_id)
    if counts:
        found = found.filter(meter__counts=counts)
    page = page_of(found.select_related("meter", "site"), order=NEWEST, after=after, size=size)
    return Page(tuple(_facts(reading) for reading in page.rows), page.after)


def reading_facts(reading_id: int) -> ReadingFacts:
    """One reading that was just recorded."""
    return _facts(HourReading.objects.select_related("meter", "site").get(pk=reading_id))


def _facts(reading: HourReading) -> ReadingFacts:
    return ReadingFacts(
        id=reading.pk,
        machine_id=reading.meter.machine_id,
        site=reading.site.code,
        counts=reading.meter.counts,
        read_at=reading.read_at,
        read_on=reading.read_on,
        reading_h=reading.reading_h,
        machine_h=reading.machine_h,
        typed=reading.typed,
        origin=reading.source,
        reference=reading.source_ref,
        doubt=reading.doubt,
        counts_in_forecasts=reading.counts_in_forecasts,
        set_aside_reason=reading.set_aside_reason,
        recorded_at=reading.recorded_at,
    )
