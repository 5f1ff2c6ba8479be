"""From parts that no chart names together to a spec that may be built from.

A three-layer hose, a shell made for two. The first trial is made by night on one crimper and
gives a provisional recipe; the second on another crimper, whose dial reads differently, closes at
another setting and at the same OD. Two pieces hold twice the pressure, a manager rates the joint,
and the spec that uses it carries no more than that.
"""

from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assemblies.actions.specs import EndChoice, SpecContent
from assemblies.models import CrimpRecipe, CrimpTrial, RecipeRevision
from assemblies.queries.ratings import spec_rating
from assemblies.queries.recipes import recipe_page
from fleet.models import Person, Site, TrailEntry
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db
JOINT_RATED = Decimal(200)


class Bench:
    """A person at the recorder's pages."""

    def __init__(self, person: Person) -> None:
        self.client = Client()
        self.client.force_login(person)
        self.told = 0

    def page(self, name: str, *args: Any) -> Any:
        return self.client.get(reverse(f"assemblies:{name}", args=args))

    def tell(self, name: str, *args: Any, **facts: Any) -> Any:
        """Post a form as the page would; each has its own id."""
        self.told += 1
        told = {"client_id": f"{name}-{self.told}-{args}", **facts}
        response = self.client.post(reverse(f"assemblies:{name}", args=args), told)
        assert response.status_code == 302, response.context["form"].errors
        return response

    def trial(self, typed: dict[str, Any], steps: Any, closing: list[str]) -> CrimpTrial:
        """A whole trial, from its form to its closing readings."""
        self.tell("trial_begin", **typed)
        trial = CrimpTrial.objects.latest("pk")
        for setting, pin in steps:
            self.tell("trial_press", trial.pk, setting_mm=setting, pin=pin)
        self.tell("trial_close", trial.pk, readings=closing)
        self.tell("trial_proof", trial.pk, pressure_bar="400 bar", hold_s="60", passed="yes")
        return CrimpTrial.objects.get(pk=trial.pk)


def typed(parts: dict[str, str], crimper_id: int) -> dict[str, Any]:
    return {
        **parts,
        "crimper": crimper_id,
        "die_set": "D 26",
        "pin_mm": "9.5",
        "pin_from": "nut end, past the crimp",
        "insertion_depth_mm": "34",
        "external_skive": "length",
        "external_skive_mm": "29",
        "internal_skive": "none",
    }


def lowered(by: str) -> list[tuple[str, str]]:
    """The same four steps on a crimper whose dial reads less."""
    return [(str(Decimal(setting) - Decimal(by)), pin) for setting, pin in bench.STEPS]


def test_a_joint_found_by_trial_becomes_a_recipe_that_a_spec_is_built_by() -> None:
    site: Site = make.site(name="Blackmere Quarry")
    fitter = Bench(make.person("fitter", at=site))
    manager = make.person("manager", at=site)
    hose, fitting = bench.three_layer(), make.fitting()
    shell = shop.shell(layers_made_for=2)
    parts = {
        "hose": hose.header.code,
        "fitting": fitting.header.code,
        "shell": shell.header.code,
    }

    old, new = bench.crimper(site), bench.crimper(site)
    first = fitter.trial(typed(parts, old.pk), bench.STEPS, ["26.40", "26.42", "26.38"])
    assert first.outcome_detail["bracket_mm"] == ["26.250", "26.500"]
    fitter.tell("trial_recipe", first.pk)
    provisional = RecipeRevision.objects.get(state="provisional")
    assert (provisional.crimp_od_mm, provisional.external_skive_mm) == (Decimal("26.40"), 29)

    second = fitter.trial(typed(parts, new.pk), lowered("1.10"), ["26.36", "26.36", "26.36"])
    assert second.outcome_detail["closing_setting_mm"] == "25.150"

    joint = CrimpRecipe.objects.get()
    chief = Bench(manager)
    seen = chief.page("recipe_trials", joint.pk).context["form"]["seen"].value()
    rated = {"second": second.pk, "working_pressure_bar": "200 bar", "seen": seen}
    chief.tell("recipe_trials", joint.pk, **rated)

    recipe = RecipeRevision.objects.get(state="approved")
    assert (recipe.crimp_od_mm, recipe.rated_by) == (Decimal("26.38"), manager)
    page = recipe_page(joint.pk)
    assert page is not None
    assert any(sentence.startswith("Unmatched") for sentence in page.warnings)

    end = EndChoice(fitting.header, shell.header)
    content = SpecContent({"hose": hose.header, "length_mm": Decimal(1200)}, end, end, ())
    spec = shop.approve(shop.draft(of=content))
    assert (spec.state, spec_rating(spec).working_pressure_bar) == ("approved", JOINT_RATED)
    deeds = set(TrailEntry.objects.values_list("deed", flat=True))
    assert {"began trial", "logged press", "closed trial", "proof-tested trial"} <= deeds
    assert {"made recipe provisional", "approved recipe", "approved spec"} <= deeds
