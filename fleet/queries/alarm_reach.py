"""What a page is about, from the parts of its address, and what of it a person may see."""

from collections.abc import Mapping
from typing import Any

from fleet.models import HourReading, Machine, Mount, Person
from fleet.navigation import About, lead_by


def seen_of(person: Person, about: About) -> About:
    """The machines that the person may see, with what rides on them; the hoses as they are."""
    if not about.machines:
        return about
    riding = Mount.objects.filter(carrier__in=about.machines, to_on=None)
    wanted = about.machines.union(riding.values_list("part_id", flat=True))
    seen = Machine.objects.visible_to(person).filter(pk__in=wanted)
    return About(frozenset(seen.values_list("pk", flat=True)), about.hoses)


def by_machine(_: Person, parts: Mapping[str, Any]) -> About:
    return About(machines=frozenset([parts["machine_id"]]))


def by_reading(_: Person, parts: Mapping[str, Any]) -> About:
    found = HourReading.objects.filter(pk=parts["reading_id"])
    return About(machines=frozenset(found.values_list("meter__machine_id", flat=True)))


def lead_there() -> None:
    """Say which parts of an address lead to a machine."""
    lead_by("machine_id", way=by_machine)
    lead_by("reading_id", way=by_reading)
