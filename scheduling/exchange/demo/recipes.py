"""The demo's crimp recipes: from a chart that names the pair, by trial for two, else none."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal

from assemblies.calc.crimping import Joint, crimp_od_for_compression_mm, external_skive_mm
from assemblies.models import CrimpRecipe, FittingRevision, RecipeRevision
from scheduling.exchange.demo.catalogue import Catalogue, series_of
from scheduling.exchange.demo.days import Days, moment
from scheduling.exchange.demo.fleet import FleetPlan
from scheduling.exchange.demo.register import Register
from scheduling.exchange.demo.tables import ChartRow, HoseRow, tables
from scheduling.exchange.demo.trials import Piece, Stage, lay_trial
from scheduling.exchange.demo.workshop import Workshop

TRIED_HOSE = "B3W-19"
TRIED_RATING_BAR = Decimal(250)
TRIED_COMPRESSION = 0.48
NIGHT_HOSE = "B2SC-12"
NIGHT_RATING_BAR = Decimal(200)
NIGHT_COMPRESSION = 0.45
STEP_MM = Decimal("0.05")


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
        revision.working_pressure_bar = hose.pressure_bar
        if chart.external_skive == "length":
            depth = float(self.catalogue.shell(hose).internal_depth_mm or 0)
            revision.external_skive = "length"
            revision.external_skive_mm = Decimal(str(external_skive_mm(depth)))
        if chart.internal_skive_mm:
            revision.internal_skive, revision.internal_skive_mm = "length", chart.internal_skive_mm
        self.catalogue.approve(self.register.add(revision), "crimp recipe", str(revision.header))
        return revision

    def _tried(self, hose: HoseRow, fitting: FittingRevision) -> RecipeRevision:
        """Three braids in a two-layer shell: two trials that agree, rated by a named person."""
        revision = self._figures(hose, fitting, TRIED_COMPRESSION)
        skive = external_skive_mm(float(self.catalogue.shell(hose).internal_depth_mm or 0))
        revision.basis, revision.external_skive = "trial", "length"
        revision.external_skive_mm = Decimal(str(skive))
        revision.working_pressure_bar = TRIED_RATING_BAR
        revision.rated_by = self.fleet.people["manager"]
        revision.change_note = "Skived to the braid so that three layers enter the two-layer shell."
        self.catalogue.approve(self.register.add(revision), "crimp recipe", str(revision.header))
        site, fitter = self.fleet.sites["BQ"], self.fleet.people["fitter.bq"]
        for number in (0, 1):
            begun_at = moment(self.days.start, 9.5 + 2 * number)
            piece = Piece(revision, fitting, _joint(hose, fitting, self), hose.layers)
            stage = Stage(site, self.workshop, fitter, begun_at)
            lay_trial(self.register, piece, stage, above=Decimal("0.10") * number, proven=True)
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
            revision.change_note = "Trial made on the straight end of the same tail and shell."
        self.register.add(revision)
        if fitting.form == "straight":
            piece = Piece(revision, fitting, _joint(hose, fitting, self), hose.layers)
            stage = Stage(site, self.workshop, fitter, moment(on, 1.5))
            lay_trial(self.register, piece, stage, above=Decimal(0), proven=False)
        return revision


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
