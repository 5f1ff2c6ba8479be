"""An assembly leaves the bench: to the store or to scrap."""

import datetime as dt

from assemblies.models import Assembly, Stay
from fleet.calc.local_days import local_day
from fleet.models import Person


def leave_bench(
    *,
    assembly: Assembly,
    to: str,
    removal: str,
    note: str = "",
    store_place: str = "",
    person: Person,
    at: dt.datetime,
) -> Stay:
    """Close the open stay and open the next. Call inside a transaction, the assembly locked."""
    on = local_day(at, assembly.site.time_zone)
    stay = Stay.objects.filter(assembly=assembly, is_open=True).first()
    if stay is not None:
        begun = stay.from_earliest_on
        stay.is_open, stay.to_at, stay.to_on = False, at, max(on, begun) if begun else on
        stay.removal, stay.note = removal, note[:300]
        stay.save()
    return Stay.objects.create(
        **{"assembly": assembly, "site": assembly.site, "place": to, "store_place": store_place},
        **{"from_at": at, "from_earliest_on": on, "from_latest_on": on, "from_precision": "day"},
        **{"recorded_by": person, "recorded_at": at},
    )
