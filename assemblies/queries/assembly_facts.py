"""One hose as facts: what it is, how old, where, and what it may bear."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from assemblies.models import Assembly, Stay
from assemblies.queries.ratings import assembly_rating_of
from fleet.models import Person


@dataclass(frozen=True, slots=True)
class PlaceFacts:
    """Where a hose is now."""

    place: str
    site: str
    store_place: str
    machine_id: int | None
    machine: str
    position_id: int | None
    position: str
    from_earliest_on: dt.date | None
    from_latest_on: dt.date | None
    from_machine_h: Decimal | None


@dataclass(frozen=True, slots=True)
class AssemblyFacts:
    """One hose with ends on."""

    id: int
    tag: str
    owner_mark: str
    site: str
    origin: str
    condition: str
    spec: str
    spec_revision: int | None
    hose_type: str
    size_dn: int | None
    length_mm: Decimal | None
    end_a: str
    end_b: str
    layline: str
    working_pressure_bar: Decimal | None
    rating: str
    made_earliest_on: dt.date | None
    made_latest_on: dt.date | None
    made_precision: str
    built_earliest_on: dt.date | None
    built_latest_on: dt.date | None
    built_precision: str
    known_from_on: dt.date
    earlier_h: Decimal
    version: int
    where: PlaceFacts | None


def assembly_by_tag(person: Person, tag: str) -> AssemblyFacts | None:
    """The hose that carries an own tag, if the person may see it."""
    found = Assembly.objects.visible_to(person).filter(tag=tag)
    hose = found.select_related("site", "spec__header", "spec__hose").first()
    return _facts(hose) if hose else None


def _facts(hose: Assembly) -> AssemblyFacts:
    rated = assembly_rating_of(hose)
    named: dict[str, Any] = {name: getattr(hose, name) for name in _AS_THEY_STAND}
    return AssemblyFacts(
        id=hose.pk,
        tag=hose.tag_id or "",
        site=hose.site.code,
        spec=hose.spec.header.code if hose.spec else "",
        spec_revision=hose.spec.number if hose.spec else None,
        working_pressure_bar=rated.working_pressure_bar,
        rating=rated.rating.sentence if rated.rating else rated.problem,
        where=_where(hose),
        **named,
    )


_AS_THEY_STAND = (
    *("owner_mark", "origin", "condition", "hose_type", "size_dn", "length_mm", "end_a", "end_b"),
    *("layline", "made_earliest_on", "made_latest_on", "made_precision", "built_earliest_on"),
    *("built_latest_on", "built_precision", "known_from_on", "earlier_h", "version"),
)


def _where(hose: Assembly) -> PlaceFacts | None:
    stay = (
        Stay.objects.filter(assembly=hose, is_open=True)
        .select_related("site", "position__machine")
        .first()
    )
    if stay is None:
        return None
    on = stay.position
    return PlaceFacts(
        place=stay.place,
        site=stay.site.code,
        store_place=stay.store_place,
        machine_id=on.machine_id if on else None,
        machine=on.machine.fleet_number if on else "",
        position_id=on.pk if on else None,
        position=str(on) if on else "",
        from_earliest_on=stay.from_earliest_on,
        from_latest_on=stay.from_latest_on,
        from_machine_h=stay.from_machine_h,
    )
