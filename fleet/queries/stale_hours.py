"""Machines in service whose hours are old or were never read."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.conf import settings
from django.db.models import Exists, OuterRef, Q, QuerySet

from fleet.models import Machine, Person, Usage
from fleet.queries.keyset import Order, Page, page_of

BY_NUMBER = Order("number_key")


@dataclass(frozen=True, slots=True)
class StaleLine:
    """One machine with each of its counters that is stale."""

    machine_id: int
    number: str
    what: str
    site: str
    counters: tuple[tuple[str, Decimal | None, dt.date | None], ...]


def stale_before(today: dt.date) -> dt.date:
    """Hours last read before this day are stale."""
    return today - dt.timedelta(days=settings.HOURS_STALE_AFTER_DAYS)


def stale_usages(today: dt.date) -> "QuerySet[Usage]":
    """The counters whose hours are stale on a day."""
    old = Q(as_of_on__isnull=True) | Q(as_of_on__lt=stale_before(today))
    return Usage.objects.filter(old)


def stale_machines(
    person: Person, *, today: dt.date, after: tuple[object, ...] | None, size: int
) -> Page[StaleLine]:
    """A page of the machines in service with a stale counter, by number."""
    stale = stale_usages(today)
    found = Machine.objects.visible_to(person).filter(
        Exists(stale.filter(machine=OuterRef("pk"))), withdrawn_at=None, status="in_service"
    )
    found = found.select_related("machine_class", "site")
    page = page_of(found, order=BY_NUMBER, after=after, size=size)
    usages: dict[int, list[Usage]] = {machine.pk: [] for machine in page.rows}
    for usage in stale.filter(machine__in=usages).order_by("counts"):
        usages[usage.machine_id].append(usage)
    return Page(tuple(_line(machine, usages[machine.pk]) for machine in page.rows), page.after)


def _line(machine: Machine, usages: list[Usage]) -> StaleLine:
    counters = tuple((u.get_counts_display(), u.machine_h, u.as_of_on) for u in usages)
    return StaleLine(
        machine.pk, machine.fleet_number, str(machine.machine_class), str(machine.site), counters
    )
