"""Hours of failures: put right where the reading that they came from was wrong."""

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from fleet import audit
from fleet.models import HourReading, Person
from scheduling.models import Failure


@transaction.atomic
def correct_failure_hours(
    *,
    machine_id: int,
    counts: str,
    read_on: dt.date,
    was_h: Decimal,
    now_h: Decimal,
    person: Person,
    at: dt.datetime,
) -> int:
    """Failures told at the wrong hours, that day or later, are so at the right ones.

    A report takes the last hours read: where another reading that counts shows the same, they
    stand. What a report said before stays in the trail, and whoever has it open is told to look
    again. Atomic, repeatable. Returns how many were put right.
    """
    if was_h == now_h or _read_twice(machine_id, counts, was_h):
        return 0
    here = Q(machine=machine_id, stay__position__counts=counts)
    then = Q(failed_on__gte=read_on, machine_h=was_h)
    told = Failure.objects.select_for_update(of=("self",)).filter(here, then)
    failures = list(told.select_related("assembly", "site").order_by("id"))
    for failure in failures:
        failure.machine_h, failure.version = now_h, failure.version + 1
        failure.save(update_fields=["machine_h", "version"])
    before, after = {"machine_h": was_h}, {"machine_h": now_h}
    deeds = (
        audit.Deed("corrected the hours of a failure", one, one.site, before, after)
        for one in failures
    )
    audit.record_many(deeds, actor=person, at=at)
    return len(failures)


def _read_twice(machine_id: int, counts: str, hours: Decimal) -> bool:
    counting = Q(doubt="") | Q(accepted_at__isnull=False)
    shown = Q(meter__machine=machine_id, meter__counts=counts, machine_h=hours)
    return HourReading.objects.filter(counting, shown, set_aside_at=None).exists()
