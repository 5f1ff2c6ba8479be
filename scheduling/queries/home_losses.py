"""What the losses of a person's sites came to in the last 90 days: read, not counted."""

import datetime as dt
from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from fleet.models import Person, Site
from scheduling.models import LossTally
from scheduling.queries.losses import WorstPlace

WORST = 3


@dataclass(frozen=True, slots=True)
class HomeLosses:
    """Sums over the person's sites, as of the oldest of them; `missing` sites have no row yet.

    `sums` as `LossTally` keeps them.
    """

    from_on: dt.date
    to_on: dt.date
    as_of_at: dt.datetime
    zone: str
    sums: Counter[str]
    worst: tuple[WorstPlace, ...]
    missing: int


def home_losses(person: Person) -> HomeLosses | None:
    """The sums, where any of the person's sites is worked out. Two reads."""
    rows = list(LossTally.objects.visible_to(person).select_related("site").order_by("pk"))
    if not rows:
        return None
    sites = Site.objects.visible_to(person).filter(withdrawn_at=None).count()
    sums: Counter[str] = Counter()
    for row in rows:
        sums.update(row.sums)
    places = [
        WorstPlace(**{**one, "oil_l": Decimal(str(one["oil_l"]))})
        for row in rows
        for one in row.worst
    ]
    return HomeLosses(
        from_on=min(row.from_on for row in rows),
        to_on=max(row.to_on for row in rows),
        as_of_at=min(row.made_at for row in rows),
        zone=rows[0].site.time_zone,
        sums=sums,
        worst=tuple(sorted(places, key=lambda one: (-one.failures, -one.oil_l))[:WORST]),
        missing=max(0, sites - len(rows)),
    )
