"""What a person must act on today: each count with the list behind it.

What is counted over all hoses is kept (`queries.tallies`); what is few by its nature is counted
from an index that holds nothing else, up to a cap.
"""

import datetime as dt
from dataclasses import dataclass

from django.db.models import Model, QuerySet

from fleet.models import IN_DOUBT, Downtime, HourReading, Machine, Person, Site, Usage
from fleet.queries.stale_hours import stale_before
from scheduling.models import Failure
from scheduling.queries.catch_up import lines_to_do, open_plan_of
from scheduling.queries.tallies import due_counts

MOST = 1000


@dataclass(frozen=True, slots=True)
class Count:
    """A count as it is shown; one that was `capped` was not counted further than the cap."""

    number: int
    capped: bool = False

    @property
    def shown(self) -> str:
        return f"{MOST}+" if self.capped else f"{self.number:,}".replace(",", "\u202f")


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
    """What needs a hand today. A fixed number of queries, none of which grows with the register."""
    kept = due_counts(person, today=today)
    machines = Machine.objects.visible_to(person).filter(withdrawn_at=None)
    plan = open_plan_of(person)
    return Today(
        sites=tuple(Site.objects.visible_to(person).filter(withdrawn_at=None)),
        out_now=Count(kept.out_now),
        over=Count(kept.over),
        over_hurts=Count(kept.over_hurts),
        soon=Count(kept.soon),
        undated=Count(kept.undated),
        untagged=Count(kept.untagged),
        doubtful=_counted(_doubtful(person)),
        failures=_counted(
            Failure.objects.visible_to(person).filter(failed_on__gt=today - dt.timedelta(days=30))
        ),
        catch_up=_counted(lines_to_do(person, today)),
        catch_up_plan_id=plan.pk if plan else None,
        stale=_stale(person, today),
        down=_down(person),
        is_empty=not machines.exists(),
    )


def _counted(found: "QuerySet[Model]") -> Count:
    number = found.order_by()[: MOST + 1].count()
    return Count(number, capped=number > MOST)


def _doubtful(person: Person) -> "QuerySet[HourReading]":
    return HourReading.objects.visible_to(person).filter(IN_DOUBT)


def _stale(person: Person, today: dt.date) -> tuple[StaleMachine, ...]:
    """The machines in service whose hours are oldest, those never read first."""
    found = Usage.objects.filter(machine__withdrawn_at=None, machine__status="in_service")
    if not person.sees_every_site:
        found = found.filter(machine__site__in=person.seen_site_ids)
    found = found.select_related("machine").order_by("as_of_on", "machine_id")
    # Each a run of the index; together they would be none.
    old = found.filter(as_of_on__lt=stale_before(today))
    rows = [*found.filter(as_of_on=None)[:8], *old[:8]][:8]
    return tuple(StaleMachine(u.machine_id, u.machine.fleet_number, u.as_of_on) for u in rows)


def _down(person: Person) -> tuple[DownMachine, ...]:
    machines = Machine.objects.visible_to(person)
    found = Downtime.objects.filter(to_at=None, planned=False, machine__in=machines)
    rows = found.select_related("machine").order_by("from_at")[:8]
    return tuple(
        DownMachine(d.machine_id, d.machine.fleet_number, d.from_on, d.reason) for d in rows
    )
