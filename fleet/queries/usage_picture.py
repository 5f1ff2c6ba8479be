"""What the picture of a machine's counters is drawn from."""

import datetime as dt
from collections import defaultdict
from typing import Any

from django.db.models import Q, QuerySet

from fleet.calc.usage import WINDOW_DAYS
from fleet.calc.usage_picture import CounterPicture
from fleet.models import Counter, HourReading, Machine, Usage
from fleet.models.compiled import compiled
from fleet.models.fields import EPOCH

MOST_POINTS = 120
Points = list[tuple[int, float]]


def counter_pictures(machine: Machine, *, today: dt.date) -> tuple[tuple[str, CounterPicture], ...]:
    """The pictures of a machine's counters that have readings of their own. Three queries."""
    last_on = _last_counted.first(machine.pk)
    if last_on is None:
        return ()
    points: dict[str, Points] = defaultdict(list)
    out: dict[str, Points] = defaultdict(list)
    first_on = last_on - dt.timedelta(days=WINDOW_DAYS)
    for name, on, hours, doubt, accepted_at in _read_since(machine.pk, first_on):
        kept = points if not doubt or accepted_at else out
        kept[name].append(((on - EPOCH).days, float(hours)))
    return tuple(
        (usage.counts, _picture(usage, points[usage.counts], out[usage.counts], today))
        for usage in usages_of(machine.pk)
        if points[usage.counts]
    )


@compiled
def usages_of(machine_id: int) -> "QuerySet[Usage]":
    """How fast each counter of a machine runs."""
    return Usage.objects.filter(machine=machine_id).order_by("counts")


@compiled
def _last_counted(machine_id: int) -> "QuerySet[HourReading, dt.date]":
    counts = Q(doubt="") | Q(accepted_at__isnull=False)
    found = HourReading.objects.filter(counts, meter__machine=machine_id, set_aside_at=None)
    return found.order_by("-read_on").values_list("read_on", flat=True)[:1]


@compiled
def _read_since(machine_id: int, first_on: dt.date) -> "QuerySet[HourReading, Any]":
    found = HourReading.objects.filter(meter__machine=machine_id, set_aside_at=None)
    rows = found.filter(read_on__gte=first_on).order_by("read_on", "read_at", "id")
    return rows.values_list("meter__counts", "read_on", "machine_h", "doubt", "accepted_at")


def _picture(usage: Usage, points: Points, left_out: Points, today: dt.date) -> CounterPicture:
    return CounterPicture(
        counter=Counter(usage.counts).label,
        points=_thinned(points),
        left_out=_thinned(left_out),
        low=float(usage.low_h_per_day),
        rate=float(usage.rate_h_per_day),
        high=float(usage.high_h_per_day),
        since=points[0][0],
        today=(today - EPOCH).days,
        basis=usage.basis,
    )


def _thinned(points: Points) -> Points:
    """Evenly fewer where there are many, the first and the last kept."""
    if len(points) <= MOST_POINTS:
        return points
    step = (len(points) - 1) / (MOST_POINTS - 1)
    return [points[round(n * step)] for n in range(MOST_POINTS)]
