"""Trace, recall, withdrawal and release at a phone and at a desk: readable, reachable, silent."""

import datetime as dt
from collections.abc import Callable
from typing import Any

import pytest
from django.urls import reverse

from assemblies.models import ConditionalRelease
from assemblies.queries.trace_subjects import subject_for
from fleet.permissions import ROLES
from scheduling.actions.recalls import recall
from tests import factories as make
from tests.browser.conftest import DESK, NARROWEST, PHONE, Visit
from tests.browser.test_every_page import SPILLED, TOO_SMALL, grave
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench
from tests.db.assemblies.trace_register import built, reel
from tests.db.scheduling.yard import Yard, yard

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def where() -> Yard:
    """A reel and a recipe with hoses here and elsewhere, one recalled, one released."""
    found = yard(name="Blackmere Quarry with a Name That Goes On for Quite a While")
    everyone = make.person(*ROLES, at=found.site)
    bad, other = reel(found.site, "R-13"), reel(found.site, "R-14 with a long code of its maker")
    recipe = shop.approved_recipe(make.hose(), shop.end())
    for site in (found.site, found.site, make.site()):
        for one in (bad, other):
            built(site, reel=one, ends={"A": {"recipe": recipe, "die_set": "D 26/1"}})
    subject = subject_for(everyone, "reel", str(bad.pk))
    assert subject is not None
    terms: dict[str, Any] = {
        "verdict": "out_now",
        "by_on": None,
        "reason": "soft wire over two metres",
    }
    recall(subject=subject, **terms, person=everyone, today=make.TODAY, at=make.NOW)
    ConditionalRelease.objects.create(
        assembly=found.hose,
        authority=everyone,
        released_at=make.NOW,
        reason="Breakdown at night, no spare on the shelf.",
        limits="at most 180 bar, only at EX-014, boom lift",
        replace_by_on=make.TODAY + dt.timedelta(days=3),
    )
    return Yard(found.site, found.machine, found.position, found.hose, everyone)


def paths(where: Yard) -> list[str]:
    from assemblies.models import RecipeRevision, Reel
    from scheduling.models import Recall

    bad, other = Reel.objects.order_by("code")
    recipe, made = RecipeRevision.objects.get(), Recall.objects.get()
    trial = bench.closed(where.site, where.planner)
    die = f"{where.site.pk}:d 26/1"
    return [
        reverse("scheduling:trace"),
        reverse("scheduling:trace") + "?q=r-1",
        reverse("scheduling:trace") + "?q=nothing-like-it",
        reverse("scheduling:trace_reel", args=[bad.pk]),
        reverse("scheduling:trace_recipe", args=[recipe.header_id]),
        reverse("scheduling:trace_source", args=["die_set", die]),
        reverse("scheduling:recall_begin", args=["reel", other.pk]),
        reverse("scheduling:withdraw_recipe_revision", args=[recipe.pk]),
        reverse("scheduling:recalls"),
        reverse("scheduling:recall", args=[made.pk]),
        reverse("scheduling:recall", args=[made.pk]) + "?show=settled",
        reverse("scheduling:recall_end", args=[made.pk]),
        reverse("scheduling:hose", args=[where.hose.pk]),
        reverse("scheduling:machine", args=[where.machine.pk]),
        reverse("assemblies:release", args=[where.hose.pk]),
        reverse("assemblies:release_trial", args=[trial.pk]),
        reverse("assemblies:trial", args=[trial.pk]),
    ]


@pytest.mark.parametrize(("size", "scheme"), [(NARROWEST, "light"), (DESK, "dark")])
def test_every_page_of_trace_is_readable_and_silent(
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
            "console": list(seen.console),
        }
        seen.console.clear()
        if any(faults.values()):
            wrong[path] = {name: fault for name, fault in faults.items() if fault}
    assert not wrong


def test_a_reel_is_recalled_on_a_phone_from_a_hose_s_page(
    visit: Callable[..., Visit], where: Yard
) -> None:
    bad = reel(where.site, "R-99")
    hose = built(where.site, reel=bad)
    page = visit(where.planner, PHONE).open(reverse("scheduling:hose", args=[hose.pk]))
    page.click("a:text('R-99')")
    page.click("text=Recall its hoses")
    page.check("text=look at it by a day")
    page.fill("[name=reason]", "made on the wrong day")
    page.click("text=Recall them")
    assert page.inner_text("[aria-invalid=true] >> xpath=../..").count("Say by which day.") == 1
    page.fill("[name=by_on]", "2099-01-01")
    page.click("text=Recall them")
    page.wait_for_url("**/recalls/*/")
    assert "made on the wrong day" in page.inner_text("main")
