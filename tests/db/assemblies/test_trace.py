"""Trace: forward and back agree, whoever looks sees no more than their sites, at a fixed cost."""

from random import Random
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from assemblies.models import CrimpRecipe, RecipeRevision, Reel
from assemblies.queries.trace import sources_of, subject_for
from assemblies.queries.trace_links import KINDS, LINKS, hoses_from, sources_from, text_source
from assemblies.queries.trace_subjects import find_subjects, noun_of, revisions_of
from tests import factories as make
from tests.db.assemblies.trace_register import Register, built, reel, register

pytestmark = pytest.mark.django_db


def every_source(found: Register) -> set[tuple[str, str]]:
    """All that hoses could come from, whether one does or not."""
    rows: dict[str, list[Any]] = {
        "reel": found.reels,
        "fitting_lot": found.fittings,
        "shell_lot": found.shells,
        "crimper": found.crimpers,
        "instrument": found.gauges,
        "recipe_revision": found.revisions,
        "recipe": [one.header for one in found.revisions],
        "trial": found.trials,
        "person": found.people,
    }
    dies = {("die_set", text_source(d, s.pk)) for d in ("D 26", "D 30") for s in found.sites}
    firms = {("supplier", text_source(name)) for name in ("Harrow Hose", "Else & Co")}
    return {(kind, str(row.pk)) for kind in rows for row in rows[kind]} | dies | firms


@pytest.mark.parametrize("seed", range(8))
def test_a_hose_comes_from_a_source_exactly_where_the_source_leads_to_it(seed: int) -> None:
    found = register(Random(seed))
    back = sources_from([hose.pk for hose in found.hoses])
    sources = every_source(found)
    assert {source for sources_ in back.values() for source in sources_} <= sources
    for kind, key in sources:
        forward = set(hoses_from(kind, key).values_list("pk", flat=True))
        assert forward == {hose for hose, its in back.items() if (kind, key) in its}, (kind, key)


def test_the_random_registers_have_hoses_of_every_link() -> None:
    found = register(Random(1), hoses=60)
    back = sources_from([hose.pk for hose in found.hoses])
    roles = {
        (kind, role)
        for its in back.values()
        for (kind, _), part in its.items()
        for role in part.roles
    }
    assert {(link.kind, link.role) for link in LINKS} - roles == {("person", "trial closed by")}


@pytest.mark.parametrize("key", ["", "x", "0", "-1", "9" * 30, "7:", ":d 26", "9x:d 26"])
@pytest.mark.parametrize("kind", [*KINDS, "none"])
def test_a_key_that_is_none_leads_nowhere(kind: str, key: str) -> None:
    assert not hoses_from(kind, key).exists()
    assert subject_for(make.person("planner"), kind, key) is None


def test_every_kind_has_a_name() -> None:
    assert all(noun_of(kind) for kind in KINDS)


def test_a_hose_names_its_sources_with_what_they_were_to_it() -> None:
    site = make.site()
    person = make.person("fitter", at=site, display_name="F. Itter")
    lot = reel(site, "R-77", supplier="Harrow Hose")
    hose = built(site, reel=lot, made_by=person, ends={"A": {"die_set": "D 26"}})
    told = {
        (one.noun, one.subject.label if one.subject else "") for one in sources_of(person, hose)
    }
    assert told == {("Reel", "R-77"), ("Die set", "D 26"), ("Person", "F. Itter")}
    (by,) = [one for one in sources_of(person, hose) if one.kind == "person"]
    assert by.roles == ("made by", "signed by")


def test_a_source_of_another_site_is_said_without_its_name() -> None:
    here, there = make.site(), make.site()
    hose = built(here, reel=reel(there, "SECRET 1"))
    (source,) = [s for s in sources_of(make.person("fitter", at=here), hose) if s.kind == "reel"]
    assert source.subject is None
    assert subject_for(make.person("fitter", at=here), "reel", str(Reel.objects.get().pk)) is None


def test_sources_are_found_by_what_is_typed_at_ones_own_sites_only() -> None:
    here, there = make.site(), make.site()
    reel(here, "R-500")
    reel(there, "R-501")
    built(here, ends={"A": {"die_set": "R-5 die"}})
    built(there, ends={"A": {"die_set": "R-5 other die"}})
    make.stored(at=here, origin="bought", supplier="R-5 Hoses")
    make.stored(at=there, origin="bought", supplier="R-5 Other Hoses")
    found = find_subjects(make.person("planner", at=here), "r-5")
    assert {one.label for one in found} == {"R-500", "R-5 die", "R-5 Hoses"}
    assert find_subjects(make.person("planner", at=here), " ") == ()


def test_a_recipe_lists_its_revisions_that_ever_counted() -> None:
    joint = CrimpRecipe.objects.create(hose=make.hose().header, fitting=make.fitting().header)
    for number, state in ((1, "withdrawn"), (2, "provisional"), (3, "draft")):
        RecipeRevision.objects.create(
            header=joint, number=number, state=state, basis="trial", made_at=make.NOW
        )
    assert [one.label.rsplit(" ", 1)[-1] for one in revisions_of(joint.pk)] == ["2", "1"]


def test_the_queries_of_a_trace_do_not_grow_with_its_hoses_or_sources() -> None:
    found = register(Random(3), hoses=6)
    person = make.person("planner", at=found.sites[0])
    full = max(found.hoses, key=lambda hose: len(sources_from([hose.pk])[hose.pk]))
    assert not person.sees_every_site, "read once, then kept with the person"
    with CaptureQueriesContext(connection) as first:
        sources_of(person, full)
        list(hoses_from("reel", str(found.reels[0].pk)))
    for _ in range(10):
        built(found.sites[0], reel=found.reels[0], made_by=found.people[0])
    with CaptureQueriesContext(connection) as second:
        sources_of(person, full)
        assert len(hoses_from("reel", str(found.reels[0].pk))) >= 10
    assert len(second) == len(first) <= 15
