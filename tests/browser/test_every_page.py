"""Every page at a phone and at a desk, light and dark: readable, reachable, silent."""

import datetime as dt
from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from playwright.sync_api import Page

from fleet.models import HourReading
from scheduling.models import Finding
from tests import factories
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.db.scheduling.yard import Yard, more_hoses, yard

pytestmark = pytest.mark.django_db(transaction=True)

TOO_SMALL = """
() => [...document.querySelectorAll("a, button, select, textarea, summary,"
    + " label.tick, label.choice, .choices label,"
    + " input:not([type=hidden], [type=checkbox], [type=radio])")]
  .filter((it) => it.checkVisibility() && !it.closest(".unseen, .skip"))
  .filter((it) => !(it.tagName === "A" && it.closest("p, dd, .wrong")))
  .filter((it) => it.getBoundingClientRect().height < 44)
  .map((it) => it.outerHTML.slice(0, 120))
"""
SPILLED = "() => document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def where() -> Yard:
    found = yard(name="Blackmere Quarry with a Name That Goes On for Quite a While")
    more_hoses(found, 3)
    Finding.objects.create(
        assembly=found.hose,
        site=found.site,
        what="cover worn to wire",
        verdict="out_now",
        found_on=factories.TODAY,
    )
    HourReading.objects.create(
        meter=found.machine.meters.get(),
        site=found.site,
        read_at=factories.NOW,
        read_on=factories.TODAY,
        reading_h=5,
        machine_h=5,
        doubt="It goes back by 30 h.",
        recorded_at=factories.NOW,
    )
    factories.stored(at=found.site, owner_mark="IN STORE 1", hose_type="2SN", size_dn=12)
    factories.life_rule(site=found.site)
    found.hose.built_earliest_on = found.hose.built_latest_on = dt.date(2020, 2, 1)
    found.hose.built_precision = "day"
    found.hose.save()
    return found


def paths(where: Yard) -> list[str]:
    hose, machine, place = where.hose.pk, where.machine.pk, where.position.pk
    rule = factories.life_rule(site=where.site).header_id
    doubtful, finding = HourReading.objects.get().pk, Finding.objects.get().pk
    return [
        *(reverse(f"scheduling:{n}") for n in ("today", "machines", "due", "untagged", "doubtful")),
        *(reverse(f"scheduling:{n}") for n in ("find", "failures", "rules", "rule_add")),
        reverse("scheduling:due") + "?by=machine&standing=over",
        reverse("scheduling:find") + "?q=nothing-like-it",
        reverse("scheduling:machine", args=[machine]),
        reverse("scheduling:position", args=[place]),
        reverse("scheduling:hose", args=[hose]),
        reverse("scheduling:why", args=[hose]),
        reverse("scheduling:inspect", args=[hose]),
        reverse("scheduling:deal_with", args=[finding]),
        reverse("scheduling:rule_revise", args=[rule]),
        reverse("scheduling:rule_withdraw", args=[rule]),
        reverse("fleet:cautions"),
        reverse("fleet:machine_add"),
        reverse("fleet:machine_change", args=[machine]),
        reverse("fleet:reading_add", args=[machine]),
        reverse("fleet:reading_decide", args=[doubtful]),
        reverse("assemblies:position_add", args=[machine]),
        reverse("assemblies:position_change", args=[place]),
        reverse("assemblies:swap", args=[place]),
        reverse("assemblies:take_off", args=[place]),
        reverse("assemblies:tag", args=[hose]),
        "/no-such-page/",
    ]


def grave(page: Page) -> list[str]:
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [
        f"{v['id']}: {v['nodes'][0]['html'][:120]}"
        for v in found
        if v["impact"] in ("serious", "critical")
    ]


@pytest.mark.parametrize(("size", "scheme"), [(NARROWEST, "light"), (DESK, "dark")])
def test_every_page_is_readable_and_silent(
    visit: Callable[..., Visit], where: Yard, size: dict[str, int], scheme: str
) -> None:
    seen = visit(where.planner, size, scheme=scheme)
    wrong: dict[str, object] = {}
    for path in paths(where):
        page = seen.open(path)
        faults = {
            "axe": grave(page),
            "spilled": page.evaluate(SPILLED),
            "small": page.evaluate(TOO_SMALL) if size["width"] < 500 else [],
            "console": [m for m in seen.console if "no-such-page" not in path],
        }
        seen.console.clear()
        if any(faults.values()):
            wrong[path] = {name: fault for name, fault in faults.items() if fault}
    assert not wrong


def test_the_log_in_page_is_readable_and_silent(visit: Callable[..., Visit]) -> None:
    for size in (NARROWEST, DESK):
        seen = visit(None, size)
        page = seen.open("/login/")
        assert grave(page) == []
        assert page.evaluate(SPILLED) == 0
        assert [said for said in seen.console if "autocomplete" not in said] == []


def test_a_refused_form_is_readable_and_leads_to_the_field(
    visit: Callable[..., Visit], where: Yard
) -> None:
    seen = visit(where.planner, PHONE)
    page = seen.open(reverse("fleet:reading_add", args=[where.machine.pk]))
    page.fill("[name=reading]", "twelve")
    page.click("text=Save the reading")
    assert grave(page) == []
    page.click(".wrong a")
    assert page.evaluate("document.activeElement.name") == "reading"
    assert page.get_attribute("[name=reading]", "aria-invalid") == "true"
