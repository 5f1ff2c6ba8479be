"""What the picture of a machine's counters is drawn from."""

import datetime as dt
from collections import defaultdict

from django.db.models import Max, Q

from fleet.calc.usage import WINDOW_DAYS
from fleet.calc.usage_picture import CounterPicture
from fleet.models import Counter, HourReading, Machine, Usage
from fleet.models.fields import EPOCH

MOST_POINTS = 120
Points = list[tuple[int, float]]


def counter_pictures(machine: Machine, *, today: dt.date) -> tuple[tuple[str, CounterPicture], ...]:
    """The pictures of a machine's counters that have readings of their own. Three queries."""
    standing = HourReading.objects.filter(meter__machine=machine, set_aside_at=None)
    counts = Q(doubt="") | Q(accepted_at__isnull=False)
    last_on = standing.filter(counts).aggregate(last=Max("read_on"))["last"]
    if last_on is None:
        return ()
    first_on = last_on - dt.timedelta(days=WINDOW_DAYS)
    points: dict[str, Points] = defaultdict(list)
    out: dict[str, Points] = defaultdict(list)
    rows = standing.filter(read_on__gte=first_on).order_by("read_on", "read_at", "id")
    for name, on, hours, doubt, accepted_at in rows.values_list(
        "meter__counts", "read_on", "machine_h", "doubt", "accepted_at"
    ):
        kept = points if not doubt or accepted_at else out
        kept[name].append(((on - EPOCH).days, float(hours)))
    return tuple(
        (usage.counts, _picture(usage, points[usage.counts], out[usage.counts], today))
        for usage in Usage.objects.filter(machine=machine).order_by("counts")
        if points[usage.counts]
    )


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
