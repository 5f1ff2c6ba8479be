"""Hours of stays: put right where the reading that they came from was wrong."""

import datetime as dt
from decimal import Decimal

from django.db import transaction
from django.db.models import Q

from assemblies.models import Assembly, Stay
from assemblies.queries.stay_hours import BEGAN_H, ENDED_H
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

    Only hoses that are still where they were fitted; of the others see `correct_ended_hours`.
    Returns how many were put right. Sends `installation_changed`.
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


@transaction.atomic
def correct_ended_hours(
    *,
    machine_id: int,
    counts: str,
    read_on: dt.date,
    was_h: Decimal,
    now_h: Decimal,
    person: Person,
    at: dt.datetime,
) -> int:
    """Ended stays that began or ended that day at the wrong hours have the right ones beside them.

    What was noted is sealed and stays; all that counts hours reads the right ones, and the hose's
    earlier hours follow. Atomic, repeatable. Returns how many stays were put right. Sends
    `installation_changed`.
    """
    if was_h == now_h:
        return 0
    then = Stay.objects.alias(begin_h=BEGAN_H, end_h=ENDED_H).filter(
        Q(from_earliest_on=read_on, from_latest_on=read_on, begin_h=was_h)
        | Q(to_on=read_on, end_h=was_h),
        is_open=False,
        position__machine=machine_id,
        position__counts=counts,
    )
    hoses = Assembly.objects.filter(pk__in=then.values("assembly")).order_by("pk")
    held = {hose.pk: hose for hose in hoses.select_for_update(of=("self",)).select_related("site")}
    stays = list(then.filter(assembly__in=held).order_by("id").select_for_update(of=("self",)))
    deeds = [_put_right(s, held[s.assembly_id], read_on, was_h, now_h) for s in stays]
    audit.record_many(deeds, actor=person, at=at)
    if stays:
        ids = sorted({stay.assembly_id for stay in stays})
        installation_changed.send(sender=Stay, assembly_ids=ids, machine_ids=[machine_id], at=at)
    return len(stays)


def _put_right(
    stay: Stay, hose: Assembly, read_on: dt.date, was_h: Decimal, now_h: Decimal
) -> audit.Deed:
    """Write the right hours beside one ended stay, and what it ran into the hose's earlier ones."""
    ran, ended = stay.run_h, stay.to_on == read_on and stay.ended_h == was_h
    if stay.from_earliest_on == stay.from_latest_on == read_on and stay.began_h == was_h:
        stay.from_corrected_h = None if now_h == stay.from_machine_h else now_h
    if ended:
        stay.to_corrected_h = None if now_h == stay.to_machine_h else now_h
    stay.save(update_fields=["from_corrected_h", "to_corrected_h"])
    hose.earlier_h += (stay.run_h or 0) - (ran or 0)
    hose.save(update_fields=["earlier_h"])
    before, after = {"machine_h": was_h, "ran_h": ran}, {"machine_h": now_h, "ran_h": stay.run_h}
    return audit.Deed("corrected the hours of an ended stay", hose, hose.site, before, after)
