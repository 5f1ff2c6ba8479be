"""The accepted readings of one meter in order of time, against which a new one is judged."""

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Q, QuerySet, Subquery

from fleet.calc.meters import Accepted, MeterFacts, Shown, Verdict, judge_reading
from fleet.models import HourMeter, HourReading, Machine

_BATCH = 500
_RECENT_DAYS = 35
COUNTED = Q(set_aside_at=None) & (Q(doubt="") | Q(accepted_at__isnull=False))


def tenths(hours: Decimal) -> int:
    return int(hours * 10)


def hours(in_tenths: int) -> Decimal:
    return Decimal(in_tenths) / 10


def zone_of(machine: Machine) -> ZoneInfo:
    return ZoneInfo(machine.site.time_zone)


def shown(
    read_at: dt.datetime,
    read_on: dt.date,
    reading_h: Decimal,
    zone: ZoneInfo,
    *,
    zone_known: bool = True,
) -> Shown:
    """A reading as the judge takes it. Noon to the second stands for a day without its time."""
    day_only = read_at.astimezone(zone).time() == dt.time(12)
    return Shown(read_on, tenths(reading_h), None if day_only else read_at, zone_known)


def counted_readings(meter: HourMeter) -> "QuerySet[HourReading]":
    """The meter's readings that count in forecasts."""
    return HourReading.objects.filter(COUNTED, meter=meter)


@dataclass
class MeterBook:
    """A meter's accepted readings; `judge` looks at the neighbours in time, `keep` adds one."""

    meter: HourMeter
    zone: ZoneInfo
    kept: list[Accepted] = field(default_factory=list)

    def judge(self, new: Shown, *, now: dt.datetime) -> Verdict:
        before, after = self._neighbours(new)
        facts = MeterFacts(
            self.zone,
            from_on=self.meter.from_on,
            to_on=self.meter.to_on,
            offset_tenths=tenths(self.meter.offset_h),
            rollover_tenths=None
            if self.meter.rollover_h is None
            else tenths(self.meter.rollover_h),
        )
        return judge_reading(new, facts, before=before, after=after, now=now)

    def keep(self, new: Shown, verdict: Verdict) -> None:
        self.kept.insert(self._place(new), Accepted(new, verdict.machine_tenths))

    def _neighbours(self, new: Shown) -> tuple[Accepted | None, Accepted | None]:
        place = self._place(new)
        before = self.kept[place - 1] if place else None
        return before, self.kept[place] if place < len(self.kept) else None

    def _place(self, new: Shown) -> int:
        """Where it belongs; looked for from the end, where a new reading mostly goes."""
        place = len(self.kept)
        while place and not _comes_before(self.kept[place - 1].shown, new):
            place -= 1
        return place


def _comes_before(old: Shown, new: Shown) -> bool:
    """In time; where a day alone is known, the lower of two figures of one day came first."""
    if old.on != new.on:
        return old.on < new.on
    if old.at is not None and new.at is not None:
        return old.at <= new.at
    return old.tenths <= new.tenths


def whole_book(meter: HourMeter) -> MeterBook:
    """All accepted readings of a meter, for judging many."""
    return whole_books([meter])[meter.pk]


def whole_books(meters: Sequence[HourMeter]) -> dict[int, MeterBook]:
    """Likewise of many meters, by their ids. Queries do not grow with the meters."""
    found: dict[int, list[HourReading]] = {meter.pk: [] for meter in meters}
    for reading in _in_batches(COUNTED, list(found)):
        found[reading.meter_id].append(reading)
    return {meter.pk: _book(meter, found[meter.pk]) for meter in meters}


def books_from(meters: Mapping[HourMeter, dt.date]) -> dict[int, MeterBook]:
    """For judging readings of a day or later: what was accepted since, and the last before.

    Each meter with its own first day. Five queries at most, and no older reading is fetched.
    """
    found: dict[int, list[HourReading]] = {meter.pk: [] for meter in meters}
    if meters:
        latest = max(meters.values())
        recent = {m: on for m, on in meters.items() if (latest - on).days <= _RECENT_DAYS}
        older = [meter.pk for meter in meters if meter not in recent]
        for reading in _in_batches(COUNTED, older):
            found[reading.meter_id].append(reading)
        for reading in _since(list(recent), min(recent.values())):
            found[reading.meter_id].append(reading)
    return {meter.pk: _book(meter, found[meter.pk]) for meter in meters}


def _since(meters: Sequence[HourMeter], on: dt.date) -> Iterator[HourReading]:
    """The last day's readings before a day, then those from that day on."""
    for start in range(0, len(meters), _BATCH):
        counted = HourReading.objects.filter(COUNTED, meter__in=meters[start : start + _BATCH])
        of_meter = HourReading.objects.filter(
            COUNTED, meter=OuterRef("meter"), read_on__lt=on
        ).order_by("-read_on")
        last_on = Subquery(of_meter.values("read_on")[:1])
        yield from counted.filter(read_on__lt=on, read_on=last_on).order_by("read_at", "id")
        yield from counted.filter(read_on__gte=on).order_by("read_on", "read_at", "id")


def _in_batches(condition: Q, meter_ids: Sequence[int]) -> Iterator[HourReading]:
    for start in range(0, len(meter_ids), _BATCH):
        chosen = HourReading.objects.filter(condition, meter__in=meter_ids[start : start + _BATCH])
        yield from chosen.order_by("read_on", "read_at", "id")


def page_of_book(meter: HourMeter, on: dt.date) -> MeterBook:
    """The accepted readings of a day, with the last before and the first after it."""
    counted = counted_readings(meter)
    before = counted.filter(read_on__lt=on).order_by("-read_on", "-read_at", "-id")[:1]
    same = counted.filter(read_on__gte=on, read_on__lte=on).order_by("read_at", "id")
    after = counted.filter(read_on__gt=on).order_by("read_on", "read_at", "id")[:1]
    return _book(meter, [*before, *same, *after])


def _book(meter: HourMeter, readings: Iterable[HourReading]) -> MeterBook:
    zone = zone_of(meter.machine)
    kept = [
        Accepted(shown(r.read_at, r.read_on, r.reading_h, zone), tenths(r.machine_h))
        for r in readings
    ]
    return MeterBook(meter, zone, kept)
