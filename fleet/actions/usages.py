"""Keeping each counter's usage: where it stands and how fast it runs."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Final

import numpy as np
from django.db import transaction
from django.db.models import Max

from fleet.actions.meter_book import COUNTED, tenths
from fleet.calc.rides import Ride, Series, summed
from fleet.calc.usage import WINDOW_DAYS, UsageRate, usage_rate
from fleet.models import HourMeter, HourReading, Machine, Mount, Usage
from fleet.models.batches import insert_rows, update_rows
from fleet.models.fields import EPOCH

Key = tuple[int, str]  # a machine's id and what the counter counts
Facts = tuple[Any, ...]  # a usage row's values as the database keeps them

BATCH: Final = 200
DEEPEST: Final = 4  # a part on a part on a part: a hammer on a quick hitch on a digger
_COLUMNS: Final = (
    *("as_of_on", "machine_h", "rate_h_per_day", "low_h_per_day", "high_h_per_day", "basis"),
)


def machines_with_riders(machine_ids: Iterable[int]) -> list[int]:
    """These machines, and the attachments that count hours with one of them, or did once.

    A reading may be of a day when a part rode there that is elsewhere now; and a part may ride on
    a part.
    """
    ids, new = set(machine_ids), set(machine_ids)
    while new:
        riders: set[int] = set()
        for batch in _batches(sorted(new)):
            mounts = Mount.objects.filter(carrier__in=batch, uses_carrier_hours=True)
            riders |= set(mounts.values_list("part_id", flat=True))
        new = riders - ids
        ids |= new
    return sorted(ids)


@transaction.atomic
def refresh_usage(*, machine_ids: Sequence[int]) -> int:
    """Work out again how fast the counters of some machines run. Atomic, safe to repeat.

    Only rows that differ are written; returns how many. A part counts its carriers' hours for the
    time it rode on them (`fleet.calc.rides`); off them, and without readings of its own, it stands.
    Sends nothing: who records a reading tells of it.
    """
    written = 0
    for batch in _batches(machines_with_riders(machine_ids)):
        stood = _stored(batch)
        series = series_of(batch)
        found = _worked_out(batch, {*series, *stood}, series)
        changed = [(*f, stood[k][0]) for k, f in found.items() if k in stood and stood[k][1] != f]
        added = [(*key, *facts) for key, facts in found.items() if key not in stood]
        if changed:
            update_rows(Usage, _COLUMNS, changed)
        if added:
            insert_rows(Usage, ("machine_id", "counts", *_COLUMNS), added)
        written += len(changed) + len(added)
    return written


def _batches(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    for start in range(0, len(ids), BATCH):
        yield ids[start : start + BATCH]


def _stored(machine_ids: Sequence[int]) -> dict[Key, tuple[int, Facts]]:
    """Each counter's row: its id and its values as the database keeps them."""
    columns = {field.attname: field for field in Usage._meta.concrete_fields}
    fields = [columns[name] for name in _COLUMNS]
    rows = Usage.objects.filter(machine__in=machine_ids)
    return {
        (owner, counts): (
            pk,
            tuple(f.get_prep_value(v) for f, v in zip(fields, values, strict=True)),
        )
        for pk, owner, counts, *values in rows.values_list("pk", "machine_id", "counts", *_COLUMNS)
    }


def _worked_out(
    machine_ids: Sequence[int], keys: Iterable[Key], series: dict[Key, Series]
) -> dict[Key, Facts]:
    machines = Machine.objects.filter(pk__in=machine_ids)
    loose = _off_their_carriers(machine_ids)
    facts = {
        pk: (int(hours_per_day * 1000), status != Machine.Status.IN_SERVICE or pk in loose)
        for pk, hours_per_day, status in machines.values_list(
            "pk", "machine_class__hours_per_day", "status"
        )
    }
    return {
        key: _facts(_rate(series.get(key, []), *facts[key[0]]))
        for key in sorted(keys)
        if key[0] in facts
    }


def _rate(series: Series, class_rate_milli: int, standing: bool) -> UsageRate:
    table = np.array(series, dtype=np.int64).reshape(-1, 2)
    return usage_rate(
        table[:, 0], table[:, 1], class_rate_milli=class_rate_milli, standing=standing
    )


def _facts(rate: UsageRate) -> Facts:
    rates = (rate.rate_milli, rate.low_milli, rate.high_milli)
    return (rate.as_of_on, rate.machine_tenths, *rates, rate.sentence)


def series_of(machine_ids: Sequence[int]) -> dict[Key, Series]:
    """The counted readings of two years and more up to the last, by machine and counter.

    Those of a part that rode by its carriers' hours are summed over its rides.
    """
    series = _own_series(machine_ids)
    rode = Mount.objects.filter(part__in=machine_ids, uses_carrier_hours=True)
    for part_id in rode.order_by().values_list("part_id", flat=True).distinct():
        series.update(_summed(part_id))
    return series


def _off_their_carriers(machine_ids: Sequence[int]) -> set[int]:
    """Parts that counted by a carrier last, and ride on none now: no hours run on them."""
    rode = Mount.objects.filter(part__in=machine_ids, uses_carrier_hours=True)
    last = dict(rode.order_by("from_on", "id").values_list("part_id", "to_on"))
    if not last:
        return set()
    still = set(
        Mount.objects.filter(part__in=machine_ids, to_on=None).values_list("part_id", flat=True)
    )
    return {
        part_id
        for part_id, to_on in last.items()
        if part_id not in still and to_on is not None and not _read_since(part_id, to_on)
    }


def _read_since(machine_id: int, on: dt.date) -> bool:
    return HourReading.objects.filter(COUNTED, meter__machine=machine_id, read_on__gt=on).exists()


def _own_series(machine_ids: Sequence[int]) -> dict[Key, Series]:
    meters = HourMeter.objects.filter(machine__in=machine_ids)
    series: dict[Key, Series] = {key: [] for key in meters.values_list("machine_id", "counts")}
    counted = HourReading.objects.filter(COUNTED, meter__machine__in=machine_ids)
    counters = counted.order_by().values("meter__machine_id", "meter__counts")
    last = [row["last"] for row in counters.annotate(last=Max("read_on"))]
    if not last:
        return series
    first_on = min(last) - np.timedelta64(WINDOW_DAYS, "D").item()
    rows = counted.filter(read_on__gte=first_on).order_by("read_on", "read_at", "id")
    for owner, counts, on, value in rows.values_list(
        "meter__machine_id", "meter__counts", "read_on", "machine_h"
    ):
        series[owner, counts].append(((on - EPOCH).days, tenths(value)))
    return series


def _summed(part_id: int, depth: int = 0) -> dict[Key, Series]:
    """A part's hours, ride after ride; a carrier that is a part itself is summed likewise."""
    own = _whole_series(part_id)
    rides: defaultdict[str, list[Ride]] = defaultdict(list)
    mounts = Mount.objects.filter(part=part_id, uses_carrier_hours=True).order_by("from_on", "id")
    for mount in mounts:
        for counts, source in _source(mount.carrier_id, depth).items():
            to_on = None if mount.to_on is None else (mount.to_on - EPOCH).days
            rides[counts].append(Ride((mount.from_on - EPOCH).days, to_on, source))
    return {
        (part_id, counts): summed(own.get(counts, []), rides.get(counts, []))
        for counts in {*own, *rides}
    }


def _source(carrier_id: int, depth: int) -> dict[str, Series]:
    rides = Mount.objects.filter(part=carrier_id, uses_carrier_hours=True).exists()
    if not rides or depth >= DEEPEST:
        return _whole_series(carrier_id)
    return {counts: series for (_, counts), series in _summed(carrier_id, depth + 1).items()}


def _whole_series(machine_id: int) -> dict[str, Series]:
    readings = HourReading.objects.filter(COUNTED, meter__machine=machine_id)
    rows = readings.order_by("read_on", "read_at", "id")
    series: defaultdict[str, Series] = defaultdict(list)
    for counts, on, value in rows.values_list("meter__counts", "read_on", "machine_h"):
        series[counts].append(((on - EPOCH).days, tenths(value)))
    return series
