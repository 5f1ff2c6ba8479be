"""Fitting and removing at the machine, with what its meter shows there and then."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal

from django.db import transaction

from assemblies.actions.installations import (
    Moment,
    fit_assembly,
    remove_assembly,
    swap_assembly,
)
from assemblies.models import Assembly, Position, Stay
from fleet.actions.mounts import hours_of_machine, is_ridden_by
from fleet.actions.readings import record_reading
from fleet.actions.refusals import Refused
from fleet.models import Person


@dataclass(frozen=True)
class AtMachine:
    """The day and moment of the work, and what the position's meter showed if it was read."""

    on: dt.date
    at: dt.datetime
    reading_h: Decimal | None = None
    typed: str = ""


@dataclass(frozen=True)
class OffTo:
    """Why a hose comes off and where it goes."""

    removal: str
    to: str
    note: str = ""
    store_place: str = field(default="")


@transaction.atomic
def fit_here(
    *, assembly: Assembly, position: Position, when: AtMachine, person: Person, now: dt.datetime
) -> Stay:
    """Record the meter and fit a hose. Atomic. Refuses what the two actions refuse.

    A reading that is doubted is kept, but the hose's hours are then not counted from it.
    """
    moment = moment_at_machine(position, when, person, now)
    return fit_assembly(assembly=assembly, position=position, when=moment, person=person, now=now)


@transaction.atomic
def remove_here(
    *, position: Position, off: OffTo, when: AtMachine, person: Person, now: dt.datetime
) -> Stay:
    """Record the meter and take off what a position holds. Atomic.

    Refuses: nothing_there, and what the two actions refuse.
    """
    held = Stay.objects.filter(position=position, is_open=True).select_related("assembly").first()
    if held is None:
        raise Refused("nothing_there", f"{position} holds no hose.")
    return remove_assembly(
        assembly=held.assembly,
        removal=off.removal,
        to=off.to,
        when=moment_at_machine(position, when, person, now),
        person=person,
        now=now,
        note=off.note,
        store_place=off.store_place,
    )


@transaction.atomic
def swap_here(
    *,
    position: Position,
    new: Assembly,
    off: OffTo,
    when: AtMachine,
    person: Person,
    now: dt.datetime,
) -> Stay:
    """Record the meter, take off what a position holds and fit another. Atomic."""
    return swap_assembly(
        position=position,
        new=new,
        removal=off.removal,
        old_to=off.to,
        when=moment_at_machine(position, when, person, now),
        person=person,
        now=now,
        note=off.note,
    )


def moment_at_machine(
    position: Position, when: AtMachine, person: Person, now: dt.datetime
) -> Moment:
    """The moment of work at a position, its meter recorded; call inside a transaction.

    On an attachment that counts its carrier's hours it is the carrier's meter that was read. A
    reading in doubt is kept, but gives no machine hours.
    """
    if when.reading_h is None:
        return Moment(on=when.on, at=when.at)
    carrier = is_ridden_by(position.machine, when.on)
    reading = record_reading(
        machine=carrier or position.machine,
        counts=position.counts,
        reading_h=when.reading_h,
        read_at=when.at,
        typed=when.typed,
        source="job",
        person=person,
        at=now,
    )
    trusted = reading.machine_h if reading.counts_in_forecasts else None
    if carrier is not None and trusted is not None:
        trusted = hours_of_machine(position.machine, position.counts, when.on)
    return Moment(on=when.on, at=when.at, machine_h=trusted)
