"""When machines and positions failed, in hours from when the register began to watch them.

A machine is watched from its first reading after the register knew a hose on it, to its last
reading. What failed before, or without hours, can't be placed: it is counted as left out.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django.db.models import Min, OuterRef, Q, QuerySet, Subquery

from assemblies.models import Position, Stay
from fleet.models import HourReading, Machine, Person, Usage
from scheduling.calc.life.trend_words import pooled_trend_words
from scheduling.models import Failure
from scheduling.queries.lifetimes import LifeScope

MOST: Final = 300
ENGINE: Final = "engine"


@dataclass(frozen=True, slots=True)
class History:
    """Failures of one machine or position at hours watched, in order, until the last reading.

    `until_h` is 0 where it was never watched: no two readings since a hose on it was known.
    """

    machine_id: int
    ages_h: tuple[float, ...]
    until_h: float
    left_out: int


@dataclass(frozen=True, slots=True)
class ClassHistories:
    """The histories of a class of machines that the person may see, and how many there are."""

    histories: tuple[History, ...]
    machines: int


def position_history(position: Position) -> History:
    """The failures of one position, by the counter that ages it."""
    stays = Stay.objects.filter(position=position)
    machine = Machine.objects.filter(pk=position.machine_id)
    failures = Failure.objects.filter(stay__position=position)
    return _histories(_watched(machine, stays, "position", position.counts), failures)[0]


def machine_history(machine: Machine) -> History:
    """The failures of one machine, by its engine hours."""
    failures = Failure.objects.filter(machine=machine, stay__position__counts=ENGINE)
    return _histories(_engines(Machine.objects.filter(pk=machine.pk)), failures)[0]


def class_histories(person: Person, machine: Machine) -> ClassHistories:
    """The machines of one class at the person's sites, up to 300. Three reads."""
    kind = Machine.objects.visible_to(person).filter(machine_class=machine.machine_class_id)
    ids = list(kind.order_by("number_key", "id").values_list("pk", flat=True)[:MOST])
    failures = Failure.objects.filter(machine__in=ids, stay__position__counts=ENGINE)
    found = _histories(_engines(Machine.objects.filter(pk__in=ids)), failures)
    watched = tuple(one for one in found if one.until_h > 0)
    return ClassHistories(watched, kind.count() if len(ids) == MOST else len(ids))


def scope_trend(person: Person, scope: LifeScope, causes: Sequence[str] | None) -> str:
    """Whether failures of a scope come faster over the hours of its machines, in words."""
    stays = Stay.objects.visible_to(person).filter(scope.asked(), place="position")
    machines = Machine.objects.filter(pk__in=stays.values("position__machine_id"))
    failures = Failure.objects.filter(stay__in=stays.values("pk"), stay__position__counts=ENGINE)
    if causes is not None:
        failures = failures.filter(cause__in=causes)
    watched = [one for one in _histories(_engines(machines), failures) if one.until_h > 0]
    return pooled_trend_words([one.ages_h for one in watched], [one.until_h for one in watched])


def _engines(machines: "QuerySet[Machine]") -> "Iterable[Mapping[str, Any]]":
    stays = Stay.objects.filter(position__machine=OuterRef("pk"))
    return _watched(machines, stays, "position__machine", ENGINE)


def _watched(
    machines: "QuerySet[Machine]", stays: "QuerySet[Stay]", by: str, counts: str
) -> "Iterable[Mapping[str, Any]]":
    """Machines with the day a hose there was first known, the hours read then, and the last."""
    told = stays.exclude(removal="corrected").order_by()
    known = told.values(by).annotate(on=Min("assembly__known_from_on")).values("on")
    counting = Q(doubt="") | Q(accepted_at__isnull=False)
    readings = HourReading.objects.filter(
        counting,
        meter__machine=OuterRef("pk"),
        meter__counts=counts,
        set_aside_at=None,
        read_on__gte=OuterRef("known_on"),
    )
    last = Usage.objects.filter(machine=OuterRef("pk"), counts=counts).values("machine_h")
    return machines.annotate(
        known_on=Subquery(known[:1]),
        first_h=Subquery(readings.order_by("read_on", "machine_h").values("machine_h")[:1]),
        last_h=Subquery(last[:1]),
    ).values("id", "known_on", "first_h", "last_h")


def _histories(
    machines: Iterable[Mapping[str, Any]], failures: "QuerySet[Failure]"
) -> tuple[History, ...]:
    failed: defaultdict[int, list[tuple[Any, Decimal | None]]] = defaultdict(list)
    for machine, on, hours in failures.order_by("failed_on", "id").values_list(
        "machine_id", "failed_on", "machine_h"
    ):
        failed[machine].append((on, hours))
    return tuple(_history(row, failed[row["id"]]) for row in machines)


def _history(row: Mapping[str, Any], failed: Sequence[tuple[Any, Decimal | None]]) -> History:
    first, last, known = row["first_h"], row["last_h"], row["known_on"]
    if first is None or last is None or last <= first:
        return History(row["id"], (), 0.0, len(failed))
    placed = sorted(
        float(hours - first)
        for on, hours in failed
        if hours is not None and on >= known and hours > first
    )
    until = max([float(last - first), *placed])
    return History(row["id"], tuple(placed), until, len(failed) - len(placed))
