"""A crimp worked out once is built again by anyone: from the trial to a second hose.

The trade's facts: insertion mark 34 mm, so the cover is skived 29 mm; at the settings 27.00 and
26.75 the pin enters, at 26.50 it is tight, at 26.25 it refuses. So 26.25 closes, and collapse
begins between 26.25 and 26.50. Common practice, no published source.

The second hose is built by another fitter who has nothing but the printed sheet. Both can be
traced to the one recipe revision.
"""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.actions.specs import EndChoice, SpecContent
from assemblies.calc.sheet import EndLine, PinAnswer, SheetContent
from assemblies.models import (
    Assembly,
    BuildEnd,
    BuildRecord,
    CrimpRecipe,
    FrozenSheet,
    RecipeRevision,
    Stay,
    StockItem,
    StockMovement,
)
from assemblies.queries.sheets import content_of
from assemblies.queries.signed_builds import build_of, signed
from fleet.models import Person, Site, TrailEntry
from tests import factories as make
from tests.db.assemblies import build_bench as bb
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import store
from tests.db.assemblies import trial_bench as trials
from tests.flows.test_trial_to_recipe import Bench, lowered, typed

pytestmark = pytest.mark.django_db
CLOSED_AT = ["26.40", "26.42", "26.38"]


class Drawers:
    """What lies in the drawers of a bench: a reel, a lot of each part, tools in date."""

    def __init__(self, site: Site, recipe: CrimpRecipe) -> None:
        self.site = site
        self.reel = store.reel(site, hose=recipe.hose, metres="40")
        self.fittings = store.fitting_lot(site, fitting=recipe.fitting)
        assert recipe.shell is not None
        self.shells = store.shell_lot(site, recipe.shell)
        self.crimper = bb.crimper(site)
        self.micrometer, self.gauge = bb.instrument(site), bb.instrument(site)

    def boxes(self, content: SheetContent, maker: Person) -> dict[str, str]:
        """The page's boxes, filled by what the sheet says and what lies in the drawers."""
        length, test = content.length, content.test
        assert length.cut_length_mm is not None
        found = {
            **{"built_on": content.drawn_on.isoformat(), "made_by": str(maker.pk)},
            **{"reel": str(self.reel.pk), "crimper": str(self.crimper.pk), "cut_square": "on"},
            **{"cut_length_mm": str(length.cut_length_mm), "bore_cleaned_with": "foam plug"},
            "hose_used_m": str(length.cut_length_mm / 1000),
            "finished_length_mm": str(length.length_mm),
            "proof_pressure_bar": f"{test.pressure_bar} bar",
            **{"proof_hold_s": str(test.hold_to_s), "gauge": str(self.gauge.pk)},
            **{"proof_passed": "yes", "flushed_with": "filtered oil", "stamped": "on"},
        }
        for end in content.ends:
            found |= self._end(end)
        return found

    def _end(self, end: EndLine) -> dict[str, str]:
        crimp = end.crimp
        assert crimp is not None
        assert crimp.pin is not None
        facts = {
            **{"fitting_lot": str(self.fittings.pk), "shell_lot": str(self.shells.pk)},
            "insertion_depth_mm": str(crimp.insertion_depth_mm),
            "external_skive": crimp.external_skive.kind.value,
            "external_skive_mm": str(crimp.external_skive.length_mm),
            "internal_skive": crimp.internal_skive.kind.value,
            **{"die_set": crimp.die, "pin": crimp.pin.expected.value, "mark_visible": "yes"},
            "instrument": str(self.micrometer.pk),
            **{f"od_{n}": str(crimp.crimp_od_mm) for n in range(1, crimp.readings + 1)},
        }
        return {f"{end.label.lower()}_{name}": value for name, value in facts.items()}


def recipe_by_trials(site: Site, fitter: Bench, chief: Bench) -> RecipeRevision:
    """Two trials on two crimpers that agree, and a manager who rates the joint."""
    shell = shop.shell(layers_made_for=2)
    parts = {
        "hose": trials.three_layer().header.code,
        "fitting": make.fitting().header.code,
        "shell": shell.header.code,
    }
    old, new = trials.crimper(site), trials.crimper(site)
    first = fitter.trial(typed(parts, old.pk), trials.STEPS, CLOSED_AT)
    assert first.outcome_detail["closing_setting_mm"] == "26.250"
    assert first.outcome_detail["bracket_mm"] == ["26.250", "26.500"]
    assert (first.insertion_depth_mm, first.external_skive_mm) == (Decimal(34), Decimal(29))
    fitter.tell("trial_recipe", first.pk)
    second = fitter.trial(typed(parts, new.pk), lowered("1.10"), CLOSED_AT)
    joint = CrimpRecipe.objects.get()
    seen = chief.page("recipe_trials", joint.pk).context["form"]["seen"].value()
    rated = {"second": second.pk, "working_pressure_bar": "200 bar", "seen": seen}
    chief.tell("recipe_trials", joint.pk, **rated)
    return RecipeRevision.objects.get(state="approved")


def sheet_of(recipe: RecipeRevision, site: Site) -> FrozenSheet:
    """An approved spec that uses the joint at both ends, and its sheet for two pieces."""
    joint = recipe.header
    end = EndChoice(joint.fitting, joint.shell)
    content = SpecContent({"hose": joint.hose, "length_mm": Decimal(1200)}, end, end, ())
    spec = shop.approve(shop.draft(of=content))
    return bb.sheet_of(spec, site, quantity=2)


def built(sheet: FrozenSheet, drawers: Drawers, by: Person) -> BuildRecord:
    """One piece begun from the sheet, written down by what the sheet says, and signed."""
    client = Client()
    client.force_login(by)

    def tell(name: str, *args: Any, **facts: Any) -> Any:
        answer = client.post(reverse(f"assemblies:{name}", args=args), facts)
        assert answer.status_code == 302, answer.content.decode()
        return answer

    tell("sheet_begin", sheet.site_id, sheet.number, quantity=1, client_id=f"by {by.pk}")
    build = BuildRecord.objects.latest("pk")
    tell("build", build.pk, seen=1, **drawers.boxes(content_of(sheet), by))
    tell("build_sign", build.pk, seen=2, to="store", store_place="rack 3")
    return BuildRecord.objects.get(pk=build.pk)


def test_a_crimp_found_once_is_built_again_from_the_sheet_alone() -> None:
    site: Site = make.site(name="Blackmere Quarry")
    finder = make.person("fitter", at=site)
    recipe = recipe_by_trials(site, Bench(finder), Bench(make.person("manager", at=site)))
    sheet = sheet_of(recipe, site)

    content = content_of(sheet)
    crimp = content.ends[0].crimp
    assert crimp is not None
    assert crimp.pin is not None
    assert (crimp.insertion_depth_mm, crimp.external_skive.length_mm) == (Decimal(34), Decimal(29))
    assert (crimp.crimp_od_mm, crimp.pin.expected) == (Decimal("26.40"), PinAnswer.REFUSES)
    assert "UNMATCHED" in content.alerts[0]
    assert content.pressure.working_bar == 200

    drawers = Drawers(site, recipe.header)
    first = built(sheet, drawers, finder)
    second = built(sheet, drawers, make.person("fitter", at=site))

    assert first.signed_by != second.signed_by
    revisions = BuildEnd.objects.filter(build__in=[first, second]).values_list("recipe", flat=True)
    assert list(revisions) == [recipe.pk] * 4
    hoses = Assembly.objects.filter(build__in=[first, second])
    assert set(hoses.values_list("condition", "working_pressure_bar")) == {("usable", Decimal(200))}
    assert len(set(hoses.values_list("tag", flat=True))) == 2
    stays = Stay.objects.filter(assembly__in=hoses, is_open=True)
    assert set(stays.values_list("place", "store_place")) == {("store", "rack 3")}
    used = 2 * (content.length.cut_length_mm or 0) / 1000
    assert StockItem.objects.get(reel=drawers.reel).balance == 40 - used
    assert StockMovement.objects.filter(kind="used").count() == 6

    record = build_of(finder, second.assembly_id)
    assert record is not None
    said = signed(record)
    assert [end.crimp_od_mm for end in said.ends] == [Decimal("26.40")] * 2
    assert {end.recipe for end in said.ends} == {f"{recipe.header} rev {recipe.number}"}
    assert all(line.verdict == "good" for line in said.lines)
    deeds = list(TrailEntry.objects.order_by("pk").values_list("deed", flat=True))
    for deed in ("approved recipe", "approved spec", "began building", "signed a build"):
        assert deed in deeds
