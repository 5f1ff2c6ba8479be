"""What a report stands on, read once: this period, the one before it, and what it cost."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from itertools import pairwise

from fleet.calc.downtime import Down
from scheduling.queries.losses import (
    Changes,
    FailureSums,
    LossScope,
    Period,
    Spells,
    WorstPlace,
    by_cause_and_mode,
    changes_in,
    dues_over,
    failure_sums,
    failures_by_day,
    lost_minor,
    spells_in,
    worst_places,
)
from scheduling.queries.run_hours import HoursRun, hours_run

HOUR = 3600
PARTS = 4


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the period: its days, its failures, and the machine hours run in it."""

    period: Period
    failures: int
    hours: Decimal


@dataclass(frozen=True, slots=True)
class Gathered:
    """All that the figures are made from. Seconds and minor units, nothing rounded."""

    scope: LossScope
    period: Period
    sums: FailureSums
    before: FailureSums
    run: HoursRun
    run_before: HoursRun
    spells: Spells
    down: Down
    changes: Changes
    causes: list[tuple[str, str, int]]
    worst: tuple[WorstPlace, ...]
    dues: tuple[int, int] | None
    lost_minor: int
    parts: tuple["Part", ...]

    @property
    def unplanned_h(self) -> Decimal:
        return _hours(int(self.down.unplanned_s.sum()))

    @property
    def planned_h(self) -> Decimal:
        return _hours(int(self.down.planned_s.sum()))

    def months(self) -> list[tuple[dt.date, Decimal, Decimal]]:
        """Hours down month by month: first day, unplanned, planned."""
        edges = _month_edges(self.period)
        found = []
        for (day, begins), (_, ends) in pairwise(edges):
            part = self.spells.down(begins, ends)
            lost, asked = int(part.unplanned_s.sum()), int(part.planned_s.sum())
            found.append((day, _hours(lost), _hours(asked)))
        return found


def gathered(scope: LossScope, period: Period, *, today: dt.date, now: dt.datetime) -> Gathered:
    """Read what the report of a scope and period stands on."""
    spells = spells_in(scope, period, now=now)
    ends_at = max(period.begins_at, min(period.ends_at, now))
    return Gathered(
        scope=scope,
        period=period,
        sums=failure_sums(scope, period),
        before=failure_sums(scope, period.before()),
        run=hours_run(scope, period),
        run_before=hours_run(scope, period.before()),
        spells=spells,
        down=spells.down(period.begins_at, ends_at),
        changes=changes_in(scope, period),
        causes=by_cause_and_mode(scope, period),
        worst=worst_places(scope, period),
        dues=dues_over(scope, today=today),
        lost_minor=lost_minor(spells, period.begins_at, ends_at),
        parts=_parts(scope, period),
    )


def _parts(scope: LossScope, period: Period) -> tuple[Part, ...]:
    by_day = failures_by_day(scope, period)
    return tuple(
        Part(
            part,
            sum(number for day, number in by_day.items() if part.from_on <= day <= part.to_on),
            hours_run(scope, part).hours,
        )
        for part in period.parts(PARTS)
    )


def _hours(seconds: int) -> Decimal:
    return (Decimal(seconds) / HOUR).quantize(Decimal("0.1"))


def _month_edges(period: Period) -> list[tuple[dt.date, dt.datetime]]:
    """The first moment of the period and of each month in it, and its end."""
    zone = period.begins_at.tzinfo
    edges = [(period.from_on, period.begins_at)]
    year, month = period.from_on.year, period.from_on.month
    while True:
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        first = dt.date(year, month, 1)
        if first > period.to_on:
            break
        edges.append((first, dt.datetime(year, month, 1, tzinfo=zone)))
    return [*edges, (period.to_on, period.ends_at)]
