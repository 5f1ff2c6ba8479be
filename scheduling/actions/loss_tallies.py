"""Keeping what each site's losses came to in 90 days, so that no first page counts them."""

import datetime as dt
from dataclasses import asdict
from typing import Any, Final
from zoneinfo import ZoneInfo

from django.db.models import Q

from fleet.calc.local_days import local_day
from fleet.models import Site
from scheduling.models import LossTally
from scheduling.queries.losses import (
    LossScope,
    Period,
    changes_in,
    failure_sums,
    lost_minor,
    spells_in,
    worst_places,
)
from scheduling.queries.run_hours import hours_run

DAYS: Final = 90
OLD: Final = dt.timedelta(hours=1)
AT_ONCE: Final = 50


def keep_losses(*, at: dt.datetime, most: int = AT_ONCE) -> int:
    """Work out anew what is kept of the sites whose row is missing or over an hour old, those
    never worked out and the oldest first; returns how many. Safe to repeat."""
    fresh = LossTally.objects.filter(made_at__gt=at - OLD).values("site_id")
    sites = Site.objects.filter(withdrawn_at=None).filter(~Q(pk__in=fresh))
    made = dict(LossTally.objects.values_list("site_id", "made_at"))
    first = dt.datetime.min.replace(tzinfo=dt.UTC)
    wanted = sorted(sites, key=lambda site: (made.get(site.pk, first), site.pk))[:most]
    for site in wanted:
        keep_losses_of(site=site, at=at)
    return len(wanted)


def keep_losses_of(*, site: Site, at: dt.datetime) -> LossTally:
    """Work out one site's row anew. Safe to repeat; of two at once the later stands."""
    period = last_days(site.time_zone, at)
    scope = LossScope(None, site_id=site.pk)
    facts = {
        "from_on": period.from_on,
        "to_on": period.to_on,
        "sums": _sums(scope, period, at),
        "worst": [
            {**asdict(one), "oil_l": float(one.oil_l)}
            for one in worst_places(scope, period, most=5)
        ],
        "made_at": at,
    }
    return LossTally.objects.update_or_create(site=site, defaults=facts)[0]


def last_days(zone: str, at: dt.datetime) -> Period:
    """The last 90 days at a place, today with them."""
    last = local_day(at, zone)
    first = last - dt.timedelta(DAYS - 1)
    begins, ends = (
        dt.datetime.combine(day, dt.time(0), tzinfo=ZoneInfo(zone))
        for day in (first, last + dt.timedelta(1))
    )
    return Period(first, last, begins, ends)


def _sums(scope: LossScope, period: Period, at: dt.datetime) -> dict[str, Any]:
    now, before = failure_sums(scope, period), failure_sums(scope, period.before())
    spells, changes = spells_in(scope, period, now=at), changes_in(scope, period)
    ends_at = min(period.ends_at, at)
    down = spells.down(period.begins_at, ends_at)
    return {
        "failures": now.failures,
        "failures_before": before.failures,
        "cost_minor": now.cost_minor,
        "lost_minor": lost_minor(spells, period.begins_at, ends_at),
        "unplanned_s": int(down.unplanned_s.sum()),
        "planned_s": int(down.planned_s.sum()),
        "tenths_h": int(hours_run(scope, period).hours * 10),
        "tenths_h_before": int(hours_run(scope, period.before()).hours * 10),
        "changed_planned": changes.planned,
        "changed_failed": changes.failed,
    }
