"""The readings of signed builds as runs: what counts, what trips, who is told of it."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assemblies.models import BuildRecord, RecipeRevision
from assemblies.queries.capability import aim_of, notes_for, read_ends, runs_of, signed_ends
from assemblies.queries.capability_page import Chosen, readings_page
from assemblies.queries.sheets import SheetOrder, parts_for_sheet, sheet_content
from fleet.models import Site
from tests import factories as make
from tests.db.assemblies import run_bench as run
from tests.db.assemblies import spec_shop as shop
from tests.db.assemblies import trial_bench as bench

pytestmark = pytest.mark.django_db


@pytest.fixture
def site() -> Site:
    return make.site()


@pytest.fixture
def recipe() -> RecipeRevision:
    made = shop.approved_recipe(make.hose(), shop.end())
    return RecipeRevision.objects.get(pk=made.pk)


def rising(recipe: RecipeRevision, site: Site, ends: int = 6, **facts: Any) -> None:
    for number in range(ends):
        od = str(Decimal("24.55") + Decimal(number) / 100)
        run.built(recipe, [od, od, od], at=site, day=number, **facts)


def test_only_signed_builds_count_and_scrapped_ones_do(site: Site, recipe: RecipeRevision) -> None:
    run.built(recipe, ["24.60"], at=site, signed=False)
    run.built(recipe, ["24.61", "24.63"], at=site, scrapped_reason="short")
    (end,) = read_ends(signed_ends(recipe.pk))
    assert (end.mean_mm, end.range_mm, end.scrapped) == (Decimal("24.62"), Decimal("0.02"), True)


def test_an_end_counts_by_its_mean_alone_or_not_at_all(site: Site, recipe: RecipeRevision) -> None:
    for mean in (Decimal("24.61"), None):
        record = run.built(recipe, [], at=site, signed=False)
        record.ends.update(crimp_od_mm=mean)
        signing = {"signed_at": make.NOW, "signed_by": record.made_by}
        BuildRecord.objects.filter(pk=record.pk).update(**signing)
    assert [end.mean_mm for end in read_ends(signed_ends(recipe.pk))] == [Decimal("24.61")]


def test_limits_wait_for_the_25th_build(site: Site, recipe: RecipeRevision) -> None:
    run.steady_run(recipe, 24, at=site)
    (before,) = runs_of(read_ends(signed_ends(recipe.pk)), aim_of(recipe))
    assert (before.study.builds, before.study.limits, before.study.capability) == (24, None, None)
    run.steady_run(recipe, 1, at=site)
    (after,) = runs_of(read_ends(signed_ends(recipe.pk)), aim_of(recipe))
    assert after.study.limits is not None
    assert after.study.capability is not None
    assert after.study.trips == ()


def test_both_ends_of_a_build_are_one_build(site: Site, recipe: RecipeRevision) -> None:
    run.built(recipe, ["24.60", "24.61"], ["24.59", "24.62"], at=site)
    (found,) = runs_of(read_ends(signed_ends(recipe.pk)), aim_of(recipe))
    assert (found.study.builds, len(found.ends)) == (1, 2)


def test_a_run_that_rises_is_told_before_the_25th_build(site: Site, recipe: RecipeRevision) -> None:
    rising(recipe, site, crimper=bench.crimper(site, code="C-9"))
    (note,) = notes_for(recipe)
    assert note.startswith("Crimp run on crimper C-9: 6 ends in a row rise, 24.55 to 24.60 mm")
    assert "2026-03-09 to 2026-03-14" in note
    assert note.endswith("the measuring.")


def test_a_steady_run_tells_nothing(site: Site, recipe: RecipeRevision) -> None:
    run.steady_run(recipe, 30, at=site)
    assert notes_for(recipe) == ()


def test_one_end_far_off_is_told_from_25_builds_on(site: Site, recipe: RecipeRevision) -> None:
    run.steady_run(recipe, 25, at=site)
    run.built(recipe, ["24.80", "24.82", "24.81"], at=site, day=60)
    (note,) = notes_for(recipe)
    assert "A crimp of 24.81 mm lies outside the run’s limits" in note


def test_a_crimp_out_of_round_is_told_from_25_builds_on(site: Site, recipe: RecipeRevision) -> None:
    run.steady_run(recipe, 25, at=site)
    run.built(recipe, ["24.45", "24.60", "24.75"], at=site, day=60)
    (note,) = notes_for(recipe)
    assert "lie 0.30 mm apart, more than the 0.15 mm" in note


def test_what_tripped_long_ago_is_not_told_to_the_next_build(
    site: Site, recipe: RecipeRevision
) -> None:
    rising(recipe, site)
    assert notes_for(recipe)
    run.steady_run(recipe, 12, at=site, first_day=6)
    assert notes_for(recipe) == ()


def test_two_crimpers_are_two_runs(site: Site, recipe: RecipeRevision) -> None:
    one, two = bench.crimper(site), bench.crimper(site)
    for number in range(6):
        od = str(Decimal("24.55") + Decimal(number) / 100)
        run.built(recipe, [od, od], at=site, day=number, crimper=(one, two)[number % 2])
    runs = runs_of(read_ends(signed_ends(recipe.pk)), aim_of(recipe))
    assert [len(found.ends) for found in runs] == [3, 3]
    assert notes_for(recipe) == ()


def test_another_site_s_crimper_is_not_named(site: Site, recipe: RecipeRevision) -> None:
    there = make.site()
    rising(recipe, there, crimper=bench.crimper(there, code="SECRET"))
    (note,) = notes_for(recipe, site_ids={site.pk})
    assert "a crimper at another site" in note
    assert "SECRET" not in note


def test_notes_cost_one_query_however_many_builds(site: Site, recipe: RecipeRevision) -> None:
    run.steady_run(recipe, 3, at=site)
    for _ in range(2):
        with CaptureQueriesContext(
            connection,
        ) as found:
            notes_for(recipe)
        assert len(found) == 1
        run.steady_run(recipe, 9, at=site)


def test_the_next_sheet_says_what_trips(site: Site) -> None:
    hose, end = make.hose(), shop.end()
    recipe = shop.approved_recipe(hose, end)
    spec = shop.approved("S-7", hose=hose, near=end, far=end)
    rising(RecipeRevision.objects.get(pk=recipe.pk), site, crimper=bench.crimper(site))
    content = sheet_content(
        parts_for_sheet(spec),
        SheetOrder(site),
        number="1",
        drawn_on=make.TODAY,
        address="",
        job="/j/1",
    )
    told = [alert for alert in content.alerts if alert.startswith("End A and B: Crimp run")]
    assert len(told) == 1


def test_the_page_narrows_to_a_crimper_and_an_end(site: Site, recipe: RecipeRevision) -> None:
    one, two = bench.crimper(site), bench.crimper(site)
    run.built(recipe, ["24.60"], ["24.61"], at=site, crimper=one)
    run.built(recipe, ["24.62"], ["24.63"], at=site, crimper=two)
    person = make.person("fitter", at=site)
    whole = readings_page(person, recipe.header_id, Chosen())
    assert whole is not None
    assert ([len(choice) for choice in (whole.lines, whole.crimpers)], whole.only) == ([4, 2], None)
    part = readings_page(person, recipe.header_id, Chosen(crimper_id=two.pk, which="B"))
    assert part is not None
    assert [str(line.end.mean_mm) for line in part.lines] == ["24.63"]


def test_the_page_counts_other_sites_ends_without_showing_them(
    site: Site, recipe: RecipeRevision
) -> None:
    run.built(recipe, ["24.60"], ["24.61"], at=make.site())
    run.built(recipe, ["24.62"], at=site)
    page = readings_page(make.person("fitter", at=site), recipe.header_id, Chosen())
    assert page is not None
    assert ([str(line.end.mean_mm) for line in page.lines], page.elsewhere) == (["24.62"], 2)


def test_the_page_costs_as_many_queries_with_many_builds(
    site: Site, recipe: RecipeRevision
) -> None:
    counts = []
    for _ in range(2):
        person = make.person("fitter", at=site)
        run.steady_run(recipe, 13, at=site, crimper=bench.crimper(site))
        with CaptureQueriesContext(connection) as found:
            readings_page(person, recipe.header_id, Chosen())
        counts.append(len(found))
    assert counts[0] == counts[1]


def test_earlier_ends_are_a_page_back(site: Site, recipe: RecipeRevision) -> None:
    run.steady_run(recipe, 125, at=site)
    person = make.person("fitter", at=site)
    page = readings_page(person, recipe.header_id, Chosen())
    assert page is not None
    assert len(page.lines) == 120
    back = readings_page(person, recipe.header_id, Chosen(before=page.earlier))
    assert back is not None
    assert (len(back.lines), back.earlier) == (5, 0)


def client(person: Any) -> Client:
    made = Client()
    made.force_login(person)
    return made


def at(recipe: RecipeRevision, name: str = "recipe_readings") -> str:
    return reverse(f"assemblies:{name}", args=[recipe.header_id])


def test_page_and_recipe_say_what_trips_and_every_hose_is_linked(
    site: Site, recipe: RecipeRevision
) -> None:
    rising(recipe, site, crimper=bench.crimper(site))
    who = client(make.person("fitter", at=site))
    page = who.get(at(recipe)).content.decode()
    hoses = [record.assembly_id for record in BuildRecord.objects.all()]
    for hose in hoses:
        assert page.count(f'href="{reverse("scheduling:hose", args=[hose])}"') == 2, (
            "picture, table"
        )
    assert "6 of 25 builds" in page
    assert "Over 6 ends the OD rose by 0.05 mm" in page
    for path in (at(recipe), at(recipe, "recipe")):
        assert "6 ends in a row rise" in who.get(path).content.decode()


def test_a_hose_that_went_to_another_site_is_named_without_a_link(
    site: Site, recipe: RecipeRevision
) -> None:
    record = run.built(recipe, ["24.60"], at=site)
    type(record.assembly).objects.filter(pk=record.assembly_id).update(site=make.site())
    page = client(make.person("fitter", at=site)).get(at(recipe)).content.decode()
    assert reverse("scheduling:hose", args=[record.assembly_id]) not in page


@pytest.mark.parametrize("role", ["planner", "manager", "storeman"])
def test_whoever_has_a_role_reads_the_page(site: Site, recipe: RecipeRevision, role: str) -> None:
    answer = client(make.person(role, at=site)).get(at(recipe))
    assert answer.status_code == 200
    assert "No signed build yet" in answer.content.decode()


def test_a_stranger_is_refused_and_nobody_logs_in(recipe: RecipeRevision) -> None:
    assert client(make.person()).get(at(recipe)).status_code == 403
    assert Client().get(at(recipe)).status_code == 302


def test_an_unknown_recipe_or_revision_is_not_there(site: Site, recipe: RecipeRevision) -> None:
    who = client(make.person("planner", at=site))
    assert who.get(reverse("assemblies:recipe_readings", args=[999_999])).status_code == 404
    assert who.get(at(recipe), {"revision": "7"}).status_code == 404


@pytest.mark.parametrize("name", ["revision", "crimper", "before", "end"])
@pytest.mark.parametrize("text", ["x", "-1", "9" * 30, "\0", "²"])
def test_an_address_that_means_nothing_narrows_nothing(
    site: Site, recipe: RecipeRevision, name: str, text: str
) -> None:
    run.built(recipe, ["24.60"], at=site)
    page = client(make.person("planner", at=site)).get(at(recipe), {name: text})
    assert page.status_code == 200
    assert "24.600" in page.content.decode()


def test_estimates_stand_behind_details_with_both_formulas(site: Site) -> None:
    hose = make.hose(bore_mm=Decimal("12.7"), reinforcement_diameter_mm=Decimal("19.8"))
    fitting = make.fitting(tail_od_mm=Decimal("12.9"))
    shell = shop.shell(outside_diameter_mm=27, inside_diameter_mm=21)
    recipe = shop.approved_recipe(hose, fitting, shell)
    page = client(make.person("planner", at=site)).get(at(recipe)).content.decode()
    details = page.split("<details><summary>Estimates from geometry")[1].split("</details>")[0]
    assert "23.98" in details
    assert "22.95" in details
    assert "Never crimp by them" in details
