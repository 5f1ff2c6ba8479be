"""The demo's bench: a build record for each hose made here, cut from a reel, tested and signed."""

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal
from random import Random

from assemblies.models import BuildEnd, BuildRecord, RecipeRevision, SpecRevision
from fleet.models import Person
from scheduling.exchange.demo.days import moment
from scheduling.exchange.demo.hoses import Hose
from scheduling.exchange.demo.stores import Bulk, Stores
from scheduling.exchange.demo.workshop import Workshop

WASTE_M = Decimal("0.030")
PROOF_FACTOR = 2
_CENT = Decimal("0.01")


@dataclass(frozen=True)
class Bench:
    """What builds are made with."""

    stores: Stores
    workshop: Workshop
    dice: Random

    def lay_builds(self, hoses: list[Hose]) -> None:
        """A build record for each hose that was built here, in order of the days."""
        built = [hose for hose in hoses if hose.assembly.origin == "built"]
        for number, hose in enumerate(sorted(built, key=_when)):
            self._lay_build(hose, number)

    def _lay_build(self, hose: Hose, number: int) -> None:
        assembly, site = hose.assembly, hose.built_at_site
        on = assembly.built_earliest_on or self.stores.days.today
        fitter = self.stores.fleet.fitter(site, on.toordinal())
        night = _released(hose)
        build = BuildRecord(
            assembly=assembly,
            site=site,
            spec=_spec_of(hose),
            reel=None,
            crimper=self.workshop.crimpers[site.code],
            built_on=on,
            cut_square=True,
            bore_cleaned_with="foam plug, twice",
            cut_length_mm=self._cut_mm(hose),
            flushed_with="filtered HVLP 46",
            made_by=fitter,
            note="made at night for a breakdown; no proof test" if night else "",
        )
        self._cut_from_reel(hose, build, on)
        self._test(hose, build, number, night=night)
        self.stores.register.add(build)
        for which in (0, 1):
            self._lay_end(hose, build, which, on)
        if hose.signed:
            self._sign(hose, build, fitter, on)

    def _cut_mm(self, hose: Hose) -> Decimal:
        return hose.spec.cut_length_mm + Decimal(self.dice.choice((0, 0, 0, 1, -1)))

    def _cut_from_reel(self, hose: Hose, build: BuildRecord, on: dt.date) -> None:
        bulk = Bulk(hose.spec.hose_row, hose.spec.hose.header)
        metres = (hose.spec.cut_length_mm / 1000).quantize(_CENT) + WASTE_M
        fault, ref = hose.fit.fault if hose.fit else None, str(hose.assembly.tag_id)
        if fault is not None and fault.kind == "reel_too_old":
            months = int(fault.figure or 0)
            reel = self.stores.cut_old(bulk, build.site, on, metres, months)
        else:
            reel = self.stores.cut(bulk, build.site, on, metres, ref)
        build.reel, assembly = reel, hose.assembly
        assembly.made_earliest_on, assembly.made_latest_on = (
            reel.made_earliest_on,
            reel.made_latest_on,
        )
        assembly.made_precision, assembly.made_typed = reel.made_precision, reel.made_typed
        assembly.layline = reel.layline

    def _test(self, hose: Hose, build: BuildRecord, number: int, *, night: bool) -> None:
        """Every build at the quarry, one in four at the wharf, trial-based ones always."""
        by_trial = any(r is not None and r.basis == "trial" for r in hose.spec.recipes)
        if night or (number % build.site.proof_test_one_in and not by_trial):
            return
        build.proof_pressure_bar = hose.spec.rating_bar * PROOF_FACTOR
        build.proof_hold_s, build.proof_passed = 60, True
        build.cleanliness = "18/16/13"
        build.gauge = self.workshop.instruments[build.site.code, "Pressure gauge"]

    def _lay_end(self, hose: Hose, build: BuildRecord, which: int, on: dt.date) -> None:
        recipe, fitting = hose.spec.recipes[which], hose.spec.fittings[which]
        if recipe is None or recipe.crimp_od_mm is None:
            raise ValueError(f"{hose.assembly} can't have been built here: an end has no recipe.")
        ref = str(hose.assembly.tag_id)
        readings = self._readings(recipe)
        end = BuildEnd(
            build=build,
            which="AB"[which],
            recipe=recipe,
            fitting_lot=self.stores.take(fitting.header, build.site, on, ref),
            shell_lot=self.stores.take(hose.spec.shell.header, build.site, on, ref),
            die_set=recipe.die_set,
            insertion_depth_mm=recipe.insertion_depth_mm,
            external_skive=recipe.external_skive,
            external_skive_mm=recipe.external_skive_mm,
            internal_skive=recipe.internal_skive,
            internal_skive_mm=recipe.internal_skive_mm,
            od_readings=[str(reading) for reading in readings],
            crimp_od_mm=(sum(readings, Decimal(0)) / len(readings)).quantize(_CENT),
            ovality_mm=max(readings) - min(readings),
            pin="refuses" if recipe.basis == "trial" else "enters",
            mark_visible=True,
            instrument=self.workshop.instruments[build.site.code, "Micrometer"],
        )
        self.stores.register.add(end)

    def _readings(self, recipe: RecipeRevision) -> list[Decimal]:
        """Three round the shell, within the tolerance: a build outside it is never signed."""
        middle = float(recipe.crimp_od_mm or 0) + max(-0.06, min(self.dice.gauss(0, 0.025), 0.06))
        return [
            Decimal(str(middle + self.dice.uniform(-0.03, 0.03))).quantize(_CENT) for _ in range(3)
        ]

    def _sign(self, hose: Hose, build: BuildRecord, fitter: Person, on: dt.date) -> None:
        signed_at = moment(on, hose.built_hour + 0.8)
        register = self.stores.register
        register.close(build, signed_at=signed_at, signed_by=fitter)
        after = {"tag": hose.assembly.tag_id, "spec": str(build.spec), "reel": str(build.reel)}
        register.tell(
            "signed a build", build, at=signed_at, by=fitter, site=build.site, after=after
        )


def _when(hose: Hose) -> tuple[dt.date, str]:
    return hose.assembly.built_earliest_on or dt.date.min, hose.assembly.tag_id or ""


def _released(hose: Hose) -> bool:
    happening = hose.fit.place.happening if hose.fit else None
    forced = hose.fit is not None and hose.fit.removed_on is None
    return forced and happening is not None and happening.kind == "conditional_release"


def _spec_of(hose: Hose) -> SpecRevision:
    if hose.assembly.spec is None:
        raise ValueError(f"{hose.assembly} was built by no spec.")
    return hose.assembly.spec
