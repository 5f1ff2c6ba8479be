"""The demo's hoses on no machine: spares, what was built ahead, what is on the bench."""

import datetime as dt
from random import Random

from scheduling.exchange.demo.days import Days, moment, months_after, workday_before
from scheduling.exchange.demo.hoses import Hose, Rack
from scheduling.exchange.demo.places import Key, Place
from scheduling.exchange.demo.stays import Spot, add_stay
from scheduling.exchange.demo.tables import FaultRow, tables
from scheduling.exchange.demo.timeline import BUILT_LIMIT_MONTHS

SPARES = 34
LONGEST_STORED_DAYS = 560
ON_BENCH = 3
SOON_DAYS = 75
BUILT_AHEAD_SHARE = 0.5


def lay_spares(rack: Rack, places: dict[Key, Place], days: Days) -> None:
    """Spares of common places, some of them marked by the store; the planted ones among them."""
    dice = days.stream("spares")
    common = [place for place in places.values() if place.spec.buildable]
    chosen = dice.sample(common, SPARES + ON_BENCH)
    for number, place in enumerate(chosen[:SPARES], start=1):
        built_on = workday_before(days.ago(dice.randint(4, LONGEST_STORED_DAYS)))
        _lay_spare(rack, place, built_on, _mark(dice, place, number))
    for place in chosen[SPARES:]:
        _lay_on_bench(rack, place, workday_before(days.ago(1)))
    for hose in list(rack.hoses):
        if _falls_due_soon(hose, days) and dice.random() < BUILT_AHEAD_SHARE:
            built_on = workday_before(days.ago(dice.randint(2, 18)))
            _lay_spare(rack, _place_of(hose), built_on, "")
    for fault in tables().faults:
        if fault.kind == "stored_too_long":
            _lay_forgotten(rack, places, fault, days)


def _falls_due_soon(hose: Hose, days: Days) -> bool:
    """Whether a hose that can be built here reaches six years from built within weeks."""
    fit = hose.fit
    if fit is None or fit.removed_on is not None or not hose.spec.buildable:
        return False
    left = (months_after(fit.built_on, BUILT_LIMIT_MONTHS) - days.today).days
    return 0 < left < SOON_DAYS


def _place_of(hose: Hose) -> Place:
    if hose.fit is None:
        raise ValueError(f"{hose.assembly} hangs on no place.")
    return hose.fit.place


def _mark(dice: Random, place: Place, number: int) -> str:
    site = place.plan.machine.site.code
    return f"{site}-ST-{100 + number:04}" if dice.random() < 0.4 else ""


def _lay_forgotten(rack: Rack, places: dict[Key, Place], fault: FaultRow, days: Days) -> None:
    place = places[fault.machine, fault.place, fault.place_no or 1]
    built_on = workday_before(months_after(days.today, -int(fault.figure or 0)))
    _lay_spare(rack, place, built_on, fault.mark)


def _lay_spare(rack: Rack, place: Place, built_on: dt.date, mark: str) -> None:
    hose = _hose(rack, place, built_on)
    hose.assembly.owner_mark = mark
    person = rack.fleet.fitter(hose.site, built_on.toordinal())
    built_at, stored_at = moment(built_on, 10), moment(built_on, 15.5)
    add_stay(rack, hose, Spot("bench", built_at, built_on, stored_at, built_on, "moved"), person)
    add_stay(rack, hose, Spot("store", stored_at, built_on), person)


def _lay_on_bench(rack: Rack, place: Place, built_on: dt.date) -> None:
    """Crimped yesterday, to be tested and signed."""
    hose = _hose(rack, place, built_on)
    hose.signed = False
    person = rack.fleet.fitter(hose.site, built_on.toordinal())
    add_stay(rack, hose, Spot("bench", moment(built_on, 10), built_on), person)


def _hose(rack: Rack, place: Place, built_on: dt.date) -> Hose:
    site = place.plan.machine.site
    assembly = rack.register.add(rack.new_assembly(place.spec, site, built_on))
    hose = Hose(assembly, place.spec, site, built_at=site)
    rack.hoses.append(hose)
    return hose
