"""What failures cost in a period: failures, time down, changes, from the tables.

A scope is sites the person may see, narrowed to one of them or to a machine class. Every function
makes one read, whatever the size.
"""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

import numpy as np
from django.db.models import Count, F, Q, QuerySet, Sum

from assemblies.models import Stay
from fleet.calc.downtime import Down, down_seconds
from fleet.models import Downtime, Person, Site
from fleet.models.fields import EPOCH
from scheduling.calc.standing import SOON_DAYS
from scheduling.calc.tally import counts_on, no_cells, unpacked
from scheduling.models import DueTally, Failure


@dataclass(frozen=True, slots=True)
class LossScope:
    """Which part of the register: a person's sites, one of them, one class of machine.

    Without a person it is the register's own: for what is kept for everyone, never for a page.
    """

    person: Person | None
    site_id: int | None = None
    machine_class_id: int | None = None

    def rows(self, model: Any) -> "QuerySet[Any]":
        """The rows of a table that the person may see."""
        found: QuerySet[Any] = model.objects.all()
        return found if self.person is None else model.objects.visible_to(self.person)


@dataclass(frozen=True, slots=True)
class Period:
    """A period of days, both in it, and the moments between which it lies."""

    from_on: dt.date
    to_on: dt.date
    begins_at: dt.datetime
    ends_at: dt.datetime

    @property
    def days(self) -> int:
        return (self.to_on - self.from_on).days + 1

    def before(self) -> "Period":
        """The period of the same length just before."""
        span = dt.timedelta(self.days)
        ends = self.from_on - dt.timedelta(1)
        return Period(self.from_on - span, ends, self.begins_at - span, self.begins_at)

    def parts(self, number: int) -> tuple["Period", ...]:
        """So many parts of about one length, the first days first; one where it is too short."""
        if self.days < 2 * number:
            return (self,)
        edges = [self.from_on + dt.timedelta(self.days * n // number) for n in range(number + 1)]
        starts = [
            dt.datetime.combine(day, dt.time(0), tzinfo=self.begins_at.tzinfo) for day in edges
        ]
        return tuple(
            Period(edges[n], edges[n + 1] - dt.timedelta(1), starts[n], starts[n + 1])
            for n in range(number)
        )


def zone_of(person: Person) -> str:
    """The time zone in which a report's days begin: that of the first of the person's sites."""
    site = Site.objects.visible_to(person).first()
    return site.time_zone if site else "UTC"


def failures_in(scope: LossScope, period: Period) -> "QuerySet[Failure]":
    """The failures of a scope and period."""
    found = scope.rows(Failure).filter(failed_on__gte=period.from_on, failed_on__lte=period.to_on)
    return found.filter(of_scope(scope, machine="machine"))


def of_scope(scope: LossScope, *, machine: str) -> Q:
    """The site and class of a scope; `machine` is the path to the machine."""
    asked = Q()
    if scope.site_id is not None:
        asked &= Q(site_id=scope.site_id)
    if scope.machine_class_id is not None:
        asked &= Q(**{f"{machine}__machine_class_id": scope.machine_class_id})
    return asked


@dataclass(frozen=True, slots=True)
class FailureSums:
    """Failures of a period and what was told of them. Money in minor units."""

    failures: int
    oil_l: Decimal
    cost_minor: int
    fires: int
    near_misses: int
    harmed: int
    not_completed: int


def failure_sums(scope: LossScope, period: Period) -> FailureSums:
    """How many failures, how much oil, what they cost in parts and labour."""
    found = failures_in(scope, period).aggregate(
        failures=Count("pk"),
        oil=Sum("oil_lost_l"),
        cost=Sum("cost_minor"),
        fires=Count("pk", filter=Q(fire="fire")),
        near=Count("pk", filter=Q(fire="near_miss")),
        harmed=Count("pk", filter=~Q(harm="")),
        open=Count("pk", filter=Q(cause="unknown")),
    )
    return FailureSums(
        failures=found["failures"],
        oil_l=found["oil"] or Decimal(0),
        cost_minor=found["cost"] or 0,
        fires=found["fires"],
        near_misses=found["near"],
        harmed=found["harmed"],
        not_completed=found["open"],
    )


def by_cause_and_mode(scope: LossScope, period: Period) -> list[tuple[str, str, int]]:
    """Failures by cause and mode: (cause, mode, how many)."""
    rows = failures_in(scope, period).order_by().values_list("cause", "mode")
    return [(cause, mode, number) for cause, mode, number in rows.annotate(n=Count("pk"))]


def failures_by_day(scope: LossScope, period: Period) -> dict[dt.date, int]:
    """How many failed on each day on which any did."""
    rows = failures_in(scope, period).order_by().values_list("failed_on")
    return dict(rows.annotate(n=Count("pk")))


@dataclass(frozen=True, slots=True)
class WorstPlace:
    """A position that failed most: where, how often, and the oil it lost."""

    position_id: int
    machine_id: int
    machine: str
    place: str
    failures: int
    oil_l: Decimal


def worst_places(scope: LossScope, period: Period, *, most: int = 10) -> tuple[WorstPlace, ...]:
    """The positions with the most failures; among equals the one that lost more oil."""
    grouped = (
        failures_in(scope, period)
        .filter(stay__position__isnull=False)
        .order_by()
        .values(
            position=F("stay__position_id"),
            number=F("stay__position__machine__fleet_number"),
            machine_id_=F("stay__position__machine_id"),
            place=F("stay__position__place"),
        )
        .annotate(n=Count("pk"), oil=Sum("oil_lost_l"))
        .order_by("-n", F("oil").desc(nulls_last=True), "position")[:most]
    )
    return tuple(
        WorstPlace(
            position_id=row["position"],
            machine_id=row["machine_id_"],
            machine=row["number"],
            place=row["place"],
            failures=row["n"],
            oil_l=row["oil"] or Decimal(0),
        )
        for row in grouped
    )


@dataclass(frozen=True, slots=True)
class Spells:
    """Times down that touch a period, as columns of shape (n,); money in minor units an hour."""

    machine: "np.ndarray[tuple[int], np.dtype[np.int64]]"
    start: "np.ndarray[tuple[int], np.dtype[np.int64]]"
    end: "np.ndarray[tuple[int], np.dtype[np.int64]]"
    planned: "np.ndarray[tuple[int], np.dtype[np.bool_]]"
    cost_per_hour: "np.ndarray[tuple[int], np.dtype[np.int64]]"

    def down(self, begins_at: dt.datetime, ends_at: dt.datetime) -> Down:
        """Seconds down within a span of time."""
        period = (int(begins_at.timestamp()), int(ends_at.timestamp()))
        return down_seconds(self.machine, self.start, self.end, self.planned, period=period)


def spells_in(scope: LossScope, period: Period, *, now: dt.datetime) -> Spells:
    """The times down that touch a period; an open one runs until now."""
    ends_at = min(period.ends_at, now)
    touching = Q(from_at__lt=ends_at) & (Q(to_at=None) | Q(to_at__gt=period.begins_at))
    found = scope.rows(Downtime).filter(touching)
    rows = found.filter(of_scope(scope, machine="machine")).values_list(
        "machine_id", "from_at", "to_at", "planned", "cost_per_hour_minor"
    )
    columns: list[list[Any]] = [[], [], [], [], []]
    for machine, start, end, planned, cost in rows:
        last = now if end is None else end
        for column, value in zip(
            columns,
            (machine, int(start.timestamp()), int(max(last, start).timestamp()), planned, cost),
            strict=True,
        ):
            column.append(value)
    ids, starts, ends, planned_too, costs = columns
    return Spells(
        np.array(ids, dtype=np.int64),
        np.array(starts, dtype=np.int64),
        np.array(ends, dtype=np.int64),
        np.array(planned_too, dtype=bool),
        np.array(costs, dtype=np.int64),
    )


def lost_minor(spells: Spells, begins_at: dt.datetime, ends_at: dt.datetime) -> int:
    """What the unplanned hours cost: each machine's hours at the dearest of its spells' prices.

    Spells that overlap on one machine count once, so only one price can stand for them.
    """
    down = spells.down(begins_at, ends_at)
    if not len(down.machines):
        return 0
    place = np.searchsorted(down.machines, spells.machine)
    known = (place < len(down.machines)) & ~spells.planned
    place = np.where(known, place, 0)
    price = np.zeros(len(down.machines), dtype=np.int64)
    np.maximum.at(price, place[known], spells.cost_per_hour[known])
    return int((down.unplanned_s * price).sum() // 3600)


@dataclass(frozen=True, slots=True)
class Changes:
    """Hoses that came off machines in a period, by why."""

    planned: int
    failed: int


def changes_in(scope: LossScope, period: Period) -> Changes:
    """Hoses changed in time or found bad, beside those that failed."""
    off = scope.rows(Stay).filter(
        place="position", is_open=False, to_on__gte=period.from_on, to_on__lte=period.to_on
    )
    found = off.filter(of_scope(scope, machine="position__machine")).aggregate(
        planned=Count("pk", filter=Q(removal__in=["due", "found_bad", "recalled"])),
        failed=Count("pk", filter=Q(removal="failed")),
    )
    return Changes(found["planned"], found["failed"])


def dues_over(scope: LossScope, *, today: dt.date) -> tuple[int, int] | None:
    """How many hoses are overdue today, of how many: from what is kept, none is counted.

    None for a class of machines: counts are kept for sites.
    """
    if scope.machine_class_id is not None:
        return None
    asked = Q() if scope.site_id is None else Q(site_id=scope.site_id)
    rows = scope.rows(DueTally).filter(asked).values_list("cells", flat=True)
    cells = np.concatenate([no_cells(), *(unpacked(bytes(stored)) for stored in rows)])
    day = (today - EPOCH).days
    return counts_on(cells, day, day + SOON_DAYS).over, int(cells[:, 2].sum())
