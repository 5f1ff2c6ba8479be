"""A small random register to trace: hoses built, bought and released, with all their sources."""

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal
from random import Random
from typing import Any

from assemblies.models import (
    Assembly,
    BuildEnd,
    BuildRecord,
    ConditionalRelease,
    Crimper,
    CrimpRecipe,
    CrimpTrial,
    Instrument,
    RecipeRevision,
    RecipeTrial,
    Reel,
    StockItem,
    TrialProof,
)
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

NOW, TODAY = make.NOW, make.TODAY
DIES = ("", "D 26", "d 26", "D 30")
SUPPLIERS = ("", "Harrow Hose", "harrow  hose", "Else & Co")


@dataclass
class Register:
    """All that hoses can come from, at two sites."""

    sites: list[Site]
    people: list[Person]
    reels: list[Reel] = field(default_factory=list)
    fittings: list[StockItem] = field(default_factory=list)
    shells: list[StockItem] = field(default_factory=list)
    crimpers: list[Crimper] = field(default_factory=list)
    gauges: list[Instrument] = field(default_factory=list)
    revisions: list[RecipeRevision] = field(default_factory=list)
    trials: list[CrimpTrial] = field(default_factory=list)
    hoses: list[Assembly] = field(default_factory=list)


def register(rng: Random, hoses: int = 24) -> Register:
    """Sources at both sites, and hoses drawn from them at random."""
    sites = [make.site(), make.site()]
    found = Register(sites, [make.person("fitter", at=site) for site in sites * 2])
    for n, site in enumerate(sites * 2):
        _stock(found, site, n)
    for _ in range(3):
        _recipe(found, rng)
    for _ in range(hoses):
        found.hoses.append(rng.choice([_built, _built, _bought, _released])(found, rng))
    return found


def reel(at: Site, code: str = "R 1", **facts: Any) -> Reel:
    told = {"hose": make.hose().header, "received_on": TODAY, "delivered_m": Decimal(50)}
    return Reel.objects.create(site=at, code=code, **{**told, **facts})


def built(at: Site, *, ends: dict[str, dict[str, Any]] | None = None, **facts: Any) -> Assembly:
    """A hose with a signed build record, and an end for each that is told."""
    hose = make.stored(at=at, origin="built")
    spec = facts.pop("spec", None) or shop.draft(f"S-{hose.pk}")
    record = BuildRecord.objects.create(
        **{"assembly": hose, "site": at, "spec": spec, "built_on": TODAY, **facts}
    )
    for which, told in (ends or {}).items():
        BuildEnd.objects.create(build=record, which=which, **told)
    signer = facts.get("made_by") or make.person()
    BuildRecord.objects.filter(pk=record.pk).update(signed_at=NOW, signed_by=signer)
    return Assembly.objects.get(pk=hose.pk)


def _stock(found: Register, site: Site, n: int) -> None:
    found.reels.append(reel(site, f"R {n}"))
    found.fittings.append(StockItem.objects.create(site=site, fitting=_fitting(), lot=f"L {n}"))
    shell = shop.shell().header
    found.shells.append(StockItem.objects.create(site=site, shell=shell, lot=f"L {n}"))
    found.crimpers.append(Crimper.objects.create(site=site, code=f"C {n}"))
    found.gauges.append(Instrument.objects.create(site=site, code=f"G {n}"))


def _fitting() -> Any:
    return make.fitting().header


def _recipe(found: Register, rng: Random) -> None:
    """A joint with two revisions on a trial, and another trial of it that led to nothing."""
    joint = CrimpRecipe.objects.create(hose=make.hose().header, fitting=_fitting())
    trials = [_trial(found, joint, rng) for _ in range(2)]
    for number in (1, 2):
        revision = RecipeRevision.objects.create(
            header=joint, number=number, basis="trial", made_at=NOW, state="provisional"
        )
        RecipeTrial.objects.create(revision=revision, trial=trials[0])
        found.revisions.append(revision)
    found.trials += trials


def _trial(found: Register, joint: CrimpRecipe, rng: Random) -> CrimpTrial:
    crimper = rng.choice(found.crimpers)
    trial = CrimpTrial.objects.create(
        recipe=joint,
        site=crimper.site,
        crimper=crimper,
        die_set=rng.choice(DIES),
        pin_mm=Decimal("9.5"),
        pin_from="nut",
        begun_at=NOW,
        begun_by=rng.choice(found.people),
    )
    TrialProof.objects.create(
        trial=trial,
        pressure_bar=Decimal(400),
        hold_s=60,
        passed=True,
        gauge=rng.choice([None, *found.gauges]),
        tested_at=NOW,
        tested_by=trial.begun_by,
    )
    return trial


def _built(found: Register, rng: Random) -> Assembly:
    ends = {
        which: {
            "recipe": rng.choice([None, *found.revisions]),
            "fitting_lot": rng.choice([None, *found.fittings]),
            "shell_lot": rng.choice([None, *found.shells]),
            "die_set": rng.choice(DIES),
            "instrument": rng.choice([None, *found.gauges]),
        }
        for which in rng.choice(["", "A", "AB"])
    }
    return built(
        rng.choice(found.sites),
        ends=ends,
        reel=rng.choice([None, *found.reels]),
        crimper=rng.choice([None, *found.crimpers]),
        gauge=rng.choice([None, *found.gauges]),
        made_by=rng.choice(found.people),
    )


def _bought(found: Register, rng: Random) -> Assembly:
    origin = rng.choice(["bought", "bought", "unknown"])
    return make.stored(at=rng.choice(found.sites), origin=origin, supplier=rng.choice(SUPPLIERS))


def _released(found: Register, rng: Random) -> Assembly:
    hose = make.stored(at=rng.choice(found.sites), condition="held")
    free = [one for one in found.trials if not hasattr(one, "release")]
    ConditionalRelease.objects.create(
        assembly=hose,
        authority=rng.choice(found.people),
        released_at=NOW,
        reason="x",
        limits="x",
        replace_by_on=TODAY + dt.timedelta(3),
        trial=rng.choice([None, *free]) if free else None,
    )
    return hose
