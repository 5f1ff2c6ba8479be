"""Changing an hour meter: the hours go on counting where the old one ended."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import F, Q

from fleet import audit
from fleet.actions.meter_book import counted_readings, hours, tenths, zone_of
from fleet.actions.readings import (
    CHANGE_OF_METER,
    MOST_TENTHS,
    judge_again,
    put_aside,
    record_reading,
    tell,
)
from fleet.actions.refusals import Refused
from fleet.calc.meters import offset_after_change
from fleet.models import Counter, HourMeter, HourReading, Machine, Person
from fleet.permissions import require


@dataclass(frozen=True)
class MeterChange:
    """What the old meter showed last, what the new one showed first, and the day."""

    on: dt.date
    old_last_h: Decimal
    new_first_h: Decimal = Decimal(0)
    rollover_h: Decimal | None = None


@transaction.atomic
def change_meter(
    *,
    machine: Machine,
    counts: str,
    change: MeterChange,
    person: Person | None,
    at: dt.datetime,
) -> HourMeter:
    """Put a new meter on a counter. Atomic. Machine hours go on without a step.

    The old meter's last reading is recorded and must be believable; the new one's first reading is
    recorded too. What was read after that day and doubted on the old meter is set aside, and
    recorded again on the new one. Refuses: no_meter, to_come, day_before_meter, readings_after,
    last_reading_doubtful, not_hours, below_a_reading. Needs `record_reading` at the machine's
    site. Sends `reading_recorded`.
    """
    if person is not None:
        require(person, "record_reading", machine.site_id)
    old = _present(machine, counts)
    _refuse_the_day(old, change.on, today=at.astimezone(zone_of(machine)).date())
    _refuse_no_rollover(change.rollover_h, above_h=change.new_first_h)
    last = _record(machine, counts, change.old_last_h, change.on, person=person, at=at)
    if not last.counts_in_forecasts:
        raise Refused("last_reading_doubtful", last.doubt, field="old_last")
    old.to_on = change.on
    old.save(update_fields=["to_on"])
    new = _new_meter(machine, counts, change, after=last)
    after = {"on": change.on, "old_last_h": change.old_last_h, "new_first_h": change.new_first_h}
    what = ("changed an hour meter", machine, machine.site, {"counts": counts}, after)
    audit.record(audit.Deed(*what), actor=person, at=at)
    _record(machine, counts, change.new_first_h, change.on, person=person, at=at)
    if person is not None:
        _take_over(old, person=person, at=at)
    return new


@transaction.atomic
def undo_meter_change(
    *, machine: Machine, counts: str, reason: str, person: Person, at: dt.datetime
) -> HourMeter:
    """Undo the last change of a meter that was recorded wrongly; the old meter goes on. Atomic.

    Both readings of the change are set aside; what is doubted on the new meter is recorded again on
    the old one. Refuses: no_meter, no_change, reason_missing, readings_after (something counts on
    the new meter since). Needs `record_reading` at the machine's site. Sends `reading_recorded`.
    """
    require(person, "record_reading", machine.site_id)
    if not reason.strip():
        raise Refused("reason_missing", "Say what was wrong with it.", field="reason")
    new = _present(machine, counts)
    old = _before(new)
    of_the_change = Q(source=HourReading.Source.JOB, source_ref=CHANGE_OF_METER)
    counted = counted_readings(new).exclude(of_the_change)
    if counted.exists():
        since = counted.order_by("read_on").values_list("read_on", flat=True)[0]
        raise Refused(
            "readings_after",
            f"Hours of {since:%Y-%m-%d} and later are read on the new meter: set these aside "
            "first, or leave the change.",
        )
    standing = Q(set_aside_at=None) & (Q(meter=new) | Q(of_the_change, meter=old))
    new.undone_at, new.undone_by, new.undone_reason = at, person, reason.strip()[:300]
    new.to_on = new.from_on
    new.save(update_fields=["undone_at", "undone_by", "undone_reason", "to_on"])
    old.to_on = None
    old.save(update_fields=["to_on"])
    for reading in HourReading.objects.filter(standing).select_related("meter__machine__site"):
        put_aside(locked=reading, reason=f"change undone: {reason}", person=person, at=at)
        if reading.source_ref != CHANGE_OF_METER:
            _record_again(reading, person=person, at=at)
    deed = audit.Deed(
        "undid a change of meter", machine, machine.site, {"counts": counts}, {}, reason
    )
    audit.record(deed, actor=person, at=at)
    return old


@transaction.atomic
def set_rollover(
    *,
    machine: Machine,
    counts: str,
    rollover_h: Decimal | None,
    person: Person,
    at: dt.datetime,
) -> HourMeter:
    """Say at which figure a meter begins again at nought, or that it never does. Atomic.

    Readings that were doubted for running back are judged again. Refuses: no_meter, not_hours,
    below_a_reading, rolled_already. Needs `record_reading` at the machine's site. Sends
    `reading_recorded`.
    """
    require(person, "record_reading", machine.site_id)
    meter = _present(machine, counts)
    _refuse_the_rollover(meter, rollover_h)
    before = {"rollover_h": meter.rollover_h}
    meter.rollover_h = rollover_h
    meter.save(update_fields=["rollover_h"])
    deed = audit.Deed(
        "set a meter's rollover", machine, machine.site, before, {"rollover_h": rollover_h}
    )
    audit.record(deed, actor=person, at=at)
    judge_again(meter, at)
    tell([machine.pk], at)
    return meter


@transaction.atomic
def add_meter(
    *, machine: Machine, counts: str, rollover_h: Decimal | None, person: Person, at: dt.datetime
) -> HourMeter:
    """Give a machine a meter for another counter. Atomic.

    Refuses: has_meter, counter_unknown, not_hours.
    """
    require(person, "edit_machines", machine.site_id)
    _refuse_no_rollover(rollover_h, above_h=Decimal(0))
    if counts not in Counter.values:
        raise Refused("counter_unknown", f"“{counts}” is not a counter.", field="counts")
    Machine.objects.select_for_update().get(pk=machine.pk)
    if HourMeter.objects.filter(machine=machine, counts=counts, to_on=None).exists():
        raise Refused("has_meter", f"{machine} has a meter of that kind: change it instead.")
    meter = HourMeter.objects.create(machine=machine, counts=counts, rollover_h=rollover_h)
    deed = audit.Deed("added an hour meter", machine, machine.site, {}, {"counts": counts})
    audit.record(deed, actor=person, at=at)
    return meter


def _new_meter(
    machine: Machine, counts: str, change: MeterChange, *, after: HourReading
) -> HourMeter:
    """The new meter, with the hours that were run before it."""
    offset = offset_after_change(0, tenths(after.machine_h), tenths(change.new_first_h))
    return HourMeter.objects.create(
        machine=machine,
        counts=counts,
        from_on=change.on,
        offset_h=hours(offset),
        rollover_h=change.rollover_h,
    )


def _refuse_no_rollover(rollover_h: Decimal | None, *, above_h: Decimal) -> None:
    """Where a meter begins again is a figure above nought, and above what it shows first."""
    if rollover_h is None:
        return
    if not 0 < rollover_h <= MOST_TENTHS // 10:
        raise Refused(
            "not_hours", f"A meter can't begin again at {rollover_h} h.", field="rollover"
        )
    if above_h >= rollover_h:
        raise Refused(
            "below_a_reading",
            f"A meter that begins again at {rollover_h} h can't show that.",
            field="new_first",
        )


def _refuse_the_day(old: HourMeter, on: dt.date, *, today: dt.date) -> None:
    if on > today:
        raise Refused("to_come", f"{on} is still to come: check the day.", field="on")
    if old.from_on is not None and on < old.from_on:
        raise Refused(
            "day_before_meter", f"The present meter is on since {old.from_on}.", field="on"
        )
    later = counted_readings(old).filter(read_on__gt=on).order_by("-read_on").first()
    if later is not None:
        raise Refused(
            "readings_after",
            f"{later.reading_h} h of {later.read_on} counts on the present meter, after that day: "
            "choose a later day, or set that reading aside first.",
            field="on",
        )


def _refuse_the_rollover(meter: HourMeter, rollover_h: Decimal | None) -> None:
    counted = counted_readings(meter)
    rolled = counted.filter(machine_h__gt=F("reading_h") + tenths(meter.offset_h))
    if rollover_h != meter.rollover_h and rolled.exists():
        raise Refused(
            "rolled_already", "Readings count past a rollover of this meter: its figure stands."
        )
    if rollover_h is None:
        return
    _refuse_no_rollover(rollover_h, above_h=Decimal(0))
    highest = counted.order_by("-reading_h").first()
    if highest is not None and highest.reading_h >= rollover_h:
        raise Refused(
            "below_a_reading",
            f"{highest.reading_h} h was read on {highest.read_on}: a meter that begins again at "
            f"{rollover_h} h can't show that.",
            field="rollover",
        )


def _take_over(old: HourMeter, *, person: Person, at: dt.datetime) -> None:
    """What was doubted on the old meter after it came off was read off the new one."""
    doubted = HourReading.objects.filter(
        meter=old, set_aside_at=None, accepted_at=None, read_on__gt=old.to_on
    )
    for reading in doubted.exclude(doubt="").select_related("meter__machine__site"):
        put_aside(locked=reading, reason="read off the new meter", person=person, at=at)
        _record_again(reading, person=person, at=at)


def _record_again(reading: HourReading, *, person: Person, at: dt.datetime) -> None:
    """The same figure, on the meter that was on the machine that day."""
    record_reading(
        machine=reading.meter.machine,
        counts=reading.meter.counts,
        reading_h=reading.reading_h,
        read_at=reading.read_at,
        typed=reading.typed,
        source=reading.source,
        source_ref=reading.source_ref,
        replaces=reading,
        person=person,
        at=at,
    )


def _before(new: HourMeter) -> HourMeter:
    """The meter that this one took the place of."""
    olds = HourMeter.objects.filter(
        machine=new.machine_id, counts=new.counts, to_on=new.from_on, undone_at=None
    ).exclude(pk=new.pk)
    found = olds.order_by("-from_on", "-pk").first() if new.from_on is not None else None
    if found is None:
        raise Refused("no_change", "This meter took the place of no other: there is no change.")
    return found


def _present(machine: Machine, counts: str) -> HourMeter:
    Machine.objects.select_for_update().get(pk=machine.pk)
    found = HourMeter.objects.filter(machine=machine, counts=counts, to_on=None).first()
    if found is None:
        raise Refused("no_meter", f"{machine} has no meter that counts {counts} hours.")
    return found


def _record(
    machine: Machine,
    counts: str,
    reading_h: Decimal,
    on: dt.date,
    *,
    person: Person | None,
    at: dt.datetime,
) -> HourReading:
    noon = dt.datetime.combine(on, dt.time(12), tzinfo=zone_of(machine))
    return record_reading(
        machine=machine,
        counts=counts,
        reading_h=reading_h,
        read_at=noon,
        source=HourReading.Source.JOB,
        source_ref=CHANGE_OF_METER,
        person=person,
        at=at,
    )
