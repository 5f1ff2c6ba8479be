"""Keeping each counter's usage: where it stands and how fast it runs."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from decimal import Decimal

import numpy as np
from django.db import transaction
from django.db.models import Max, Q

from fleet.actions.meter_book import COUNTED, hours, tenths
from fleet.calc.usage import WINDOW_DAYS, UsageRate, usage_rate
from fleet.models import HourMeter, HourReading, Machine, Mount, Usage
from fleet.models.fields import EPOCH

Series = list[tuple[int, int]]  # days since 1970-01-01 with machine hours in tenths
Key = tuple[int, str]  # a machine's id and what the counter counts


def machines_with_riders(machine_ids: Iterable[int]) -> list[int]:
    """These machines, and the attachments that count hours with one of them."""
    ids = set(machine_ids)
    riders = Mount.objects.filter(carrier__in=ids, to_on=None, uses_carrier_hours=True)
    return sorted(ids | set(riders.values_list("part_id", flat=True)))


@transaction.atomic
def refresh_usage(*, machine_ids: Sequence[int]) -> int:
    """Work out again how fast the counters of some machines run. Atomic, safe to repeat.

    Only rows that differ are written; returns how many. A part that counts its carrier's hours has
    the carrier's readings while it rides. Sends nothing: who records a reading tells of it.
    """
    ids = machines_with_riders(machine_ids)
    machines = Machine.objects.filter(pk__in=ids).select_related("machine_class")
    found = {(u.machine_id, u.counts): u for u in Usage.objects.filter(machine__in=ids)}
    series = _series(ids)
    written = 0
    for machine in machines:
        counters = {counts for owner, counts in [*series, *found] if owner == machine.pk}
        for counts in sorted(counters):
            rate = _rate(machine, series.get((machine.pk, counts), []))
            written += _write(found.get((machine.pk, counts)), machine, counts, rate)
    return written


def _rate(machine: Machine, series: Series) -> UsageRate:
    table = np.array(series, dtype=np.int64).reshape(-1, 2)
    return usage_rate(
        table[:, 0],
        table[:, 1],
        class_rate_milli=int(machine.machine_class.hours_per_day * 1000),
        standing=machine.status != Machine.Status.IN_SERVICE,
    )


def _write(usage: Usage | None, machine: Machine, counts: str, rate: UsageRate) -> int:
    as_of, value = rate.as_of_on, rate.machine_tenths
    facts = {
        "as_of_on": None if as_of is None else EPOCH + np.timedelta64(as_of, "D").item(),
        "machine_h": None if value is None else hours(value),
        "rate_h_per_day": Decimal(rate.rate_milli) / 1000,
        "low_h_per_day": Decimal(rate.low_milli) / 1000,
        "high_h_per_day": Decimal(rate.high_milli) / 1000,
        "basis": rate.sentence,
    }
    if usage is None:
        Usage.objects.create(machine=machine, counts=counts, **facts)
        return 1
    changed = [name for name, fact in facts.items() if getattr(usage, name) != fact]
    for name in changed:
        setattr(usage, name, facts[name])
    if changed:
        usage.save(update_fields=changed)
    return bool(changed)


def _series(machine_ids: Sequence[int]) -> dict[Key, Series]:
    """The counted readings of two years up to the last, by machine and counter, in time."""
    series = _own_series(machine_ids)
    mounts = Mount.objects.filter(part__in=machine_ids, uses_carrier_hours=True)
    for mount in mounts.filter(to_on=None).select_related("carrier"):
        series.update(_ridden(mount.part_id))
    return series


def _own_series(machine_ids: Sequence[int]) -> dict[Key, Series]:
    meters = HourMeter.objects.filter(machine__in=machine_ids)
    series: dict[Key, Series] = {key: [] for key in meters.values_list("machine_id", "counts")}
    counted = HourReading.objects.filter(COUNTED, meter__machine__in=machine_ids)
    last = counted.values("meter__machine_id", "meter__counts").annotate(last=Max("read_on"))
    wanted = Q(pk__in=[])
    for row in last.order_by():
        first_on = row["last"] - np.timedelta64(WINDOW_DAYS, "D").item()
        wanted |= Q(
            meter__machine_id=row["meter__machine_id"],
            meter__counts=row["meter__counts"],
            read_on__gte=first_on,
        )
    rows = counted.filter(wanted).order_by("read_on", "read_at", "id")
    for owner, counts, on, value in rows.values_list(
        "meter__machine_id", "meter__counts", "read_on", "machine_h"
    ):
        series[owner, counts].append(((on - EPOCH).days, tenths(value)))
    return series


def _ridden(part_id: int) -> dict[Key, Series]:
    """A part's hours as those of its carriers while it rode on them, run after run."""
    rides = Mount.objects.filter(part=part_id, uses_carrier_hours=True).order_by("from_on", "id")
    total: dict[str, int] = defaultdict(int)
    series: dict[Key, Series] = defaultdict(list)
    for ride in rides:
        readings = HourReading.objects.filter(COUNTED, meter__machine=ride.carrier_id)
        within = readings.filter(read_on__gte=ride.from_on)
        if ride.to_on is not None:
            within = within.filter(read_on__lte=ride.to_on)
        rows = within.order_by("read_on", "read_at", "id").values_list(
            "meter__counts", "read_on", "machine_h"
        )
        start: dict[str, int] = {}
        for counts, on, value in rows:
            begun = start.setdefault(counts, tenths(value) - total[counts])
            total[counts] = tenths(value) - begun
            series[part_id, counts].append(((on - EPOCH).days, total[counts]))
    return series
