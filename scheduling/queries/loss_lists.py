"""The lists behind the report's figures, a page at a time."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q

from assemblies.models import Stay
from fleet.models import Downtime
from fleet.queries.keyset import Order, Page, page_of
from scheduling.queries.due_facts import hose_label, hose_words
from scheduling.queries.losses import LossScope, Period, failures_in, of_scope
from scheduling.queries.to_settle import FailureLine, failure_line

LATEST = Order("failed_on", down=True)
BY_START = Order("from_on", down=True)
BY_END = Order("to_on", down=True)


@dataclass(frozen=True, slots=True)
class DownLine:
    """One time down."""

    downtime_id: int
    machine_id: int
    machine: str
    from_at: dt.datetime
    to_at: dt.datetime | None
    zone: str
    planned: bool
    reason: str
    hours: Decimal | None


@dataclass(frozen=True, slots=True)
class OffLine:
    """One hose that came off a machine."""

    hose_id: int
    label: str
    words: str
    machine_id: int
    machine: str
    place: str
    off_on: dt.date
    why: str
    ran_h: Decimal | None


def failures_of(
    scope: LossScope, period: Period, *, cause: str, after: tuple[object, ...] | None, size: int
) -> Page[FailureLine]:
    """Failures of a scope and period, the latest first."""
    found = failures_in(scope, period).select_related("assembly", "machine", "stay__position")
    asked = Q(cause=cause) if cause else Q()
    page = page_of(found.filter(asked), order=LATEST, after=after, size=size)
    return Page(tuple(failure_line(failure) for failure in page.rows), page.after)


def downtimes_of(
    scope: LossScope,
    period: Period,
    *,
    after: tuple[object, ...] | None,
    size: int,
    now: dt.datetime,
) -> Page[DownLine]:
    """Times down that touch a period, the latest first."""
    touching = Q(from_at__lt=period.ends_at) & (Q(to_at=None) | Q(to_at__gt=period.begins_at))
    found = scope.rows(Downtime).filter(touching)
    found = found.filter(of_scope(scope, machine="machine")).select_related("machine__site")
    page = page_of(found, order=BY_START, after=after, size=size)
    return Page(tuple(_down_line(one, now) for one in page.rows), page.after)


def _down_line(one: Downtime, now: dt.datetime) -> DownLine:
    seconds = ((one.to_at or now) - one.from_at).total_seconds()
    return DownLine(
        downtime_id=one.pk,
        machine_id=one.machine_id,
        machine=one.machine.fleet_number,
        from_at=one.from_at,
        to_at=one.to_at,
        zone=one.machine.site.time_zone,
        planned=one.planned,
        reason=one.reason,
        hours=(Decimal(int(max(0, seconds))) / 3600).quantize(Decimal("0.1")),
    )


def off_machines(
    scope: LossScope, period: Period, *, after: tuple[object, ...] | None, size: int
) -> Page[OffLine]:
    """Hoses that came off for cause in a period: in time, found bad, recalled or failed."""
    found = scope.rows(Stay).filter(
        place="position",
        is_open=False,
        to_on__gte=period.from_on,
        to_on__lte=period.to_on,
        removal__in=["due", "found_bad", "recalled", "failed"],
    )
    found = found.filter(of_scope(scope, machine="position__machine"))
    related = found.select_related("assembly__hose", "position__machine")
    page = page_of(related, order=BY_END, after=after, size=size)
    return Page(tuple(_off_line(stay) for stay in page.rows), page.after)


def _off_line(stay: Stay) -> OffLine:
    assert stay.position is not None
    assert stay.to_on is not None
    return OffLine(
        hose_id=stay.assembly_id,
        label=hose_label(stay.assembly),
        words=hose_words(stay.assembly),
        machine_id=stay.position.machine_id,
        machine=stay.position.machine.fleet_number,
        place=str(stay.position),
        off_on=stay.to_on,
        why=stay.get_removal_display(),
        ran_h=stay.run_h,
    )
