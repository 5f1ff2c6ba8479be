"""The demo's hoses: the assemblies, their tags, and where each has been."""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from random import Random

from assemblies.calc.tags import draw_tag
from assemblies.models import Assembly, Stay, Tag, TagLot
from fleet.models import Site
from scheduling.exchange.demo.days import Days, moment, month_of, quarter_of
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.places import Place
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.specs import SpecPlan, end_text
from scheduling.exchange.demo.tables import HoseRow, tables
from scheduling.exchange.demo.timeline import Came, Fit

LOT_SIZE = 250
UNTAGGED_SHARE = 0.08
VANS = ("Northmoor Hose Van", "Quayside Hose Van")


@dataclass
class Hose:
    """An assembly with what it was made by, for the bench and the looks that come later."""

    assembly: Assembly
    spec: SpecPlan
    site: Site
    fit: Fit | None = None
    built_hour: float = 10.0
    signed: bool = True
    built_at: Site | None = None
    stays: list[Stay] = field(default_factory=list)

    @property
    def built_at_site(self) -> Site:
        return self.built_at or self.site


@dataclass
class Rack:
    """Where hoses are made rows: tags in the order of their lots, assemblies and stays."""

    register: Register
    days: Days
    fleet: FleetPlan
    dice: Random
    hoses: list[Hose] = field(default_factory=list)
    _lots: dict[str, list[TagLot]] = field(default_factory=dict)
    _left: dict[str, list[Tag]] = field(default_factory=dict)
    _drawn: set[str] = field(default_factory=set)

    def tag(self, site: Site, on: dt.date) -> Tag:
        """The next blank tag of the site's last lot; a new lot where that is used up."""
        if not self._left.get(site.code):
            self._draw_lot(site, on)
        return self._left[site.code].pop()

    def _draw_lot(self, site: Site, on: dt.date) -> None:
        lots = self._lots.setdefault(site.code, [])
        planner = self.fleet.people["planner"]
        drawn_at = moment(on - dt.timedelta(days=1), 14)
        lot = TagLot(
            site=site, number=len(lots) + 1, size=LOT_SIZE, drawn_at=drawn_at, drawn_by=planner
        )
        lots.append(self.register.add(lot))
        codes = [self._new_code() for _ in range(LOT_SIZE)]
        tags = [self.register.add(Tag(code=code, lot=lot)) for code in codes]
        self._left[site.code] = tags[::-1]

    def _new_code(self) -> str:
        code = draw_tag(self.dice.choice)
        while code in self._drawn:
            code = draw_tag(self.dice.choice)
        self._drawn.add(code)
        return code

    def hang(self, fit: Fit) -> Hose:
        """The assembly of a fit, with its stays."""
        site = fit.place.plan.site_on(fit.fitted_on)
        assembly = self.register.add(_ASSEMBLIES[fit.came](self, fit, site))
        hose = Hose(assembly, fit.place.spec, site, fit, built_at=site)
        self.hoses.append(hose)
        return hose

    def new_assembly(self, spec: SpecPlan, site: Site, on: dt.date) -> Assembly:
        """An assembly built by its spec; the reel it was cut from is told later."""
        return Assembly(
            site=site,
            tag=self.tag(site, on),
            origin=Assembly.Origin.BUILT,
            spec=spec.on(on),
            hose=spec.hose.header,
            hose_type=spec.hose_row.type,
            size_dn=spec.hose_row.dn,
            length_mm=spec.row.length_mm,
            working_pressure_bar=spec.rating_bar,
            end_a=end_text(spec.fittings[0]),
            end_b=end_text(spec.fittings[1]),
            built_earliest_on=on,
            built_latest_on=on,
            built_precision="day",
            known_from_on=on,
        )


def _built(rack: Rack, fit: Fit, site: Site) -> Assembly:
    return rack.new_assembly(fit.place.spec, site, fit.built_on)


def _bought(rack: Rack, fit: Fit, site: Site) -> Assembly:
    """From a van or a hose shop, with its paper; by the spec, save where a fault says otherwise."""
    assembly = rack.new_assembly(fit.place.spec, site, fit.built_on)
    assembly.origin = Assembly.Origin.BOUGHT
    assembly.supplier = VANS[0] if site.code == "BQ" else VANS[1]
    assembly.certificate = f"{fit.built_on:%y%m}-{rack.dice.randint(100, 999)}"
    assembly.known_from_on = fit.fitted_on
    _date_built(assembly, fit.built_on)
    if fit.fault is not None and fit.fault.kind == "below_duty":
        _make_wrong(assembly, tables().hoses[fit.fault.how], fit.place)
    return assembly


def _make_wrong(assembly: Assembly, row: HoseRow, place: Place) -> None:
    """The van had no hose of the right kind: what it fitted is another, and by no spec of ours."""
    assembly.spec = assembly.hose = None
    assembly.hose_type, assembly.size_dn = row.type, row.dn
    assembly.working_pressure_bar = row.pressure_bar
    assembly.pressure_typed = f"{row.pressure_bar} bar"
    assembly.layline = f"{row.maker}/{row.type}/DN {row.dn}/{row.pressure_bar} bar"
    assembly.note = f"fitted by the van at night; {place.spec.hose_row.type} was not on board"


def _new(rack: Rack, fit: Fit, site: Site) -> Assembly:
    """Came with the new machine: by our spec, the machine maker's build."""
    assembly = rack.new_assembly(fit.place.spec, site, fit.fitted_on)
    assembly.origin = Assembly.Origin.BOUGHT
    assembly.supplier = fit.place.plan.row.maker
    assembly.note = "came with the machine"
    _date_built(assembly, fit.built_on)
    return assembly


def _found(rack: Rack, fit: Fit, site: Site) -> Assembly:
    """Found on the machine: what could be read of it."""
    row, dice = fit.place.spec.hose_row, rack.dice
    plan, position = fit.place.plan, fit.place.position
    tagged = dice.random() > UNTAGGED_SHARE
    marked = not tagged or dice.random() < 0.3
    assembly = Assembly(
        site=site,
        tag=rack.tag(site, fit.fitted_on) if tagged else None,
        owner_mark=f"{plan.row.fleet_number}/{position.walk_order:03}" if marked else "",
        origin=Assembly.Origin.UNKNOWN,
        hose_type=row.type if fit.dated else "",
        size_dn=row.dn,
        size_typed=f"DN{row.dn}",
        length_mm=Decimal(fit.place.spec.row.length_mm + dice.randint(-6, 9)),
        end_a=end_text(fit.place.spec.fittings[0]),
        end_b=end_text(fit.place.spec.fittings[1]),
        known_from_on=fit.fitted_on,
    )
    if fit.dated:
        _read_layline(rack, assembly, fit, row)
    else:
        assembly.note = "nothing to be read on hose or shells"
    return assembly


def _read_layline(rack: Rack, assembly: Assembly, fit: Fit, row: HoseRow) -> None:
    """The hose's own quarter from the layline; on most shells a stamped month too."""
    made_on = fit.built_on - dt.timedelta(days=rack.dice.randint(40, 300))
    first, last, printed = quarter_of(made_on)
    assembly.made_earliest_on, assembly.made_latest_on = first, last
    assembly.made_precision, assembly.made_typed = "quarter", printed
    assembly.made_confirmed_by = rack.fleet.fitter(assembly.site, 1)
    assembly.layline = f"{row.maker}/{row.type}/DN {row.dn}/{row.pressure_bar} bar/{printed}"
    assembly.working_pressure_bar = row.pressure_bar
    assembly.pressure_typed = f"{row.pressure_bar} bar"
    forever = fit.removed_on is None
    if forever or rack.dice.random() < 0.7:
        _date_built(assembly, fit.built_on, exact=forever)


def _date_built(assembly: Assembly, on: dt.date, *, exact: bool = False) -> None:
    first, last, stamped = month_of(on)
    assembly.built_earliest_on, assembly.built_latest_on = first, last
    assembly.built_precision, assembly.built_typed = "month", stamped
    if exact:
        assembly.built_earliest_on = assembly.built_latest_on = on
        assembly.built_precision, assembly.built_typed = "day", f"{on:%d.%m.%Y}"


_ASSEMBLIES: dict[Came, Callable[[Rack, Fit, Site], Assembly]] = {
    Came.BUILT: _built,
    Came.BOUGHT: _bought,
    Came.NEW: _new,
    Came.FOUND: _found,
}
