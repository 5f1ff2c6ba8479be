"""The demo's hoses that are on no machine now: spares, what was built ahead, what is on the bench."""

import datetime as dt
from random import Random

from scheduling.exchange.demo.days import Days, months_after, workday_before
from scheduling.exchange.demo.days import moment
from scheduling.exchange.demo.hoses import Hose, Rack
from scheduling.exchange.demo.places import Key, Place
from scheduling.exchange.demo.stays import Spot, add_stay
from scheduling.exchange.demo.tables import FaultRow, tables

SPARES = 34
LONGEST_STORED_DAYS = 560
ON_BENCH = 3


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
    for fault in tables().faults:
        if fault.kind == "stored_too_long":
            _lay_forgotten(rack, places, fault, days)


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
