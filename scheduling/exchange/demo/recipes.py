"""The demo's crimp recipes: from the chart where one names the pair, by trial for one, else none."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import product

from assemblies.calc.crimping import Joint, crimp_od_for_compression_mm, external_skive_mm
from assemblies.calc.trial import evaluate_trial
from assemblies.models import (
    Crimper,
    CrimpRecipe,
    CrimpTrial,
    FittingRevision,
    Instrument,
    RecipeRevision,
    TrialPress,
)
from fleet.models import Person, Site
from scheduling.exchange.demo.catalogue import Catalogue, series_of
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import ChartRow, HoseRow, tables

TRIED_HOSE = "B3W-19"
TRIED_RATING_BAR = Decimal(250)
TRIED_COMPRESSION = 0.48
NIGHT_HOSE = "B2SC-12"
NIGHT_RATING_BAR = Decimal(200)
NIGHT_COMPRESSION = 0.45
STEP_MM = Decimal("0.05")


@dataclass
class Workshop:
    """Crimpers and instruments of each site."""

    crimpers: dict[str, Crimper] = field(default_factory=dict)
    instruments: dict[tuple[str, str], Instrument] = field(default_factory=dict)


@dataclass
class RecipeBook:
    """The recipes by hose and fitting code."""

    register: Register
    days: Days
    fleet: FleetPlan
    catalogue: Catalogue
    workshop: Workshop
    recipes: dict[tuple[str, str], RecipeRevision | None] = field(default_factory=dict)
    night_on: dt.date | None = None

    def recipe(self, hose: HoseRow, end: str) -> RecipeRevision | None:
        """The recipe of a hose and an end; None where nobody has one."""
        fitting = self.catalogue.fitting(end, hose)
        key = hose.code, fitting.header.code
        if key not in self.recipes:
            self.recipes[key] = self._lay(hose, end, fitting)
        return self.recipes[key]

    def _lay(self, hose: HoseRow, end: str, fitting: FittingRevision) -> RecipeRevision | None:
        series = series_of(end, hose)
        charts = (c for c in tables().charts if (c.chart, c.fitting_series) == (hose.chart, series))
        chart = next(charts, None)
        if chart is not None:
            return self._published(hose, fitting, chart)
        if hose.code == TRIED_HOSE:
            return self._tried(hose, fitting)
        if hose.code == NIGHT_HOSE and self.night_on is not None:
            return self._provisional(hose, fitting, self.night_on)
        return None

    def _header(self, hose: HoseRow, fitting: FittingRevision) -> CrimpRecipe:
        return self.register.add(
            CrimpRecipe(
                hose=self.catalogue.hoses[hose.code].header,
                fitting=fitting.header,
                shell=self.catalogue.shell(hose).header,
            )
        )

    def _figures(
        self, hose: HoseRow, fitting: FittingRevision, compression: float
    ) -> RecipeRevision:
        """A revision with the figures that geometry gives; the state is set by the caller."""
        shell = self.catalogue.shell(hose)
        od = _rounded(crimp_od_for_compression_mm(_joint(hose, fitting, self), compression))
        return RecipeRevision(
            header=self._header(hose, fitting),
            insertion_depth_mm=shell.internal_depth_mm,
            external_skive="none",
            die_set=f"D{int(od) // 2 * 2:02}",
            crimp_od_mm=od,
            pin_mm=_rounded(float(fitting.tail_bore_mm or 0) - 0.15),
            pin_from="nut end" if fitting.form == "straight" else "hose end, before the crimp",
            temperature_high_c=hose.high_c,
        )

    def _published(
        self, hose: HoseRow, fitting: FittingRevision, chart: ChartRow
    ) -> RecipeRevision:
        revision = self._figures(hose, fitting, chart.compression)
        revision.basis, revision.chart_source = "published", chart.source
        revision.working_pressure_bar, revision.note = hose.pressure_bar, chart.note
        if chart.external_skive == "length":
            depth = float(self.catalogue.shell(hose).internal_depth_mm or 0)
            revision.external_skive = "length"
            revision.external_skive_mm = Decimal(str(external_skive_mm(depth)))
        if chart.internal_skive_mm:
            revision.internal_skive, revision.internal_skive_mm = "length", chart.internal_skive_mm
        self.catalogue.approve(self.register.add(revision), str(revision.header))
        return revision

    def _tried(self, hose: HoseRow, fitting: FittingRevision) -> RecipeRevision:
        """Three braids in a two-layer shell: two trials that agree, rated by a named person."""
        revision = self._figures(hose, fitting, TRIED_COMPRESSION)
        skive = external_skive_mm(float(self.catalogue.shell(hose).internal_depth_mm or 0))
        revision.basis, revision.external_skive = "trial", "length"
        revision.external_skive_mm = Decimal(str(skive))
        revision.working_pressure_bar = TRIED_RATING_BAR
        revision.rated_by = self.fleet.people["manager"]
        revision.note = "Skived to the braid so that three layers enter the two-layer shell."
        self.catalogue.approve(self.register.add(revision), str(revision.header))
        site, fitter = self.fleet.sites["BQ"], self.fleet.people["fitter.bq"]
        for number, begun_on in enumerate(
            (self.days.start, self.days.start + dt.timedelta(days=1))
        ):
            lay_trial(self, revision, site, fitter, begun_on, above=Decimal("0.10") * number)
        return revision

    def _provisional(self, hose: HoseRow, fitting: FittingRevision, on: dt.date) -> RecipeRevision:
        """One trial in one night: enough for a conditional release, not for a recipe."""
        revision = self._figures(hose, fitting, NIGHT_COMPRESSION)
        fitter, site = self.fleet.people["fitter.sw"], self.fleet.sites["SW"]
        revision.basis, revision.state = "trial", "provisional"
        revision.working_pressure_bar = NIGHT_RATING_BAR
        revision.rated_by = self.fleet.people["manager"]
        revision.made_by, revision.made_at = fitter, moment(on, 1.5)
        if fitting.form != "straight":
            revision.note = "Trial made on the straight end of the same tail and shell."
        self.register.add(revision)
        if fitting.form == "straight":
            lay_trial(self, revision, site, fitter, on, above=Decimal(0))
        return revision


def lay_workshop(register: Register, days: Days, fleet: FleetPlan) -> Workshop:
    """A crimper, a micrometer, a depth caliper, a pressure gauge and a pin set at each site."""
    workshop = Workshop()
    tools = ("Micrometer", "Depth caliper", "Pressure gauge", "Pin set")
    for number, site in enumerate(fleet.sites.values(), start=1):
        calibrated_on = days.ago(70 + 55 * number)
        dates = {"calibrated_on": calibrated_on, "calibration_due_on": _year_after(calibrated_on)}
        code, about = f"CP-{number}", f"Bench crimper, {site.name}"
        crimper = Crimper(site=site, code=code, description=about, **dates)
        workshop.crimpers[site.code] = register.add(crimper)
    for (number, tool), site in product(enumerate(tools, start=1), fleet.sites.values()):
        calibrated_on = days.ago(40 * number + len(site.name))
        instrument = Instrument(
            site=site,
            code=f"{site.code}-M{number}",
            description=tool,
            calibrated_on=calibrated_on,
            calibration_due_on=_year_after(calibrated_on),
        )
        workshop.instruments[site.code, tool] = register.add(instrument)
    return workshop


def lay_trial(
    book: RecipeBook,
    revision: RecipeRevision,
    site: Site,
    fitter: Person,
    on: dt.date,
    *,
    above: Decimal,
) -> None:
    """Step down to the recipe's OD: coarse while the pin goes in freely, then by the small step."""
    closing = (revision.crimp_od_mm or Decimal(0)) + above
    steps = [("2.25", "enters"), ("1.75", "enters"), ("1.25", "enters"), ("0.75", "enters")]
    steps += [("0.50", "enters"), ("0.25", "tight"), ("0.00", "refuses")]
    trial = book.register.add(
        CrimpTrial(
            recipe=revision.header,
            site=site,
            crimper=book.workshop.crimpers[site.code],
            die_set=revision.die_set,
            pin_mm=revision.pin_mm,
            pin_from="nut end, past the crimp",
            begun_at=moment(on, 1.5),
            begun_by=fitter,
        )
    )
    presses = []
    for number, (over, pin) in enumerate(steps, start=1):
        od = closing + Decimal(over)
        readings = [f"{od + d:.2f}" for d in _ROUND_MM] if pin != "enters" else []
        at = moment(on, 1.5 + 0.08 * number)
        press = TrialPress(
            trial=trial,
            number=number,
            setting_mm=od - _DIAL_MM,
            pin=pin,
            od_readings=readings,
            pressed_at=at,
        )
        presses.append(book.register.add(press))
    found = evaluate_trial(
        (p.setting_mm, p.pin, [Decimal(od) for od in p.od_readings]) for p in presses
    )
    detail = {
        "closing_setting_mm": str(found.closing_setting_mm),
        "closing_od_mm": f"{closing:.2f}",
    }
    book.register.close(
        trial, closed_at=moment(on, 2.4), outcome=found.outcome.value, outcome_detail=detail
    )


_ROUND_MM = (Decimal("-0.04"), Decimal("0.00"), Decimal("0.04"))
_DIAL_MM = Decimal("0.15")


def _joint(hose: HoseRow, fitting: FittingRevision, book: RecipeBook) -> Joint:
    shell = book.catalogue.shell(hose)
    return Joint(
        shell_od_mm=float(shell.outside_diameter_mm or 0),
        shell_id_mm=float(shell.inside_diameter_mm or 0),
        hose_bore_mm=float(hose.bore_mm),
        reinforcement_mm=float(hose.reinforcement_mm),
        tail_od_mm=float(fitting.tail_od_mm or 0),
    )


def _rounded(value_mm: float) -> Decimal:
    """To the twentieth of a millimetre, as charts print."""
    return (Decimal(str(value_mm)) / STEP_MM).quantize(Decimal(1)) * STEP_MM


def _year_after(day: dt.date) -> dt.date:
    return day + dt.timedelta(days=365)
