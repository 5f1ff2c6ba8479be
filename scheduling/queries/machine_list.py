"""Machines as a planner lists them: hours, and how many of their hoses are due."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final, NamedTuple

from django.db.models import Count, Q, QuerySet

from fleet.calc.keys import text_key
from fleet.models import Machine, Person, Usage
from fleet.models.compiled import Fixed, compiled
from fleet.queries.keyset import Order, Page, beyond
from fleet.queries.narrowing import class_names, site_codes
from scheduling.calc.standing import SOON_DAYS
from scheduling.models import Due

ORDER = Order("number_key")
_KINDS: Final = dict(Machine.Kind.choices)
_NEVER_READ: Final = (None, None, None)
_NONE_DUE: Final = (0, 0, 0)


class _Row(NamedTuple):
    """The columns of one machine."""

    id: int
    number_key: str
    fleet_number: str
    kind: str
    machine_class_id: int
    maker: str
    model: str
    site_id: int
    status: str


class _Names(NamedTuple):
    """The codes of sites and the names of classes, by their ids."""

    sites: dict[int, str]
    classes: dict[int, str]


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
    after: tuple[Any, ...] | None,
    size: int,
    today: dt.date,
) -> Page[MachineLine]:
    """A page of the machines that the person may see, by number. Four queries at most."""
    asked: tuple[Any, ...] = (
        person,
        Fixed(size + 1),
        sought.words.strip() or None,
        sought.site_id,
        sought.machine_class_id,
        sought.status or None,
        *(after or ()),
    )
    # A part of a word is no value to be put in: that question is asked anew each time.
    rows = [_Row(*row) for row in (_found.ask(*asked) if sought.words.strip() else _found(*asked))]
    place = (rows[size - 1].number_key, rows[size - 1].id) if len(rows) > size else None
    ids = [row.id for row in rows[:size]]
    usages = {machine_id: usage for machine_id, *usage in _usages(ids)}
    until = today + dt.timedelta(days=SOON_DAYS)
    counts = {machine_id: due for machine_id, *due in _due_counts(ids, today, until)}
    names = _Names(dict(site_codes()), dict(class_names()))
    return Page(
        tuple(
            _line(row, names, usages.get(row.id, _NEVER_READ), counts.get(row.id, _NONE_DUE))
            for row in rows[:size]
        ),
        place,
    )


@compiled
def _found(  # noqa: PLR0917  # a compiled question takes what it is asked for in order
    person: Person,
    most: Fixed[int],
    words: str | None,
    site_id: int | None,
    machine_class_id: int | None,
    status: str | None,
    *after: Any,
) -> "QuerySet[Machine, Any]":
    found = Machine.objects.visible_to(person).filter(withdrawn_at=None)
    given = {"site": site_id, "machine_class": machine_class_id, "status": status}
    found = found.filter(**{name: one for name, one in given.items() if one is not None})
    if words is not None:
        found = found.filter(_has(words))
    if after:
        found = found.filter(beyond(ORDER, after))
    return found.order_by(*ORDER.columns).values_list(*_Row._fields)[: most.value]


def _has(words: str) -> Q:
    return (
        Q(number_key__contains=text_key(words))
        | Q(maker__icontains=words)
        | Q(model__icontains=words)
        | Q(serial_number__icontains=words)
        | Q(pin__icontains=words)
    )


@compiled
def _usages(machine_ids: list[int]) -> "QuerySet[Usage, Any]":
    found = Usage.objects.filter(machine__in=machine_ids, counts="engine")
    return found.values_list("machine_id", "machine_h", "as_of_on", "rate_h_per_day")


@compiled
def _due_counts(machine_ids: list[int], today: dt.date, until: dt.date) -> "QuerySet[Due, Any]":
    counted = Due.objects.filter(machine__in=machine_ids).values("machine_id").order_by()
    return counted.annotate(
        over=Count("pk", filter=Q(due_on__lt=today)),
        soon=Count("pk", filter=Q(due_on__gte=today, due_on__lte=until)),
        undated=Count("pk", filter=Q(due_on__isnull=True)),
    ).values_list("machine_id", "over", "soon", "undated")


def _line(row: _Row, names: _Names, usage: Sequence[Any], counts: Sequence[int]) -> MachineLine:
    machine_h, as_of_on, rate = usage
    over, soon, undated = counts
    return MachineLine(
        machine_id=row.id,
        number=row.fleet_number,
        kind=_KINDS[row.kind],
        class_name=names.classes[row.machine_class_id],
        made_as=" ".join(part for part in (row.maker, row.model) if part),
        site_code=names.sites[row.site_id],
        status=row.status,
        machine_h=machine_h,
        as_of_on=as_of_on,
        rate_h_per_day=rate,
        over=over,
        soon=soon,
        undated=undated,
    )
