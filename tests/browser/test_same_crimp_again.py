"""The worked example whole, on a phone: two trials, an approved recipe, a hose, and another one.

The second hose is built by a fitter who has the sheet alone. Everything is typed and tapped at
390 px; only the spec and its sheet are made at the planner's desk beforehand.
"""

import os
from collections.abc import Callable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from assemblies.models import BuildEnd, BuildRecord, CrimpRecipe, CrimpTrial, RecipeRevision
from assemblies.queries.sheets import content_of
from fleet.models import Person, Site
from tests import factories as make
from tests.browser.conftest import PHONE, Visit
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench
from tests.flows.test_same_crimp_again import Drawers, sheet_of
from tests.flows.test_trial_to_recipe import lowered, typed

pytestmark = pytest.mark.django_db(transaction=True)


def url(name: str, *args: Any) -> str:
    return reverse(f"assemblies:{name}", args=args)


def keep(page: Page, name: str) -> None:
    """A picture for the eye, where one is asked for."""
    folder = os.environ.get("SCREENSHOTS")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def fill(page: Page, facts: Mapping[str, Any]) -> None:
    """Type, choose and tick what a form asks for, box by box."""
    for name, value in facts.items():
        box = page.locator(f"main [name={name}]").first
        kind = box.evaluate("(it) => it.type || it.tagName")
        if kind == "radio":
            page.check(f"main [name={name}][value='{value}']", force=True)
        elif kind == "checkbox":
            box.check()
        elif kind.startswith("select"):
            box.select_option(str(value))
        elif kind != "hidden":
            box.fill(str(value))


def trial(page: Page, base: str, parts: Mapping[str, Any], steps: Any, name: str) -> CrimpTrial:
    """A whole trial with its proof test, from its form to its closing readings."""
    page.goto(base + url("trial_begin"))
    fill(page, parts)
    keep(page, f"{name}-1-begin")
    page.click("main form button[type=submit] >> nth=-1")
    page.wait_for_url("**/trials/*/")
    for number, (setting, pin) in enumerate(steps, 1):
        page.fill("[name=setting_mm]", setting)
        page.click(f"button[name=pin][value={pin}]")
        expect(page.locator(".trial__press")).to_have_count(number)
    keep(page, f"{name}-2-pressed")
    for place, od in enumerate(bench.CLOSING, 1):
        page.fill(f"#cod{place}", od)
    page.click("button:has-text('Close the trial')")
    expect(page.locator("[data-trial-stands]")).to_contain_text("mm of OD")
    page.reload()
    fill(page, {"pressure_bar": "400 bar", "hold_s": "60", "passed": "yes"})
    page.click("button:has-text('Write it down')")
    expect(page.locator("main")).to_contain_text("400 bar for 60")
    keep(page, f"{name}-3-closed")
    return CrimpTrial.objects.latest("pk")


def built(
    page: Page, base: str, where: tuple[int, int], boxes: Mapping[str, Any], name: str
) -> int:
    """One piece begun from the sheet's page, written down and signed; its record's id."""
    page.goto(base + url("sheet", *where))
    keep(page, f"{name}-1-sheet")
    page.goto(base + url("sheet_begin", *where))
    fill(page, {"quantity": 1})
    page.click("main form button:has-text('Begin')")
    page.wait_for_url("**/builds/*/")
    fill(page, boxes)
    page.click("button:has-text('Save')")
    expect(page.locator("[data-bench-left]")).to_contain_text("It can be signed")
    keep(page, f"{name}-2-written")
    page.click("button:has-text('Sign as good')")
    page.wait_for_url("**/hoses/*/")
    keep(page, f"{name}-3-hose")
    return BuildRecord.objects.latest("pk").pk


def test_a_crimp_found_on_a_phone_is_built_again_on_another(visit: Callable[..., Visit]) -> None:
    site: Site = make.site(name="Blackmere Quarry")
    finder, other = make.person("fitter", at=site), make.person("fitter", at=site)
    parts = {
        "hose": bench.three_layer().header.code,
        "fitting": make.fitting().header.code,
        "shell": shop.shell(layers_made_for=2).header.code,
    }
    old, new = bench.crimper(site), bench.crimper(site)
    told = visit(finder, PHONE)
    first = trial(told.page, told.base, typed(parts, old.pk), bench.STEPS, "same-1-trial")
    assert first.outcome_detail["bracket_mm"] == ["26.250", "26.500"]
    told.page.click("main form[action*='recipe'] button")
    expect(told.page.locator("main")).to_contain_text("provisional")
    second = trial(told.page, told.base, typed(parts, new.pk), lowered("1.10"), "same-2-trial")
    _approve(visit, make.person("manager", at=site), second)

    recipe = RecipeRevision.objects.get(state="approved")
    assert recipe.crimp_od_mm == Decimal("26.40")
    sheet, drawers = sheet_of(recipe, site), Drawers(site, recipe.header)
    where = (sheet.site_id, sheet.number)
    one = built(
        told.page, told.base, where, drawers.boxes(content_of(sheet), finder), "same-4-first"
    )
    again = visit(other, PHONE)
    two = built(
        again.page, again.base, where, drawers.boxes(content_of(sheet), other), "same-5-second"
    )
    made = BuildEnd.objects.filter(build__in=[one, two], build__signed_at__isnull=False)
    assert list(made.values_list("recipe", flat=True)) == [recipe.pk] * 4
    assert told.console == again.console == []


def _approve(visit: Callable[..., Visit], manager: Person, second: CrimpTrial) -> None:
    chief = visit(manager, PHONE)
    page = chief.open(url("recipe_trials", CrimpRecipe.objects.get().pk))
    fill(page, {"second": second.pk, "working_pressure_bar": "200 bar"})
    keep(page, "same-3-approve")
    page.click("main form button[type=submit] >> nth=-1")
    page.wait_for_url("**/recipes/*/")
    expect(page.locator("main")).to_contain_text("Unmatched")
    keep(page, "same-3-approved")
