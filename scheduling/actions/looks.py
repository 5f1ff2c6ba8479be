"""A look at a hose where it sits, with what the machine's meter shows there and then."""

import datetime as dt
from dataclasses import replace

from django.db import transaction

from assemblies.actions.fitting_up import AtMachine, moment_at_machine
from assemblies.models import Assembly, Stay
from fleet.models import Person
from scheduling.actions.inspections import Found, Look, record_inspection
from scheduling.models import Inspection


@transaction.atomic
def look_here(
    *,
    assembly: Assembly,
    look: Look,
    found: Found | None,
    when: AtMachine,
    person: Person,
    today: dt.date,
    now: dt.datetime,
) -> Inspection:
    """Record the meter if it was read, and the look with what was found. Atomic.

    Refuses what `record_reading` and `record_inspection` refuse.
    """
    stay = Stay.objects.filter(assembly=assembly, is_open=True).select_related("position").first()
    if stay is not None and stay.position is not None:
        moment = moment_at_machine(stay.position, when, person, now)
        look = replace(look, machine_h=moment.machine_h)
    return record_inspection(
        assembly=assembly,
        look=look,
        found=[found] if found else [],
        person=person,
        today=today,
        at=now,
    )
