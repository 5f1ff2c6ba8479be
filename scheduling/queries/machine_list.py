"""Machines as a planner lists them: hours, and how many of their hoses are due."""

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, Q

from fleet.calc.keys import text_key
from fleet.models import Machine, Person, Usage
from fleet.queries.keyset import Order, Page, page_of
from scheduling.calc.standing import SOON_DAYS
from scheduling.models import Due

ORDER = Order("number_key")


@dataclass(frozen=True, slots=True)
class MachineSought:
    """Which machines: part of a number, maker, model or serial; a site; a class; a standing."""

    words: str = ""
    site_id: int | None = None
    machine_class_id: int | None = None
    status: str = ""


@dataclass(frozen=True, slots=True)
class MachineLine:
    """One machine in the list. `machine_h` is the engine's, as of its last accepted reading."""

    machine_id: int
    number: str
    kind: str
    class_name: str
    made_as: str
    site_code: str
    status: str
    machine_h: Decimal | None
    as_of_on: dt.date | None
    rate_h_per_day: Decimal | None
    over: int
    soon: int
    undated: int


def machine_list(
    person: Person,
    sought: MachineSought,
    *,
    after: tuple[object, ...] | None,
    size: int,
    today: dt.date,
) -> Page[MachineLine]:
    """A page of the machines that the person may see, by number. Four queries at most."""
    found = Machine.objects.visible_to(person).filter(withdrawn_at=None).filter(_fits(sought))
    found = found.select_related("site", "machine_class")
    page = page_of(found, order=ORDER, after=after, size=size)
    ids = [machine.pk for machine in page.rows]
    usages = {u.machine_id: u for u in Usage.objects.filter(machine__in=ids, counts="engine")}
    counts = _due_counts(ids, today)
    lines = (_line(m, usages.get(m.pk), counts.get(m.pk, (0, 0, 0))) for m in page.rows)
    return Page(tuple(lines), page.after)


def _fits(sought: MachineSought) -> Q:
    wanted = Q()
    if sought.words.strip():
        words = sought.words.strip()
        wanted &= (
            Q(number_key__contains=text_key(words))
            | Q(maker__icontains=words)
            | Q(model__icontains=words)
            | Q(serial_number__icontains=words)
            | Q(pin__icontains=words)
        )
    if sought.site_id is not None:
        wanted &= Q(site=sought.site_id)
    if sought.machine_class_id is not None:
        wanted &= Q(machine_class=sought.machine_class_id)
    return wanted & Q(status=sought.status) if sought.status else wanted


def _due_counts(ids: Iterable[int], today: dt.date) -> dict[int, tuple[int, int, int]]:
    until = today + dt.timedelta(days=SOON_DAYS)
    rows = (
        Due.objects.filter(machine__in=ids)
        .values("machine_id")
        .annotate(
            over=Count("pk", filter=Q(due_on__lt=today)),
            soon=Count("pk", filter=Q(due_on__gte=today, due_on__lte=until)),
            undated=Count("pk", filter=Q(due_on__isnull=True)),
        )
        .order_by()
    )
    return {row["machine_id"]: (row["over"], row["soon"], row["undated"]) for row in rows}


def _line(machine: Machine, usage: Usage | None, counts: tuple[int, int, int]) -> MachineLine:
    over, soon, undated = counts
    return MachineLine(
        machine_id=machine.pk,
        number=machine.fleet_number,
        kind=machine.get_kind_display(),
        class_name=machine.machine_class.name,
        made_as=" ".join(part for part in (machine.maker, machine.model) if part),
        site_code=machine.site.code,
        status=machine.status,
        machine_h=usage.machine_h if usage else None,
        as_of_on=usage.as_of_on if usage else None,
        rate_h_per_day=usage.rate_h_per_day if usage else None,
        over=over,
        soon=soon,
        undated=undated,
    )
