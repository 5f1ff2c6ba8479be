"""A printed sheet whose recipe is withdrawn: named to who withdraws, said on its page."""

from typing import Any

import pytest
from django.urls import reverse

from assemblies.actions.sheets import issue_sheet
from assemblies.models import FrozenSheet, RecipeRevision
from assemblies.queries.sheets import SheetOrder
from assemblies.queries.withdrawn import unbuilt_sheets_of, withdrawn_recipes_of
from fleet.models import Person, Site
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.scheduling.trace_pages import at, client, shown_at, words

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make.site(name="Blackmere Quarry")


@pytest.fixture
def officer(site: Site) -> Person:
    return make.person("safety officer", at=site)


def printed(site: Site) -> tuple[FrozenSheet, RecipeRevision]:
    hose, end = make.hose(), shop.end()
    recipe = shop.approved_recipe(hose, end)
    spec = shop.approved("S-1", hose=hose, near=end, far=end)
    told: dict[str, Any] = {"address": "register", "person": None, "at": make.NOW}
    return issue_sheet(spec=spec, order=SheetOrder(site), **told), recipe


def test_a_printed_sheet_says_that_its_recipe_was_withdrawn(site: Site, officer: Person) -> None:
    sheet, recipe = printed(site)
    assert withdrawn_recipes_of(sheet) == ()
    (named,) = unbuilt_sheets_of(officer, recipe.pk)
    assert named.number == sheet.number
    who = client(officer)
    page = words(who, at("withdraw_recipe_revision", recipe.pk))
    assert f"{site.code} {sheet.number}, S-1 rev 1" in page
    url = at("withdraw_recipe_revision", recipe.pk)
    sent = {"verdict": "", "reason": "leaks", "seen": shown_at(who, url)}
    who.post(at("withdraw_recipe_revision", recipe.pk), sent)
    assert [one.end for one in withdrawn_recipes_of(sheet)] == ["A", "B"]
    url = reverse("assemblies:sheet", args=[sheet.site_id, sheet.number])
    assert "was withdrawn since this sheet was printed: leaks" in words(who, url)


def test_other_sites_sheets_are_not_listed(site: Site) -> None:
    _, recipe = printed(site)
    assert unbuilt_sheets_of(make.person("manager", at=make.site()), recipe.pk) == ()
