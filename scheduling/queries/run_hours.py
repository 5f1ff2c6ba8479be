"""How many hours each counter of each machine ran in a period, from its readings or its pace."""

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Max, Min, Q

from fleet.models import HourReading, Machine, Usage
from scheduling.queries.losses import LossScope, Period, of_scope


@dataclass(frozen=True, slots=True)
class CounterRun:
    """One counter of one machine in a period: on how many days of it, at how many hours a day.

    `estimated` where it had no two readings in the period and counts at its usual hours a day.
    """

    machine_id: int
    counts: str
    site_id: int
    machine_class_id: int
    days: int
    h_per_day: Decimal
    estimated: bool

    @property
    def hours(self) -> Decimal:
        return self.h_per_day * self.days


@dataclass(frozen=True, slots=True)
class HoursRun:
    """Machine hours of a period, and of how many machines they are an estimate."""

    hours: Decimal
    machines: int
    estimated: int


Span = tuple[dt.date, dt.date, Decimal, Decimal]


def hours_run(scope: LossScope, period: Period) -> HoursRun:
    """Engine hours run in a period, from the first to the last accepted reading in it, carried
    to its edges at the same pace; a machine without two readings at its usual hours a day."""
    runs = counter_runs(scope, period, counts="engine")
    hours = sum((run.hours for run in runs), Decimal(0))
    estimated = sum(run.estimated for run in runs)
    return HoursRun(hours.quantize(Decimal("0.1")), len(runs), estimated)


def counter_runs(
    scope: LossScope, period: Period, *, counts: str | None = None
) -> tuple[CounterRun, ...]:
    """Every counter that ran in a period (or one kind of them). Two reads.

    A machine that is sold or withdrawn since counts from its first to its last reading in the
    period, and no further.
    """
    spans = _spans(scope, period, counts)
    return tuple(_runs(scope, period, counts, spans))


def _spans(scope: LossScope, period: Period, counts: str | None) -> dict[tuple[int, str], Span]:
    counting = Q(doubt="") | Q(accepted_at__isnull=False)
    readings = scope.rows(HourReading).filter(
        counting,
        of_scope(scope, machine="meter__machine"),
        set_aside_at=None,
        read_on__gte=period.from_on,
        read_on__lte=period.to_on,
    )
    if counts is not None:
        readings = readings.filter(meter__counts=counts)
    return {
        (machine, what): (first, last, low, high)
        for machine, what, first, last, low, high in readings.order_by()
        .values_list("meter__machine_id", "meter__counts")
        .annotate(
            first=Min("read_on"), last=Max("read_on"), low=Min("machine_h"), high=Max("machine_h")
        )
    }


def _runs(
    scope: LossScope, period: Period, counts: str | None, spans: dict[tuple[int, str], Span]
) -> Iterator[CounterRun]:
    machines = scope.rows(Machine)
    asked = Q() if scope.site_id is None else Q(site_id=scope.site_id)
    if scope.machine_class_id is not None:
        asked &= Q(machine_class_id=scope.machine_class_id)
    usages = Usage.objects.filter(machine__in=machines.filter(asked))
    if counts is not None:
        usages = usages.filter(counts=counts)
    for machine, what, site, kind, since, rate, status, withdrawn in usages.values_list(
        "machine_id",
        "counts",
        "machine__site_id",
        "machine__machine_class_id",
        "machine__in_service_from",
        "rate_h_per_day",
        "machine__status",
        "machine__withdrawn_at",
    ):
        gone = status == Machine.Status.SOLD or withdrawn is not None
        found = _pace(period, since, rate, spans.get((machine, what)), gone=gone)
        if found is not None:
            days, pace, estimated = found
            yield CounterRun(machine, what, site, kind, days, pace, estimated)


def _pace(
    period: Period, since: dt.date | None, rate: Decimal, span: Span | None, *, gone: bool
) -> tuple[int, Decimal, bool] | None:
    """Days on which it ran, hours a day, whether that is an estimate; None: it did not run."""
    read = (span[1] - span[0]).days if span else 0
    if span is not None and read > 0:
        begins = max(period.from_on, since) if since else period.from_on
        days = read if gone else (period.to_on - min(begins, span[0])).days + 1
        return days, (span[3] - span[2]) / read, False
    begins = max(period.from_on, since) if since else period.from_on
    days = (period.to_on - begins).days + 1
    return None if gone or days <= 0 else (days, rate, True)
