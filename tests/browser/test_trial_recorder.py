"""The trial recorder in a gloved hand at 390 px: with scripts, and through a lost connection."""

import os
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page, expect

from assemblies.actions.trial_recipes import recipe_from_trial
from assemblies.models import CrimpTrial, HoseRevision, TrialPress
from fleet.models import Person, Site
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def site() -> Site:
    return make.site(name="Blackmere Quarry")


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


def begun(site: Site, fitter: Person) -> CrimpTrial:
    """A trial whose first setting geometry proposes."""
    hose = bench.three_layer(
        bore_mm=Decimal("12.7"), reinforcement_diameter_mm=Decimal("21.4")
    ).header
    shell = shop.shell(
        outside_diameter_mm=Decimal("27.4"), inside_diameter_mm=Decimal(22), layers_made_for=2
    ).header
    fitting = make.fitting(tail_od_mm=Decimal("12.9")).header
    return bench.begun(site, fitter, hose=hose, fitting=fitting, shell=shell)


def at(trial: CrimpTrial) -> str:
    return reverse("assemblies:trial", args=[trial.pk])


def answer(page: Page, setting: str, pin: str) -> None:
    page.fill("[name=setting_mm]", setting)
    page.click(f"button[name=pin][value={pin}]")


def keep(page: Page, name: str) -> None:
    """A picture for the eye, where one is asked for."""
    folder = os.environ.get("SCREENSHOTS")
    if folder:
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def check_page(page: Page) -> None:
    """Nothing wider than the screen, nothing serious to a checker of access."""
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    found = Axe().run(page)
    grave = [
        v["id"] for v in found.response["violations"] if v["impact"] in ("serious", "critical")
    ]
    assert grave == []


def test_a_trial_goes_from_the_first_press_to_the_closing_reading(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    trial = begun(site, fitter)
    seen = visit(fitter, PHONE)
    page = seen.open(at(trial))
    assert page.input_value("[name=setting_mm]") == str(trial.first_setting_mm)
    keep(page, "trial-1-begun")
    check_page(page)
    for number, (setting, pin) in enumerate(bench.STEPS, 1):
        answer(page, setting, pin)
        expect(page.locator(".trial__press")).to_have_count(number)
        keep(page, f"trial-2-press-{number}")
    expect(page.locator("[data-trial-stands]")).to_contain_text("26.25 and 26.50 mm")
    check_page(page)
    for place, od in enumerate(bench.CLOSING, 1):
        page.fill(f"#cod{place}", od)
    page.click("button:has-text('Close the trial')")
    expect(page.locator("[data-trial-stands]")).to_contain_text("mm of OD")
    keep(page, "trial-3-closed")
    check_page(page)
    closed = CrimpTrial.objects.get()
    assert (closed.outcome, closed.closing_readings) == ("collapse found", [*bench.CLOSING])
    assert seen.console == []


def test_nothing_told_without_a_connection_is_lost_or_told_twice(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    trial = begun(site, fitter)
    seen = visit(fitter, PHONE)
    page = seen.open(at(trial))
    answer(page, "27.00", "enters")
    expect(page.locator(".trial__press")).to_have_count(1)
    seen.context.set_offline(True)
    answer(page, "26.75", "enters")
    expect(page.locator("[name=setting_mm]")).to_have_value("26.50")
    page.click("button[name=pin][value=tight]")
    expect(page.locator("[data-trial-kept-list] li")).to_have_count(2)
    expect(page.locator("[data-trial-stands]")).to_have_text(
        "Press at 26.50 mm, pin tight. Dial 26.25 mm."
    )
    keep(page, "trial-4-offline")
    assert TrialPress.objects.count() == 1
    seen.context.set_offline(False)
    expect(page.locator(".trial__press")).to_have_count(3, timeout=20_000)
    expect(page.locator("[data-trial-kept]")).to_be_hidden()
    told = TrialPress.objects.order_by("number").values_list("setting_mm", "pin")
    assert [(str(mm), pin) for mm, pin in told] == [*bench.STEPS[:3]]


def test_an_answer_that_was_lost_on_its_way_back_is_told_again_once(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    trial = begun(site, fitter)
    page = visit(fitter, PHONE).open(at(trial))
    lost: list[int] = []

    def lose_the_first_answer(route: object) -> None:
        if not lost:
            lost.append(route.fetch().status)  # type: ignore[attr-defined]  # a Playwright route
            route.abort()  # type: ignore[attr-defined]  # likewise
        else:
            route.continue_()  # type: ignore[attr-defined]  # likewise

    page.route("**/press/", lose_the_first_answer)
    answer(page, "27.00", "enters")
    expect(page.locator(".trial__press")).to_have_count(1, timeout=20_000)
    assert lost == [200]
    assert TrialPress.objects.count() == 1


def test_what_is_typed_outlives_a_reload_and_an_undo_waits_its_turn(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    trial = begun(site, fitter)
    seen = visit(fitter, PHONE)
    page = seen.open(at(trial))
    page.fill("[name=setting_mm]", "26.90")
    page.reload()
    expect(page.locator("[name=setting_mm]")).to_have_value("26.90")
    answer(page, "27.00", "enters")
    expect(page.locator(".trial__press")).to_have_count(1)
    seen.context.set_offline(True)
    answer(page, "26.75", "refuses")
    page.click(".trial__undo")
    expect(page.locator("[data-trial-kept-list] li")).to_have_count(2)
    seen.context.set_offline(False)
    expect(page.locator(".trial__press--undone")).to_have_count(1, timeout=20_000)
    undone = TrialPress.objects.exclude(undone_at=None).get()
    assert (undone.number, undone.pin) == (2, "refuses")


def test_a_refused_press_is_said_with_its_reason(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    trial = begun(site, fitter)
    page = visit(fitter, NARROWEST).open(at(trial))
    answer(page, "27.00", "enters")
    expect(page.locator(".trial__press")).to_have_count(1)
    answer(page, "27.25", "enters")
    expect(page.locator("[data-trial-refused-list]")).to_contain_text("settings only go down")
    keep(page, "trial-5-refused")
    check_page(page)
    page.click("[data-trial-refused-read]")
    expect(page.locator("[data-trial-refused]")).to_be_hidden()


def test_the_enter_key_answers_nothing_for_the_pin(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    trial = begun(site, fitter)
    page = visit(fitter, PHONE).open(at(trial))
    page.fill("[name=setting_mm]", "27.00")
    page.press("[name=setting_mm]", "Enter")
    page.reload()
    expect(page.locator(".trial__press")).to_have_count(0)
    assert TrialPress.objects.count() == 0


def test_a_trial_is_told_without_scripts_too(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    trial = begun(site, fitter)
    page = visit(fitter, PHONE, scripts=False).open(at(trial))
    for setting, pin in bench.STEPS:
        answer(page, setting, pin)
    for place, od in enumerate(bench.CLOSING, 1):
        page.fill(f"#cod{place}", od)
    page.click("button:has-text('Close the trial')")
    assert CrimpTrial.objects.get().outcome == "collapse found"


def test_a_trial_is_begun_on_a_phone(
    visit: Callable[..., Visit], site: Site, fitter: Person
) -> None:
    bench.crimper(site, code="C 1")
    hose, fitting, shell = bench.three_layer(), make.fitting(), shop.shell()
    page = visit(fitter, PHONE).open(reverse("assemblies:trial_begin"))
    page.fill("[name=hose]", hose.header.code)
    page.fill("[name=fitting]", fitting.header.code)
    page.fill("[name=shell]", shell.header.code)
    page.fill("[name=die_set]", "D 26")
    page.fill("[name=pin_mm]", "9.5")
    page.fill("[name=pin_from]", "nut end, past the crimp")
    page.fill("[name=insertion_depth_mm]", "34")
    page.fill("[name=external_skive_mm]", "29")
    keep(page, "trial-0-begin")
    check_page(page)
    page.click("button:has-text('Begin the trial')")
    page.wait_for_url("**/trials/*/")
    assert CrimpTrial.objects.get().external_skive_mm == 29


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
def test_a_recipe_is_approved_on_two_trials_and_a_duty_is_read(
    visit: Callable[..., Visit], site: Site, fitter: Person, size: dict[str, int]
) -> None:
    first = bench.proven(bench.closed(site, fitter), fitter)
    joint = first.recipe
    parts: dict[str, Any] = {"hose": joint.hose, "fitting": joint.fitting, "shell": joint.shell}
    bench.proven(bench.closed(site, fitter, ("26.30", "26.32", "26.28"), **parts), fitter)
    recipe_from_trial(trial=first, person=fitter, at=make.NOW)
    seen = visit(make.person("manager", at=site), size)
    page = seen.open(reverse("assemblies:recipe_trials", args=[joint.pk]))
    page.check("[name=second]")
    page.fill("[name=working_pressure_bar]", "200 bar")
    keep(page, f"trial-6-approve-{size['width']}")
    check_page(page)
    page.click("text=Rate and approve it")
    page.wait_for_url("**/recipes/*/")
    keep(page, f"trial-7-recipe-{size['width']}")
    spec = shop.draft(hose=HoseRevision.objects.get(header=joint.hose))
    position = make.position(
        on=make.machine(at=site),
        **{"pressure_bar": Decimal(280), "circuit": "brakes", "exposure": "rocks"},
        **{"oil_temperature_c": 90, "port_a": "JIC -8", "required_spec": spec.header},
    )
    page = seen.open(reverse("assemblies:duty", args=[position.pk]))
    keep(page, f"duty-{size['width']}")
    check_page(page)
    assert "280 bar, the assembly bears" in page.inner_text("main")
    seen.open(reverse("assemblies:trials"))
    keep(page, f"trial-8-list-{size['width']}")
    check_page(page)
