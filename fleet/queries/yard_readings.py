"""The machines of a site with where their counters stand: what a planner reads on one page."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Exists, OuterRef, Q, Subquery

from fleet.calc.usual_run import UsualRun, usual_run
from fleet.models import HourMeter, HourReading, Machine, Person, Site, Usage
from fleet.queries.keyset import Order, Page, page_of

BY_NUMBER = Order("number_key")
MACHINES = 250
COUNTED = Q(set_aside_at=None) & (Q(doubt="") | Q(accepted_at__isnull=False))


@dataclass(frozen=True, slots=True)
class YardRow:
    """One counter of a machine: its last reading that counts, and what is usual since then."""

    meter_id: int
    machine_id: int
    number: str
    what: str
    counts: str
    counter: str
    several: bool
    last_h: Decimal | None
    last_at: dt.datetime | None
    last_on: dt.date | None
    days: float
    usual: UsualRun | None

    @property
    def run_from(self) -> Decimal:
        """The fewest hours that are usual since the last reading."""
        return Decimal(self.usual.low_tenths if self.usual else 0) / 10

    @property
    def run_to(self) -> Decimal:
        """The most."""
        return Decimal(self.usual.high_tenths if self.usual else 0) / 10

    @property
    def usual_from(self) -> Decimal:
        """What the meter would show then."""
        return (self.last_h or Decimal(0)) + self.run_from

    @property
    def usual_to(self) -> Decimal:
        return (self.last_h or Decimal(0)) + self.run_to


def yard_page(
    person: Person, site: Site, *, at: dt.datetime, after: tuple[object, ...] | None
) -> Page[YardRow]:
    """The counters of the machines at a site, by number. Four queries, however many there are."""
    meters = HourMeter.objects.filter(machine=OuterRef("pk"), to_on=None)
    here = Machine.objects.visible_to(person).filter(Exists(meters), site=site, withdrawn_at=None)
    here = here.exclude(status=Machine.Status.SOLD).select_related("machine_class")
    page = page_of(here, order=BY_NUMBER, after=after, size=MACHINES)
    return Page(_rows(page.rows, at), page.after)


def yard_rows(
    person: Person, site: Site, meter_ids: Sequence[int], *, at: dt.datetime
) -> dict[int, YardRow]:
    """Some counters of a site by their meters' ids; those that are not there are left out."""
    machines = Machine.objects.visible_to(person).filter(
        site=site, withdrawn_at=None, meters__in=meter_ids
    )
    rows = _rows(list(machines.distinct().select_related("machine_class")), at)
    wanted = set(meter_ids)
    return {row.meter_id: row for row in rows if row.meter_id in wanted}


def _rows(machines: Sequence[Machine], at: dt.datetime) -> tuple[YardRow, ...]:
    by_id = {machine.pk: machine for machine in machines}
    newest = HourReading.objects.filter(COUNTED, meter=OuterRef("pk"))
    newest_id = newest.order_by("-read_on", "-read_at", "-id").values("pk")[:1]
    present = HourMeter.objects.filter(machine__in=by_id, to_on=None)
    meters = list(present.annotate(newest=Subquery(newest_id)).order_by("id"))
    ids = [meter.newest for meter in meters if meter.newest is not None]
    last = {reading.meter_id: reading for reading in HourReading.objects.filter(pk__in=ids)}
    usages = {
        (usage.machine_id, usage.counts): usage for usage in Usage.objects.filter(machine__in=by_id)
    }
    found: dict[int, list[HourMeter]] = {machine.pk: [] for machine in machines}
    for meter in meters:
        found[meter.machine_id].append(meter)
    return tuple(
        _row(machine, meter, len(found[machine.pk]) > 1, last, usages, at)
        for machine in machines
        for meter in found[machine.pk]
    )


def _row(  # noqa: PLR0917  # a row of a page is put together from all that it shows
    machine: Machine,
    meter: HourMeter,
    several: bool,
    last: Mapping[int, HourReading],
    usages: Mapping[tuple[int, str], Usage],
    at: dt.datetime,
) -> YardRow:
    reading, usage = last.get(meter.pk), usages.get((machine.pk, meter.counts))
    days = (at - reading.read_at) / dt.timedelta(days=1) if reading else 0.0
    return YardRow(
        meter.pk,
        machine.pk,
        machine.fleet_number,
        str(machine.machine_class),
        meter.counts,
        meter.get_counts_display(),
        several,
        reading.reading_h if reading else None,
        reading.read_at if reading else None,
        reading.read_on if reading else None,
        days,
        _usual(usage, days) if reading and usage else None,
    )


def _usual(usage: Usage, days: float) -> UsualRun:
    low, rate, high = (
        int(value * 1000)
        for value in (usage.low_h_per_day, usage.rate_h_per_day, usage.high_h_per_day)
    )
    return usual_run(days, low_milli=low, rate_milli=rate, high_milli=high)


def machines_of(person: Person, machine_ids: Sequence[int]) -> dict[int, Machine]:
    """Machines that the person may see, by their ids, each with its site."""
    found = Machine.objects.visible_to(person).filter(pk__in=machine_ids).select_related("site")
    return {machine.pk: machine for machine in found}
