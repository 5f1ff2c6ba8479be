"""A small yard for the page tests: a machine with hoses in every state, and who looks at it."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from itertools import count as counting

from assemblies.models import Assembly, Position
from fleet.models import Machine, Person, Site
from scheduling.actions.tallies import recount_tallies
from scheduling.models import Due
from tests import factories

_marks = counting()


@dataclass(frozen=True)
class Yard:
    site: Site
    machine: Machine
    position: Position
    hose: Assembly
    planner: Person


def yard(**facts: str) -> Yard:
    """A site with one machine, one position, one hose on it that is overdue, and a planner."""
    site = factories.site(**facts)
    machine = factories.machine(at=site, fleet_number="EX-014")
    place = factories.position(on=machine, place="Boom lift, rod side")
    hose = factories.fitted(
        on=place,
        owner_mark="BQ 17",
        hose_type="2SN",
        size_dn=12,
        working_pressure_bar=Decimal(275),
        stay_from_earliest_on=dt.date(2020, 3, 9),
        stay_from_latest_on=dt.date(2020, 3, 9),
    )
    fall_due(hose, dt.date(2026, 2, 1))
    return Yard(site, machine, place, hose, factories.person("planner", at=site))


def fall_due(hose: Assembly, on: dt.date | None, **facts: object) -> Due:
    """A due row as the dues would write it: built plus six years, to be replaced."""
    stay = hose.stays.filter(is_open=True).first()
    place = stay.position if stay else None
    row = {
        "assembly": hose,
        "site": hose.site,
        "machine": place.machine if place else None,
        "due_on": on,
        "replace_early_on": on,
        "replace_on": on,
        "replace_late_on": on,
        "replace_trigger": 2 if on else 0,
    }
    made = Due.objects.create(**{**row, **facts})
    recount_tallies()
    return made


def more_hoses(where: Yard, count: int) -> list[Assembly]:
    """Hoses on positions of their own on the same machine, falling due day by day."""
    made = [
        factories.fitted(on=factories.position(on=where.machine), owner_mark=f"M{next(_marks)}")
        for _ in range(count)
    ]
    for n, hose in enumerate(made):
        fall_due(hose, dt.date(2026, 3, 1) + dt.timedelta(days=n))
    return made
