"""The demo's workshops: what crimps, measures and tests at each site."""

import datetime as dt
from dataclasses import dataclass, field
from itertools import product

from assemblies.models import Crimper, Instrument
from scheduling.exchange.demo.days import Days
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.register import Register

TOOLS = ("Micrometer", "Depth caliper", "Pressure gauge", "Pin set")


@dataclass
class Workshop:
    """Crimpers by site, instruments by site and kind."""

    crimpers: dict[str, Crimper] = field(default_factory=dict)
    instruments: dict[tuple[str, str], Instrument] = field(default_factory=dict)


def lay_workshop(register: Register, days: Days, fleet: FleetPlan) -> Workshop:
    """A crimper, a micrometer, a depth caliper, a pressure gauge and a pin set at each site."""
    workshop = Workshop()
    for number, site in enumerate(fleet.sites.values(), start=1):
        dates = _calibrated(days, 70 + 55 * number)
        code, about = f"CP-{number}", f"Bench crimper, {site.name}"
        crimper = Crimper(site=site, code=code, description=about, **dates)
        workshop.crimpers[site.code] = register.add(crimper)
    for (number, tool), site in product(enumerate(TOOLS, start=1), fleet.sites.values()):
        dates = _calibrated(days, 40 * number + len(site.name))
        code = f"{site.code}-M{number}"
        instrument = Instrument(site=site, code=code, description=tool, **dates)
        workshop.instruments[site.code, tool] = register.add(instrument)
    return workshop


def _calibrated(days: Days, days_ago: int) -> dict[str, dt.date]:
    on = days.ago(days_ago)
    return {"calibrated_on": on, "calibration_due_on": on + dt.timedelta(days=365)}
