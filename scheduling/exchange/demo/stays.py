"""Where each of the demo's hoses has been: bench, store, machine, scrap."""

import datetime as dt
from dataclasses import dataclass

from assemblies.models import Position, Stay
from fleet.models import Person
from scheduling.exchange.demo.days import moment
from scheduling.exchange.demo.hoses import Hose, Rack
from scheduling.exchange.demo.timeline import Came, Fit

REASONS = {
    "due": "changed in time",
    "failed": "failed in service",
    "found_bad": "found bad when it was looked at",
}


@dataclass(frozen=True)
class Spot:
    """A place and the moments between which a hose was there; `until` None: still there."""

    place: str
    since: dt.datetime | None
    since_on: dt.date | None
    until: dt.datetime | None = None
    until_on: dt.date | None = None
    removal: str = ""
    position: Position | None = None


def lay_stays(rack: Rack, hose: Hose, fit: Fit) -> None:
    """The stays of a hose that was on a machine, with its words in the trail."""
    person = _who(rack, fit, fit.fitted_on)
    if fit.came is Came.BUILT:
        _lay_before(rack, hose, fit, person)
    _lay_on_machine(rack, hose, fit, person)
    if fit.removed_on is not None:
        _lay_scrapped(rack, hose, fit, fit.removed_on)
    elif fit.place.plan.machine.site is not hose.site:
        hose.assembly.site = fit.place.plan.machine.site


def _lay_before(rack: Rack, hose: Hose, fit: Fit, person: Person) -> None:
    """Off the bench the same day; into the store where it was built ahead."""
    hose.built_hour = min(10.0, fit.fitted_hour - 1.5)
    built_at = moment(fit.built_on, hose.built_hour)
    fitted_at = moment(fit.fitted_on, fit.fitted_hour)
    stored_at = moment(fit.built_on, 15.5) if fit.built_on < fit.fitted_on else fitted_at
    bench = Spot("bench", built_at, fit.built_on, stored_at, fit.built_on, "moved")
    if fit.built_on < fit.fitted_on:
        add_stay(rack, hose, bench, person)
        store = Spot("store", stored_at, fit.built_on, fitted_at, fit.fitted_on, "moved")
        add_stay(rack, hose, store, person)
    else:
        add_stay(rack, hose, bench, person)


def _lay_on_machine(rack: Rack, hose: Hose, fit: Fit, person: Person) -> None:
    removed_at = moment(fit.removed_on, fit.removed_hour) if fit.removed_on else None
    came_at = None if fit.came is Came.FOUND else moment(fit.fitted_on, fit.fitted_hour)
    on = Spot(
        "position",
        came_at,
        fit.fitted_on,
        removed_at,
        fit.removed_on,
        fit.why,
        fit.place.position,
    )
    off_on = _off_for_access(rack, fit)
    if off_on is None:
        _add_fitted(rack, hose, fit, on, person)
        return
    off_at, back_at = moment(off_on, 9), moment(off_on, 14)
    first = Spot("position", came_at, fit.fitted_on, off_at, off_on, "access", fit.place.position)
    _add_fitted(rack, hose, fit, first, person)
    add_stay(rack, hose, Spot("bench", off_at, off_on, back_at, off_on, "moved"), person)
    again = Spot("position", back_at, off_on, removed_at, fit.removed_on, fit.why, on.position)
    _add_fitted(rack, hose, fit, again, person)


def _off_for_access(rack: Rack, fit: Fit) -> dt.date | None:
    """The day on which this hose was off for a while, where the tables say so."""
    happening = fit.place.happening
    if happening is None or happening.kind != "access":
        return None
    on = rack.days.ago(happening.days_ago)
    while_on = fit.fitted_on < on and (fit.removed_on is None or on < fit.removed_on)
    return on if while_on else None


def _add_fitted(rack: Rack, hose: Hose, fit: Fit, spot: Spot, person: Person) -> None:
    """A stay on the position with the hours between which it was there."""
    plan = fit.place.plan
    stay = add_stay(rack, hose, spot, person)
    if spot.since is None:
        _date_found(stay, hose, fit)
    elif spot.since_on is not None:
        stay.from_machine_h = plan.machine_h(spot.since_on)
    if spot.until_on is not None:
        stay.to_machine_h = plan.machine_h(spot.until_on)
    if stay.from_machine_h is not None and stay.to_machine_h is not None:
        hose.assembly.earlier_h += stay.to_machine_h - stay.from_machine_h
    where = f"{plan.machine}, {spot.position}"
    after = {"place": where, "on": spot.since_on, "machine_h": stay.from_machine_h}
    verb = "found on a machine" if spot.since is None else "fitted"
    at = spot.since or moment(fit.fitted_on, 9)
    rack.register.tell(verb, hose.assembly, at=at, by=person, site=hose.site, after=after)


def _date_found(stay: Stay, hose: Hose, fit: Fit) -> None:
    """Fitted some day between when it was made and when it was found, if that is known."""
    assembly, plan = hose.assembly, fit.place.plan
    earliest = assembly.built_earliest_on or assembly.made_earliest_on
    if earliest is None:
        stay.from_earliest_on = stay.from_latest_on = None
        stay.from_precision = ""
        stay.from_typed = "not known"
        return
    if not plan.came_used:
        earliest = max(earliest, plan.machine.in_service_from or earliest)
    stay.from_earliest_on = min(earliest, fit.fitted_on)
    stay.from_precision, stay.from_typed = "range", "found at the walk-down"


def _lay_scrapped(rack: Rack, hose: Hose, fit: Fit, on: dt.date) -> None:
    """A hose that comes off is scrap: it is never used again on another place."""
    site, person = fit.place.plan.site_on(on), _who(rack, fit, on)
    at = moment(on, fit.removed_hour)
    assembly = hose.assembly
    hose.site = assembly.site = site
    assembly.condition = "scrap"
    assembly.withdrawn_at, assembly.withdrawn_by = at, person
    assembly.withdrawal_reason = REASONS[fit.why]
    add_stay(rack, hose, Spot("scrapped", at, on), person)
    before = {"place": f"{fit.place.plan.machine}, {fit.place.position}"}
    after = {"place": "scrapped", "removal": fit.why, "machine_h": fit.place.plan.machine_h(on)}
    rack.register.tell("removed", assembly, at=at, by=person, site=site, before=before, after=after)


def add_stay(rack: Rack, hose: Hose, spot: Spot, person: Person) -> Stay:
    """One stay, open or closed, at the site of its first day."""
    site = hose.site
    if hose.fit is not None and spot.since_on is not None:
        site = hose.fit.place.plan.site_on(spot.since_on)
    stay = Stay(
        assembly=hose.assembly,
        place=spot.place,
        position=spot.position,
        site=site,
        store_place=_RACKS[site.code] if spot.place == "store" else "",
        from_at=spot.since,
        from_earliest_on=spot.since_on,
        from_latest_on=spot.since_on,
        from_precision="day",
        to_at=spot.until,
        to_on=spot.until_on,
        is_open=spot.until_on is None,
        removal=spot.removal,
        recorded_by=person,
        recorded_at=spot.since or moment(spot.since_on or rack.days.start, 9),
    )
    hose.stays.append(rack.register.add(stay))
    return stay


_RACKS = {"BQ": "rack B", "SW": "container 2"}


def _who(rack: Rack, fit: Fit, on: dt.date) -> Person:
    return rack.fleet.fitter(fit.place.plan.site_on(on), on.toordinal())
