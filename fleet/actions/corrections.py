"""Correcting a reading: the wrong one is set aside and stays to be seen beside the right one."""

import datetime as dt
from decimal import Decimal

from django.db import transaction

from fleet.actions.readings import (
    lock_reading,
    record_reading,
    set_aside_reading,
    tell_of_correction,
)
from fleet.actions.refusals import Refused
from fleet.models import HourReading, Person


@transaction.atomic
def correct_reading(
    *,
    reading: HourReading,
    reading_h: Decimal,
    read_at: dt.datetime,
    typed: str,
    reason: str,
    person: Person,
    at: dt.datetime,
) -> HourReading:
    """Set a reading aside and record what is right beside it, pointing at it. Atomic.

    Refuses: reason_missing, already_set_aside, of_a_meter_change, nothing_differs,
    stands_already, not_hours. Needs `record_reading` at the reading's site. Sends
    `reading_recorded`, and `reading_corrected` where the right one counts; one that is in doubt
    itself does once it is accepted.
    """
    locked = lock_reading(reading, person)
    if (locked.reading_h, locked.read_at) == (reading_h, read_at):
        raise Refused("nothing_differs", "That is what stands there already.", field="reading")
    aside = set_aside_reading(reading=locked, reason=reason, person=person, at=at)
    right = record_reading(
        machine=locked.meter.machine,
        counts=locked.meter.counts,
        reading_h=reading_h,
        read_at=read_at,
        typed=typed,
        replaces=aside,
        person=person,
        at=at,
    )
    if right.replaces_id != aside.pk:
        raise Refused(
            "stands_already",
            "That reading stands already beside this one: set this one aside instead.",
            field="reading",
        )
    if right.counts_in_forecasts:
        tell_of_correction(locked, right, person=person, at=at)
    return right
