"""What a page is about, from the parts of its address, and what of it a person may see."""

from collections.abc import Mapping
from typing import Any

from django.db.models import QuerySet

from fleet.models import HourReading, Machine, Mount, Person
from fleet.models.compiled import compiled
from fleet.navigation import About, lead_by


def seen_of(person: Person, about: About) -> About:
    """The machines that the person may see, with what rides on them; the hoses as they are."""
    if not about.machines:
        return about
    wanted = about.machines.union(_riding_on(about.machines))
    return About(frozenset(_seen(person, wanted)), about.hoses)


@compiled
def _riding_on(machine_ids: frozenset[int]) -> "QuerySet[Mount, int]":
    riding = Mount.objects.filter(carrier__in=machine_ids, to_on=None)
    return riding.values_list("part_id", flat=True)


@compiled
def _seen(person: Person, machine_ids: frozenset[int]) -> "QuerySet[Machine, int]":
    seen = Machine.objects.visible_to(person).filter(pk__in=machine_ids)
    return seen.order_by().values_list("pk", flat=True)


def by_machine(_: Person, parts: Mapping[str, Any]) -> About:
    return About(machines=frozenset([parts["machine_id"]]))


def by_reading(_: Person, parts: Mapping[str, Any]) -> About:
    found = HourReading.objects.filter(pk=parts["reading_id"])
    return About(machines=frozenset(found.values_list("meter__machine_id", flat=True)))


def lead_there() -> None:
    """Say which parts of an address lead to a machine."""
    lead_by("machine_id", way=by_machine)
    lead_by("reading_id", way=by_reading)
