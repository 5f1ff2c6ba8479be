"""Machines as facts: for programs that ask, and for whoever lists them."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from fleet.calc.keys import text_key
from fleet.models import Machine, Person
from fleet.queries.keyset import Order, Page, page_of

ORDERS: Mapping[str, Order] = {
    "fleet_number": Order("number_key"),
    "-fleet_number": Order("number_key", down=True),
}


@dataclass(frozen=True, slots=True)
class CounterFacts:
    """How far one counter of a machine has come, and how fast it runs."""

    counts: str
    machine_h: Decimal | None
    as_of_on: dt.date | None
    rate_h_per_day: Decimal
    low_h_per_day: Decimal
    high_h_per_day: Decimal
    basis: str


@dataclass(frozen=True, slots=True)
class MachineFacts:
    """One machine."""

    id: int
    site: str
    fleet_number: str
    kind: str
    machine_class: str
    maker: str
    model: str
    serial_number: str
    pin: str
    in_service_from: dt.date | None
    status: str
    version: int
    counters: tuple[CounterFacts, ...]


@dataclass(frozen=True, slots=True)
class MachineFilter:
    """Which machines: every fact that is given must fit."""

    site_id: int | None = None
    fleet_number: str = ""
    machine_class: str = ""
    kind: str = ""
    status: str = ""


def machines(
    person: Person, which: MachineFilter, *, order: str, after: tuple[object, ...] | None, size: int
) -> Page[MachineFacts]:
    """A page of the current machines that the person may see."""
    wanted = {
        "site_id": which.site_id,
        "number_key": text_key(which.fleet_number),
        "machine_class__name_key": text_key(which.machine_class),
        "kind": which.kind,
        "status": which.status,
    }
    found = Machine.objects.visible_to(person).filter(
        withdrawn_at=None, **{name: value for name, value in wanted.items() if value}
    )
    found = found.select_related("site", "machine_class").prefetch_related("usages")
    page = page_of(found, order=ORDERS[order], after=after, size=size)
    return Page(tuple(_facts(machine) for machine in page.rows), page.after)


def machine_facts(person: Person, machine_id: int) -> MachineFacts | None:
    """One machine, if the person may see it."""
    found = Machine.objects.visible_to(person).filter(pk=machine_id)
    machine = found.select_related("site", "machine_class").prefetch_related("usages").first()
    return _facts(machine) if machine else None


def _facts(machine: Machine) -> MachineFacts:
    return MachineFacts(
        id=machine.pk,
        site=machine.site.code,
        fleet_number=machine.fleet_number,
        kind=machine.kind,
        machine_class=machine.machine_class.name,
        maker=machine.maker,
        model=machine.model,
        serial_number=machine.serial_number,
        pin=machine.pin,
        in_service_from=machine.in_service_from,
        status=machine.status,
        version=machine.version,
        counters=_counters(machine),
    )


def _counters(machine: Machine) -> tuple[CounterFacts, ...]:
    usages = sorted(machine.usages.all(), key=lambda usage: usage.counts)
    return tuple(
        CounterFacts(
            usage.counts,
            usage.machine_h,
            usage.as_of_on,
            usage.rate_h_per_day,
            usage.low_h_per_day,
            usage.high_h_per_day,
            usage.basis,
        )
        for usage in usages
    )
