"""The demo's positions: every place on every machine, with its duty."""

from dataclasses import dataclass
from decimal import Decimal
from random import Random

from assemblies.models import Position
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.fleet import FleetPlan, MachinePlan
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.specs import SpecPlan
from scheduling.exchange.demo.tables import DutyRow, FaultRow, HappeningRow, RuleRow, tables

UNDECIDED_SHARE = 0.03

Key = tuple[str, str, int]


@dataclass
class Place:
    """A position with all that decides what becomes of its hoses."""

    plan: MachinePlan
    position: Position
    spec: SpecPlan
    duty: DutyRow
    fitted_months: int | None = None
    fitting_h: Decimal | None = None
    half_yearly: bool = False
    fault: FaultRow | None = None
    happening: HappeningRow | None = None

    @property
    def key(self) -> Key:
        return self.plan.row.fleet_number, self.position.place, self.position.place_no


def lay_places(
    register: Register, days: Days, fleet: FleetPlan, specs: list[SpecPlan]
) -> dict[Key, Place]:
    """Every position of every machine, in the order of the walk round it."""
    places = {}
    for plan in fleet.machines.values():
        dice = days.stream("places", plan.row.fleet_number)
        walk = 0
        for spec in (spec for spec in specs if spec.row.layout == plan.row.layout):
            for name in spec.row.places:
                for number in range(1, spec.row.count + 1):
                    walk += 10
                    position = _position(dice, plan, spec, (name, number, walk))
                    place = Place(plan, position, spec, tables().duties[spec.row.duty])
                    _add(register, fleet, place)
                    places[place.key] = place
    _mark(places)
    return places


def _position(
    dice: Random, plan: MachinePlan, spec: SpecPlan, where: tuple[str, int, int]
) -> Position:
    row, duty = spec.row, tables().duties[spec.row.duty]
    name, number, walk = where
    decided = dice.random() >= UNDECIDED_SHARE
    straight = spec.hose_row.reinforcement == "helix_suction"
    radius = round(float(spec.hose_row.bend_radius_mm) * dice.uniform(1.05, 1.5), -1)
    return Position(
        machine=plan.machine,
        place=name,
        place_no=number,
        walk_order=walk,
        circuit=duty.circuit,
        counts=plan.row.counter,
        consequence=duty.consequence,
        exposure=row.exposure,
        pressure_bar=duty.pressure_bar,
        surge_bar=duty.surge_bar,
        flow_l_per_min=row.flow_l_per_min,
        oil_temperature_c=duty.oil_c,
        ambient_temperature_c=duty.ambient_c,
        fluid=duty.fluid,
        bend_radius_mm=None if straight else Decimal(str(radius)),
        port_a=_port(spec, 0),
        port_b=_port(spec, 1),
        required_spec=spec.revisions[0][1].header if decided else None,
        labour_h=_labour_h(spec),
        people=2 if row.lifting or spec.hose_row.dn >= 51 else 1,
        lifting_needed=row.lifting,
        access_group=row.group,
    )


def _port(spec: SpecPlan, end: int) -> str:
    name = spec.row.ends.split("/")[end].split("-")[0]
    return tables().connections[name, spec.hose_row.dn].port


def _labour_h(spec: SpecPlan) -> Decimal:
    """Half an hour and more with the size and the length; twice that with a platform or a prop."""
    plain = 0.5 + spec.hose_row.dn / 40 + spec.row.length_mm / 6000
    return Decimal(str(round(plain * (2 if spec.row.lifting else 1) * 4) / 4))


def _add(register: Register, fleet: FleetPlan, place: Place) -> None:
    """The position's row; the limits that the rules set its hoses; a word in the trail."""
    position = register.add(place.position)
    rules = [rule for rule in tables().rules if _speaks_of(rule, place)]
    place.fitted_months = min((r.fitted_months for r in rules if r.fitted_months), default=None)
    place.fitting_h = min((r.hours_fitting for r in rules if r.hours_fitting), default=None)
    place.half_yearly = any(r.inspect_months == 6 or r.inspect_hours for r in rules)
    register.tell(
        "added a position",
        position,
        at=moment(place.plan.walked_on, 8),
        by=fleet.people["planner"],
        site=place.plan.first_site,
        after={"place": position.place, "circuit": position.circuit},
    )


def _speaks_of(rule: RuleRow, place: Place) -> bool:
    """Whether a rule's whole scope fits a position."""
    scope = (
        (rule.site, place.plan.machine.site.code),
        (rule.machine_class, place.plan.row.machine_class),
        (rule.circuit, place.duty.circuit),
        (rule.hose_type, place.spec.hose_row.type),
        (rule.consequence, place.duty.consequence),
        (rule.exposure, place.spec.row.exposure),
    )
    return all(not wanted or wanted == found for wanted, found in scope)


def _mark(places: dict[Key, Place]) -> None:
    """Put the planted faults and the happenings on their places."""
    for fault in tables().faults:
        if fault.place and fault.kind != "stored_too_long":
            _there(places, fault).fault = fault
    for happening in tables().happenings:
        if happening.place:
            _there(places, happening).happening = happening


def _there(places: dict[Key, Place], row: FaultRow | HappeningRow) -> Place:
    place = places.get((row.machine, row.place, row.place_no or 1))
    if place is None:
        raise ValueError(f"{row.kind}: {row.machine} has no place “{row.place}”.")
    return place
