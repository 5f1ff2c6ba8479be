"""Making, changing and moving machines."""

import datetime as dt
from typing import Any

from django.db import IntegrityError, transaction

from fleet import audit
from fleet.actions.refusals import Refused
from fleet.calc.keys import text_key
from fleet.models import HourMeter, Machine, MachineClass, Person, Site, SiteSpell, Usage
from fleet.permissions import require
from fleet.signals import machine_changed

UNSORTED = "Unsorted"
CHANGEABLE = (
    *("fleet_number", "machine_class", "maker", "model", "serial_number", "pin"),
    *("in_service_from", "status", "down_cost_per_hour_minor", "kind"),
)


def ensure_machine_class(*, name: str) -> MachineClass:
    """The class of that name, made if it is new. Safe to repeat."""
    key = text_key(name or UNSORTED)
    found, _ = MachineClass.objects.get_or_create(name_key=key, defaults={"name": name or UNSORTED})
    return found


@transaction.atomic
def add_machine(
    *, site: Site, facts: dict[str, Any], person: Person | None, at: dt.datetime, today: dt.date
) -> Machine:
    """Make a machine at a site, with its engine meter. Atomic.

    Refuses: number_taken, number_missing. Sends `machine_changed`.
    `person` None is the register itself (demo); else `edit_machines` is required at the site.
    """
    if person is not None:
        require(person, "edit_machines", site)
    _refuse_bad_number(site, facts.get("fleet_number", ""))
    machine = Machine(site=site, **facts)
    _save_once(machine)
    SiteSpell.objects.create(machine=machine, site=site, from_on=today, recorded_by=person)
    HourMeter.objects.create(machine=machine)
    start_usage(machine=machine)
    _tell("added a machine", machine, {}, facts, person=person, at=at)
    return machine


def start_usage(*, machine: Machine, counts: str = "engine") -> Usage:
    """The usage row of a counter without readings: its class's hours a day."""
    rate = machine.machine_class.hours_per_day
    basis = f"no readings: {machine.machine_class} default"
    usual = {"rate_h_per_day": rate, "low_h_per_day": rate, "high_h_per_day": rate, "basis": basis}
    found, _ = Usage.objects.get_or_create(machine=machine, counts=counts, defaults=usual)
    return found


@transaction.atomic
def change_machine(
    *, machine: Machine, facts: dict[str, Any], version: int, person: Person, at: dt.datetime
) -> Machine:
    """Change a machine's facts. Atomic.

    Refuses: changed_meanwhile, number_taken, number_missing. Sends `machine_changed`.
    """
    require(person, "edit_machines", machine.site_id)
    locked = Machine.objects.select_for_update().get(pk=machine.pk)
    if locked.version != version:
        raise Refused(
            "changed_meanwhile", "Someone else changed this machine meanwhile: look again."
        )
    before, after = audit.changes(locked, {k: v for k, v in facts.items() if k in CHANGEABLE})
    if "fleet_number" in after and text_key(after["fleet_number"]) != locked.number_key:
        _refuse_bad_number(locked.site, after["fleet_number"])
    for name, value in after.items():
        setattr(locked, name, value)
    locked.version += 1
    _save_once(locked)
    _tell("changed a machine", locked, before, after, person=person, at=at)
    return locked


@transaction.atomic
def move_machine(
    *, machine: Machine, to: Site, on: dt.date, person: Person, at: dt.datetime, reason: str
) -> Machine:
    """Move a machine to another site from a day. Atomic. Needs the right at both sites.

    Refuses: already_there, number_taken. Sends `machine_changed`; those above move what it
    carries.
    """
    require(person, "edit_machines", machine.site_id)
    require(person, "edit_machines", to)
    locked = Machine.objects.select_for_update().get(pk=machine.pk)
    if locked.site_id == to.pk:
        raise Refused("already_there", f"{locked} is at {to} already.")
    _refuse_bad_number(to, locked.fleet_number)
    SiteSpell.objects.filter(machine=locked, to_on=None).update(to_on=on)
    SiteSpell.objects.create(machine=locked, site=to, from_on=on, recorded_by=person)
    before = {"site": locked.site}
    locked.site, locked.version = to, locked.version + 1
    _save_once(locked)
    _tell("moved a machine", locked, before, {"site": to}, person=person, at=at, reason=reason)
    return locked


def _refuse_bad_number(site: Site, number: str) -> None:
    key = text_key(number)
    if not key:
        raise Refused("number_missing", "A machine needs a fleet number.", field="fleet_number")
    taken = Machine.objects.filter(site=site, number_key=key, withdrawn_at=None)
    if taken.exclude(status=Machine.Status.SOLD).exists():
        raise Refused(
            "number_taken", f"{site} has a machine {number} already.", field="fleet_number"
        )


def _save_once(machine: Machine) -> None:
    """Save; the database has the last word on a number that two people give at once."""
    try:
        with transaction.atomic():
            machine.save()
    except IntegrityError as error:
        raise Refused(
            "number_taken",
            f"{machine.site} has a machine {machine.fleet_number} already.",
            field="fleet_number",
        ) from error


def _tell(
    deed: str,
    machine: Machine,
    before: dict[str, Any],
    after: dict[str, Any],
    *,
    person: Person | None,
    at: dt.datetime,
    reason: str = "",
) -> None:
    entry = audit.Deed(deed, machine, machine.site, before, after, reason)
    audit.record(entry, actor=person, at=at)
    machine_changed.send(sender=Machine, machine_ids=[machine.pk], at=at)
