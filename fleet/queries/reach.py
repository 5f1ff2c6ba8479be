"""What a person can reach: sites where they may do a thing, a machine they may see."""

from collections.abc import Iterable

from django.db.models import QuerySet

from fleet.models import HourReading, Machine, Person, Site
from fleet.permissions import may


def sites_where(person: Person, capability: str) -> "QuerySet[Site]":
    """The current sites at which the person has a capability."""
    seen = Site.objects.visible_to(person).filter(withdrawn_at=None)
    allowed = [site.pk for site in seen if may(person, capability, site)]
    return Site.objects.visible_to(person).filter(pk__in=allowed)


def machine_for(person: Person, machine_id: int) -> Machine | None:
    """The machine, where the person may see it."""
    found = Machine.objects.visible_to(person).filter(pk=machine_id)
    machine: Machine | None = found.select_related("site", "machine_class").first()
    return machine


def counters_of(machine: Machine) -> list[str]:
    """What the machine's present meters count."""
    present = machine.meters.filter(to_on=None).order_by("id")
    return list(present.values_list("counts", flat=True))


def reading_for(person: Person, reading_id: int) -> HourReading | None:
    """The reading, where the person may see it."""
    found = HourReading.objects.visible_to(person).filter(pk=reading_id)
    reading: HourReading | None = found.select_related("meter__machine__site").first()
    return reading


def readings_for(person: Person, reading_ids: Iterable[int]) -> list[HourReading]:
    """Those of some readings that the person may see and that nobody has set aside."""
    found = HourReading.objects.visible_to(person).filter(pk__in=list(reading_ids))
    return list(found.filter(set_aside_at=None).select_related("meter__machine__site", "site"))
