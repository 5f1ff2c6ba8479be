"""Hour readings: recorded, judged, accepted, set aside. None is ever changed or deleted."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import F, Q

from fleet import audit
from fleet.actions.meter_book import (
    MeterBook,
    books_from,
    hours,
    page_of_book,
    shown,
    tenths,
    whole_book,
    zone_of,
)
from fleet.actions.refusals import Refused
from fleet.actions.usages import machines_with_riders, refresh_usage
from fleet.models import Counter, HourMeter, HourReading, Machine, Person, SiteSpell
from fleet.permissions import require
from fleet.signals import reading_corrected, reading_recorded

Told = tuple[int, dt.datetime, Decimal]  # a meter's id, the moment, the figure
BATCH = 1000
CHANGE_OF_METER = "change of meter"
RESTS_ON_A_CHANGE = (
    "This reading belongs to a change of meter, and all later hours rest on it: undo the change "
    "on the page of the machine’s readings, then record it again."
)
MOST_TENTHS = 10**8


@dataclass(frozen=True)
class ReadingGiven:
    """A reading as it was given. `read_at` at noon local time stands for a day without its time."""

    machine: Machine
    counts: str
    reading_h: Decimal
    read_at: dt.datetime
    typed: str = ""
    source: str = HourReading.Source.TYPED
    source_ref: str = ""
    zone_known: bool = True


@transaction.atomic
def record_reading(
    *,
    machine: Machine,
    counts: str,
    reading_h: Decimal,
    read_at: dt.datetime,
    typed: str = "",
    source: str = HourReading.Source.TYPED,
    source_ref: str = "",
    replaces: HourReading | None = None,
    person: Person | None,
    at: dt.datetime,
) -> HourReading:
    """Record one reading, judged against its neighbours: a doubtful one is kept and marked.

    Atomic. Safe to repeat: the same reading of the same moment is given back. `replaces` is the
    one set aside for it. Refuses: no_meter, not_hours. Needs `record_reading` at the machine's
    site. Sends `reading_recorded`.
    """
    if person is not None:
        require(person, "record_reading", machine.site_id)
    given = ReadingGiven(machine, counts, reading_h, read_at, typed, source, source_ref)
    _refuse_what_is_no_reading(given)
    meter = _meter(given, _meters([machine.pk]))
    Machine.objects.select_for_update().get(pk=machine.pk)
    twin = _twin(meter, given)
    if twin is not None:
        return twin
    book = page_of_book(meter, _day(given))
    reading = _judged(given, book, person=person, at=at, spells=_spells([machine.pk]))
    reading.replaces = replaces
    reading.save(force_insert=True)
    audit.record(_deed(reading), actor=person, at=at)
    tell([machine.pk], at)
    return reading


@transaction.atomic
def record_readings(
    *, readings: Sequence[ReadingGiven], person: Person | None, at: dt.datetime
) -> list[HourReading]:
    """Record many readings of many machines, each judged in order of time. Atomic.

    Those that stand already are left out, and those of telematics that a person has set aside;
    returns the new ones. Refuses: no_meter, not_hours.
    Needs `record_reading` at every machine's site. Sends `reading_recorded` once.
    """
    ids = sorted({given.machine.pk for given in readings})
    if person is not None:
        for site_id in {given.machine.site_id for given in readings}:
            require(person, "record_reading", site_id)
    list(Machine.objects.select_for_update().filter(pk__in=ids).order_by("pk"))
    meters, spells = _meters(ids), _spells(ids)
    read = sorted(readings, key=lambda g: (g.read_at, g.reading_h))
    for given in read:
        _refuse_what_is_no_reading(given)
    of_meter = [(given, _meter(given, meters)) for given in read]
    books = _books(of_meter)
    seen = _standing(of_meter)
    new: list[HourReading] = []
    for given, meter in of_meter:
        told = (meter.pk, given.read_at, given.reading_h)
        if told not in seen:
            seen.add(told)
            new.append(_judged(given, books[meter.pk], person=person, at=at, spells=spells))
    made = HourReading.objects.bulk_create(new, batch_size=BATCH)
    audit.record_many((_deed(r) for r in made), actor=person, at=at)
    if made:
        tell(ids, at)
    return made


@transaction.atomic
def accept_reading(*, reading: HourReading, person: Person, at: dt.datetime) -> HourReading:
    """Let a doubtful reading count after all. Atomic; it says by whom and when.

    Refuses: not_doubtful. Needs `record_reading` at the reading's site. Sends `reading_recorded`,
    and `reading_corrected` where it stands for a wrong one.
    """
    locked = lock_reading(reading, person)
    if not locked.doubt or locked.accepted_at is not None:
        raise Refused("not_doubtful", "This reading counts already.")
    locked.accepted_by, locked.accepted_at = person, at
    locked.save(update_fields=["accepted_by", "accepted_at"])
    deed = audit.Deed(
        "accepted a doubtful reading", locked, locked.site, {}, {"doubt": locked.doubt}
    )
    audit.record(deed, actor=person, at=at)
    tell([locked.meter.machine_id], at)
    if locked.replaces is not None:
        tell_of_correction(locked.replaces, locked, person=person, at=at)
    return locked


@transaction.atomic
def set_aside_reading(
    *, reading: HourReading, reason: str, person: Person, at: dt.datetime
) -> HourReading:
    """Leave a reading out of all forecasts; it stays to be seen. Atomic.

    Readings that were doubted because of it are judged again. Refuses: reason_missing,
    already_set_aside, of_a_meter_change. Needs `record_reading` at the reading's site. Sends
    `reading_recorded`.
    """
    if not reason.strip():
        raise Refused("reason_missing", "Say why it is set aside.", field="reason")
    locked = lock_reading(reading, person)
    if locked.source == HourReading.Source.JOB and locked.source_ref == CHANGE_OF_METER:
        raise Refused("of_a_meter_change", RESTS_ON_A_CHANGE)
    return put_aside(locked=locked, reason=reason, person=person, at=at)


def put_aside(*, locked: HourReading, reason: str, person: Person, at: dt.datetime) -> HourReading:
    """Set a reading aside that `lock_reading` gave, inside the transaction of what wants it."""
    locked.set_aside_at, locked.set_aside_by = at, person
    locked.set_aside_reason = reason.strip()[:300]
    locked.save(update_fields=["set_aside_at", "set_aside_by", "set_aside_reason"])
    deed = audit.Deed("set a reading aside", locked, locked.site, {}, {}, reason)
    audit.record(deed, actor=person, at=at)
    judge_again(locked.meter, at)
    tell([locked.meter.machine_id], at)
    return locked


def _books(of_meter: Sequence[tuple[ReadingGiven, HourMeter]]) -> dict[int, MeterBook]:
    """The books of some meters from the first day that is given of each, or a day before.

    A day in two time zones at once is the reason for the day before.
    """
    first: dict[HourMeter, dt.date] = {}
    for given, meter in of_meter:
        on = _day(given) - dt.timedelta(days=1)
        first[meter] = min(on, first.get(meter, on))
    return books_from(first)


def lock_reading(reading: HourReading, person: Person) -> HourReading:
    """The reading as it stands, its row held. Refuses: already_set_aside."""
    require(person, "record_reading", reading.site_id)
    locked = (
        HourReading.objects.select_for_update(of=("self",))
        .select_related("meter__machine__site", "site")
        .get(pk=reading.pk)
    )
    if locked.set_aside_at is not None:
        raise Refused("already_set_aside", "This reading was set aside before.")
    return locked


def judge_again(meter: HourMeter, at: dt.datetime) -> None:
    """Readings that nobody has accepted yet: without the one set aside they may be right."""
    book = whole_book(meter)
    doubted = HourReading.objects.filter(meter=meter, set_aside_at=None, accepted_at=None)
    for reading in doubted.exclude(doubt="").order_by("read_on", "read_at", "id"):
        new = shown(
            reading.read_at,
            reading.read_on,
            reading.reading_h,
            book.zone,
            zone_known=reading.zone_known,
        )
        verdict = book.judge(new, now=at)
        if verdict.doubt != reading.doubt:
            reading.doubt, reading.machine_h = verdict.doubt, hours(verdict.machine_tenths)
            reading.save(update_fields=["doubt", "machine_h"])
        if verdict.accepted:
            book.keep(new, verdict)


def _judged(
    given: ReadingGiven,
    book: MeterBook,
    *,
    person: Person | None,
    at: dt.datetime,
    spells: dict[int, list[SiteSpell]],
) -> HourReading:
    """The row of a reading with its verdict; an accepted one is kept in the book."""
    new = shown(given.read_at, _day(given), given.reading_h, book.zone, zone_known=given.zone_known)
    verdict = book.judge(new, now=at)
    if verdict.accepted:
        book.keep(new, verdict)
    machine = given.machine
    held = (s.site for s in spells.get(machine.pk, []) if _covers(s, new.on))
    return HourReading(
        meter=book.meter,
        site=next(held, machine.site),
        read_at=given.read_at,
        read_on=new.on,
        reading_h=given.reading_h,
        machine_h=hours(min(max(verdict.machine_tenths, 0), MOST_TENTHS)),
        typed=given.typed[:40],
        source=given.source,
        source_ref=given.source_ref[:120],
        zone_known=given.zone_known,
        doubt=verdict.doubt[:300],
        recorded_by=person,
        recorded_at=at,
    )


def _refuse_what_is_no_reading(given: ReadingGiven) -> None:
    if not given.reading_h.is_finite() or not 0 <= tenths(given.reading_h) <= MOST_TENTHS:
        raise Refused(
            "not_hours",
            f"{given.reading_h} is not an hour reading: 0 to 10,000,000.",
            field="reading",
        )


def _day(given: ReadingGiven) -> dt.date:
    return given.read_at.astimezone(zone_of(given.machine)).date()


def _covers(spell: SiteSpell, on: dt.date) -> bool:
    return spell.from_on <= on and (spell.to_on is None or on < spell.to_on)


def _meters(machine_ids: Iterable[int]) -> dict[tuple[int, str], list[HourMeter]]:
    """The meters of some machines by counter, the newest first."""
    found: dict[tuple[int, str], list[HourMeter]] = {}
    rows = HourMeter.objects.filter(machine__in=machine_ids, undone_at=None)
    newest_first = (F("from_on").desc(nulls_last=True), "-pk")
    for meter in rows.select_related("machine__site").order_by(*newest_first):
        found.setdefault((meter.machine_id, meter.counts), []).append(meter)
    return found


def _meter(given: ReadingGiven, meters: dict[tuple[int, str], list[HourMeter]]) -> HourMeter:
    """The meter that was on the machine that day; the oldest where the day is before all."""
    candidates = meters.get((given.machine.pk, given.counts), [])
    if not candidates:
        label = Counter(given.counts).label if given.counts in Counter.values else given.counts
        raise Refused(
            "no_meter", f"{given.machine} has no meter that counts {label} hours.", field="counts"
        )
    on = _day(given)
    return next((m for m in candidates if m.from_on is None or m.from_on <= on), candidates[-1])


def _spells(machine_ids: Iterable[int]) -> dict[int, list[SiteSpell]]:
    found: dict[int, list[SiteSpell]] = {}
    for spell in SiteSpell.objects.filter(machine__in=machine_ids).select_related("site"):
        found.setdefault(spell.machine_id, []).append(spell)
    return found


def _twin(meter: HourMeter, given: ReadingGiven) -> HourReading | None:
    same = Q(meter=meter, read_at=given.read_at, reading_h=given.reading_h, set_aside_at=None)
    return HourReading.objects.filter(same).first()


def _standing(of_meter: Sequence[tuple[ReadingGiven, HourMeter]]) -> set[Told]:
    """The readings of some meters at the moments given that are not to be recorded again."""
    by_machine = HourReading.Source.TELEMATICS
    sent = {given.read_at for given, _ in of_meter if given.source == by_machine}
    ids, found = sorted({meter.pk for _, meter in of_meter}), set()
    within = Q(read_at__gte=min(g.read_at for g, _ in of_meter)) if ids else Q()
    for start in range(0, len(ids), BATCH):
        rows = HourReading.objects.filter(within, meter__in=ids[start : start + BATCH])
        wanted = rows.filter(Q(set_aside_at=None) | Q(source=by_machine))
        told = wanted.values_list("meter_id", "read_at", "reading_h", "set_aside_at")
        found |= {(m, at, h) for m, at, h, aside in told if aside is None or at in sent}
    return found


def _deed(reading: HourReading) -> audit.Deed:
    after = {"reading_h": reading.reading_h, "read_on": reading.read_on}
    if reading.doubt:
        after["doubt"] = reading.doubt
    return audit.Deed("recorded a reading", reading, reading.site, {}, after)


def tell_of_correction(
    wrong: HourReading, right: HourReading, *, person: Person, at: dt.datetime
) -> None:
    """Send `reading_corrected`: what took its hours from the wrong one follows the right one."""
    reading_corrected.send(
        sender=HourReading,
        machine_id=right.meter.machine_id,
        counts=right.meter.counts,
        read_on=wrong.read_on,
        was_h=wrong.machine_h,
        now_h=right.machine_h,
        person=person,
        at=at,
    )


def tell(machine_ids: Sequence[int], at: dt.datetime) -> None:
    """Renew how fast the machines run, and send `reading_recorded`."""
    refresh_usage(machine_ids=machine_ids)
    reading_recorded.send(sender=HourReading, machine_ids=machines_with_riders(machine_ids), at=at)
