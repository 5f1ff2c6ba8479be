"""Measuring an old hose and reading a recipe's run, in a real browser."""

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.urls import reverse
from playwright.sync_api import Page

from assemblies.models import RecipeRevision, SpecCopy
from fleet.models import Person, Site
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL, grave
from tests.db.assemblies import old_hoses as old
from tests.db.assemblies import run_bench as run
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def site() -> Site:
    return make.site(name="Blackmere Quarry")


@pytest.fixture
def planner(site: Site) -> Person:
    return make.person("planner", at=site)


def at(name: str, *args: object) -> str:
    return reverse(f"assemblies:{name}", args=args)


def busy_recipe(site: Site) -> RecipeRevision:
    """A recipe with a run on one crimper that rises at its end, and a few builds on another."""
    hose = make.hose(bore_mm=Decimal("12.7"), reinforcement_diameter_mm=Decimal("19.8"))
    fitting = make.fitting(tail_od_mm=Decimal("12.9"))
    shell = shop.shell(outside_diameter_mm=27, inside_diameter_mm=21)
    recipe = RecipeRevision.objects.get(pk=shop.approved_recipe(hose, fitting, shell).pk)
    one, two = bench.crimper(site, code="C-1"), bench.crimper(site, code="C-2")
    run.steady_run(recipe, 26, at=site, crimper=one)
    for number in range(6):
        middle = Decimal("24.58") + Decimal(number) / 50
        ods = [str(middle + Decimal(step)) for step in ("-0.03", "0", "0.04")]
        run.built(recipe, ods, at=site, crimper=one, day=30 + number)
    run.steady_run(recipe, 3, at=site, crimper=two)
    return recipe


def paths(site: Site, planner: Person) -> list[str]:
    recipe = busy_recipe(site)
    crimper = recipe.build_ends.earliest("pk").build.crimper_id
    shop.end(connection="DKOL", connection_size="L22 M30×2")
    copy = old.kept(site, planner, a_is_key="", a_tube_mm="", sleeve_1="spiral guard")
    empty = shop.approved_recipe(make.hose(), shop.end())
    hose = make.stored(at=site, spec=shop.approved("S-9"))
    place = make.position(on=make.machine(at=site))
    readings = at("recipe_readings", recipe.header_id)
    return [
        at("recipe", recipe.header_id),
        readings,
        f"{readings}?crimper={crimper}",
        at("recipe_readings", empty.header_id),
        at("measured_hoses"),
        at("measured_hose", copy.pk),
        at("measured_spec", copy.pk),
        at("measure"),
        at("measure_at", place.pk),
        at("hose_copy", hose.pk),
    ]


@pytest.mark.parametrize(("size", "scheme"), [(NARROWEST, "light"), (DESK, "dark")])
def test_every_page_of_copies_and_readings_is_readable_and_silent(
    visit: Callable[..., Visit], site: Site, planner: Person, size: dict[str, int], scheme: str
) -> None:
    seen, wrong = visit(planner, size, scheme=scheme), {}
    for path in paths(site, planner):
        page = seen.open(path)
        page.evaluate("() => document.querySelectorAll('details').forEach((it) => it.open = true)")
        faults = {
            "axe": grave(page),
            "spilled": page.evaluate(SPILLED),
            "small": page.evaluate(TOO_SMALL) if size["width"] < 500 else [],
            "console": list(seen.console),
        }
        seen.console.clear()
        if any(faults.values()):
            wrong[path] = {name: fault for name, fault in faults.items() if fault}
    assert not wrong


def fill(page: Page, **texts: str) -> None:
    for name, text in texts.items():
        box = page.locator(f"[name='{name.replace('__', '-')}']")
        if box.evaluate("it => it.tagName") == "SELECT":
            box.select_option(text)
        else:
            box.fill(text)


def test_an_old_hose_is_measured_on_a_phone_through_a_dropped_connection(
    visit: Callable[..., Visit], site: Site, planner: Person
) -> None:
    seen = visit(make.person("fitter", at=site), PHONE)
    page = seen.open(at("measure"))
    fill(
        page, title="Loader 4, boom lift", layline="Harrow/EN 853/2SN/DN 12/2Q16", length_mm="1200"
    )
    fill(page, a__turns="swivel_nut", a__kind="male", a__diameter_mm="29,9", a__pitch_mm="2")
    seen.context.set_offline(True)
    page.get_by_role("button", name="Which end is it?").first.click()
    seen.context.set_offline(False)
    page = seen.open(at("measure"))
    assert page.input_value("[name='a-diameter_mm']") == "29,9", "kept in the tab"
    page.get_by_role("button", name="Which end is it?").first.click()
    assert page.get_by_text("L22 or S20? Both have M30x2").is_visible()
    assert grave(page) == []
    assert page.evaluate(SPILLED) == 0
    page.get_by_label("24° cone L, 22, M30x2").check()
    page.get_by_role("button", name="Keep what I measured").click()
    assert page.get_by_text("End B: which connection it is.").is_visible()
    copy = SpecCopy.objects.get()
    assert copy.measured["read"]["near"]["end"] == "24° cone L"
    assert copy.measured["typed"]["a-diameter_mm"] == "29,9"


def test_a_point_of_the_run_leads_to_its_hose(
    visit: Callable[..., Visit], site: Site, planner: Person
) -> None:
    recipe = busy_recipe(site)
    seen = visit(planner, DESK)
    page = seen.open(at("recipe_readings", recipe.header_id))
    point = page.locator("svg.picture--wide a").last
    assert "end A" in (point.get_attribute("aria-label") or "")
    point.locator("polygon").click()
    page.wait_for_url("**/hoses/**")
    assert page.locator("h1").count() == 1
