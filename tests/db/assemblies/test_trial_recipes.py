"""A recipe out of trials: provisional after one, approved after two that agree and held."""

from decimal import Decimal
from typing import Any

import pytest

from assemblies.actions.recipes import RECIPE
from assemblies.actions.trial_recipes import Rating, approve_trial_recipe, recipe_from_trial
from assemblies.models import CrimpTrial, RecipeRevision
from assemblies.queries.recipes import recipe_page
from fleet.actions.refusals import Refused
from fleet.models import Person, Site
from fleet.permissions import NotAllowed
from tests import factories as make
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db
NOW = make.NOW


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def fitter(site: Site) -> Person:
    return make.person("fitter", at=site)


@pytest.fixture
def chief(site: Site) -> Person:
    return make.person("manager", at=site)


def parts_of(trial: CrimpTrial) -> dict[str, Any]:
    joint = trial.recipe
    return {"hose": joint.hose, "fitting": joint.fitting, "shell": joint.shell}


def again(
    trial: CrimpTrial, by: Person, closing: tuple[str, ...] = bench.CLOSING, bar: int = 400
) -> CrimpTrial:
    """A second trial of the same parts, proof-tested."""
    second = bench.closed(trial.site, by, closing, crimper=trial.crimper, **parts_of(trial))
    return bench.proven(second, by, bar=bar)


def provisional(site: Site, by: Person, **facts: Any) -> tuple[CrimpTrial, RecipeRevision]:
    trial = bench.proven(bench.closed(site, by, **facts), by)
    return trial, recipe_from_trial(trial=trial, person=by, at=NOW)


def approve(
    revision: RecipeRevision, second: CrimpTrial, by: Person, bar: str = "200"
) -> RecipeRevision:
    held = RecipeRevision.objects.get(pk=revision.pk)
    return approve_trial_recipe(
        revision=held,
        second=second,
        rating=Rating(Decimal(bar)),
        seen=RECIPE.fingerprint(held),
        person=by,
        at=NOW,
    )


def check_refusal(code: str, call: Any, *told: Any, **facts: Any) -> str:
    with pytest.raises(Refused) as caught:
        call(*told, **facts)
    assert caught.value.code == code, caught.value.sentence
    return caught.value.sentence


def test_one_good_trial_makes_a_provisional_recipe(site: Site, fitter: Person) -> None:
    trial, recipe = provisional(site, fitter)
    assert (recipe.state, recipe.basis, recipe.number) == ("provisional", "trial", 1)
    assert (recipe.crimp_od_mm, recipe.insertion_depth_mm, recipe.external_skive_mm) == (
        Decimal("26.40"),
        34,
        29,
    )
    assert "26.25" in recipe.note
    assert [link.trial for link in recipe.trial_links.all()] == [trial]


def test_a_trial_carries_one_recipe_only(site: Site, fitter: Person) -> None:
    trial, _ = provisional(site, fitter)
    check_refusal("recipe_made", recipe_from_trial, trial=trial, person=fitter, at=NOW)


def test_refuses_a_recipe_of_an_open_trial(site: Site, fitter: Person) -> None:
    trial = bench.begun(site, fitter)
    check_refusal("trial_open", recipe_from_trial, trial=trial, person=fitter, at=NOW)


def test_refuses_a_recipe_of_a_trial_whose_skive_nobody_noted(site: Site, fitter: Person) -> None:
    trial = bench.closed(site, fitter, made={"insertion_depth_mm": Decimal(34)})
    check_refusal("skive_unknown", recipe_from_trial, trial=trial, person=fitter, at=NOW)


def test_two_trials_that_agree_make_an_approved_recipe(
    site: Site, fitter: Person, chief: Person
) -> None:
    trial, recipe = provisional(site, fitter)
    done = approve(recipe, again(trial, fitter, ("26.30", "26.32", "26.28")), chief)
    assert (done.state, done.number, done.crimp_od_mm) == ("approved", 2, Decimal("26.35"))
    assert (done.working_pressure_bar, done.rated_by, done.made_by) == (200, chief, fitter)
    assert "26.40 and 26.30 mm" in done.change_note
    assert RecipeRevision.objects.get(pk=recipe.pk).state == "replaced"
    assert done.trial_links.count() == 2


def test_approved_on_trials_the_parts_stay_unmatched(
    site: Site, fitter: Person, chief: Person
) -> None:
    trial, recipe = provisional(site, fitter)
    approve(recipe, again(trial, fitter), chief)
    page = recipe_page(recipe.header_id)
    assert page is not None
    assert any(sentence.startswith("Unmatched") for sentence in page.warnings)


def test_refuses_two_trials_whose_brackets_are_apart(
    site: Site, fitter: Person, chief: Person
) -> None:
    trial, recipe = provisional(site, fitter)
    second = again(trial, fitter, ("25.90", "25.90", "25.90"))
    said = check_refusal("trials_disagree", approve, recipe, second, chief)
    assert "26.40 and 26.65" in said
    assert "25.90 and 26.15" in said


@pytest.mark.parametrize(
    ("code", "bar", "words"),
    [
        ("rating_missing", "0", "State the working pressure"),
        ("rated_above_parts", "280", "hose's own 275 bar"),
        ("not_proven", "250", "tested at 400 bar for 60 s: it needs 500 bar"),
    ],
)
def test_refuses_a_rating_that_nothing_carries(
    site: Site, fitter: Person, chief: Person, code: str, bar: str, words: str
) -> None:
    trial, recipe = provisional(site, fitter)
    assert words in check_refusal(code, approve, recipe, again(trial, fitter), chief, bar)


def test_refuses_approval_where_a_piece_failed_its_proof_test(
    site: Site, fitter: Person, chief: Person
) -> None:
    trial, recipe = provisional(site, fitter)
    second = bench.proven(again(trial, fitter), fitter, passed=False)
    assert "failed" in check_refusal("not_proven", approve, recipe, second, chief)


def test_refuses_the_same_trial_twice_and_a_trial_of_other_parts(
    site: Site, fitter: Person, chief: Person
) -> None:
    trial, recipe = provisional(site, fitter)
    check_refusal("same_trial", approve, recipe, trial, chief)
    check_refusal("other_joint", approve, recipe, bench.closed(site, fitter), chief)


def test_who_made_it_does_not_approve_it_unless_the_site_says_so(site: Site) -> None:
    only = make.person("fitter", "manager", at=site)
    trial, recipe = provisional(site, only)
    second = again(trial, only)
    check_refusal("approves_alone", approve, recipe, second, only)
    Site.objects.filter(pk=site.pk).update(approves_alone=True)
    done = approve(recipe, second, Person.objects.get(pk=only.pk))
    assert "approved it alone, as the site allows" in done.change_note


def test_a_fitter_alone_may_not_approve(site: Site, fitter: Person) -> None:
    trial, recipe = provisional(site, fitter)
    with pytest.raises(NotAllowed):
        approve(recipe, again(trial, fitter), fitter)


def test_a_published_chart_needs_no_trial_beside_it(
    site: Site, fitter: Person, chief: Person
) -> None:
    hose, fitting = bench.three_layer(), shop.end()
    shop.approved_recipe(hose, fitting)
    trial = bench.closed(site, fitter, hose=hose.header, fitting=fitting.header, shell=None)
    check_refusal("published_stands", recipe_from_trial, trial=trial, person=fitter, at=NOW)


def test_of_two_who_approve_one_is_told_that_it_is_done(
    site: Site, fitter: Person, chief: Person
) -> None:
    trial, recipe = provisional(site, fitter)
    second = again(trial, fitter)
    approve(recipe, second, chief)
    check_refusal("not_provisional", approve, recipe, second, chief)


def test_a_later_trial_makes_the_next_provisional_revision(site: Site, fitter: Person) -> None:
    trial, first = provisional(site, fitter)
    later = recipe_from_trial(trial=again(trial, fitter), person=fitter, at=NOW)
    assert (later.number, later.state) == (2, "provisional")
    assert RecipeRevision.objects.get(pk=first.pk).state == "replaced"


def test_refuses_a_provisional_recipe_that_no_trial_stands_behind(
    site: Site, fitter: Person, chief: Person
) -> None:
    trial = bench.proven(bench.closed(site, fitter), fitter)
    bare = RecipeRevision.objects.create(
        header=trial.recipe, number=9, basis="trial", state="provisional", made_at=NOW
    )
    with pytest.raises(Refused) as refused:
        approve(bare, trial, chief)
    assert refused.value.code == "no_first_trial"
    assert "No closed trial is on record behind revision 9" in refused.value.sentence
