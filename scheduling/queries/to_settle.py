"""Lists of what people must settle: hoses without a tag, hours in doubt, failures to complete."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from assemblies.models import Assembly, Position, Stay
from fleet.models import IN_DOUBT, HourReading, Person
from fleet.queries.keyset import Order, Page, page_of
from scheduling.models import Failure
from scheduling.queries.due_facts import hose_label, hose_words

BY_ID = Order("id")
LATEST = Order("failed_on", down=True)


@dataclass(frozen=True, slots=True)
class UntaggedLine:
    """A fitted hose that has no tag of its own."""

    hose_id: int
    label: str
    words: str
    machine_id: int
    machine: str
    place: str
    site_code: str


@dataclass(frozen=True, slots=True)
class DoubtfulLine:
    """An hour reading that nobody has decided about."""

    reading_id: int
    machine: str
    counts: str
    read_on: dt.date
    reading_h: Decimal
    doubt: str


@dataclass(frozen=True, slots=True)
class FailureLine:
    """One failure in service."""

    failure_id: int
    hose_id: int
    label: str
    failed_on: dt.date
    machine_id: int | None
    machine: str
    place: str
    mode: str
    cause: str
    machine_h: Decimal | None
    oil_lost_l: Decimal | None
    note: str


def failures_latest(
    person: Person, *, after: tuple[object, ...] | None, size: int
) -> Page[FailureLine]:
    """Failures at the person's sites, the latest first."""
    found = Failure.objects.visible_to(person).select_related(
        "assembly", "machine", "stay__position"
    )
    page = page_of(found, order=LATEST, after=after, size=size)
    return Page(tuple(failure_line(failure) for failure in page.rows), page.after)


def failure_line(failure: Failure) -> FailureLine:
    """A failure as lists show it."""
    place = failure.stay.position if failure.stay else None
    return FailureLine(
        failure.pk,
        failure.assembly_id,
        hose_label(failure.assembly),
        failure.failed_on,
        failure.machine_id,
        failure.machine.fleet_number if failure.machine else "",
        str(place) if place else "",
        failure.get_mode_display(),
        failure.get_cause_display(),
        failure.machine_h,
        failure.oil_lost_l,
        failure.note,
    )


def untagged_hoses(
    person: Person, *, after: tuple[object, ...] | None, size: int
) -> Page[UntaggedLine]:
    """Fitted hoses without a tag, in the order the register met them."""
    found = Assembly.objects.visible_to(person).filter(
        withdrawn_at=None, tag=None, stays__is_open=True, stays__place=Stay.Place.POSITION
    )
    page = page_of(found.select_related("hose", "site"), order=BY_ID, after=after, size=size)
    held = Stay.objects.filter(assembly__in=[h.pk for h in page.rows], is_open=True)
    held = held.select_related("position__machine")
    places = {stay.assembly_id: stay.position for stay in held if stay.position}
    return Page(tuple(_untagged(hose, places[hose.pk]) for hose in page.rows), page.after)


def _untagged(hose: Assembly, place: Position) -> UntaggedLine:
    machine = place.machine
    return UntaggedLine(
        hose.pk,
        hose_label(hose),
        hose_words(hose),
        machine.pk,
        machine.fleet_number,
        str(place),
        hose.site.code,
    )


def doubtful_readings(
    person: Person, *, after: tuple[object, ...] | None, size: int
) -> Page[DoubtfulLine]:
    """Readings in doubt, in the order they came in."""
    found = HourReading.objects.visible_to(person).filter(IN_DOUBT)
    found = found.select_related("meter__machine")
    page = page_of(found, order=BY_ID, after=after, size=size)
    return Page(tuple(_doubtful(reading) for reading in page.rows), page.after)


def _doubtful(reading: HourReading) -> DoubtfulLine:
    return DoubtfulLine(
        reading.pk,
        reading.meter.machine.fleet_number,
        reading.meter.get_counts_display(),
        reading.read_on,
        reading.reading_h,
        reading.doubt,
    )
