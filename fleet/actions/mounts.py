"""Attachments put on a carrier and taken off it: they take their hoses with them."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db import IntegrityError, transaction

from fleet import audit
from fleet.actions.meter_book import zone_of
from fleet.actions.readings import record_reading
from fleet.actions.refusals import Refused
from fleet.actions.usages import series_of
from fleet.calc.rides import at as hours_at
from fleet.models import HourMeter, Machine, Mount, Person
from fleet.models.fields import EPOCH
from fleet.permissions import require
from fleet.queries.riding import host_on, tenths_as_hours
from fleet.signals import machine_changed


@dataclass(frozen=True)
class CarrierRead:
    """What the carrier's meter showed at the move, if it was read."""

    reading_h: Decimal | None = None
    typed: str = ""


NOT_READ = CarrierRead()


@transaction.atomic
def mount_part(
    *,
    part: Machine,
    carrier: Machine,
    on: dt.date,
    uses_carrier_hours: bool,
    read: CarrierRead = NOT_READ,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Mount:
    """Put an attachment or component on a carrier. Atomic; of two at once one is refused.

    With `uses_carrier_hours` its hoses age by the carrier's meter while it rides. Refuses:
    not_a_part, itself, part_gone, carrier_gone, elsewhere, goes_round, in_the_future,
    rides_already, day_before_last_ride, and what `record_reading` refuses. Needs `edit_machines`
    at the site. Sends `machine_changed`.
    """
    require(person, "edit_machines", part.site_id)
    locked = _locked(part, carrier)
    _refuse_pair(locked, carrier)
    _refuse_day(locked, on, today)
    mount = Mount(
        **{"part": locked, "carrier": carrier, "from_on": on},
        **{"uses_carrier_hours": uses_carrier_hours},
    )
    try:
        with transaction.atomic():
            mount.save(force_insert=True)
    except IntegrityError as error:
        raise Refused("rides_already", f"{locked} rides on a machine already.") from error
    _read(carrier, read, on, today, person=person, at=at)
    after = {"carrier": carrier, "on": on, "by_carrier": uses_carrier_hours}
    deed = audit.Deed("put on a carrier", locked, locked.site, {}, after)
    audit.record(deed, actor=person, at=at)
    machine_changed.send(sender=Machine, machine_ids=[locked.pk, carrier.pk], at=at)
    return mount


@transaction.atomic
def unmount_part(
    *,
    part: Machine,
    on: dt.date,
    read: CarrierRead = NOT_READ,
    person: Person,
    today: dt.date,
    at: dt.datetime,
) -> Mount:
    """Take a part off its carrier. Atomic. Its hours stand still until it rides again.

    Refuses: rides_on_nothing, in_the_future, day_before_mount, and what `record_reading` refuses.
    Needs `edit_machines` at the site. Sends `machine_changed`.
    """
    require(person, "edit_machines", part.site_id)
    locked = Machine.objects.select_for_update(of=("self",)).select_related("site").get(pk=part.pk)
    mounts = Mount.objects.filter(part=locked, to_on=None).select_related("carrier__site")
    mount: Mount | None = mounts.first()
    if mount is None:
        raise Refused("rides_on_nothing", f"{locked} is on no carrier.")
    if on > today:
        raise Refused("in_the_future", f"{on} is still to come.", field="on")
    if on < mount.from_on:
        raise Refused(
            "day_before_mount",
            f"It was put on {mount.carrier} on {mount.from_on}: {on} is before that.",
            field="on",
        )
    _read(mount.carrier, read, on, today, person=person, at=at)
    mount.to_on = on
    mount.save(update_fields=["to_on"])
    before = {"carrier": mount.carrier}
    deed = audit.Deed("took off a carrier", locked, locked.site, before, {"on": on})
    audit.record(deed, actor=person, at=at)
    machine_changed.send(sender=Machine, machine_ids=[locked.pk, mount.carrier_id], at=at)
    return mount


def hours_of_machine(machine: Machine, counts: str, on: dt.date) -> Decimal | None:
    """How far a machine or part has come on a day, its rides summed; None where it isn't known."""
    series = series_of([machine.pk]).get((machine.pk, counts), [])
    return tenths_as_hours(hours_at(series, (on - EPOCH).days))


def is_ridden_by(machine: Machine, on: dt.date) -> Machine | None:
    """The carrier whose meter counts for this machine on a day; None where its own does."""
    host = host_on(machine, on)
    return None if host.pk == machine.pk else host


def _locked(part: Machine, carrier: Machine) -> Machine:
    """Both rows, in the order of their ids, so that two moves never wait for each other."""
    ids = sorted([part.pk, carrier.pk])
    rows = Machine.objects.select_for_update(of=("self",)).select_related("site").filter(pk__in=ids)
    found = {machine.pk: machine for machine in rows.order_by("pk")}
    return found[part.pk]


def _refuse_pair(part: Machine, carrier: Machine) -> None:
    if part.kind == Machine.Kind.MACHINE:
        raise Refused("not_a_part", f"{part} is a machine: only attachments and components ride.")
    if part.pk == carrier.pk:
        raise Refused("itself", f"{part} can't ride on itself.", field="carrier")
    gone = (Machine.Status.SOLD,)
    for machine, code in ((part, "part_gone"), (carrier, "carrier_gone")):
        if machine.withdrawn_at is not None or machine.status in gone:
            raise Refused(code, f"{machine} is sold or withdrawn.", field="carrier")
    if part.site_id != carrier.site_id:
        raise Refused(
            "elsewhere",
            f"{part} belongs to {part.site}, {carrier} to {carrier.site}: move one of them first.",
            field="carrier",
        )
    above: Machine | None = carrier
    while above is not None:
        mount = Mount.objects.filter(part=above, to_on=None).select_related("carrier").first()
        above = mount.carrier if mount else None
        if above is not None and above.pk == part.pk:
            raise Refused("goes_round", f"{carrier} rides on {part} itself.", field="carrier")


def _refuse_day(part: Machine, on: dt.date, today: dt.date) -> None:
    if on > today:
        raise Refused("in_the_future", f"{on} is still to come.", field="on")
    rides = Mount.objects.filter(part=part).select_related("carrier")
    now = rides.filter(to_on=None).first()
    if now is not None:
        raise Refused(
            "rides_already",
            f"{part} rides on {now.carrier} since {now.from_on}: take it off there first.",
        )
    last = rides.order_by("-to_on").first()
    if last is not None and last.to_on is not None and on < last.to_on:
        raise Refused(
            "day_before_last_ride",
            f"It came off {last.carrier} on {last.to_on}: {on} is before that.",
            field="on",
        )


def _read(
    carrier: Machine,
    read: CarrierRead,
    on: dt.date,
    today: dt.date,
    *,
    person: Person,
    at: dt.datetime,
) -> None:
    """Record what the carrier's meter showed at the move: by it the ride begins or ends."""
    if read.reading_h is None:
        return
    meters = HourMeter.objects.filter(machine=carrier, to_on=None).order_by("id")
    noon = dt.datetime.combine(on, dt.time(12), tzinfo=zone_of(carrier))
    record_reading(
        machine=carrier,
        counts=meters.values_list("counts", flat=True).first() or "engine",
        reading_h=read.reading_h,
        read_at=noon if on != today else at,
        typed=read.typed,
        source="job",
        source_ref="attachment moved",
        person=person,
        at=at,
    )
