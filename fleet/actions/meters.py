"""Changing an hour meter: the hours go on counting where the old one ended."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from fleet import audit
from fleet.actions.meter_book import hours, tenths, zone_of
from fleet.actions.readings import record_reading
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
    recorded too. Refuses: no_meter, day_before_meter, last_reading_doubtful, not_hours. Needs
    `record_reading` at the machine's site. Sends `reading_recorded`.
    """
    if person is not None:
        require(person, "record_reading", machine.site_id)
    old = _present(machine, counts)
    if old.from_on is not None and change.on < old.from_on:
        raise Refused(
            "day_before_meter", f"The present meter is on since {old.from_on}.", field="on"
        )
    last = _record(machine, counts, change.old_last_h, change.on, person=person, at=at)
    if last.doubt:
        raise Refused("last_reading_doubtful", last.doubt, field="old_last")
    old.to_on = change.on
    old.save(update_fields=["to_on"])
    offset = offset_after_change(0, tenths(last.machine_h), tenths(change.new_first_h))
    new = HourMeter.objects.create(
        machine=machine,
        counts=counts,
        from_on=change.on,
        offset_h=hours(offset),
        rollover_h=change.rollover_h,
    )
    after = {"on": change.on, "old_last_h": change.old_last_h, "new_first_h": change.new_first_h}
    deed = audit.Deed("changed an hour meter", machine, machine.site, {"counts": counts}, after)
    audit.record(deed, actor=person, at=at)
    _record(machine, counts, change.new_first_h, change.on, person=person, at=at)
    return new


@transaction.atomic
def add_meter(
    *, machine: Machine, counts: str, rollover_h: Decimal | None, person: Person, at: dt.datetime
) -> HourMeter:
    """Give a machine a meter for another counter. Atomic. Refuses: has_meter, counter_unknown."""
    require(person, "edit_machines", machine.site_id)
    if counts not in Counter.values:
        raise Refused("counter_unknown", f"“{counts}” is not a counter.", field="counts")
    Machine.objects.select_for_update().get(pk=machine.pk)
    if HourMeter.objects.filter(machine=machine, counts=counts, to_on=None).exists():
        raise Refused("has_meter", f"{machine} has a meter of that kind: change it instead.")
    meter = HourMeter.objects.create(machine=machine, counts=counts, rollover_h=rollover_h)
    deed = audit.Deed("added an hour meter", machine, machine.site, {}, {"counts": counts})
    audit.record(deed, actor=person, at=at)
    return meter


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
        source_ref="change of meter",
        person=person,
        at=at,
    )
