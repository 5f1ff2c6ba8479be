"""Attachments and what they ride on: whose meter counts for a part, and how far it has come."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from fleet.models import Machine, Mount, Person


@dataclass(frozen=True, slots=True)
class RideLine:
    """One time of a part on a carrier."""

    carrier_id: int
    carrier: str
    in_reach: bool
    from_on: dt.date
    to_on: dt.date | None
    by_carrier: bool


def open_mount(part: Machine) -> Mount | None:
    """The carrier that a part rides on now."""
    return Mount.objects.filter(part=part, to_on=None).select_related("carrier__site").first()


def rides_of(person: Person, part: Machine) -> tuple[RideLine, ...]:
    """Where a part rode, the last first; of carriers at other sites no more than that."""
    rides = Mount.objects.filter(part=part).select_related("carrier")
    reach = person.sees_every_site
    lines = []
    for ride in rides.order_by("-from_on", "-id")[:40]:
        seen = reach or ride.carrier.site_id in person.seen_site_ids
        words = str(ride.carrier) if seen else "a machine of another site"
        lines.append(
            RideLine(
                ride.carrier_id, words, seen, ride.from_on, ride.to_on, ride.uses_carrier_hours
            )
        )
    return tuple(lines)


def host_on(machine: Machine, on: dt.date) -> Machine:
    """The machine whose meter counts for this one on a day: a carrier's, else its own."""
    host = machine
    for _ in range(4):
        rides = Mount.objects.filter(part=host, uses_carrier_hours=True, from_on__lte=on)
        still = rides.filter(to_on=None) | rides.filter(to_on__gt=on)
        ride = still.select_related("carrier__site").order_by("-from_on").first()
        if ride is None:
            return host
        host = ride.carrier
    return host


def carriers_for(part: Machine) -> list[Machine]:
    """What a part may be put on: the machines in service at its site, whole machines first."""
    found = Machine.objects.filter(site=part.site_id, withdrawn_at=None).exclude(pk=part.pk)
    rows = found.exclude(status=Machine.Status.SOLD).order_by("number_key")
    return sorted(rows, key=lambda one: one.kind != Machine.Kind.MACHINE)


def tenths_as_hours(tenths: int | None) -> Decimal | None:
    """Tenths of an hour as hours."""
    return None if tenths is None else Decimal(tenths) / 10
