"""What a person must act on today: capped counts, each with the list behind it."""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Model, Q, QuerySet

from assemblies.models import Assembly, Stay
from fleet.models import Downtime, HourReading, Machine, Person, Site, Usage
from scheduling.calc.standing import SOON_DAYS
from scheduling.models import Due, Failure, Finding
from scheduling.queries.catch_up import lines_to_do, open_plan_of

MOST = 1000
STALE_DAYS = 30


@dataclass(frozen=True, slots=True)
class Count:
    """A count that stops at a cap, so that a big register is never counted through."""

    number: int

    @property
    def shown(self) -> str:
        return f"{MOST}+" if self.number > MOST else str(self.number)


@dataclass(frozen=True, slots=True)
class StaleMachine:
    """A machine in service whose hours are old or were never read."""

    machine_id: int
    number: str
    as_of_on: dt.date | None


@dataclass(frozen=True, slots=True)
class DownMachine:
    """A machine that is down now."""

    machine_id: int
    number: str
    since_on: dt.date
    reason: str


@dataclass(frozen=True, slots=True)
class Today:
    """The counts of the day over all sites that the person sees."""

    sites: tuple[Site, ...]
    out_now: Count
    over: Count
    over_hurts: Count
    soon: Count
    undated: Count
    untagged: Count
    doubtful: Count
    failures: Count
    catch_up: Count
    catch_up_plan_id: int | None
    stale: tuple[StaleMachine, ...]
    down: tuple[DownMachine, ...]
    is_empty: bool


def today_facts(person: Person, *, today: dt.date) -> Today:
    """Count what needs a hand today. A fixed number of queries, each bounded."""
    dues = Due.objects.visible_to(person)
    over = dues.filter(due_on__lt=today)
    until = today + dt.timedelta(days=SOON_DAYS)
    machines = Machine.objects.visible_to(person).filter(withdrawn_at=None)
    plan = open_plan_of(person)
    return Today(
        sites=tuple(Site.objects.visible_to(person).filter(withdrawn_at=None)),
        out_now=_count(_open_out_now(person)),
        over=_count(over),
        over_hurts=_count(_hurting(over)),
        soon=_count(dues.filter(due_on__gte=today, due_on__lte=until)),
        undated=_count(dues.filter(due_on__isnull=True)),
        untagged=_count(_untagged(person)),
        doubtful=_count(_doubtful(person)),
        failures=_count(
            Failure.objects.visible_to(person).filter(failed_on__gt=today - dt.timedelta(days=30))
        ),
        catch_up=_count(lines_to_do(person, today)),
        catch_up_plan_id=plan.pk if plan else None,
        stale=_stale(person, today),
        down=_down(person),
        is_empty=not machines.exists(),
    )


def _count(found: "QuerySet[Model]") -> Count:
    return Count(found.order_by()[: MOST + 1].count())


def _open_out_now(person: Person) -> "QuerySet[Due]":
    said = Finding.objects.filter(dealt_with_at=None, verdict=Finding.Verdict.OUT_NOW)
    return Due.objects.visible_to(person).filter(
        due_on__isnull=False, assembly__in=said.values("assembly")
    )


def _hurting(dues: "QuerySet[Due]") -> "QuerySet[Due]":
    held = Q(assembly__stays__is_open=True, assembly__stays__position__consequence="hurts")
    return dues.filter(held)


def _untagged(person: Person) -> "QuerySet[Assembly]":
    found = Assembly.objects.visible_to(person).filter(withdrawn_at=None, tag=None)
    return found.filter(stays__is_open=True, stays__place=Stay.Place.POSITION)


def _doubtful(person: Person) -> "QuerySet[HourReading]":
    found = HourReading.objects.visible_to(person).filter(accepted_at=None, set_aside_at=None)
    return found.exclude(doubt="")


def _stale(person: Person, today: dt.date) -> tuple[StaleMachine, ...]:
    """The machines in service whose hours are oldest, those never read first."""
    machines = Machine.objects.visible_to(person).filter(withdrawn_at=None, status="in_service")
    old = Q(as_of_on__isnull=True) | Q(as_of_on__lt=today - dt.timedelta(days=STALE_DAYS))
    found = Usage.objects.filter(old, machine__in=machines).select_related("machine")
    rows = found.order_by("as_of_on", "machine_id")[:8]
    lines = [StaleMachine(u.machine_id, u.machine.fleet_number, u.as_of_on) for u in rows]
    return tuple(sorted(lines, key=lambda line: line.as_of_on or dt.date.min))


def _down(person: Person) -> tuple[DownMachine, ...]:
    machines = Machine.objects.visible_to(person)
    found = Downtime.objects.filter(to_at=None, planned=False, machine__in=machines)
    rows = found.select_related("machine").order_by("from_at")[:8]
    return tuple(
        DownMachine(d.machine_id, d.machine.fleet_number, d.from_on, d.reason) for d in rows
    )
