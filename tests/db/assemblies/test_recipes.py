"""Crimp recipes: drafted from a chart, approved by another person, replaced, withdrawn."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError

from assemblies.actions.recipes import (
    RECIPE,
    approve_recipe,
    change_recipe_draft,
    withdraw_recipe_revision,
)
from assemblies.models import CrimpRecipe, RecipeRevision
from fleet.actions.refusals import Refused
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import spec_shop as shop

pytestmark = pytest.mark.django_db
NOW = make.NOW


def check_refusal(code: str, call: Any, /, **arguments: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        call(**arguments)
    assert caught.value.code == code, caught.value.sentence
    return caught.value


def approve(recipe: RecipeRevision, **facts: Any) -> RecipeRevision:
    seen = RECIPE.fingerprint(RecipeRevision.objects.get(pk=recipe.pk))
    person = facts.get("person") or make.person("manager")
    return approve_recipe(revision=recipe, seen=seen, person=person, at=NOW)


def drafted(**facts: Any) -> RecipeRevision:
    return shop.recipe(make.hose(), shop.end(), **facts)


def test_one_joint_has_one_recipe_however_often_it_is_revised() -> None:
    hose, fitting = make.hose(), shop.end()
    approve(shop.recipe(hose, fitting))
    approve(shop.recipe(hose, fitting, crimp_od_mm=Decimal("24.50")))
    states = RecipeRevision.objects.order_by("number").values_list("state", flat=True)
    assert list(states) == ["replaced", "approved"]
    assert CrimpRecipe.objects.count() == 1


def test_a_second_draft_of_a_joint_is_refused() -> None:
    hose, fitting = make.hose(), shop.end()
    shop.recipe(hose, fitting)
    check_refusal("draft_exists", shop.recipe, hose=hose, fitting=fitting)


@pytest.mark.parametrize(
    ("code", "facts"),
    [
        ("chart_missing", {"chart_source": " "}),
        ("skive_without_length", {"external_skive": "length"}),
        ("skive_without_length", {"external_skive": "none", "external_skive_mm": Decimal(20)}),
        ("skive_too_long", {"external_skive": "length", "external_skive_mm": Decimal(32)}),
        ("field_wrong", {"basis": "guess"}),
        ("field_wrong", {"crimp_od_mm": Decimal(501)}),
    ],
)
def test_refuses_a_draft_that_no_chart_would_print(code: str, facts: dict[str, Any]) -> None:
    check_refusal(code, drafted, **facts)


@pytest.mark.parametrize(
    ("code", "facts"),
    [
        ("od_missing", {"crimp_od_mm": None}),
        ("depth_missing", {"insertion_depth_mm": None}),
        ("skive_unknown", {"external_skive": "unknown"}),
        ("no_trial", {"basis": "trial", "chart_source": ""}),
    ],
)
def test_approval_waits_for_what_the_bench_must_know(code: str, facts: dict[str, Any]) -> None:
    check_refusal(code, approve, recipe=drafted(**facts))


def test_a_draft_part_refuses_approval() -> None:
    hose = make.hose(state="draft", approved_by=None, approved_at=None)
    said = check_refusal("part_not_approved", approve, recipe=shop.recipe(hose, shop.end()))
    assert str(hose.header) in said.sentence


def test_parts_of_two_sizes_make_no_joint() -> None:
    hose = make.hose()
    check_refusal("tail_differs", shop.recipe, hose=hose, fitting=shop.end(tail_dn=10))
    shell = shop.shell(tail_dn=16)
    check_refusal("shell_differs", shop.recipe, hose=hose, fitting=make.fitting(), shell=shell)
    check_refusal("shell_too_many", shop.recipe, hose=hose, fitting=shop.end(), shell=shop.shell())


def test_a_crimp_wider_than_its_shell_is_refused() -> None:
    shell = shop.shell(outside_diameter_mm=Decimal("24.60"))
    arguments: dict[str, Any] = {"hose": make.hose(), "fitting": make.fitting(), "shell": shell}
    check_refusal("od_not_below_shell", shop.recipe, **arguments)
    assert shop.recipe(**arguments, crimp_od_mm=Decimal("24.59")).state == "draft"


def test_who_drafted_a_recipe_does_not_approve_it_alone() -> None:
    person = make.person("manager", "planner")
    recipe = drafted()
    RecipeRevision.objects.filter(pk=recipe.pk).update(made_by=person)
    check_refusal("approves_alone", approve, recipe=recipe, person=person)


def test_nobody_approves_figures_they_did_not_see() -> None:
    recipe, planner = drafted(), make.person("planner")
    seen = RECIPE.fingerprint(recipe)
    facts = {"crimp_od_mm": Decimal("24.00")}
    change_recipe_draft(revision=recipe, facts=facts, seen=seen, person=planner, at=NOW)
    person = make.person("manager")
    check_refusal(
        "changed_meanwhile", approve_recipe, revision=recipe, seen=seen, person=person, at=NOW
    )


@pytest.mark.parametrize(
    ("role", "drafts", "approves"),
    [
        ("fitter", True, False),
        ("planner", True, False),
        ("manager", False, True),
        ("storeman", False, False),
    ],
)
def test_each_role_drafts_and_approves_as_it_may(role: str, drafts: bool, approves: bool) -> None:
    person, recipe = make.person(role), drafted()
    change: dict[str, Any] = {"revision": recipe, "facts": {}, "seen": RECIPE.fingerprint(recipe)}
    if drafts:
        change_recipe_draft(**change, person=person, at=NOW)
    else:
        with pytest.raises(NotAllowed):
            change_recipe_draft(**change, person=person, at=NOW)
    if approves:
        assert approve(recipe, person=person).approved_by == person
    else:
        with pytest.raises(NotAllowed):
            approve(recipe, person=person)


def test_a_withdrawn_recipe_stays_with_its_reason() -> None:
    recipe = approve(drafted())
    done = withdraw_recipe_revision(
        revision=recipe, reason="three leaks", person=make.person("safety officer"), at=NOW
    )
    assert (done.state, done.withdrawal_reason) == ("withdrawn", "three leaks")


def test_the_database_keeps_an_approved_recipe_as_it_is() -> None:
    recipe = approve(drafted())
    with pytest.raises(IntegrityError, match="sealed"):
        RecipeRevision.objects.filter(pk=recipe.pk).update(crimp_od_mm=Decimal(24))
