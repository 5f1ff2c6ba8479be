"""Positions as facts, with what each holds, for programs that ask."""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from assemblies.models import Position, Stay
from fleet.models import Person
from fleet.queries.keyset import Order, Page, page_of

ORDERS: Mapping[str, Order] = {"id": Order("id"), "walk_order": Order("walk_order")}


@dataclass(frozen=True, slots=True)
class HeldFacts:
    """The hose that a position holds."""

    assembly_id: int
    tag: str
    owner_mark: str
    fitted_earliest_on: dt.date | None
    fitted_latest_on: dt.date | None
    fitted_at_machine_h: Decimal | None


@dataclass(frozen=True, slots=True)
class PositionFacts:
    """A place on a machine, its duty, and what it holds."""

    id: int
    site: str
    machine_id: int
    machine: str
    place: str
    place_no: int
    walk_order: int
    circuit: str
    counts: str
    consequence: str
    exposure: str
    pressure_bar: Decimal | None
    surge_bar: Decimal | None
    flow_l_per_min: Decimal | None
    oil_temperature_c: int | None
    ambient_temperature_c: int | None
    fluid: str
    bend_radius_mm: Decimal | None
    port_a: str
    port_b: str
    required_spec: str
    access_group: str
    version: int
    holds: HeldFacts | None


@dataclass(frozen=True, slots=True)
class PositionFilter:
    """Which positions: every fact that is given must fit."""

    site_id: int | None = None
    machine_id: int | None = None
    circuit: str = ""
    consequence: str = ""
    exposure: str = ""


def positions(
    person: Person, which: PositionFilter, *, order: str, after: tuple[Any, ...] | None, size: int
) -> Page[PositionFacts]:
    """A page of the current positions that the person may see."""
    wanted = {
        "machine__site_id": which.site_id,
        "machine_id": which.machine_id,
        "circuit": which.circuit,
        "consequence": which.consequence,
        "exposure": which.exposure,
    }
    found = Position.objects.visible_to(person).filter(
        withdrawn_at=None, **{name: value for name, value in wanted.items() if value}
    )
    page = page_of(_joined(found), order=ORDERS[order], after=after, size=size)
    return Page(tuple(_facts(row) for row in page.rows), page.after)


def position_facts(person: Person, position_id: int) -> PositionFacts | None:
    """One position, if the person may see it."""
    row = _joined(Position.objects.visible_to(person).filter(pk=position_id)).first()
    return _facts(row) if row else None


def _joined(found: Any) -> Any:
    held = Stay.objects.filter(is_open=True).select_related("assembly")
    return found.select_related("machine__site", "required_spec").prefetch_related(
        Prefetch("stays", queryset=held, to_attr="open_stays")
    )


def _facts(row: Any) -> PositionFacts:
    return PositionFacts(
        id=row.pk,
        site=row.machine.site.code,
        machine_id=row.machine_id,
        machine=row.machine.fleet_number,
        required_spec=row.required_spec.code if row.required_spec else "",
        holds=_held(row.open_stays[0]) if row.open_stays else None,
        **{name: getattr(row, name) for name in _AS_THEY_STAND},
    )


_AS_THEY_STAND = (
    *("place", "place_no", "walk_order", "circuit", "counts", "consequence", "exposure"),
    *("pressure_bar", "surge_bar", "flow_l_per_min", "oil_temperature_c"),
    *("ambient_temperature_c", "fluid", "bend_radius_mm", "port_a", "port_b", "access_group"),
    "version",
)


def _held(stay: Stay) -> HeldFacts:
    return HeldFacts(
        stay.assembly_id,
        stay.assembly.tag_id or "",
        stay.assembly.owner_mark,
        stay.from_earliest_on,
        stay.from_latest_on,
        stay.from_machine_h,
    )
