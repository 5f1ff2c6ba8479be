"""Hours at fitting: put right where the reading that they came from was wrong."""

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from assemblies.models import Stay
from assemblies.signals import installation_changed
from fleet import audit
from fleet.models import Person


@transaction.atomic
def correct_fitting_hours(
    *,
    machine_id: int,
    counts: str,
    read_on: dt.date,
    was_h: Decimal,
    now_h: Decimal,
    person: Person,
    at: dt.datetime,
) -> int:
    """Hoses fitted that day at the wrong hours are so at the right ones. Atomic, repeatable.

    Only hoses that are still where they were fitted: an ended stay is sealed. Returns how many
    were put right. Sends `installation_changed`.
    """
    if was_h == now_h:
        return 0
    here = Q(is_open=True, position__machine=machine_id, position__counts=counts)
    then = Q(from_earliest_on=read_on, from_latest_on=read_on, from_machine_h=was_h)
    fitted = Stay.objects.select_for_update(of=("self",)).filter(here, then)
    stays = list(fitted.select_related("assembly__site"))
    for stay in stays:
        stay.from_machine_h = now_h
        stay.save(update_fields=["from_machine_h"])
    before, after = {"machine_h": was_h}, {"machine_h": now_h}
    deeds = [
        audit.Deed("corrected the hours at fitting", s.assembly, s.assembly.site, before, after)
        for s in stays
    ]
    audit.record_many(deeds, actor=person, at=at)
    if stays:
        ids = [stay.assembly_id for stay in stays]
        installation_changed.send(sender=Stay, assembly_ids=ids, machine_ids=[machine_id], at=at)
    return len(stays)
