"""Rows for tests: each function makes one thing, with what it needs, and may be told more."""

import datetime as dt
from decimal import Decimal
from itertools import count
from typing import Any

from assemblies.models import (
    Assembly,
    AssemblySpec,
    FittingItem,
    FittingRevision,
    HoseItem,
    HoseRevision,
    Position,
    SpecEnd,
    SpecRevision,
    Stay,
)
from fleet.models import HourMeter, Machine, MachineClass, Person, Site, SiteSpell, Usage
from fleet.permissions import ensure_roles
from scheduling.models import LifeRule, LifeRuleRevision

NOW = dt.datetime(2026, 3, 9, 8, 0, tzinfo=dt.UTC)
TODAY = NOW.date()
_numbers = count(1)


def site(**facts: Any) -> Site:
    n = next(_numbers)
    return Site.objects.create(**{"code": f"S{n}", "name": f"Site {n}", **facts})


def person(*roles: str, at: Site | None = None, **facts: Any) -> Person:
    """Someone with roles at a site (or at every site, where none is given)."""
    from fleet.actions.people import post_person

    ensure_roles()
    made = Person.objects.create(**{"username": f"person{next(_numbers)}", **facts})
    for role in roles:
        post_person(person=made, role=role, site=at, by=None, at=NOW)
    return Person.objects.get(pk=made.pk)


def machine_class(**facts: Any) -> MachineClass:
    name = f"Loader {next(_numbers)}"
    return MachineClass.objects.create(**{"name": name, "hours_per_day": Decimal(8), **facts})


def machine(*, at: Site | None = None, **facts: Any) -> Machine:
    """A machine with its engine meter, site spell and the usage of its class."""
    where = at or site()
    kind = facts.pop("machine_class", None) or machine_class()
    number = f"M-{next(_numbers)}"
    made = Machine.objects.create(
        **{"site": where, "fleet_number": number, "machine_class": kind, **facts}
    )
    SiteSpell.objects.create(machine=made, site=where, from_on=TODAY)
    HourMeter.objects.create(machine=made)
    rate = kind.hours_per_day
    Usage.objects.create(
        machine=made, rate_h_per_day=rate, low_h_per_day=rate, high_h_per_day=rate, basis="class"
    )
    return made


def position(*, on: Machine | None = None, **facts: Any) -> Position:
    n = next(_numbers)
    return Position.objects.create(
        **{"machine": on or machine(), "place": f"Place {n}", "walk_order": n, **facts}
    )


def assembly(*, at: Site | None = None, **facts: Any) -> Assembly:
    return Assembly.objects.create(**{"site": at or site(), "known_from_on": TODAY, **facts})


def fitted(*, on: Position | None = None, **facts: Any) -> Assembly:
    """An assembly that sits on a position; facts that begin with `stay_` go to the stay."""
    place = on or position()
    stay_facts = {k[5:]: facts.pop(k) for k in list(facts) if k.startswith("stay_")}
    made = assembly(at=place.machine.site, **facts)
    Stay.objects.create(
        **{
            "assembly": made,
            "site": made.site,
            "place": "position",
            "position": place,
            "recorded_at": NOW,
            **stay_facts,
        }
    )
    return made


def stored(*, at: Site | None = None, **facts: Any) -> Assembly:
    """An assembly in store."""
    made = assembly(at=at, **facts)
    Stay.objects.create(assembly=made, site=made.site, place="store", recorded_at=NOW)
    return made


def life_rule(**facts: Any) -> LifeRuleRevision:
    """An approved rule; by default six years from built."""
    header = LifeRule.objects.create(name=f"Rule {next(_numbers)}")
    limits = {"built_months": 72} if not set(facts) & set(LifeRuleRevision.LIMITS) else {}
    return LifeRuleRevision.objects.create(
        **{
            "header": header,
            "state": "approved",
            "source": "the site's own choice",
            "made_at": NOW,
            "approved_at": NOW,
            "approved_by": person(),
            **limits,
            **facts,
        }
    )


def hose(**facts: Any) -> HoseRevision:
    """An approved revision of a hose item: two-braid, DN12, 275 bar."""
    header = HoseItem.objects.create(code=f"H-n{next(_numbers)}")
    return HoseRevision.objects.create(
        **{
            "header": header,
            "maker": "Harrow Hose",
            "product": "H2",
            "standard_type": "2SN",
            "rating_source": "maker",
            "size_dn": 12,
            "working_pressure_bar": Decimal(275),
            "layers": 2,
            "state": "approved",
            "made_at": NOW,
            "approved_at": NOW,
            "approved_by": person(),
            **facts,
        }
    )


def fitting(**facts: Any) -> FittingRevision:
    """An approved revision of a straight swivel-nut fitting for DN12 hose."""
    header = FittingItem.objects.create(code=f"F-n{next(_numbers)}")
    return FittingRevision.objects.create(
        **{
            "header": header,
            "maker": "Harrow Ends",
            "product": "E12",
            "connection": "24° cone, heavy",
            "connection_size": "S16 M24×1.5",
            "tail_dn": 12,
            "allowance_mm": Decimal("45.5"),
            "working_pressure_bar": Decimal(400),
            "rating_source": "maker",
            "state": "approved",
            "made_at": NOW,
            "approved_at": NOW,
            "approved_by": person(),
            **facts,
        }
    )


def spec(**facts: Any) -> AssemblySpec:
    """A spec of a DN12 hose of 275 bar between ends of 400 bar, its first revision approved."""
    header = AssemblySpec.objects.create(code=f"SP-n{next(_numbers)}", title="Lift")
    ends = fitting()
    draft = SpecRevision.objects.create(
        **{"header": header, "hose": hose().header, "length_mm": 1200, "made_at": NOW, **facts}
    )
    for which in ("A", "B"):
        SpecEnd.objects.create(spec=draft, which=which, fitting=ends.header)
    approved = {"state": "approved", "approved_at": NOW, "approved_by": person()}
    SpecRevision.objects.filter(pk=draft.pk).update(**approved)
    return header
